"""The verdict on the records in words, and what is weighed beside it: clocks that disagree, roots that nobody
brought.

What is weighed here breaks nothing: it keeps records from being called complete, or from having a verdict at
all, or tells a reader where to look.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Final

from bailee.domain.fields import EDITION
from bailee.domain.moments import Moment
from bailee.ledger.checkpoint import Checkpoint, VerifierKey
from bailee.presentation import words
from bailee.rules.case import Case
from bailee.rules.registry import Finding
from bailee.rules.verdicts import OTHER_FORMS, RecordsState, Verdict, verdicts
from bailee.rules.wording import counted, listed
from bailee.verify import cosigned_checkpoints
from bailee.verify.cosigned_checkpoints import Cosigned
from bailee.verify.evidence import Notes, ReadEntry, shown
from bailee.verify.result import BROKEN, NOT_UNDERSTOOD, NOT_YOURS, PlaceInFile, Stamped, State

_CLOCKS_DIFFER: Final = timedelta(minutes=5)
"""Clocks of honest machines differ by no more (common practice, no source)."""
_SLIPS: Final = 2
_SHOWN: Final = 5
"""So many places are named; each entry stands in the report."""
_KNOWN: Final[Mapping[State, RecordsState]] = {
    BROKEN: "broken",
    NOT_YOURS: "not judged",
    NOT_UNDERSTOOD: "not judged",
}
"""What the rules are told of the records."""


def seen_outside(
    checkpoint: Checkpoint | None, cosigned: Cosigned, stamped: Iterable[Stamped]
) -> list[tuple[int, str]]:
    """Sizes of the log that others saw, rising, each with the earliest time at which so much or more was
    seen.

    Times are in the one form in which text order is time order.
    """
    times = [(each.size, each.at) for each in stamped if each.signed == "checked"]
    if checkpoint:
        times += [(checkpoint.size, told) for told in map(cosigned_checkpoints.told, cosigned.by.values())]
    earliest: dict[int, str] = {}
    soonest = ""
    for size, at in sorted(times, reverse=True):
        soonest = min(soonest or at, at)
        earliest[size] = soonest
    return sorted(earliest.items())


def seen_by(outside: Sequence[tuple[int, str]], index: int) -> str | None:
    """By when somebody else had seen the entry at this index; `outside` as `seen_outside` tells it."""
    place = bisect_right(outside, index, key=lambda seen: seen[0])
    return outside[place][1] if place < len(outside) else None


def weigh_future(items: Iterable[ReadEntry], cosigned: Cosigned, at: Moment, notes: Notes) -> None:
    """What says that it was recorded, or cosigned, after the moment of looking: a clock was ahead, was set,
    or the moment is a past one.
    """
    latest = max(items, key=lambda item: item.entry.rec, default=None)
    if latest and _after(at, latest.entry.rec):
        said = (
            f"Its recording time is {shown(latest.entry.rec)}, after the time at which you look, {at.clock}:"
            " the log's clock is ahead, or was set."
        )
        notes.remark("recorded-ahead", latest.place, said)
    for name, time in sorted(cosigned.by.items()):
        if _after(at, cosigned_checkpoints.told(time)):
            then = shown(cosigned_checkpoints.told(time))
            said = (
                f"The cosignature of {name} has the time {then}, after the time at which you look,"
                f" {at.clock}: a clock is ahead, or was set."
            )
            notes.remark("cosigned-ahead", PlaceInFile(), said)


def _after(at: Moment, told: str) -> bool:
    return Moment.parse(told).instant > at.instant + _CLOCKS_DIFFER


def weigh_clock(items: Iterable[ReadEntry], outside: Sequence[tuple[int, str]], notes: Notes) -> None:
    """An entry that others saw before it says it was recorded: one of the clocks is wrong, or somebody set
    it.
    """
    for item in items:
        at = seen_by(outside, item.index)
        if at and _after(Moment.parse(at), item.entry.rec):
            said = (
                f"Its recording time is {shown(item.entry.rec)}, and it had been seen by {shown(at)}: the"
                " log's clock was ahead, or was set."
            )
            notes.remark("clock-ahead", item.place, said)
            return


def weigh_roots(
    brought: Collection[str], here: Collection[str], unpinned: Collection[str], notes: Notes
) -> None:
    """A root for somebody who is not here, while somebody's is missing, is most likely the same name
    misspelled.
    """
    for org in sorted(set(brought) - set(here)) if unpinned else ():
        missing = ", ".join(sorted(unpinned))
        said = (
            f"You brought a root for {org}, and no organization of that name signed in this file. Missing is"
            f" that of {missing}: compare the spelling."
        )
        notes.remark("root-unused", PlaceInFile(), said)


def weigh_editions(notes: Notes) -> None:
    """Say what this program does not know: nobody is accused by it, and nothing is concluded
    from the rest.
    """
    if notes.unknown:
        shown = [f"{words.plain(act)} ({place})" for place, act in notes.unknown[:_SHOWN]]
        if more := len(notes.unknown) - len(shown):
            shown.append(f"{more} more")
        notes.not_checked(
            "editions",
            f"What is entered by {listed(shown)}: this program knows edition {EDITION} of the rule book, and"
            " there is an act, a member or a word that is not in it, or what rests on one. Verify this file"
            " with the newest Bailee.",
        )


def other_root(org: str, here: str, brought: str) -> str:
    """What to do about an organization that begins here with another key than the auditor knows it by."""
    return (
        f"{org} was founded here with the key {here}, and you brought {brought}.{_slip(here, brought)}"
        " Compare yours again with the paper that it is from. If it is right, this is the file of another"
        " organization of that name, and it shows nothing about yours."
    )


def other_log_key(origin: str, brought: Collection[VerifierKey]) -> str:
    """What to do about a checkpoint that none of the auditor's log keys signed."""
    yours = ", ".join(sorted({key.name for key in brought})) or "no log"
    said = (
        f"you brought another key of {origin}"
        if yours == origin
        else f"what you brought is the key of {yours}"
    )
    return (
        f"This file is of the log {origin}, and {said}: it did not sign here. Compare yours again with what"
        " the log's operator sent you. If it is right, this is the file of another log."
    )


