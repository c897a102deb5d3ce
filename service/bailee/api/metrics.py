"""Numbers for whoever watches the service, as Prometheus asks for them: on an address of their own.

No organization, person, number of a label or address is in them. Each asking costs one look at the database.

Format: Prometheus text exposition, by prometheus-client.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from threading import Thread
from typing import Any, Final
from wsgiref.simple_server import WSGIServer

from prometheus_client import CollectorRegistry, Histogram, start_http_server
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

from bailee.errors import Malformed, Unavailable
from bailee.ledger.checkpoint import read_note
from bailee.operations import backups
from bailee.operations.ledger import Ledger
from bailee.operations.publishing import cosignatures
from bailee.store import tree

_SECONDS: Final = (0.005, 0.02, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0, 30.0)
_PORTS: Final = 16
"""Processes of one home that can be watched beside each other."""


class Metrics:
    """What one process knows of itself and of its log; `observe` is told of each answered request."""

    def __init__(self, ledger: Ledger) -> None:
        self.registry = CollectorRegistry()
        self._requests = Histogram(
            "bailee_requests_seconds", "Time to answer a request.", ("method", "route", "status"),
            buckets=_SECONDS, registry=self.registry,
        )  # fmt: skip
        self.registry.register(_OfTheLog(ledger))

    def observe(self, method: str, route: str, status: int, seconds: float) -> None:
        """One request was answered."""
        self._requests.labels(method, route, str(status)).observe(seconds)

    def serve(self, address: str) -> tuple[str, Callable[[], None]]:
        """Answer at `HOST:PORT`, or at the next port that is free where other processes of this home have it:
        the address, and what ends it.

        Raises `Malformed` for what is no address, `Unavailable` ("cannot-listen").
        """
        host, _, port = address.rpartition(":")
        if not host or not port.isdecimal():
            raise Malformed(
                f"metrics = {address!r} is no address: write it like 127.0.0.1:9464.", code="bad-settings"
            )
        for each in range(int(port), int(port) + _PORTS):
            try:
                server, thread = start_http_server(each, host.strip("[]"), self.registry)
            except OSError:
                continue

            def end(server: WSGIServer = server, thread: Thread = thread) -> None:
                server.shutdown()
                server.server_close()
                thread.join()

            return f"{host}:{server.server_port}", end
        raise Unavailable(
            f"{address} and the {_PORTS - 1} ports after it are taken: give `metrics` another address.",
            code="cannot-listen",
        )


class _OfTheLog(Collector):
    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self._cosigners = cosignatures.configured(ledger.settings.cosigners, ledger.settings.origin)

    def collect(self) -> Iterator[Metric]:
        """Everything, as it is now."""
        ledger, state = self._ledger, self._ledger.sequencer.state()
        yield from self._of_the_database()
        yield _gauge(
            "oldest_unpublished_seconds", "Age of the oldest entry under no checkpoint.", state.unpublished_s
        )
        yield _gauge("leader", "Whether this process gives places and signs.", state.leads)
        failures = CounterMetricFamily("bailee_round_failures", "Rounds of publishing that failed.")
        failures.add_metric([], state.failures)
        yield failures
        pool: Any = ledger.database.engine.pool
        yield _gauge("pool_in_use", "Connections to the database in use.", pool.checkedout())
        free = GaugeMetricFamily("bailee_disk_free_bytes", "Free where the service writes.", labels=["disk"])
        whole = GaugeMetricFamily("bailee_disk_size_bytes", "Size of that disk.", labels=["disk"])
        folders = {"home": ledger.settings.home, "high_water": ledger.settings.high_water_file.parent}
        for name, folder in folders.items():
            if folder.is_dir():
                disk = shutil.disk_usage(folder)
                free.add_metric([name], disk.free)
                whole.add_metric([name], disk.total)
        yield from (free, whole)
        age = backups.age_s(ledger.settings.home, ledger.clock())
        if age is not None:
            yield _gauge("backup_age_seconds", "Since the newest backup of this home.", age)

    def _of_the_database(self) -> Iterator[Metric]:
        ledger = self._ledger
        try:
            with ledger.database.reading() as connection:
                size, frozen = tree.size(connection), ledger.guard.sentence(connection)
                shown, published = ledger.publisher.shown(), ledger.publisher.published()
        except Unavailable:
            yield _gauge("database_up", "Whether the database answers.", 0)
            return
        yield _gauge("database_up", "Whether the database answers.", 1)
        yield _gauge("size", "Entries that have their place.", size)
        yield _gauge(
            "published_size",
            "Entries under the checkpoint that is shown.",
            published.size if published else 0,
        )
        yield _gauge("frozen", "Whether nothing is signed or recorded.", frozen is not None)
        cosigned = GaugeMetricFamily(
            "bailee_cosigned", "Whether the shown checkpoint has this cosignature.", labels=["cosigner"]
        )
        for each in self._cosigners:
            cosigned.add_metric([each.key.name], bool(shown and read_note(shown).by(each.key)))
        yield cosigned


def _gauge(name: str, says: str, value: float) -> Metric:
    return GaugeMetricFamily(f"bailee_{name}", says, value=value)
