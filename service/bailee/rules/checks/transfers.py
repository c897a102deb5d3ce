"""SE-10 and CU-04: nobody says how a sample was kept. A sample must always be in one of five states.

CU and SI: hand-overs between people: why, how often, and from whom to whom.

The stretches of time in which nobody says how a sample was kept.

A holder says it with `held`; a custody seal says it for as long as it is whole, whoever carries the envelope.
What is not said is a stretch of the link it lies in, and that link's holder can still say it, late.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import groupby, pairwise
from typing import Final

from bailee.domain.acts.form import Decision, Received, Relinquished, Sealed, Stored, Withdrawn
from bailee.domain.custody import Form, Keeping, Link, Sample
from bailee.domain.moments import Moment, duration_words, hours
from bailee.domain.numbers import grouped
from bailee.frozen import frozen
from bailee.rules.case import Case
from bailee.rules.registry import Hit, Severity, refusal, rule
from bailee.rules.remedies import advice, do
from bailee.rules.wording import clock, clock_at, samples

refusal(
    "CU-11",
    "Signature does not hold, or what was signed was altered",
    "21 CFR 11.10(a): discern altered records; 40 CFR 3.2000(b)(1)",
    "bailee.signing.signed_statement.open_with",
)


@rule(
    "CU-17",
    "Purpose of a transfer not recorded",
    "warn",
    "custody",
    "NIST SP 800-72 and 800-101: each handler, date and time, purpose of the transfer",
    advice(
        "One of the two persons enters the purpose.",
        do("corrected", "form", of="relinquished", field="purpose", new=..., reason="left_out"),
        do("corrected", "form", of="received", field="purpose", new=..., reason="left_out"),
    ),
)
def purpose_stated(case: Case) -> Iterator[Hit]:
    """Between people; one half that names it is enough.

    What a carrier brings was shipped, and that is its purpose.
    """
    for form in case.forms.values():
        silent: dict[tuple[int, ...], list[str]] = {}
        for sample in form.samples.values():
            for giver, taker in pairwise([*sample.links, None]):
                assert giver
                if entries := _without_purpose(giver, taker):
                    silent.setdefault(entries, []).append(sample.number)
            first = sample.links[0] if sample.links else None
            if first and not sample.parent and (entries := _without_purpose(None, first)):
                silent.setdefault(entries, []).append(sample.number)
        by_n = {entry.n: entry for entry in form.ordered}
        for entries, moved in silent.items():
            entry = by_n[entries[0]]
            who, act = case.person(entry.org, entry.kid), entry.act.replace("_", " ")
            at = clock(entry.body.at if isinstance(entry.body, Relinquished | Received) else entry.at)
            yield Hit(
                form.number,
                f"{who} signed {act} for {samples(moved)} on {at}; no purpose is on record.",
                entries=entries,
            )


@rule(
    "CU-18", "Many transfers", "note", "custody", "common practice: keep transfers few",
    "Nothing to fix: it is printed on the custody record.",
)  # fmt: skip
def few_hands(case: Case) -> Iterator[Hit]:
    """Counted by sample, the carrier's leg included, into a store and out of it not: strictly more than the
    policy's number.
    """
    for form in case.forms.values():
        limit = case.policy(form).most_hand_overs
        by_count: dict[int, list[str]] = {}
        for sample in form.samples.values():
            count = sum(not isinstance(link.received.body, Stored | Withdrawn) for link in sample.links) - 1
            if count > limit:
                by_count.setdefault(count, []).append(sample.number)
        for count, moved in by_count.items():
            said = f"{count} transfers of {samples(moved)}; noted above {limit}."
            yield Hit(form.number, said, entries=_receipts(form, moved[0]), by=("most_hand_overs",))


@rule(
    "SI-06",
    "Both sides signed by one person",
    "warn",
    "custody",
    "follows from what a transfer is: two people",
    advice(
        "If there were two people, the other one signs too. If not, it was no transfer: enter how it was"
        " secured.",
        do("received", "sample", at=...),
        do("held", "sample", secured=..., where=...),
    ),
)
def two_people(case: Case) -> Iterator[Hit]:
    """One person's keys on both sides, or two keys of one organization under one name."""
    for form in case.forms.values():
        found: dict[tuple[int, int], list[str]] = {}
        for sample in form.samples.values():
            for giver, taker in pairwise(sample.links):
                if giver.given and taker.kid and _same_person(case, form, giver, taker):
                    found.setdefault((giver.given.entry.n, taker.received.n), []).append(sample.number)
        for (given, taken), moved in found.items():
            entry = next(entry for entry in form.ordered if entry.n == taken)
            who = case.person(entry.org, entry.kid)
            said = (
                f"{who} signed both sides of a transfer of {samples(moved)}: both signatures are one"
                " person's, or two people have one name."
            )
            yield Hit(form.number, said, entries=(given, taken))


