"""ML-13: a lot was recalled after a copy of the record, or a result, had gone out: who has one is to be told.

That the copy no longer says what the record says is RC-18; that a recalled lot was used, ML-07.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from bailee.domain import numbers
from bailee.domain.acts.form import Notified
from bailee.domain.custody import Form, Said
from bailee.domain.lots import Lot, Recall
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.errors import BadNumber
from bailee.frozen import frozen
from bailee.rules.case import Case
from bailee.rules.checks.envelope.at_the_dock import close_of_day
from bailee.rules.registry import Hit, Severity, rule
from bailee.rules.remedies import advice, do
from bailee.rules.wording import clock, clock_at, samples


@frozen
class RecalledLater:
    """A lot of live samples of a form, recalled after a copy of it had gone out: the first such copy, by when
    its holders are to be told, and when that was done.
    """

    form: Form
    lot: Lot
    samples: tuple[str, ...]
    recall: Recall
    copy: Said
    due: Moment
    told: Moment | None

    @property
    def what(self) -> str:
        """That it happened, in words."""
        at, lot = clock_at(self.recall.since, self.due), f"{grouped(self.lot.number)} ({self.lot.maker_lot})"
        return (
            f"Lot {lot}, of which {_are(self.samples)}, was recalled on {at}, after a copy had been issued"
            f" (entry {self.copy.entry.n})"
        )


def recalled_after_a_copy(case: Case) -> Iterator[RecalledLater]:
    """Every recall in force that came, by the ledger's time, after a copy that its firm or laboratory gave
    out.
    """
    for form in case.forms.values():
        copies = [said for said in form.copies if said.entry.org in form.parties]
        used: dict[str, list[str]] = {}
        for sample in (each for each in form.live if copies and each.lot):
            used.setdefault(sample.lot or "", []).append(sample.number)
        for number, named in used.items():
            lot = case.lots.get(number)
            recall = lot.recalled if lot else None
            before = [said for said in copies if recall and said.entry.rec < recall.since]
            if lot and recall and before:
                first = before[0]
                since = Moment(recall.since.replace(microsecond=0), first.entry.at.offset_minutes)
                days = case.policy(form).call_working_days
                due = close_of_day(case, form, first.entry.n, since, days)
                told = _told(form, number, recall.since)
                last = Moment(due, since.offset_minutes)
                yield RecalledLater(form, lot, tuple(named), recall, first, last, told)


@rule(
    "ML-13",
    "Lot recalled after use, no notice to holders of a copy on record",
    "warn",
    "media",
    "15A NCAC 02H .0805, by analogy: document, notify; ISO/IEC 17025:2017 7.8.8, from memory",
    advice(
        "Notify each holder of a copy, and enter whom, how and when. Issue the copy again as the next"
        " version.",
        do("notified", "form", "lot", of="recall", to=..., how=..., at=...),
        do("copied", "form", of=..., version=..., reason="other"),
    ),
)
def holders_told(case: Case) -> Iterator[Hit]:
    """A warning until the working days for a call are over, then a flag. Told late: a warning."""
    by_form: dict[str, list[RecalledLater]] = {}
    for each in recalled_after_a_copy(case):
        if each.told is None or each.told > each.due:
            by_form.setdefault(each.form.number, []).append(each)
    for number, found in by_form.items():
        late = any(each.told is None and case.at > each.due for each in found)
        severity: Severity = "flag" if late else "warn"
        entries = tuple(sorted({each.copy.entry.n for each in found}))
        lots = tuple(each.lot.number for each in found)
        said = " ".join(map(_said, found))
        yield Hit(number, said, severity, entries, by=("call_working_days",), names=lots)


def _said(each: RecalledLater) -> str:
    if each.told:
        return (
            f"{each.what}; its holders were notified on {clock(each.told)}, and the notice was due by"
            f" {clock(each.due)}."
        )
    return f"{each.what}; no notice to its holders is on record (due by {clock(each.due)})."


def _told(form: Form, lot: str, since: datetime) -> Moment | None:
    """When a party of the form first told somebody of the recall of a lot, after that."""
    bodies = (said.of(Notified) for said in form.notices if said.entry.org in form.parties)
    times = [
        body.at
        for body in bodies
        if body.of == "recall" and _is(body.about, lot) and body.at.instant >= since
    ]
    return min(times, default=None)


def _is(about: str, lot: str) -> bool:
    try:
        return numbers.read(about, "lot") == lot
    except BadNumber:
        return False


def _are(named: tuple[str, ...]) -> str:
    return f"{samples(named)} {'is' if len(named) == 1 else 'are'}"