def _slip(one: str, other: str) -> str:
    """Two keys of different people differ nearly everywhere: in one or two places they differ by a slip."""
    differing = [str(at) for at, (a, b) in enumerate(zip(one, other, strict=False), 1) if a != b]
    if len(one) != len(other) or len(differing) > _SLIPS:
        return ""
    where = f"character {differing[0]}" if len(differing) == 1 else f"characters {' and '.join(differing)}"
    return f" They differ in {where} alone: most likely it was mistyped."


def judge(
    case: Case,
    findings: Sequence[Finding],
    state: State,
    count: int,
    notes: Notes,
    cosigned: Cosigned,
    unpinned: Collection[str],
    *,
    withheld: bool,
) -> tuple[Verdict, ...]:
    """The four verdicts; without a form only the first, which is the verifier's own.

    On broken records the others are given, and say that they rest on them. Under other keys than the
    auditor's nothing is judged, nor where the rules were not asked (`withheld`): something that was recorded
    is not understood, not believed or not here.
    """
    broken, known = state == BROKEN, _KNOWN.get(state, "intact")
    records, *others = verdicts(case, findings, records_state=known)
    own = replace(
        records,
        sentence=_records_sentence(count, notes, len(records.findings), cosigned, unpinned),
        not_checked=tuple(each.sentence for each in notes.unchecked),
    )
    if not case.forms:
        return (own,)
    if state == NOT_YOURS:
        said = "Not judged: these entries are not under the keys that you brought."
        others = [replace(each, state="not judged", sentence=said) for each in others]
    elif notes.unknown:
        said = "Not judged: this program does not know all that was entered here."
        others = [replace(each, state="not judged", sentence=said, not_checked=()) for each in others]
    elif withheld:
        said = (
            "Not judged: an entry does not verify and is left out, or is missing; nothing is concluded"
            " from its absence."
        )
        others = [replace(each, state="not judged", sentence=said, not_checked=()) for each in others]
    return (own, *(_beside(each, broken=broken) for each in others))


def _beside(verdict: Verdict, *, broken: bool) -> Verdict:
    """A verdict beside that on records, and beside the list of what no file alone can show."""
    said = verdict.sentence
    if broken:
        judged = verdict.state != "not judged"
        said += " Judged on records that do not verify." if judged else " The records do not verify."
    return replace(
        verdict, sentence=said, not_checked=tuple(each for each in verdict.not_checked if each != OTHER_FORMS)
    )


def _records_sentence(
    count: int, notes: Notes, found: int, cosigned: Cosigned, unpinned: Collection[str]
) -> str:
    weighed = (
        f" {found} of the findings {('concerns' if found == 1 else 'concern')} the records." if found else ""
    )
    if notes.other_keys and not notes.faults:
        return (
            f"Not judged: {' '.join(each.sentence for each in notes.other_keys)} Nothing altered or missing"
            f" was found in {count} entries under the keys that the file itself has, and such a file can be"
            f" made by any person.{weighed}"
        )
    if notes.unknown and not notes.faults:
        return (
            f"Not judged: {counted(len(notes.unknown), 'entry', 'entries')} of these {count} entries cannot"
            " be understood by this program, which may be older. Nothing altered or missing was found."
        )
    if not notes.faults:
        missing = f" They are not called complete: the root of {', '.join(sorted(unpinned))} was not brought."
        rest = missing if cosigned.enough and unpinned else ""
        return (
            f"Nothing altered or missing was found in {count} entries. {cosigned.sentence()}{rest}{weighed}"
        )
    faults = "1 fault" if len(notes.faults) == 1 else f"{len(notes.faults)} faults"
    return (
        f"{faults} in {count} entries. This file does not match what was signed. Keep it unchanged.{weighed}"
    )
