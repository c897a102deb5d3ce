"""Times that a clock without a battery shows, or that somebody signs on purpose: told and flagged, never in
anybody's way.

A longer run: `BAILEE_EXAMPLES=500 pytest -p no:randomly tests/attacks/test_times_of_strangers.py`, with other
seeds each time.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from contextlib import suppress
from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from promises import promised

from bailee.api.answers import FormOut
from bailee.documents import custody_record, samples_csv
from bailee.domain.moments import Moment
from bailee.domain.statements import Recorded
from bailee.errors import BadStatement, BaileeError
from bailee.planning import due_list
from bailee.rules import clock_bounds
from bailee.rules.registry import evaluate
from bailee.rules.transit import oldest_run
from bailee.rules.verdicts import verdicts
from bailee.verify.report_text import render_text
from bailee.verify.verifier import verify
from builders import DAY, Person, Story
from case_folders import cases, found, judge
from log_simulator import LogSimulator

EXAMPLES = int(os.environ.get("BAILEE_EXAMPLES", "0"))
EXTREME = (
    "1970-01-01T00:00:00+00:00",
    "1970-01-01T14:00:00+14:00",
    "1969-12-31T12:00:00-12:00",
    "2154-12-01T10:00:00-05:00",
    "2199-12-31T23:59:59+00:00",
    "2200-01-01T13:59:59+14:00",
    "2199-12-31T11:59:59-12:00",
)
"""The edges of what a statement may say, in the offsets that civil clocks have (tz database: Etc/GMT+12,
Etc/GMT-14)."""
ZONES = ("Africa/Monrovia", "America/New_York", "Asia/Kathmandu", "Pacific/Kiritimati", "Etc/GMT+12")
"""Liberia's clocks had 44.5 minutes until 1972 (tz database, Africa/Monrovia), which no offset of RFC 3339
can say."""
LONGEST = ("hold_warn_h", "unshipped_h", "overdue_h")


class Spoilt(Story):
    """A story of which one time in so many is extreme: in what was done, on the device's clock, in what the
    log says.
    """

    dice: Random
    one_in: int

    def add(
        self, chain: str, act: str, data: Mapping[str, Any], *, by: Person, said: str, **how: Any
    ) -> Recorded:
        """The act with other times; as it was, where that is no statement."""
        other = self._extreme(dict(data))
        if act == "opened" and self._hit():
            other["zone"] = self.dice.choice(ZONES)
        how["rec"] = self.dice.choice(EXTREME) if self._hit() else how.get("rec") or said
        claimed = self.dice.choice(EXTREME) if self._hit() else said
        with suppress(BadStatement):
            return super().add(chain, act, other, by=by, said=claimed, **how)
        return super().add(chain, act, data, by=by, said=claimed, **how)

    def _hit(self) -> bool:
        return self.dice.randrange(self.one_in) == 0

    def _extreme(self, value: Any) -> Any:
        if isinstance(value, dict):
            return {name: self._extreme(each) for name, each in value.items()}
        if isinstance(value, list):
            return [self._extreme(each) for each in value]
        if isinstance(value, str) and self._hit():
            with suppress(BaileeError):
                Moment.parse(value)
                return self.dice.choice(EXTREME)
        return value


class SpoiltLog(Spoilt, LogSimulator):
    """The same, signed and logged."""


def tell(story: Story, dice: Random, one_in: int) -> None:
    """A visit from the lot to the decision; the story is spoilt from the opening on."""
    story.lot()
    if isinstance(story, Spoilt):
        story.one_in = one_in
    if dice.randrange(2):
        story.policy(**dict.fromkeys(LONGEST, "999999"))
    story.opened()
    runs = [story.collected(0), story.collected(1), story.collected(2, "outdoor")]
    story.relinquished()
    story.received()
    story.held()
    story.sealed()
    story.shipped()
    story.docked()
    if dice.randrange(2):
        story.accepted()
    if dice.randrange(2):
        with suppress(BaileeError):
            story.corrected(
                runs[0], "started", dice.choice(EXTREME), reason="clock", said=f"{DAY}T11:10:00-05:00"
            )


def spoilt(kind: type[Spoilt], seed: int, one_in: int) -> Spoilt:
    """A story by these dice."""
    made = kind.__new__(kind)
    made.dice, made.one_in = Random(seed), 10**9
    made.__init__()  # type: ignore[misc]
    tell(made, Random(seed), one_in)
    return made


def look(story: Story, at: str) -> None:
    """Everything that anybody is told of the form."""
    case = story.case(at)
    form = case.forms[story.form]
    found = evaluate(case)
    judged = verdicts(case, found, records_state="intact")
    custody_record.pdf(form, case, found, judged, case.at)
    samples_csv.write(form, case)
    FormOut.of(case, form, found, judged)
    due_list.chase(case, case.lots.values(), ())
    evaluate(story.case(at, sealing=story.sealing(), shipping=story.shipping()))
    evaluate(story.case(at, shipping=story.shipping(handed_over=Moment.parse(at))))


PROPERTY = settings(
    max_examples=EXAMPLES or 8,
    derandomize=not EXAMPLES,
    deadline=None,
    phases=(Phase.generate, Phase.shrink) if EXAMPLES else (Phase.generate,),
    suppress_health_check=[HealthCheck.too_slow],
)


@pytest.mark.slow
@given(
    seed=st.integers(0, 2**32),
    one_in=st.integers(2, 12),
    at=st.sampled_from((*EXTREME, f"{DAY}T18:00:00-05:00")),
)
@PROPERTY
def test_no_time_that_anybody_may_sign_stops_a_rule_or_a_paper(seed: int, one_in: int, at: str) -> None:
    """One device without a battery, or one hostile partner, would make the form unreadable for everybody."""
    look(spoilt(Spoilt, seed, one_in), at)


@pytest.mark.slow
@given(
    seed=st.integers(0, 2**32),
    one_in=st.integers(2, 12),
    at=st.sampled_from((*EXTREME, f"{DAY}T18:00:00-05:00")),
)
@settings(PROPERTY, max_examples=EXAMPLES or 3)
def test_no_time_that_anybody_may_sign_stops_the_verifier(seed: int, one_in: int, at: str) -> None:
    """The file of such a form is judged like any other."""
    log = spoilt(SpoiltLog, seed, one_in)
    assert isinstance(log, LogSimulator)
    render_text(verify(log.bundle(), log.trust(), Moment.parse(at)))


@pytest.mark.slow
@pytest.mark.parametrize("said", EXTREME)
def test_a_device_whose_clock_is_a_century_ahead_is_flagged_and_its_run_can_be_corrected(said: str) -> None:
    """The collector looks at the pump's own timer; from then on that is what is known."""
    promised("the year 2154", "recorded and flagged")
    story = Story()
    story.lot(samples=1)
    opening = story.opened()
    run = story.collected(0, said=said, rec=f"{DAY}T10:00:05-05:00", after=opening.leaf)
    ahead = said > "2026"
    look(story, f"{DAY}T18:00:00-05:00")
    rules = {each.rule for each in evaluate(story.case(f"{DAY}T18:00:00-05:00"))}
    assert rules & {"CU-08", "CU-09"}
    state = story.state()
    assert (clock_bounds.begun(state, state.samples[story.samples[0]]) < run.body.started) is ahead
    story.corrected(run, "started", f"{DAY}T09:40:00-05:00", reason="clock", said=f"{DAY}T11:10:00-05:00")
    assert oldest_run(story.case()) == Moment.parse(f"{DAY}T09:40:00-05:00")


def judged_as_promised(folder: str) -> bool:
    """Every file of a case folder comes to the state that the folder names."""
    return all(
        found(each, judge(each.file, each.asked))["state"] == each.expected["state"] for each in cases(folder)
    )


@pytest.mark.slow
def test_a_recorded_time_that_no_clock_shows_is_no_slip_of_the_auditor() -> None:
    """Whoever has the file could turn "broken" into "check what you typed" by one figure, and hide everything
    else with it.
    """
    promised("a recorded time", "one that no clock shows")
    assert judged_as_promised("recorded-at-an-impossible-time")


def test_a_private_field_named_like_a_verdict_is_quoted() -> None:
    """A party could write its own verdicts above those of the verifier."""
    promised("a private field like a verdict", "in quotation marks")
    assert judged_as_promised("private-field-named-as-a-verdict")
