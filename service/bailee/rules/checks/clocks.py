"""CU-07 to CU-10, CU-14: order and time, as people's clocks, their devices' counters and the ledger
tell them.

A statement carries two times of its signer, when the act was done and when it was signed, and one of the
ledger, when it was recorded. Signed long before recorded is only a late upload. Nothing is ever re-dated:
what cannot be is said.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final

from bailee.domain.acts.form import (  # fmt: skip
    Collected,
    Decision,
    Forwarded,
    Received,
    Relinquished,
    Sealed,
    Shipped,
    Stored,
    TakenIn,
    Unsealed,
    Withdrawn,
)
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.acts.table import ON_HOLD, done_at
from bailee.domain.custody import Form, Link, Sample
from bailee.domain.moments import Moment, clock_words, duration_words
from bailee.domain.numbers import grouped
from bailee.domain.statements import Recorded
from bailee.frozen import frozen
from bailee.rules.case import Case
from bailee.rules.clock_bounds import BELIEVABLE
from bailee.rules.registry import Hit, Severity, rule
from bailee.rules.remedies import Remedy, advice, do
from bailee.rules.wording import clock, clock_at, listed, samples, start

_SEQUENCE: Final = "21 CFR 11.10(f): checks of sequence; FDA guidance on time stamps, withdrawn, by summary"
_WRONG_TIME: Final = advice(
    "The person who entered the wrong time corrects it; the old one stays visible.",
    do("corrected", "form", of=..., field=..., new=..., reason="clock"),
)
"""The member in which an act says when it was done, where that is not `at`."""


@frozen
class Stage:
    """One thing that happened to a sample, with the time stated and who said it."""

    name: str
    at: Moment
    entry: Recorded


@rule("CU-07", "Times out of order", "flag", "custody", _SEQUENCE, _WRONG_TIME)
def physical_order(case: Case) -> Iterator[Hit]:
    """Run, received, sealed, given, handed over, decided.

    The clocks of two people may differ by the clock limit.

    Sealed before the run ended is SE-12, and what the dock received too early RC-09.
    """
    for form in case.forms.values():
        apart = timedelta(seconds=case.policy(form).clock_warn_s)
        found: dict[tuple[int, int], tuple[str, list[str]]] = {}
        for sample in form.samples.values():
            for first, second in pairwise(_stages(case.once(_by_n)[form.number], sample)):
                allowed = timedelta() if first.entry.kid == second.entry.kid else apart
                if first.at.instant - second.at.instant > allowed and not _said_elsewhere(first, second):
                    said = (
                        f"the time of {second.name} is {clock(second.at)}, before that of {first.name},"
                        f" {clock_at(first.at.instant, second.at)}"
                    )
                    found.setdefault((first.entry.n, second.entry.n), (said, []))[1].append(sample.number)
        for entries, (said, named) in found.items():
            yield Hit(form.number, start(f"{samples(named)}: {said}."), entries=entries, by=("clock_warn_s",))
        yield from _opened_on_the_way(form)


@rule(
    "CU-08", "Device clock differs from the ledger's clock", "warn", "custody", _SEQUENCE,
    advice(
        "Set the clock of the device by the network, and correct the times it recorded.",
        do("corrected", "form", of=..., field=..., new=..., reason="clock"),
    ),
)  # fmt: skip
def clock_agrees(case: Case) -> Iterator[Hit]:
    """The worst of each device: signed strictly more than the first limit after it was recorded, or while the
    device knew its clock to be wrong by more.

    Beyond the second, a flag.
    """
    for form, made in by_device(case):
        policy, worst = case.policy(form), max(made, key=_off)
        if _off(worst) > timedelta(seconds=min(policy.clock_warn_s, policy.clock_flag_s)):
            severity: Severity = "flag" if _off(worst) > timedelta(seconds=policy.clock_flag_s) else "warn"
            whose = f"The clock of {case.person(worst.org, worst.kid)} was"
            said = (
                f"{whose} at least {duration_words(_ahead(worst))} ahead: it signed at {clock(worst.at)} what"
                f" the ledger recorded on {clock_at(worst.rec, worst.at)}."
                if _ahead(worst) >= _known(worst)
                else f"{whose} {clock_words(worst.skew)}, as its device had measured, when it signed"
                f" {_act(worst)} at {clock(worst.at)}; the ledger recorded it on"
                f" {clock_at(worst.rec, worst.at)}."
            )
            limit = "clock_flag_s" if severity == "flag" else "clock_warn_s"
            yield Hit(form.number, said, severity, (worst.n,), by=(limit,))


@rule("CU-09", "Time conflicts with the ledger", "flag", "custody", _SEQUENCE, _WRONG_TIME)
def believable(case: Case) -> Iterator[Hit]:
    """Signed before something the device had already seen or signed, or done after it was recorded.

    More than 5 minutes.
    """
    for form, made in by_device(case):
        recorded_at = case.once(_by_leaf)[form.number]
        for entry in made:
            seen = recorded_at.get(entry.after or "")
            if seen and seen.rec - entry.at.instant > BELIEVABLE:
                said = (
                    f"{case.person(entry.org, entry.kid)} signed {_act(entry)} with the time"
                    f" {clock(entry.at)}, but had already seen entry {seen.n}, recorded on"
                    f" {clock_at(seen.rec, entry.at)}. The true time lies between that and"
                    f" {clock_at(entry.rec, entry.at)}, when it was recorded."
                )
                yield Hit(form.number, said, entries=(entry.n, seen.n))
            done = done_at(entry.body)
            if done and done.instant - entry.rec > BELIEVABLE:
                member = entry.row.done
                said = (
                    f"Entry of {case.person(entry.org, entry.kid)} ({_act(entry)}): its time is {clock(done)}"
                    f" ({member}), after it was recorded on {clock_at(entry.rec, done)}."
                )
                yield Hit(
                    form.number,
                    said,
                    entries=(entry.n,),
                    remedy=_wrong(entry, member),
                    names=_cassette(entry),
                )
        for first, second in pairwise(sorted(made, key=lambda entry: entry.seq)):
            if first.at.instant - second.at.instant > BELIEVABLE:
                said = (
                    f"The clock of {case.person(second.org, second.kid)} ran backwards: {_act(first)} was"
                    f" signed on {clock(first.at)}, and after it {_act(second)} on"
                    f" {clock_at(second.at.instant, first.at)}."
                )
                yield Hit(form.number, said, entries=(first.n, second.n))


@rule(
    "CU-10",
    "Entries of a device missing or doubled",
    "flag",
    "records",
    "follows from the device's counter",
    advice(
        "Send what the device still holds. Two entries under one number: stop signing with that key and call"
        " your administrator.",
        do("send_waiting"),
        do("revoked", kid=..., reason="doubt", last_good_seq=...),
    ),
)
def device_sequence(case: Case) -> Iterator[Hit]:
    """Counters missing in the ledger, used twice, or continued from a statement that is not the one here.

    Of a form whose last entry was older than a missing number nothing is said; of one that was finished when
    the number was found missing, a note.
    """
    by_counter: dict[tuple[str, int], Recorded] = {}
    for form, made in by_device(case):
        yield from _missing(case, form, made)
        for entry in made:
            twin = by_counter.setdefault((entry.kid, entry.seq), entry)
            if twin.digest != entry.digest:
                said = (
                    f"Two entries of one key of {case.person(entry.org, entry.kid)} have number {entry.seq}:"
                    " a copied key or a restored backup can cause this."
                )
                yield Hit(form.number, said, entries=(twin.n, entry.n))
    for form in case.forms.values():
        for kid, org in dict.fromkeys((each.kid, each.org) for each in case.conflicts.get(form.number, ())):
            counts = sorted({each.seq for each in case.conflicts[form.number] if each.kid == kid})
            since = tuple(entry.n for entry in form.ordered if entry.kid == kid and entry.seq >= counts[0])
            said = (
                f"Two entries of one key of {case.person(org, kid)} have number"
                f" {listed([str(seq) for seq in counts])}: a copied key or a restored backup can cause this."
                " What it signs is in doubt until that is resolved."
            )
            yield Hit(form.number, said, entries=since)
    for form, made in by_device(case):
        for entry in made:
            before = by_counter.get((entry.kid, entry.seq - 1))
            if before and entry.prev != before.digest:
                said = (
                    f"Number {entry.seq} of a key of {case.person(entry.org, entry.kid)} does not continue"
                    f" number {before.seq} of that key, as it is here."
                )
                yield Hit(form.number, said, entries=(entry.n,))


@rule(
    "CU-14", "A device had seen an entry that is not here", "flag", "records", "follows from the hash chain",
    "Send this file to your administrator, and compare it with another copy or checkpoint of this ledger: "
    "an entry may be missing here, or copies differ.",
)  # fmt: skip
def nothing_removed(case: Case) -> Iterator[Hit]:
    """What a device names as seen must be an earlier entry of this form."""
    for form in case.forms.values():
        earlier: set[str] = set()
        for entry in sorted(form.ordered, key=lambda each: each.n):
            if entry.after and entry.after not in earlier:
                said = (
                    f"{case.person(entry.org, entry.kid)} had seen an entry of form {grouped(form.number)}"
                    f" that is not here (entry {entry.n})."
                )
                yield Hit(form.number, said, entries=(entry.n,))
            earlier.add(entry.leaf)


def _missing(case: Case, form: Form, made: Sequence[Recorded]) -> Iterator[Hit]:
    """Numbers of one device that may belong to what was said on a form."""
    told: dict[bool, list[str]] = {}
    for gap in case.elsewhere.gaps.get(made[0].kid, ()) if case.elsewhere else ():
        if gap.after is None or gap.after <= form.entries[-1].rec:
            over = gap.last > max(entry.seq for entry in made) and _was_finished(form, gap.shown)
            which = str(gap.first) if gap.first == gap.last else f"{gap.first} to {gap.last}"
            told.setdefault(over, []).append(which)
    for over, numbers in told.items():
        one = len(numbers) == 1 and numbers[0].isdigit()
        said = (
            f"{'Number' if one else 'Numbers'} {listed(numbers)} of a key of"
            f" {case.person(made[0].org, made[0].kid)} {'is' if one else 'are'} not in the ledger."
        )
        if over:
            said += " Every sample of this form already had a decision when this was found."
        yield Hit(form.number, said, "note" if over else None)


def _was_finished(form: Form, when: datetime) -> bool:
    """Whether a laboratory had answered for every sample by then, and there were any."""
    return bool(form.samples) and all(
        sample.status in ("disposed", "forwarded")
        or any(said.entry.rec < when and said.entry.act != ON_HOLD for said in sample.decisions)
        for sample in form.live
    )


def by_device(case: Case) -> Iterator[tuple[Form, Sequence[Recorded]]]:
    """What each key signed on each form, in causal order."""
    for form in case.forms.values():
        made: dict[str, list[Recorded]] = {}
        for entry in form.ordered:
            made.setdefault(entry.kid, []).append(entry)
        for entries in made.values():
            yield form, entries


def _by_leaf(case: Case) -> dict[str, dict[str, Recorded]]:
    return {form.number: {each.leaf: each for each in form.ordered} for form in case.forms.values()}


def _by_n(case: Case) -> dict[str, dict[int, Recorded]]:
    return {form.number: {each.n: each for each in form.ordered} for form in case.forms.values()}


def _wrong(entry: Recorded, member: str) -> Remedy:
    """How the signer puts this very time right."""
    if isinstance(entry.body, SurfaceCollected):
        fix = do("corrected", "sample", of=entry.act, field=member, new=..., reason="clock")
        return advice(_WRONG_TIME.words, fix)
    if isinstance(entry.body, Collected):
        return advice(_WRONG_TIME.words, do("corrected", "sample", field=member, new=..., reason="clock"))
    return advice(
        _WRONG_TIME.words, do("corrected", "form", of=entry.act, field=member, new=..., reason="clock")
    )


def _cassette(entry: Recorded) -> tuple[str, ...]:
    return (entry.body.sample,) if isinstance(entry.body, Collected | SurfaceCollected) else ()


def _act(entry: Recorded) -> str:
    return entry.act.replace("_", " ")


def _ahead(entry: Recorded) -> timedelta:
    return entry.at.instant - entry.rec


def _known(entry: Recorded) -> timedelta:
    """How wrong its device knew its clock to be."""
    return timedelta(seconds=abs(entry.skew))


def _off(entry: Recorded) -> timedelta:
    return max(_ahead(entry), _known(entry))


def _stages(by_n: Mapping[int, Recorded], sample: Sample) -> Iterator[Stage]:
    """What happened to a sample in the only order it can happen in; `by_n` are the entries of its form."""
    decided = [Stage("the decision", said.of(Decision).at, said.entry) for said in sample.decisions[-1:]]
    for place, link in enumerate(sample.links):
        name = _came(sample, place, link)
        if decided and name in _IN_HOUSE and decided[0].at < link.since:
            yield decided.pop()
        yield Stage(name, link.since, link.received)
        for keeping in link.keeping:
            if keeping.n in by_n and isinstance(by_n[keeping.n].body, Sealed):
                yield Stage("sealing", keeping.since, by_n[keeping.n])
        if link.given:
            yield Stage("relinquishing", link.given.of(Relinquished).at, link.given.entry)
    yield from decided


def _came(sample: Sample, place: int, link: Link) -> str:
    """How it came to a holder."""
    if link.by_carrier:
        return "shipping"
    match link.received.body:
        case Forwarded():
            return "forwarding"
        case Stored():
            return "storing"
        case Withdrawn():
            return "withdrawal"
        case _:
            return "receipt" if place or not sample.claims else "the end of the run"


_IN_HOUSE: Final = frozenset({"storing", "withdrawal"})
"""Before a decision or after it."""


def _said_elsewhere(first: Stage, second: Stage) -> bool:
    """Whether another rule says it: sealed before the run ended (SE-12), at the dock before shipped or
    collected (RC-09).
    """
    body = second.entry.body
    if isinstance(body, TakenIn) or (isinstance(body, Received) and body.dock):
        return first.name in ("shipping", "the end of the run")
    return (first.name, second.name) == ("the end of the run", "sealing")


def _opened_on_the_way(form: Form) -> Iterator[Hit]:
    for envelope in form.envelopes.values():
        for sealing in envelope.sealings:
            opened, shipped = sealing.opened, envelope.shipped
            if opened and shipped and opened.entry.org == shipped.entry.org:
                at, handed_over = opened.of(Unsealed).at, shipped.of(Shipped).handed_over
                if at > handed_over:
                    said = (
                        f"Envelope {grouped(envelope.number)} was opened by the sampling firm on {clock(at)},"
                        f" after it was shipped on {clock_at(handed_over.instant, at)}."
                    )
                    yield Hit(form.number, said, entries=(shipped.entry.n, opened.entry.n))
