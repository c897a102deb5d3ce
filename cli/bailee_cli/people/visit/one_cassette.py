"""One cassette while it is asked about: what it is with the answers given so far, what of it is surely a
slip, and what the rule book would find.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from contextlib import suppress
from datetime import date
from decimal import Decimal
from functools import cached_property, partial
from typing import Any, Final

from bailee.asking import run_slips, slips, visit_slips, written
from bailee.asking.slip import Slip, VisitSoFar
from bailee.domain import numbers
from bailee.domain.acts.form import Collected, Sealed, Shipped
from bailee.domain.acts.table import name_of
from bailee.domain.moments import Moment
from bailee.errors import Malformed
from bailee.presentation import words
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people.visit import cassette_facts, observations, run_told
from bailee_cli.signing import earlier_runs, expected_stops, submit, visits
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import prompts, show
from bailee_cli.terminal.options import ReadNumber


class OneCassette:
    """`said` are the options of the command, filled with the answers; `seen` is the form as the ledger
    showed it, if it did.
    """

    def __init__(
        self,
        session: Session,
        form: str,
        seen: Mapping[str, Any] | None,
        said: dict[str, Any],
        *,
        offline: bool,
    ) -> None:
        self._session, self.form, self._seen, self.said = session, form, seen, said
        self._offline = offline
        self._lots: dict[str, dict[str, Any]] = {}

    @cached_property
    def visit(self) -> VisitSoFar:
        """What is known of the visit."""
        return so_far(self._session, self.form, self._seen)

    @cached_property
    def title(self) -> str:
        """Which visit it is for."""
        return visits.visit_line(self._session, self.form, self._seen)

    @cached_property
    def _others(self) -> list[Mapping[str, Any]]:
        return earlier_runs.known(self._session, self.form, self._seen)

    @property
    def has_points(self) -> bool:
        """Whether other samples of the visit have points on the sketch."""
        others = [each for each in self._others if each["form"] == self.form]
        return any(each.get("point") for each in others)

    @property
    def lot(self) -> dict[str, Any]:
        """Its lot: from the box, or by its label. Raises `Malformed` when nobody knows it."""
        return self._lot(self.said["sample"])

    @property
    def start(self) -> Moment:
        """When its run began."""
        return cassette_facts.started(self._session, self.form, self.said)

    @property
    def data(self) -> dict[str, Any]:
        """The statement as it would be signed now."""
        said = self.said
        told = cassette_facts.collected(said["sample"], self.lot["lot"], self.start, said)
        zone = said["zone"] or cache.zone_of(self._session, self.form)
        return told | observations.cassette(self._session, zone, said)

    @property
    def act(self) -> Act:
        """What is signed."""
        private = {"place": self.said["place"], "note": self.said["note"]}
        return Act(f"form/{self.form}", name_of(Collected), written.as_signed(self.data), private)

    def label(self, sample: str) -> None:
        """Another cassette is meant, scanned or typed. Raises `Malformed` where no lot of it is known."""
        self._lot(str(sample))
        by_option = self.said["typed"] and "sample" not in self.said
        self.said["typed"] = by_option or getattr(sample, "by_hand", False)
        self.said["sample"] = str(sample)

    def label_again(self, text: str) -> None:
        """The label as scanned or typed in the place of another."""
        read = ReadNumber.of(numbers.read(text, "sample"), text)
        self._lot(str(read))
        self.label(self.not_collected_yet(read))

    def settle(self) -> None:
        """Go on once nothing of it is surely a slip."""
        again = {name: partial(cassette_facts.again, self.said, name) for name in cassette_facts.READERS}
        prompts.settle(self._session, self._slips, again)

    def expected(self) -> expected_stops.Told:
        """What the rule book would find, where the ledger can be asked."""
        if not self._seen:
            return expected_stops.NOTHING
        return expected_stops.of_cassette(self._session, self.form, self.data)

    def remarks(self) -> list[str]:
        """The same in sentences, the gravest first."""
        return [each for found in self.expected().values() for each in found]

    def _slips(self) -> Iterator[Slip]:
        data, flow = self.data, self.lot.get("nominal_flow")
        yield from slips.lot_of_another_kind(data["sample"], flow, surface=False)
        yield from slips.collected(data, self.visit, Decimal(flow) if flow else None)
        yield from run_slips.beside(data, self.form, self._others)
        now = self._session.clock()
        yield from visit_slips.among(data, self.form, self._others, self.visit.opened, now)
        yield from run_slips.not_over(data, now)
        if prompts.may_ask(self._session):  # elsewhere it is signed, and SL-08 finds it
            yield from run_slips.at_one_point(data, self.form, self._others)

    def _lot(self, sample: str) -> dict[str, Any]:
        if sample not in self._lots:
            self._lots[sample] = _lot(self._session, sample, self.said["lot"], offline=self._offline)
        return self._lots[sample]

    def facts(self, asked: Collection[str]) -> list[tuple[str, str, str]]:
        """What follows from the answers, and what was typed and not `asked`: lines of the screen."""
        said, data = self.said, self.data
        zone = cache.zone_of(self._session, self.form)
        told = [("", "lot", self._lot_line)]
        told += [("started", "started", show.when(data["started"], zone))]
        volume = run_told.volume(data)
        told += [("", "volume", f"{volume} L")] if volume is not None else []
        private = {name: said[name] for name in ("place", "note") if said[name]}
        rest = {**data, **data.get("weather", {}), **data.get("cavity", {}), **private}
        beside = [name for name in rest if name not in asked and name not in _ON_THE_SCREEN]
        return told + [(name, *visits.fact(name, rest[name])) for name in beside]

    @property
    def _lot_line(self) -> str:
        """Its lot, with the maker's number where that is known: of which box it is."""
        lot = self.lot
        made = lot.get("maker_lot")
        return numbers.grouped(lot["lot"]) + (f" ({words.Heading.MAKER_LOT.lower()} {made})" if made else "")

    def not_collected_yet(self, sample: str) -> str:
        """The number of the cassette. One that this device has collected, or of a lot of another kind, is
        asked back before anything else is asked: another one is scanned, or a yes is `--both`.
        """
        signed = [
            submit.data_of(each)
            for each in self._session.outbox.of_chains([f"form/{self.form}"])
            if each.act == name_of(Collected) and each.state in ("waiting", "registered")
        ]
        before = {each["sample"]: each for each in signed}
        before |= {
            each["sample"]: each
            for each in self._others
            if each["form"] == self.form and each["sample"] in before
        }
        scanned = {"sample": sample}

        def found() -> Iterator[Slip]:
            if scanned["sample"] in before:
                yield from run_slips.collected_already(before[scanned["sample"]])
            with suppress(Malformed):  # a lot that nobody knows is asked for in a moment
                flow = self._lot(scanned["sample"]).get("nominal_flow")
                yield from slips.lot_of_another_kind(scanned["sample"], flow, surface=False)

        def again(text: str) -> None:
            scanned["sample"] = ReadNumber.of(numbers.read(text, "sample"), text)

        prompts.settle(self._session, found, {"sample": again})
        if scanned["sample"] in before:
            self._session.both = True
        return scanned["sample"]


