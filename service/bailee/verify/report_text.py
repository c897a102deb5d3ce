"""A report in plain text, for a person with no account, no network and a dispute to settle.

The words are chosen with care: what was looked at and what was found, never that something is proven good.
Whatever came out of the file is shown without characters that could move a cursor or turn the direction of
reading.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Final

from bailee.domain.fields import PRIVATE
from bailee.domain.moments import duration_words
from bailee.domain.numbers import grouped
from bailee.domain.visible_text import visible
from bailee.presentation import words
from bailee.presentation.hand_overs import HolderView
from bailee.presentation.sample_view import SampleView
from bailee.presentation.signature_words import when
from bailee.presentation.words import Heading
from bailee.rules.wording import clock_at
from bailee.verify.disclaimer import LIMITS, TITLE
from bailee.verify.evidence import shown
from bailee.verify.result import INTACT, Endorsement, EntryLine, Fault, Report, Signer, Stamped

STEPS: Final = {
    2: "checkpoint",
    3: "entries in the log",
    4: "chains",
    5: "statements",
    6: "keys and signatures",
    7: "order of devices",
    8: "earlier checkpoints",
    9: "private fields",
    10: "meaning",
}
"""The steps of `verifier` in a word or two."""

WHO_HELD_WHAT: Final = "Who held what"


def render_text(report: Report) -> str:
    """The whole report, without color, ending in a newline."""
    parts = (
        _head,
        _verdicts,
        _faults,
        _remarks,
        _findings,
        _samples,
        _entries,
        _signers,
        _endorsements,
        _not_checked,
        _limits,
        _checked_with,
        _claims,
    )
    blocks = ["\n".join(plain(line) for line in part(report)) for part in parts]
    return "\n\n".join(block for block in blocks if block) + "\n"


def _head(report: Report) -> Iterator[str]:
    yield f"Form {grouped(report.form)}"
    yield records(report)
    yield from (f"  {each.sentence}" for each in report.other_keys)
    yield from unpinned(report)
    if report.visit:
        visit = report.visit
        yield f"Visit of {visit.day} ({visit.zone}), {words.parties(visit.firm, visit.lab)}"
        yield from (f"  {name}: {value}" for name, value in sorted(visit.told.items()))
        yield from (f"  {Heading.REQUESTED.lower()}: {each}" for each in visit.requests)
        yield from (f"  {Heading.CONDITIONS.lower()}: {each}" for each in visit.on_site)
        yield from (f"  {Heading.ISSUED_COPY.lower()}: {each}" for each in visit.copies)
    yield looked_at(report)
    yield from map(stamped, report.stamps)


def records(report: Report) -> str:
    """What became of the records, in a line, which denies no cosignature that was counted."""
    said = words.RECORDS[report.state]
    by, asked, unpinned = len(report.cosigned), report.checked_with.quorum, ", ".join(report.unpinned)
    if report.state == INTACT and 0 < asked <= by:
        roots = f"the roots of {unpinned} were" if len(report.unpinned) > 1 else f"the root of {unpinned} was"
        said = f"unaltered, cosigned; {roots} not brought"
    elif report.state == INTACT and 0 < by < asked:
        said = f"unaltered, cosigned by {by} of the {asked} you asked for"
    return f"{words.AREAS['records']}: {said}"


def unpinned(report: Report) -> Iterator[str]:
    """Whose root key nobody compared, in one line; none when all were."""
    if report.unpinned:
        yield f"Not checked: the root of {', '.join(report.unpinned)}"


def looked_at(report: Report) -> str:
    """Which log, how long it was, and when it was judged."""
    log = f"Log {report.origin}, {report.size} entries" if report.origin else "The log is not known"
    return f"{log}; looked at on {shown(report.at)}"


def stamped(each: Stamped) -> str:
    """What a time stamp says of the log, and who says it."""
    told = f"the log of {each.size} entries existed on {shown(each.at)}"
    match each.signed:
        case "checked":
            return (
                f"Time stamp: {told}, signed by {each.authority}, whose certificate leads to a root that you"
                " brought"
            )
        case "not believed":
            return f"Time stamp that does not verify; by it, {told}"
    return f"Time stamp: {told}, by an authority whose signature is not checked here"


def _verdicts(report: Report) -> Iterator[str]:
    yield "VERDICTS"
    for verdict in report.verdicts:
        state = (
            f"{words.verdict(verdict.area, verdict.state)}. "
            if verdict.area != "records" and verdict.state != "not judged"
            else ""
        )
        yield f"  {words.AREAS[verdict.area]}: {state}{verdict.sentence}"
        if verdict.area != "records":  # what the records do not show stands in a list of its own
            yield from (f"    {words.NOT_CHECKED.lower()}: {each}" for each in verdict.not_checked)


def _faults(report: Report) -> Iterator[str]:
    if report.faults:
        yield f"FAULTS OF THE RECORDS ({len(report.faults)})"
        yield from map(_fault, report.faults)
    if report.left_out:
        yield f"  {left_out(report)}"


def left_out(report: Report) -> str:
    """How many entries count for nothing here."""
    what = (
        "1 of the entries does not verify and is"
        if report.left_out == 1
        else f"{report.left_out} of the entries do not verify and are"
    )
    return f"{what} left out of what follows."


def _fault(fault: Fault) -> str:
    return f"  [step {fault.step}, {STEPS[fault.step]}] {fault.place}: {fault.sentence} ({fault.code})"


def _remarks(report: Report) -> Iterator[str]:
    if report.remarks:
        yield f"REMARKS ({len(report.remarks)})"
        yield from (f"  {each.place}: {each.sentence}" for each in report.remarks)


def _samples(report: Report) -> Iterator[str]:
    if report.samples:
        yield WHO_HELD_WHAT.upper()
    for sample in report.samples:
        yield f"  {Heading.SAMPLE} {grouped(sample.number)}"
        yield from (f"    {line}" for line in drawn(sample))
        yield from (f"    {line}" for holder in sample.holders for line in held(sample, holder))


def drawn(sample: SampleView) -> Iterator[str]:
    """What the sample is, and what was drawn through it."""
    yield ", ".join(filter(None, [sample.kind or "kind not known", sample.state]))
    body = sample.collected
    if body:
        yield f"{Heading.LOT} {grouped(body.lot)}, {Heading.EXPIRATION.lower()} {sample.expiration}"
        yield f"{Heading.WHERE}: {', '.join(sample.where)}"
        yield f"{Heading.STARTED} {when(body.started)}, {Heading.RUN.lower()} {sample.run}: {sample.drawn}"
    if sample.surface:
        lot = sample.lot_number
        yield f"{Heading.LOT} {grouped(lot)}" if lot else f"{Heading.LOT} {words.NONE}"
        yield f"{Heading.WHERE}: {', '.join(sample.where)}"
        yield f"{Heading.STARTED} {when(sample.surface.at)}: {sample.drawn}, {words.NO_AIR}"
    if sample.outdoor:
        yield f"{Heading.OUTDOOR} {grouped(sample.outdoor)}, {words.apart(sample.minutes_apart)}"
    elif sample.needs_outdoor:
        yield f"{Heading.OUTDOOR}: {words.NONE}"
    if sample.condition_words:
        yield f"{Heading.CONDITION}: {sample.condition_words}"
    if sample.lab_number:
        yield f"{Heading.LAB_NUMBER}: {sample.lab_number}"


def held(sample: SampleView, holder: HolderView) -> Iterator[str]:
    """One link of custody: how it began, then how the sample was secured and how the link ended."""
    entry = holder.entry
    yield (
        f"{holder.name} {holder.received} at {when(holder.since)} "
        f"(entry {entry.n}, signed {when(entry.at)}, recorded {clock_at(entry.rec, entry.at)})"
    )
    for each in holder.kept:
        until = f" until {when(each.until)}" if each.until else ""
        yield f"  {words.secured(each.words)}, from {when(each.since)}{until} (entry {each.n})"
    if not holder.kept:
        yield f"  {words.NO_WAY_RECORDED}"
    if holder.gap:
        yield f"  {words.gap(duration_words(holder.gap))}"
    if holder.given:
        yield f"  {holder.given}, at {when(holder.until)}" if holder.until else f"  {holder.given}"
    elif sample.status == "missing":
        yield f"  {words.NOT_IN_ENVELOPE}"
    else:
        yield f"  {words.HOLDER_ON_RECORD}"


def _findings(report: Report) -> Iterator[str]:
    if report.findings:
        yield f"FINDINGS ({len(report.findings)})"
    for found in report.findings:
        excepted = f" [{found.excepted}]" if found.excepted else ""
        yield f"  {words.severity(found.severity)} {found.rule}: {found.sentence}{excepted}"


def _entries(report: Report) -> Iterator[str]:
    title, _, told = entries_title(report).partition(" (")
    yield f"{title.upper()} ({told}"
    yield from (f"  {entry(line)}" for line in report.entries)


def entries_title(report: Report) -> str:
    """How many entries hold, and how many private fields of them are not to be seen."""
    hidden = counted(report.redacted, "private field") + " not in this file"
    erased = f", {counted(report.erased, 'private field')} erased" if report.erased else ""
    return f"Entries whose signature verifies ({len(report.entries)}, {hidden}{erased})"


def entry(line: EntryLine) -> str:
    """Who said what, with its window of time and the private fields that are shown."""
    signed, recorded, *bounds = (
        each and shown(each, line.claimed)
        for each in (line.claimed, line.recorded, line.not_before, line.not_after)
    )
    sides = zip(("not before", "not after"), bounds, strict=True)
    since, until = (f", {side} {at}" if at else "" for side, at in sides)
    told = "".join(f"; {private(name, value)}" for name, value in sorted(line.told.items()))
    return (
        f"{line.index} {line.chain} {line.n} {words.plain(line.act)} by"
        f" {line.person or f'key {line.kid[:8]}'} ({line.org}): signed {signed}{since}, recorded"
        f" {recorded}{until}{told}"
    )


def private(name: str, value: str) -> str:
    """A private field; one of a name that its signer made up stands in quotation marks, so that it is
    nobody's finding.
    """
    return (
        f"{name}: {value}"
        if name in PRIVATE
        else f"under a name of its signer's own: {json.dumps({name: value}, ensure_ascii=False)}"
    )


def _signers(report: Report) -> Iterator[str]:
    if report.signers:
        yield "SIGNERS"
    yield from (f"  {signer(each)}" for each in report.signers)


def signer(each: Signer) -> str:
    """Whose key it is, and what became of it."""
    ended = f", revoked: {each.revoked}" if each.revoked else ""
    return (
        f"{each.person or words.NAME_WITHHELD} ({each.org}, {words.plain(each.role)}), key {each.kid}, "
        f"{counted(each.statements, 'entry', 'entries')}{ended}"
    )


def _endorsements(report: Report) -> Iterator[str]:
    if report.endorsements:
        yield "ENDORSEMENTS BETWEEN ORGANIZATIONS, WHICH ARE NO TRUST BY THEMSELVES"
    yield from (f"  {endorsement(each)}" for each in report.endorsements)


def endorsement(each: Endorsement) -> str:
    """What one organization says of another's root."""
    by = each.by if each.pinned else f"{each.by}, whose own root you did not bring"
    if each.fits:
        return f"{each.org}, root {each.root}: endorsed by {by}"
    return f"{each.org}: {by} endorsed another root of it, {each.root}; ask both of them"