def _without_purpose(giver: Link | None, taker: Link | None) -> tuple[int, ...]:
    """Entries of a hand-over between people that name no purpose.

    None when one of them does, or when it is none.
    """
    given = giver.given if giver else None
    received = taker.received if taker and isinstance(taker.received.body, Received) else None
    if given is None and (received is None or received.body.dock is not None):  # type: ignore[attr-defined]
        return ()
    named = [given.of(Relinquished).purpose] if given else []
    if received and isinstance(received.body, Received):
        named.append(received.body.purpose)
    if any(named):
        return ()
    return tuple(entry.n for entry in (given.entry if given else None, received) if entry)


def _same_person(case: Case, form: Form, giver: Link, taker: Link) -> bool:
    if form.same(giver.kid, taker.kid):
        return True
    organization = case.organizations.get(giver.org)
    keys = [organization.keys.get(kid) for kid in (giver.kid, taker.kid) if kid] if organization else []
    names = [key.person for key in keys if key and key.person]
    return giver.org == taker.org and len(names) == 2 and names[0] == names[1]


def _receipts(form: Form, sample: str) -> tuple[int, ...]:
    return tuple(link.received.n for link in form.samples[sample].links[1:])


@frozen
class Unstated:
    """One stretch of one link without a stated way of keeping."""

    sample: Sample
    link: Link
    since: datetime
    until: datetime

    @property
    def length(self) -> timedelta:
        """How long it is."""
        return self.until - self.since


Stretches = Sequence[tuple[datetime, datetime]]


def under_seal(sample: Sample) -> Stretches:
    """When a custody seal kept it, whoever had it then."""
    return _joined(
        _stretch(keeping) for link in sample.links for keeping in link.keeping if keeping.secured == "sealed"
    )


def unstated(
    sample: Sample,
    sealed: Stretches,
    since: datetime,
    until: datetime,
    links: Sequence[Link] | None = None,
) -> Iterator[Unstated]:
    """Every such stretch between two instants, over all links of people (a carrier's link is kept by the
    seal), or over these links; `sealed`: `under_seal`.
    """
    for link in sample.links if links is None else links:
        if link.by_carrier:
            continue
        begins, ends = max(since, link.since.instant), min(until, link.until.instant if link.until else until)
        first = bisect_right(sealed, begins, key=lambda each: each[1])
        last = bisect_left(sealed, ends, key=lambda each: each[0])
        own = (_stretch(keeping) for keeping in link.keeping if keeping.secured != "sealed")
        for kept_since, kept_until in sorted([*sealed[first:last], *own]):
            if begins < min(kept_since, ends):
                yield Unstated(sample, link, begins, min(kept_since, ends))
            begins = max(begins, kept_until)
        if begins < ends:
            yield Unstated(sample, link, begins, ends)


def _stretch(keeping: Keeping) -> tuple[datetime, datetime]:
    """From when to when; without an end, until further notice."""
    return keeping.since.instant, keeping.until.instant if keeping.until else _OPEN


def _joined(stretches: Iterable[tuple[datetime, datetime]]) -> list[tuple[datetime, datetime]]:
    """The same time in stretches that do not touch, in order."""
    joined: list[tuple[datetime, datetime]] = []
    for since, until in sorted(stretches):
        if joined and since <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], until))
        elif since < until:
            joined.append((since, until))
    return joined


_OPEN: Final = datetime.max.replace(tzinfo=UTC)


_SOURCE = (
    "EPA 905R78115 (1978): possession, view, locked, restricted or sealed; the hours are common practice"
)
_REMEDY = advice(
    "The holder enters where they were and how they were secured, as a late entry.",
    do("held", "sample", secured=..., where=..., since=..., until=...),
)


@rule("SE-10", "No entry shows how samples were secured before sealing", "warn", "custody", _SOURCE, _REMEDY)
def kept_until_sealed(case: Case) -> Iterator[Hit]:
    """Each silence of a holder that is longer than the policy's hours, from the last run on."""
    seals = case.once(_seals)
    for form, envelope, inside, sealed_at in _closings(case):
        policy, last_run = case.policy(form), _last_runs(inside)
        silences = (
            each for sample in inside if sample.links
            for each in unstated(sample, seals[id(sample)], last_run[sample.links[0].kid], sealed_at.instant)
        )  # fmt: skip
        for alike in _together(silences, min(policy.unsecured_h, policy.unsecured_block_h)):
            longest = max(hours(each.length) for each in alike)
            severity: Severity = "block" if longest > policy.unsecured_block_h else "warn"
            they = "it was" if len(alike) == 1 else "they were"
            said = f"{_sentence(case, alike)} Then {they} sealed into envelope {grouped(envelope)}."
            limit = "unsecured_block_h" if severity == "block" else "unsecured_h"
            yield Hit(envelope, said, severity, _receipts_of(alike), by=(limit,))


