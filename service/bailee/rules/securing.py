"""SE-10 and CU-04: nobody says how a sample was kept. A sample must always be in one of five states."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime

from bailee.domain.custody import Form, Sample
from bailee.domain.form_acts import Decision
from bailee.domain.keeping import Stretches, Unstated, under_seal, unstated
from bailee.domain.moments import Moment, duration_words, hours
from bailee.domain.numbers import grouped
from bailee.rules.case import Case
from bailee.rules.registry import Hit, Severity, rule
from bailee.rules.wording import clock_at, samples

_SOURCE = (
    "EPA 905R78115 (1978): possession, view, locked, restricted or sealed; the hours are common practice"
)
_REMEDY = (
    "Whoever held them says now, late as it is, where they were and how they were secured: `bailee secure … --how … --where"
    " … --at … --until …`."
)


@rule("SE-10", "Nobody says how samples were kept before sealing", "warn", "custody", _SOURCE, _REMEDY)
def kept_until_sealed(case: Case) -> Iterator[Hit]:
    """The longest silence of each holder, from the last run on; strictly more than the hours of the policy."""
    seals = case.once(_seals)
    for form, envelope, inside, sealed_at in _closings(case):
        policy, last_run = case.policy(form), _last_runs(inside)
        silences = (
            each for sample in inside if sample.links
            for each in unstated(sample, seals[id(sample)], last_run[sample.links[0].kid], sealed_at.instant)
        )  # fmt: skip
        for silence in _by_holder(silences):
            length = hours(silence.length)
            severity: Severity = "block" if length > policy.unsecured_block_h else "warn"
            if length > min(policy.unsecured_h, policy.unsecured_block_h):
                said = f"{_sentence(case, [silence])} Then it was sealed into envelope {grouped(envelope)}."
                limit = "unsecured_block_h" if severity == "block" else "unsecured_h"
                yield Hit(envelope, said, severity, (silence.link.received.n,), by=(limit,))


@rule("CU-04", "Nobody says how samples were kept", "warn", "custody", _SOURCE, _REMEDY)
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
        silences = [
            each for sample in form.live if sample.links
            for each in unstated(
                sample, seals[id(sample)], sealed.get(sample.number, sample.links[0].since.instant), _last_act(sample)
            )
        ]  # fmt: skip
        together: dict[tuple[datetime, datetime], list[Unstated]] = {}
        for each in silences:
            together.setdefault((each.since, each.until), []).append(each)
        for silence in _by_holder(silences):
            if hours(silence.length) > case.policy(form).unsecured_h:
                alike = together[silence.since, silence.until]
                entries = (silence.link.received.n,)
                yield Hit(form.number, _sentence(case, alike), entries=entries, by=("unsecured_h",))


def _seals(case: Case) -> dict[int, Stretches]:
    """By sample, when it was under seal."""
    return {
        id(sample): under_seal(sample) for form in case.forms.values() for sample in form.samples.values()
    }


def _sentence(case: Case, alike: Sequence[Unstated]) -> str:
    link, since, until = alike[0].link, alike[0].since, alike[0].until
    beside = link.since
    were = f"{samples([each.sample.number for each in alike])} {'was' if len(alike) == 1 else 'were'}"
    return (
        f"Nobody says how {were} kept for {duration_words(until - since)}, "
        f"from {clock_at(since, beside)} to {clock_at(until, beside)}, with {case.person(link.org, link.kid)}."
    )


def _closings(case: Case) -> Iterator[tuple[Form, str, list[Sample], Moment]]:
    """Each form's part of an envelope and its closing: the one about to be done, and the last one before the dock."""
    if case.sealing:
        for form in case.forms.values():
            inside = [form.samples[number] for number in case.sealing.samples if number in form.samples]
            yield form, case.sealing.envelope, inside, case.sealing.at
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


def _by_holder(silences: Iterable[Unstated]) -> list[Unstated]:
    longest: dict[str | None, Unstated] = {}
    for each in silences:
        known = longest.get(each.link.kid)
        if known is None or each.length > known.length:
            longest[each.link.kid] = each
    return list(longest.values())


def _last_act(sample: Sample) -> datetime:
    """The end of the last stretch that is over: the present holder's ends with the laboratory's decision."""
    holder = sample.links[-1]
    if holder.until:
        return holder.until.instant
    return sample.decision.of(Decision).at.instant if sample.decision else holder.since.instant