def _not_checked(report: Report) -> Iterator[str]:
    yield words.NOT_CHECKED.upper()
    yield from (f"  {each.sentence}" for each in report.not_checked)


def _limits(_report: Report) -> Iterator[str]:
    yield TITLE.upper()
    yield from (f"  {each.sentence}" for each in LIMITS)


def _checked_with(report: Report) -> Iterator[str]:
    yield "CHECKED WITH"
    yield from (f"  {line}" for line in checked_with(report))


def checked_with(report: Report) -> Iterator[str]:
    """The file, and everything that was brought to check it: what somebody must repeat to come to the same
    report.
    """
    brought = report.checked_with
    yield f"file: SHA-256 {brought.sha256 or 'not known'}"
    yield from (f"root of {org}, brought by you: {root}" for org, root in sorted(brought.roots.items()))
    yield from (f"root of {org}: not brought" for org in report.unpinned)
    yield from (f"log key, brought by you: {key}" for key in brought.log_keys)
    yield from (f"cosigner {name}, brought by you: {key}" for name, key in sorted(brought.cosigners.items()))
    if brought.cosigners:
        yield f"cosigners asked for: {brought.quorum} of {len(brought.cosigners)}"
    yield from (
        f"time stamp authority, brought by you: certificate with SHA-256 {each}"
        for each in brought.stamp_roots
    )
    yield from (f"entry {n} on paper, brought by you: {leaf}" for n, leaf in brought.printed.items())
    yield f"program: Bailee {brought.program}"


def _claims(report: Report) -> Iterator[str]:
    yield "ENTERED BY THE EXPORTER, NOT SIGNED"
    yield from (f"  {line}" for line in claims(report))


def claims(report: Report) -> Iterator[str]:
    """What anybody may have written into the file."""
    yield f"exported {report.claims['exported']}"
    yield from (f"root of {org}: {root}" for org, root in sorted(report.claims["roots"].items()))
    unknown = [each for each in report.unauthenticated if each not in ("/exported", "/roots", "/tokens")]
    if unknown:
        yield f"members this program does not know: {', '.join(unknown)}"


def counted(number: int, one: str, many: str = "") -> str:
    """`1 fault`, `2 faults`; `many` where an s is not enough."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def plain(line: str) -> str:
    """One line stays one line: a name with a line break in it must not write a line of its own."""
    return visible(line)
