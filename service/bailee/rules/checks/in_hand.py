"""CU-20: samples that were collected, lie in no envelope, and of which no entry shows how they are secured
now.

What is judged once it is over (CU-04), and when the envelope is closed (SE-10), is asked here while it can
still be helped.
"""

from __future__ import annotations

from collections.abc import Iterator

from bailee.domain.acts.table import ACCEPTED, ON_HOLD, REJECTED
from bailee.domain.custody import Form, Link, Sample
from bailee.domain.moments import Moment, hours
from bailee.frozen import frozen
from bailee.rules.case import Case
from bailee.rules.checks.transfers import under_seal, unstated
from bailee.rules.registry import Hit, Severity, rule
from bailee.rules.remedies import advice, do
from bailee.rules.wording import clock, samples, start


@frozen
class InHand:
    """Samples that one person has, collected and not sealed, all of them secured or none.

    `since`: from when on no entry shows how they are secured; None where one does. `ended`: when the last run
    of them ended.
    """

    form: Form
    holder: Link
    samples: tuple[Sample, ...]
    since: Moment | None
    ended: Moment

    @property
    def named(self) -> str:
        """The samples, in words."""
        return samples([each.number for each in self.samples])

    @property
    def entries(self) -> tuple[int, ...]:
        """By which entries they came to this person."""
        return tuple(sorted({each.links[-1].received.n for each in self.samples}))


def in_hand(case: Case) -> Iterator[InHand]:
    """By form and holder. Who collected them was at work on site until the last run ended.

    What was given and not yet taken is nobody's here (CU-01).
    """
    for form in case.forms.values():
        held: dict[str | None, list[Sample]] = {}
        for sample in form.live:
            holder = sample.holder
            if _is_in_hand(form, sample) and holder and holder.kid and not sample.given:
                held.setdefault(holder.kid, []).append(sample)
        for having in held.values():
            yield from _alike(case, form, having)


def _is_in_hand(form: Form, sample: Sample) -> bool:
    """Whether it lies in no closed envelope and at no laboratory; what a laboratory decides before it has it
    changes nothing of that.
    """
    if not sample.decision or sample.status not in (ACCEPTED, ON_HOLD, REJECTED):
        return sample.status == "collected"
    envelope = form.envelopes.get(sample.envelope or "")
    is_closed = envelope is not None and envelope.sealing is not None and not envelope.sealing.opened
    return not (is_closed or sample.missed or form.has_arrived(sample))


def _alike(case: Case, form: Form, having: list[Sample]) -> Iterator[InHand]:
    own = [each.links[-1].since for each in having if len(each.links) == 1]
    last_run = max(own, default=None)
    found: dict[Moment | None, list[Sample]] = {}
    for sample in having:
        holder = sample.links[-1]
        begins = last_run if last_run and len(sample.links) == 1 else holder.since
        if begins >= case.at:
            continue  # by its clock it is not over yet
        silent = [
            each
            for each in unstated(sample, under_seal(sample), begins.instant, case.at.instant)
            if each.link is holder and each.until == case.at.instant
        ]
        since = Moment(silent[-1].since, begins.offset_minutes) if silent else None
        found.setdefault(since, []).append(sample)
    for since, alike in found.items():
        ended = max(each.stopped for each in alike if each.stopped)
        yield InHand(form, alike[0].links[-1], tuple(alike), since, ended)


@rule(
    "CU-20",
    "Collected samples neither secured nor sealed",
    "warn",
    "custody",
    "EPA 905R78115 (1978): possession, view, locked, restricted or sealed; the hours are common practice",
    advice(
        "The person who has them enters how they are secured, and from when on; then they are sealed.",
        do("held", "sample", secured=..., where=..., since=...),
    ),
)
def secured_now(case: Case) -> Iterator[Hit]:
    """The present holder has entered nothing for more than the policy's hours; beyond the second limit a
    flag. Of what is about to be sealed SE-10 speaks.
    """
    for each in () if case.drafts else in_hand(case):
        policy = case.policy(each.form)
        if each.since is None:
            continue
        silent = hours(case.at.instant - each.since.instant)
        if silent > min(policy.unsecured_h, policy.unsecured_block_h):
            severity: Severity = "flag" if silent > policy.unsecured_block_h else "warn"
            has = "has" if len(each.samples) == 1 else "have"
            said = (
                f"{start(each.named)} {has} been with {case.person(each.holder.org, each.holder.kid)} since"
                f" {clock(each.since)}, and no entry shows how {'it is' if has == 'has' else 'they are'}"
                " secured."
            )
            limit = "unsecured_block_h" if severity == "flag" else "unsecured_h"
            numbers = tuple(sample.number for sample in each.samples)
            yield Hit(each.form.number, said, severity, each.entries, by=(limit,), names=numbers)