_ON_THE_SCREEN: Final = {"sample", "lot", "entered", "kind", "room", "point", "started", "weather", "cavity"}
"""Members that stand there in other words, or are looked up."""


def _lot(session: Session, sample: str, given: str | None, *, offline: bool) -> dict[str, Any]:
    """The lot of a cassette: from the box, or by its label. Raises `Malformed` when nobody knows it."""
    lot = {"lot": given} if given else cache.lot_of(session, sample, offline=offline)
    if lot is None:
        raise Malformed(
            f"No lot is on record for {numbers.grouped(sample)}: enter the lot from the box with --lot.",
            code="no-lot",
        )
    return lot


def so_far(session: Session, form: str, seen: Mapping[str, Any] | None) -> VisitSoFar:
    """What is known of the visit: from the ledger, else from this device."""
    day = cache.visit_of(session, form)
    closed = (
        {s["envelope"]: words.status(s["status"], None) for s in seen["samples"] if s["envelope"]}
        if seen
        else {
            submit.data_of(each)["envelope"]: show.words(each.act)
            for each in session.outbox.of_chains([f"form/{form}"])
            if each.act in (name_of(Sealed), name_of(Shipped)) and each.state in ("waiting", "registered")
        }
    )
    zone = cache.zone_of(session, form)
    return VisitSoFar(
        date.fromisoformat(day) if day else None, zone, closed, earlier_runs.opened(session, form)
    )
