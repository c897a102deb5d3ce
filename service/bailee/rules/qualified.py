"""What a result must be reported with: the differences found at the dock, and the faults no one can cure any
more.

The wording is made from the findings, so that form, command line and paper say the same. It never says what
the fault did to a count: nobody knows that.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from bailee.domain.acts.form import Copied, Decision, Received
from bailee.domain.acts.table import ACCEPTED
from bailee.domain.custody import Form, Sample
from bailee.domain.moments import Moment
from bailee.rules.case import Case
from bailee.rules.registry import RULES, Finding, Hit
from bailee.rules.wording import QUALIFIED_RESULT, clock, listed

AT_THE_DOCK: Final = ("RC-01", "RC-02", "RC-03", "RC-04", "RC-05", "RC-06", "RC-07", "RC-19", "RC-20")
"""Rules whose findings are differences at the dock: the sender is called about them."""
OF_THE_WHOLE: Final = frozenset({"RC-01", "RC-02", "RC-05", "CU-05"})
"""Those that, said of an envelope, bear on every sample in it.

A wrong count bears on what is named in it alone.
"""
_WARNED: Final = frozenset({"RC-07", "RC-08", "SH-02"})
"""Rules whose warnings, too, are to be read with a result."""
_ANALYZED: Final = "Read the result with this."
_RECEIVED: Final = "To be printed with its result."
_UNDECIDED: Final = "If it is analyzed, print this with its result."


def differences(case: Case) -> Iterator[tuple[str, Hit]]:
    """Every difference at the dock, with its rule."""
    return ((each, hit) for each in AT_THE_DOCK for hit in RULES[each].check(case))


def bears_on(rule: str, about: str, sample: Sample) -> bool:
    """Whether a finding about a sample or an envelope bears on the result of this sample."""
    return about == sample.number or (rule in OF_THE_WHOLE and about == sample.envelope)


def wording(form: Form, sample: Sample, findings: Iterable[Finding]) -> str:
    """The qualification of a sample's result, in sentences; empty when there is nothing to qualify it with,
    or no result to come.

    `findings` are those of `registry.evaluate` on the case. Of a form only the lack of a valid outdoor
    control bears on an indoor sample's result. That there is a result, or that it was analyzed as received,
    is said only where a laboratory received it, and accepted it or gave a result out.
    """
    if sample.status == "missing":
        return ""
    decision = sample.decision.of(Decision) if sample.decision else None
    said = list(dict.fromkeys(each.sentence for each in _qualifying(form, sample, findings)))
    if decision and decision.qualified and not said:
        reasons = (
            listed([reason.replace("_", " ") for reason in decision.reasons]) or "no reason is on record"
        )
        said = [f"The laboratory qualified it: {reasons}."]
    if not said:
        return ""
    called = min(calls(form, sample), default=None)
    told = [f"Sampling firm called on {clock(called)}."] if called else []
    if not form.has_arrived(sample):
        return " ".join([*said, *told, _UNDECIDED])
    if (sample.decision and sample.decision.entry.act == ACCEPTED) or _has_result(form, sample):
        return " ".join([QUALIFIED_RESULT, *said, *told, _ANALYZED])
    return " ".join([*said, *told, _UNDECIDED if sample.status == "rejected" else _RECEIVED])


def without_orders(said: str) -> str:
    """The same for the client to read: without what only the laboratory is to do with it."""
    for order in (_RECEIVED, _UNDECIDED):
        said = said.removesuffix(order).rstrip()
    return said


def _has_result(form: Form, sample: Sample) -> bool:
    """Whether the laboratory that has it gave a result out, and has not said that this one is on hold or
    rejected.
    """
    if sample.holder is None or sample.decision:
        return False
    given = (said for said in form.copies if said.of(Copied).of == "result")
    return any(said.entry.org == sample.holder.org for said in given)


def calls(form: Form, *samples: Sample) -> Iterator[Moment]:
    """When the sender was called about any of the samples."""
    for sample in samples or form.samples.values():
        for said in sample.decisions:
            if called := said.of(Decision).called:
                yield called


def not_before(called: Moment, received: Moment) -> bool:
    """A call told to the minute lasted until its end: who opens a box at 10:38:40 and telephones at once
    types 10:38.
    """
    to_the_minute = not (called.instant.second or called.instant.microsecond)
    since = received.instant.replace(second=0, microsecond=0) if to_the_minute else received.instant
    return called.instant >= since


def on_hold_and_called(case: Case, envelope: str) -> bool:
    """Whether all that came in an envelope is on hold, and the sender was called about it since."""
    return envelope in case.once(_on_hold_and_called)


def _on_hold_and_called(case: Case) -> frozenset[str]:
    done: dict[str, bool] = {}
    for form in case.forms.values():
        for sample in form.live:
            opened = form.envelopes[sample.envelope].docked if sample.envelope in form.envelopes else None
            if sample.envelope and opened and sample.status != "missing":
                at = opened.of(Received).at
                called = any(not_before(each, at) for each in calls(form, sample))
                done[sample.envelope] = (
                    done.get(sample.envelope, True) and sample.status == "on_hold" and called
                )
    return frozenset(envelope for envelope, is_done in done.items() if is_done)


def _qualifying(form: Form, sample: Sample, findings: Iterable[Finding]) -> Sequence[Finding]:
    found = []
    for each in findings:
        grave = each.severity in ("block", "flag") or bool(each.excepted) or each.rule in _WARNED
        own = sample.number in each.samples or bears_on(each.rule, each.about, sample)
        own = own and each.area != "records" and each.rule not in _ANSWERS
        compared = each.rule == "OC-01" and each.about == form.number
        compared |= each.rule == "OC-11" and each.about in form.samples
        if grave and (own or (compared and _is_indoor(sample))):
            found.append(each)
    return found


def _is_indoor(sample: Sample) -> bool:
    return sample.kind == "indoor"


_ANSWERS: Final = frozenset({"RC-10", "RC-15", "RC-16", "RC-17", "RC-18", "RC-23", "SE-01"})
"""What is said about the answer itself is not said of the sample."""
