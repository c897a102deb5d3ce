"""One sheet filled in by pen, on its way into the ledger: what of it is there already, what can be entered,
what is left out and why.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any, Final

from bailee.asking import hand_over_slips, opening_slips, pen_entries, pen_lines, pen_sheet
from bailee.asking.pen_entries import PaperEntry
from bailee.asking.pen_lines import PaperFault, WrittenSheet
from bailee.asking.slip import Slip
from bailee.domain.acts.form import Opened
from bailee.domain.acts.table import name_of
from bailee.domain.moments import Moment
from bailee.errors import BaileeError, Malformed, Refused
from bailee.rules.wording import listed
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people.visit import interview
from bailee_cli.people.visit.sheet_answers import SheetAnswers
from bailee_cli.signing import earlier_runs, lookups, pictures, submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, prompts

_OF_THE_VISIT: Final = ("A", "B", "C", "D", "E", "F", "G", "H")


class SheetInHand:
    """One sheet on its way into the ledger: what of it is there already, what is left out and why."""

    def __init__(
        self, session: Session, form: str, answers: SheetAnswers, seen: Mapping[str, Any] | None,
        photo: Path | None, firm: str | None = None, *, offline: bool,
    ) -> None:  # fmt: skip
        self._session, self.form, self.answers, self._seen = session, form, answers, seen
        self._offline, self._photo = offline, photo
        self._firm = firm or session.profile.org
        self._order = pen_sheet.order(pen_sheet.named(answers.sheet)[1])
        self.asks_back = prompts.may_ask(session) and not answers.is_file
        self.faults: list[PaperFault] = []
        self.samples: list[str] = []
        self._known = [*earlier_runs.known(session, form, seen)]
        self._before = _entered(session, form, answers.sheet, seen)
        self._is_open = bool(seen) or any(
            each.act == name_of(Opened) for each in session.outbox.of_chains([f"form/{form}"])
        )
        self._zone, self._day = cache.zone_of(session, form), cache.visit_of(session, form)
        self._say_before()
        if self.asks_back:
            answers.known = {
                "firm": lambda: self._firm,
                "lab": partial(interview.laboratory, session, self._firm, offline=offline, mark="C  "),
                "zone": partial(interview.zone, session, "A  "),
            }

    def _say_before(self) -> None:
        """The same sheet twice: what was entered is told, and only what is missing is asked."""
        if not self._before:
            return
        lines = listed(sorted(self._before, key=self._order.index))
        told = f"Sheet {self.answers.sheet} was entered already: lines {lines}."
        if self.answers.is_file and not [each for each in self.answers.filled() if self._is_wanted(each)]:
            raise Refused(f"{told} Nothing was signed: correct what is wrong.", code="sheet-entered")
        layout.warn(f"{told} Only what is missing is entered.")

    def _is_wanted(self, line: str) -> bool:
        is_known = self._is_open and line in _OF_THE_VISIT
        return line not in self._before and not is_known and line not in ("L", "M")

    def opening(self, private: Mapping[str, str | None]) -> list[Act]:
        """The acts that open the visit of a sheet that was printed blank."""
        if self._is_open:
            return []
        lines = {line: self._needed(line) for line in _OF_THE_VISIT}
        if any(values is None for values in lines.values()):
            raise self._nothing()
        values: dict[str, dict[str, Any]] = {line: each or {} for line, each in lines.items()}
        self._settle_opening(values)
        self._zone, self._day = values["A"]["zone"], values["A"]["visit"]
        cache.remember_visit(self._session, self.form, values["A"]["zone"], values["A"]["visit"])
        acts = pen_entries.opening(values, self._firm, values["A"]["zone"])
        return [
            Act(f"form/{self.form}", act, data, private if act == name_of(Opened) else {})
            for act, data in acts
        ]

    def _settle_opening(self, values: dict[str, dict[str, Any]]) -> None:
        """Ask back a day and a laboratory that are surely slips; in a file they are faults. Raises
        `Malformed`.
        """

        def found() -> list[Slip]:
            firm, lab = values["B"]["firm"] or self._firm, values["C"]["lab"]
            today = Moment.shown_in(self._session.now, values["A"]["zone"]).local_date
            opened = {"parties": {"firm": firm, "lab": lab}, "visit": values["A"]["visit"]}
            unknown = lookups.unknown_laboratory(self._session, lab, offline=self._offline)
            return [*opening_slips.opened(opened, today), *([unknown] if unknown else [])]

        def typed(line: str, column: str, text: str) -> None:
            values[line] = self._typed_over(line, column, text)

        if self.asks_back:
            again = {column: partial(typed, line, column) for line, column in (("A", "visit"), ("C", "lab"))}
            prompts.settle(self._session, found, again)
            return
        for slip in found():
            line = "A" if slip.field == "visit" else "C"
            fault = self._fault(line, slip.field, f"{slip.sentence} {slip.remedy}")
            self._of_file(fault)
        if self.faults:
            raise self._nothing()

    def lines(self) -> list[Act]:
        """The acts of every other line that can be entered, in the order in which they were done."""
        heads = {line: self._read(line) for line in ("I", "J", "K")}
        heads["L"] = self._needed("L")
        at = self._signed_in_ink(heads["L"]) if self.asks_back else None
        heads |= {line: self._read(line) for line in ("M", "N")}
        sheet = self._written(heads, at or self._signed_in_ink(heads["L"]))
        found = {line: self._made(sheet, line, heads[line]) for line in ("I", "J") if self._is_wanted(line)}
        for line in self.answers.numbers:
            if self._is_wanted(line) and self.answers.begins(line):
                values = self._read(line)
                sheet = replace(sheet, numbers=self.answers.sample_numbers())
                found[line] = self._made(sheet, line, values)
                self.samples += [each.data["sample"] for each in found[line]]
                self._known += [{"form": self.form, **each.data} for each in found[line]]
        self._say_count(heads["M"])
        if self.samples:
            sheet = replace(sheet, samples=tuple(self.samples))
            found |= {
                line: self._made(sheet, line, heads[line]) for line in ("K", "N") if self._is_wanted(line)
            }
            found["N"] = self._to_somebody_known(found.get("N", ()))
        entries = [each for made in found.values() for each in made]
        return [Act(f"form/{self.form}", each.act, each.data, each.private) for each in entries]

    def _signed_in_ink(self, signed: dict[str, Any] | None) -> Moment:
        """When the lines were signed, by line L. Raises `Malformed` where nobody can say."""
        while signed and self._day and self._zone:
            try:
                return pen_entries.signed(
                    date.fromisoformat(self._day), self._zone, signed, self._session.now
                )
            except BaileeError as error:
                signed = self._again(self._fault("L", str(error.facts["column"]), error.sentence))
        raise self._nothing()

    def _written(self, heads: Mapping[str, dict[str, Any] | None], at: Moment) -> WrittenSheet:
        pump, air = heads["I"] or {}, heads["J"] or {}
        day, zone = date.fromisoformat(str(self._day)), str(self._zone)
        sky = {name: air[name] for name in ("sky", "wind") if air.get(name)}
        return WrittenSheet(
            self.answers.sheet, day, zone, at,
            lambda sample: cache.lot_of(self._session, sample, offline=self._offline),
            pump.get("pump"), pump.get("meter"), sky if len(sky) > 1 else {},
            pictures.digest(self._photo) if self._photo else None,
        ).with_ink(heads)  # fmt: skip

    def _needed(self, line: str) -> dict[str, Any] | None:
        """A line without which nothing is entered: who leaves it out is asked nothing more. Raises
        `Malformed`.
        """
        found = self._read(line)
        if found is None and self.asks_back:
            raise self._nothing()
        return found

    def _read(self, line: str) -> dict[str, Any] | None:
        """What stands on a line, asked for if need be; None where it cannot be read, and is left out."""
        if line not in ("L", "M") and not self._is_wanted(line):
            return self._quietly(line)
        said = self.answers.to(line)
        values, faults = pen_lines.read(self.answers.sheet, line, said)
        if not faults:
            return values
        if self.asks_back:
            return self._again(faults[0])
        self.faults += faults
        return None

    def _quietly(self, line: str) -> dict[str, Any] | None:
        """A line that is entered already: pump and sky of it hold for the other lines of a file."""
        values, faults = pen_lines.read(self.answers.sheet, line, self.answers.standing(line))
        return None if faults else values

    def _again(self, fault: PaperFault) -> dict[str, Any] | None:
        """A column typed once more; None where the line is left out."""
        if not self.asks_back:
            self.faults.append(fault)
            return None
        layout.warn(fault.words)
        is_needed = fault.line == "L" or (fault.line in _OF_THE_VISIT and not self._is_open)
        out = "the whole sheet" if is_needed else f"line {fault.line}"
        if not self.answers.again(fault.line, fault.column, out=out):
            self.faults.append(fault)
            return None
        return self._read(fault.line)

    def _made(self, sheet: WrittenSheet, line: str, values: dict[str, Any] | None) -> Sequence[PaperEntry]:
        """The acts of a line, once nothing in it is surely a slip; none where it is left out."""
        while values is not None:
            made, faults = pen_entries.entries(sheet, line, values, self.answers.standing(line))
            slips = [] if faults else self._slips(sheet, made)
            if not faults and not slips:
                return made
            if faults:
                values = self._again(faults[0])
                continue
            if not self.asks_back:
                return self._of_a_file(line, made, slips)
            values = self._settled(sheet, line, values)
        return ()

    def _slips(self, sheet: WrittenSheet, made: Sequence[PaperEntry]) -> list[Slip]:
        stands = self._session.stands
        return [
            replace(slip, field=column)
            for entry in made
            for column, slip in pen_entries.slips_of(
                sheet, entry, self._known, self.form, is_asked=self.asks_back
            )
            if (slip.code, column, slip.said) not in stands
        ]

    def _of_a_file(
        self, line: str, made: Sequence[PaperEntry], slips: Sequence[Slip]
    ) -> Sequence[PaperEntry]:
        for slip in slips:
            self._of_file(self._fault(line, slip.field, f"{slip.sentence} {slip.remedy}"))
        return made if self._session.anyway else ()

    def _of_file(self, fault: PaperFault) -> None:
        """A slip where nobody is asked: a fault, unless it is signed all the same."""
        if self._session.anyway:
            layout.warn(f"Signed all the same: {fault.words}")
        else:
            self.faults.append(fault)

    def _settled(self, sheet: WrittenSheet, line: str, values: dict[str, Any]) -> dict[str, Any] | None:
        """The line once its slips were asked back: typed again, or it is so."""
        current = values

        def found() -> list[Slip]:
            made, faults = pen_entries.entries(sheet, line, current, self.answers.standing(line))
            return [] if faults else self._slips(sheet, made)

        def typed(column: str, text: str) -> None:
            nonlocal current
            current = self._typed_over(line, column, text)

        again = {cell.column: partial(typed, cell.column) for cell in pen_sheet.cells(line)}
        prompts.settle(self._session, found, again)
        return current

    def _typed_over(self, line: str, column: str, text: str) -> dict[str, Any]:
        """The line with a column typed once more. Raises `Malformed` where it cannot be read."""
        read, faults = pen_lines.read(self.answers.sheet, line, {**self.answers.standing(line), column: text})
        if faults:
            raise Malformed(faults[0].sentence)
        self.answers.put(line, column, text)
        return read

    def _say_count(self, values: dict[str, Any] | None) -> None:
        """What the second person counted by hand is the number of cassettes on the sheet."""
        count = (values or {}).get("count")
        for slip in hand_over_slips.counted(count, len(self.answers.cassettes()), member="count"):
            layout.warn(self._fault("M", "count", slip.sentence).words)

    def _to_somebody_known(self, made: Sequence[PaperEntry]) -> Sequence[PaperEntry]:
        """The transfer, unless the ledger knows no such organization."""
        try:
            for each in made:
                lookups.require(self._session, each.data["to"], offline=self._offline)
        except Malformed as error:
            self.faults.append(self._fault("N", "to", error.sentence))
            return ()
        return made

    def _fault(self, line: str, column: str, sentence: str) -> PaperFault:
        said = self.answers.standing(line).get(column, "").strip()
        return PaperFault(self.answers.sheet, line, column, said, sentence)

    def _nothing(self) -> Malformed:
        told = " ".join(each.words for each in self.faults)
        return Malformed(
            f"{told} Without these lines nothing of the sheet can be entered. Nothing was signed.",
            code="sheet-unreadable",
            faults=[each.as_data() for each in self.faults],
        )


def _entered(session: Session, form: str, sheet: str, seen: Mapping[str, Any] | None) -> set[str]:
    """The lines of a sheet that are on the ledger, or signed on this device."""
    said = [submit.data_of(each) for each in session.outbox.of_chains([f"form/{form}"]) if each.counts]
    if seen:
        said += [each["data"] for each in session.service.get(f"/forms/{form}/facts")["statements"]]
    papers = [each.get("paper") or {} for each in said]
    return {each["line"] for each in papers if each.get("sheet") == sheet}
