"""What else was signed on a form, in words.

Decisions, voids, opened seals, exceptions, copies, the end of custody; and corrections.
"""

from __future__ import annotations

from collections.abc import Iterator

from bailee.domain.acts.form import (
    Affirmed,
    BuildingChanged,
    ConditionsRead,
    Copied,
    Decision,
    Disposed,
    Excepted,
    Forwarded,
    LabNumbered,
    Notified,
    OutdoorRuledOut,
    PumpChecked,
    Requested,
    SentItem,
    Unsealed,
    Voided,
    Witnessed,
)
from bailee.domain.acts.privacy import Erased, RetentionHeld, RetentionReleased
from bailee.domain.acts.table import ROWS
from bailee.domain.corrections import Correction, in_words
from bailee.domain.custody import Form
from bailee.domain.numbers import grouped
from bailee.domain.requests import asked_by
from bailee.domain.statements import Recorded
from bailee.frozen import frozen
from bailee.presentation import copy_words, on_site_words, request_words, words
from bailee.presentation.signature_words import Signature, entry_numbers, signature, when
from bailee.presentation.words import Heading
from bailee.rules.case import Case
from bailee.rules.wording import counted


@frozen
class CorrectionView:
    """A correction: what of which entry, the values, why, by whom, and why it is not followed, if so."""

    target: str
    field: str
    old: str
    new: str
    reason: str
    why_not: str
    by: Signature


def corrections(form: Form, case: Case) -> Iterator[CorrectionView]:
    """Every correction of the form, in the order in which they count."""
    return (_correction(each, case) for each in form.corrections)


def _correction(each: Correction, case: Case) -> CorrectionView:
    target = f"{words.plain(each.target.act)}, entry {each.target.n}" if each.target else "not on this form"
    return CorrectionView(
        target=target,
        field=words.plain(each.body.field),
        old=in_words(each.body.old),
        new=in_words(each.body.new),
        reason=words.plain(each.body.reason),
        why_not=each.why_not or "",
        by=signature(case, each.entry),
    )


def says(entry: Recorded, form: Form) -> Iterator[str]:
    """What an entry says that has no place of its own on its form, line by line."""
    match entry.body:
        case Decision() as body:
            yield from _of_decision(entry, body)
        case Forwarded() | LabNumbered() as body:
            yield from _of_numbers(body)
        case Voided() | Disposed() as body:
            yield _of_end(body)
        case Copied() | Notified() | Requested() as body:
            yield from _between_houses(entry, body)
        case Excepted() as body:
            yield f"{body.rule} about {words.number(body.about)}: {words.plain(body.reason)}"
        case Unsealed() as body:
            name = f"Envelope {grouped(body.envelope)}, seal {words.number(body.seal)}"
            yield f"{name}: {words.plain(body.reason)}"
        case PumpChecked() | OutdoorRuledOut() | ConditionsRead() | BuildingChanged() as body:
            yield from _on_site(body)
        case Erased() | RetentionHeld() | RetentionReleased() as body:
            yield _of_private(body)
        case Affirmed() | Witnessed() as body:
            yield from _of_statements(body, form)
        case _:
            raise NotImplementedError(f"{__name__}.says has no case for {entry.act!r}")


def _of_statements(body: Affirmed | Witnessed, form: Form) -> Iterator[str]:
    """Which entries it is about, by what they say of which numbers; and what a second person read."""
    wanted = set(body.statements)
    here = [entry for entry in form.ordered if entry.digest in wanted]
    for act in dict.fromkeys(entry.act for entry in here):
        alike = [entry for entry in here if entry.act == act]
        things = dict.fromkeys(thing for each in alike for thing in ROWS[act].things(each.data))
        what = f"{entry_numbers([each.n for each in alike])}: {words.plain(act)}".capitalize()
        yield f"{what} {', '.join(map(words.number, things))}".rstrip()
    if lost := len(wanted) - len(here):
        yield f"{counted(lost, 'entry', 'entries')} not on this form here"
    if isinstance(body, Witnessed):
        yield from _of_reading(body, here)


def _of_reading(body: Witnessed, here: list[Recorded]) -> Iterator[str]:
    yield f"Counted by hand: {words.NOT_STATED if body.count is None else body.count}"
    yield f"Numbers read: {', '.join(map(grouped, body.samples)) if body.samples else words.NOT_STATED}"
    unread = [each for each in here if not body.saw(each.digest, each.named)]
    if unread:
        yield f"Does not count as witness of {entry_numbers([each.n for each in unread])}: number not read"