@rule("CU-04", "No entry shows how samples were secured", "warn", "custody", _SOURCE, _REMEDY)
def kept_while_held(case: Case) -> Iterator[Hit]:
    """Outside the time before sealing, which SE-10 judges. A stretch that has not ended yet is not judged."""
    seals = case.once(_seals)
    for form in case.forms.values():
        sealed: Mapping[str, datetime] = {
            sample.number: sealed_at.instant
            for where, _, inside, sealed_at in _closings(case)
            if where is form
            for sample in inside
        }
        silences = (
            each
            for sample in form.live
            if sample.links
            for links, until in _judged(sample)
            for each in unstated(
                sample,
                seals[id(sample)],
                sealed.get(sample.number, sample.links[0].since.instant),
                until,
                links,
            )
        )
        for alike in _together(silences, case.policy(form).unsecured_h):
            yield Hit(form.number, _sentence(case, alike), entries=_receipts_of(alike), by=("unsecured_h",))


def _seals(case: Case) -> dict[int, Stretches]:
    """By sample, when it was under seal."""
    return {
        id(sample): under_seal(sample) for form in case.forms.values() for sample in form.samples.values()
    }


def _sentence(case: Case, alike: Sequence[Unstated]) -> str:
    """Of samples that came to their holder one after the other the longest time is told, and that it is."""
    link, since, until = alike[0].link, min(each.since for each in alike), alike[0].until
    beside, up_to = link.since, "" if all(each.since == since for each in alike) else "up to "
    were = f"{samples([each.sample.number for each in alike])} {'was' if len(alike) == 1 else 'were'}"
    return (
        f"No entry shows how {were} secured for {up_to}{duration_words(until - since)},"
        f" {clock_at(since, beside)} to {clock_at(until, beside)}; holder on record"
        f" {case.person(link.org, link.kid)}."
    )


def _closings(case: Case) -> Iterator[tuple[Form, str, list[Sample], Moment]]:
    """Each form's part of an envelope and its closing: the one about to be done, and the last one before the
    dock.
    """
    closing = case.draft(Sealed)
    if closing:
        for form in case.forms.values():
            inside = [form.samples[number] for number in closing.body.samples if number in form.samples]
            yield form, closing.body.envelope, inside, closing.body.at
    for form, envelope in case.envelopes():
        sealing = envelope.arrivals[0].sealing if envelope.arrivals else envelope.sealing
        if sealing:
            yield (
                form,
                envelope.number,
                [form.samples[number] for number in sealing.body.samples],
                sealing.body.at,
            )


def _last_runs(inside: Sequence[Sample]) -> dict[str | None, datetime]:
    """When each collector's last run of this envelope ended: until then the collector was at work on site."""
    ended: dict[str | None, datetime] = {}
    for sample in inside:
        if sample.links:
            kid, since = sample.links[0].kid, sample.links[0].since.instant
            ended[kid] = max(since, ended.get(kid, since))
    return ended


def _together(silences: Iterable[Unstated], limit: Decimal) -> Iterable[list[Unstated]]:
    """Those of more hours than the limit: what one holder was silent about until one moment is one fault."""
    found: dict[tuple[str | None, datetime], list[Unstated]] = {}
    for each in silences:
        if hours(each.length) > limit:
            found.setdefault((each.link.kid, each.until), []).append(each)
    return found.values()


def _receipts_of(alike: Iterable[Unstated]) -> tuple[int, ...]:
    return tuple(sorted({each.link.received.n for each in alike}))


def _judged(sample: Sample) -> Iterator[tuple[Sequence[Link], datetime]]:
    """The links of each house that had it, one after the other, and the end of the last stretch there that is
    over: the present holder's ends with the laboratory's decision.

    What a laboratory has from its store on is asked for by CU-23, until another house has it.
    """
    houses = [list(links) for _, links in groupby(sample.links, lambda link: link.org)]
    for links in houses:
        first, last = links[0], links[-1]
        decided = [said.of(Decision).at.instant for said in sample.decisions[-1:]]
        decided = [at for at in decided if at >= first.since.instant]
        place = next((place for place, link in enumerate(links) if link.store), None)
        if place is not None:
            yield links[:place], min([links[place].since.instant, *decided])
        elif last.until:
            yield links, last.until.instant
        else:
            yield links, (decided or [last.since.instant])[0]
