"""The app in Firefox and in WebKit. WebKitGTK is not Safari: it has neither its keys nor its camera nor its
home screen.

One visit in every run where an engine is on this machine; `sh tests/run engines` fetches both.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest
from engines import ENGINES, ElsewherePhone, edition_in, started
from phones import firm_at
from test_visit_on_phones import trust

from bailee.domain.numbers import grouped
from bailee.store import log
from bailee.verify import bundle
from bailee.verify.verifier import verify
from bailee.web import sign_app
from hosts.tcp_proxy import TcpProxy

if TYPE_CHECKING:
    from pathlib import Path

    from phones import Firm

pytestmark = pytest.mark.slow


@contextmanager
def clock_of(firm: Firm) -> Iterator[None]:
    """The app is served with the ledger's clock in it."""
    with pytest.MonkeyPatch.context() as patch:
        made = edition_in(round(firm.field.clock().timestamp() * 1000))
        patch.setattr(sign_app, "edition", lambda: made)
        for each in (sign_app._content, sign_app._packed):
            each.cache_clear()
        yield
    for each in (sign_app._content, sign_app._packed):
        each.cache_clear()


@contextmanager
def phone_in(engine: str, firm: Firm, folder: Path, **preferences: object) -> Iterator[ElsewherePhone]:
    """A phone before a network that can be cut."""
    port = int(firm.url.rpartition(":")[2])
    with (
        TcpProxy(("127.0.0.1", port)) as network,
        clock_of(firm),
        started(engine, folder, **preferences) as browser,
    ):
        phone = ElsewherePhone(firm, browser, "Ines Marlow", network)
        firm.phones[:] = [phone]
        yield phone


@pytest.mark.parametrize("engine", ENGINES)
def test_a_visit_in_another_engine_is_a_file_that_verifies(engine: str, tmp_path: Path) -> None:
    """An inspector whose phone has another browser inside stands in the basement and cannot sign; or signs
    what no auditor can verify.
    """
    with firm_at(tmp_path / "service") as firm, phone_in(engine, firm, tmp_path / "profile") as ines:
        _, samples = firm.field.lot(2)
        ines.join("inspector")
        ines.see("Works without a network")
        form = ines.open_visit()
        ines.sent()
        ines.collect(samples[0], "outdoor control")
        ines.sent()
        ines.network.cut()
        ines.browser.again()
        ines.heading("Visit")
        ines.see(grouped(samples[0]))
        ines.tap("Secure")
        ines.pick("How", "locked")
        ines.pick("Where", "vehicle")
        ines.tap("Sign: secured")
        ines.heading("Visit")
        ines.see("1 to send")
        ines.browser.again()
        ines.see("1 to send")
        ines.network.forward()
        ines.sent()  # by itself: no event tells that the service is back
        assert [(row["seq"], row["state"]) for row in ines.rows()] == [
            (1, "registered"),
            (2, "registered"),
            (3, "registered"),
        ]
        with firm.field.ledger.database.reading() as connection:
            assert log.counters(connection, ines.kid).missing == 0
        answer = firm.field.get("clerk", f"/forms/{form}/bundle")
        report = verify(bundle.read(answer.text), trust(firm), firm.field.ledger.now())
    assert report.faults == ()
    assert report.state == "intact, not cosigned"
