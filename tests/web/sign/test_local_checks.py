"""What the app remarks of a visit by itself, where nobody can be asked: never what the rules would not say.

What it reckons of kits, lots and slips is held to Python in `test_before_the_visit.py` and
`test_same_bytes.py`; here stands what it says of a whole visit. That indoor air is compared with outdoor air
is in NIOSH Method 0800; the rule is OC-01.
"""

from __future__ import annotations

import random
from typing import TYPE_CHECKING, Any

import pytest

import builders
from bailee.api.offline import FormUnderWay
from bailee.rules.registry import evaluate
from builders import CLERK, INSPECTOR, SECOND_INSPECTOR, Story
from thorough import often

if TYPE_CHECKING:
    from bailee.domain.statements import Recorded
    from conftest import Modules

pytestmark = pytest.mark.slow

SAMPLES = 5
REMARKS = """(m, all) => all.map(([rows, brief, kid]) =>
    m.visits(rows, brief, kid).map(each => [each.form, m.lacksOutdoor(each, brief?.policy)]))"""


def visit(chance: random.Random) -> tuple[Story, int]:
    """A visit as it may go, not as it should; and how many of its entries the phone must have been told of,
    the last that somebody else signed among them.
    """
    story = Story(chance.randrange(2**32))
    story.policy(min_outdoor=chance.choice([0, 1, 1, 1, 2]))
    story.lot(samples=SAMPLES)
    story.opened()
    left = list(range(SAMPLES))
    for _ in range(chance.randrange(7)):
        live = [each.number for each in story.state().live]
        held = [
            each.number for each in story.state().live if each.holder and each.holder.kid == INSPECTOR.kid
        ]
        given = [each.number for each in story.state().live if each.given]
        turn = chance.randrange(8)
        if turn < 5 and left:
            kind = chance.choice(["indoor", "indoor", "outdoor", "blank"])
            by = chance.choice([INSPECTOR, INSPECTOR, INSPECTOR, SECOND_INSPECTOR])
            story.collected(left.pop(chance.randrange(len(left))), kind, by=by)
        elif turn == 5 and live:
            story.voided(chance.choice(live))
        elif turn == 6 and held:
            story.relinquished(chance.sample(held, chance.randrange(1, len(held) + 1)))
        elif turn == 7 and given:
            story.received(given, by=CLERK)
    said = story.chains[f"form/{story.form}"]
    return story, max((each.n for each in said if each.kid != INSPECTOR.kid), default=0)


def row(each: Recorded, *, is_waiting: bool) -> dict[str, Any]:
    """An entry as the phone that signed it keeps it."""
    return {
        "seq": each.seq,
        "chain": each.chain,
        "act": each.act,
        "data": dict(each.data),
        "zone": "America/New_York",
        "signed": each.at.epoch_seconds * 1000,
        "state": "waiting" if is_waiting else "registered",
        "answer": None if is_waiting else {"n": each.n},
    }


def brief_of(story: Story, entries: int) -> dict[str, Any]:
    """What the service told when the form had so many entries."""
    earlier = story.again()
    chain = earlier.chains[f"form/{story.form}"]
    earlier.chains[f"form/{story.form}"] = chain[:entries]
    return {
        "at": chain[entries - 1].at.epoch_seconds * 1000,
        "forms": [FormUnderWay.of(earlier.state(), builders.FIRM).model_dump(mode="json")],
        "policy": earlier.organizations()[builders.FIRM].policy.to_data(),
    }


def test_no_outdoor_control_is_missed_that_the_rules_do_not_miss(modules: Modules) -> None:
    """An inspector who is sent out again for an outdoor control that nobody asks for, a blank alone in the
    bag, stops reading what the phone says.
    """
    chance = random.Random(29)
    cases, wanted = [], []
    for _ in range(often(60, thorough=600)):
        story, least = visit(chance)
        said = story.chains[f"form/{story.form}"]
        told = chance.randrange(least, len(said) + 1)
        brief = brief_of(story, told) if told else None
        if brief is None and story.organizations()[builders.FIRM].policy.min_outdoor != 1:
            continue  # its firm's own limit is a thing that it was never told
        own = [
            row(each, is_waiting=each.n > told and bool(chance.randrange(2)))
            for each in said
            if each.kid == INSPECTOR.kid
        ]
        cases.append([own, brief, INSPECTOR.kid])
        found = evaluate(story.case())
        wanted.append((story.form, any(each.rule == "OC-01" and each.about == story.form for each in found)))
    seen = set()
    for (form, is_missed), remarks in zip(wanted, modules.run("core/visits.js", REMARKS, cases), strict=True):
        says = dict(remarks)[form]
        assert is_missed or not says, form
        seen.add((says, is_missed))
    assert {(True, True), (False, False)} <= seen
