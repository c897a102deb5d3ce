"""A visit in perfect order raises nothing."""

from __future__ import annotations

import pytest

from bailee.rules import registry
from builders import STEPS, Step, visit


@pytest.mark.parametrize("upto", STEPS)
def test_a_faultless_visit_raises_nothing(upto: Step) -> None:
    """People who are warned without a reason stop reading warnings, and miss the one that matters."""
    assert registry.evaluate(visit(upto).case()) == []


def test_a_faultless_envelope_may_be_sealed_and_shipped() -> None:
    """A clerk who is stopped although everything is right will find a way around the check."""
    packed = visit("kept")
    assert registry.evaluate(packed.case(sealing=packed.sealing())) == []
    sealed = visit("sealed")
    assert registry.evaluate(sealed.case(shipping=sealed.shipping())) == []


def test_a_faultless_visit_leaves_nothing_unreconciled() -> None:
    """A story that the fold itself finds odd would hide what a rule ought to see."""
    story = visit("accepted")
    state = story.state()
    assert state.oddities == []
    assert [sample.status for sample in state.live] == ["accepted"] * 3
    assert story.case().organizations["harrow-field"].ignored == ()
    assert [len(sample.links) for sample in state.live] == [4, 4, 4]