def _of_decision(entry: Recorded, body: Decision) -> Iterator[str]:
    own = body.lab_numbers
    yield ", ".join(grouped(s) + (f" = {own[s]}" if s in own else "") for s in body.samples)
    if body.reasons:
        yield f"Reasons: {words.listed(body.reasons)}"
    if body.qualified:
        yield words.QUALIFIED.capitalize()
    if body.called:
        told = [entry.disclosed.get(name, "") for name in ("called_person", "answer")]
        yield ": ".join(filter(None, [f"{Heading.CALLED} {when(body.called)}", *told]))
    if body.resample:
        yield f"New sample: {words.plain(body.resample)}"


def _between_houses(entry: Recorded, body: Copied | Notified | Requested) -> Iterator[str]:
    """What one house issued to others, told them or asked of them."""
    match body:
        case Copied():
            yield from _of_copy(body)
        case Notified():
            yield from _of_notice(entry, body)
        case Requested():
            yield from _of_request(entry, body)


def _of_notice(entry: Recorded, body: Notified) -> Iterator[str]:
    whom = f"{words.plain(body.to)} {body.org}" if body.org else words.plain(body.to)
    what = f"{words.plain(body.of).capitalize()}, {words.number(body.about)}"
    yield f"{what}: to {whom}, {words.plain(body.how)}"
    told = [entry.disclosed.get(name, "") for name in ("called_person", "answer")]
    yield ": ".join(filter(None, [f"Notified {when(body.at)}", *told]))


def _of_numbers(body: Forwarded | LabNumbered) -> Iterator[str]:
    """Numbers that samples bear from then on: the laboratory's own, or new ones with which they went on."""
    if isinstance(body, LabNumbered):
        yield ", ".join(f"{grouped(sample)} = {own}" for sample, own in body.numbers.items())
        return
    yield from map(_sent_on, body.items)
    yield f"To {body.to}, for {words.plain(body.purpose)}"


def _of_request(entry: Recorded, body: Requested) -> Iterator[str]:
    """What was asked for then, of which samples, and who pays where that is shown."""
    yield ", ".join(map(grouped, body.samples)) if body.samples else "All samples of the form"
    yield request_words.said(asked_by(body))
    if who := entry.disclosed.get("bill_to"):
        yield f"Bill to: {who}"


def _sent_on(item: SentItem) -> str:
    state = f"{words.plain(item.item)}, {words.listed(item.condition)}"
    return f"{grouped(item.sample)} as {grouped(item.child)}: {state}"


def _of_private(body: Erased | RetentionHeld | RetentionReleased) -> str:
    if isinstance(body, Erased):
        return f"{body.count} private field{('s' if body.count > 1 else '')} of entry {body.statement[:8]}"
    return words.plain(body.reason).capitalize()


def _on_site(body: PumpChecked | OutdoorRuledOut | ConditionsRead | BuildingChanged) -> Iterator[str]:
    """Why no outdoor control was possible, how the air was, what changed in the building.

    Or a check of a pump: when, what was read, and how its timer was.
    """
    if isinstance(body, ConditionsRead | BuildingChanged):
        yield on_site_words.line(body)
        return
    if isinstance(body, OutdoorRuledOut):
        yield f"No outdoor control possible {when(body.at)}: {words.plain(body.reason)}"
        return
    how = "through a cassette" if body.through_cassette else "without a cassette"
    yield f"{body.pump} {body.when} the runs, {when(body.at)}: {body.flow} L/min by {body.meter}, {how}"
    if body.adjusted:
        yield "Adjusted for this reading"
    if body.timer_s is not None:
        yield f"Its timer took {body.timer_s} s for {body.watch_s} s by a watch"


def _of_end(body: Voided | Disposed) -> str:
    if isinstance(body, Voided):
        return f"{grouped(body.sample)}: {words.plain(body.reason)}"
    how = words.plain(body.how).capitalize()
    return f"{how} {when(body.at)}: {', '.join(map(grouped, body.samples))}"


def _of_copy(body: Copied) -> Iterator[str]:
    yield copy_words.line(body)
    if body.reason:
        yield f"Issued again: {words.plain(body.reason)}"
    if body.file:
        yield f"SHA-256 of the file: {body.file}"
