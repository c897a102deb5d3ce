"""CU and SI: hand-overs between people: why, how often, and from whom to whom."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

from bailee.domain.custody import Form, Link
from bailee.domain.form_acts import Received, Relinquished
from bailee.rules.case import Case
from bailee.rules.registry import Hit, refusal, rule
from bailee.rules.wording import clock, samples

refusal(
    "CU-11", "Signature does not hold, or what was signed was altered",
    "21 CFR 11.10(a): discern altered records; 40 CFR 3.2000(b)(1)", "bailee.signing.signed_statement.open_with",
)  # fmt: skip


@rule(
    "CU-17", "Purpose of a hand-over not stated", "warn", "custody", "NIST SP 800-72 and 800-101: each handler, date and time, purpose of the transfer",
    "Whoever gave or received names the purpose: `bailee correct FORM --act relinquished --field purpose --new … --reason "
    "left_out`, or `--act received`.",
)  # fmt: skip
def purpose_stated(case: Case) -> Iterator[Hit]:
    """Between people; one half that names it is enough. What a carrier brings was shipped, and that is its purpose."""
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
                f"{who} signed {act} for {samples(moved)} on {at}, and nobody says for what purpose.",
                entries=entries,
            )


@rule(
    "CU-18", "Many hand-overs", "note", "custody", "common practice: keep transfers few",
    "Nothing to correct. Let fewer people hold samples next time.",
)  # fmt: skip
def few_hands(case: Case) -> Iterator[Hit]:
    """Counted by sample, the carrier's leg included: strictly more than the policy's number."""
    for form in case.forms.values():
        limit = case.policy(form).most_hand_overs
        by_count: dict[int, list[str]] = {}
        for sample in form.samples.values():
            count = len(sample.links) - 1
            if count > limit:
                by_count.setdefault(count, []).append(sample.number)
        for count, moved in by_count.items():
            said = f"{count} hand-overs of {samples(moved)}; few hands are better than many ({limit} is the limit set)."
            yield Hit(form.number, said, entries=_receipts(form, moved[0]), by=("most_hand_overs",))


@rule(
    "SI-06", "Given and received by the same person", "warn", "custody", "follows from what a hand-over is: two people",
    "If two people were there, the other one says so: `bailee take … --at …`. If not, nothing was handed over: say how it "
    "was kept, `bailee secure … --how … --where …`.",
)  # fmt: skip
def two_people(case: Case) -> Iterator[Hit]:
    """One person's keys on both sides, or two keys of one organisation under one name."""
    for form in case.forms.values():
        found: dict[tuple[int, int], list[str]] = {}
        for sample in form.samples.values():
            for giver, taker in pairwise(sample.links):
                if giver.given and taker.kid and _same_person(case, form, giver, taker):
                    found.setdefault((giver.given.entry.n, taker.received.n), []).append(sample.number)
        for (given, taken), moved in found.items():
            entry = next(entry for entry in form.ordered if entry.n == taken)
            who = case.person(entry.org, entry.kid)
            said = f"{who} gave {samples(moved)} and received {'it' if len(moved) == 1 else 'them'}: both signatures are one person's, or two people have one name."
            yield Hit(form.number, said, entries=(given, taken))


def _without_purpose(giver: Link | None, taker: Link | None) -> tuple[int, ...]:
    """Entries of a hand-over between people that name no purpose; none when one of them does, or when it is none."""
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
    organisation = case.organisations.get(giver.org)
    keys = [organisation.keys.get(kid) for kid in (giver.kid, taker.kid) if kid] if organisation else []
    names = [key.person for key in keys if key and key.person]
    return giver.org == taker.org and len(names) == 2 and names[0] == names[1]


def _receipts(form: Form, sample: str) -> tuple[int, ...]:
    return tuple(link.received.n for link in form.samples[sample].links[1:])
