"""A sample sent on to a second laboratory: one object, two numbers, no way round."""

from __future__ import annotations

from bailee.domain.custody import Form
from builders import CUSTODIAN, LAB_QUALITY, SECOND_CUSTODIAN, Story, visit


def codes(form: Form) -> list[tuple[str, str | None]]:
    """What the fold could not reconcile."""
    return [(odd.code, odd.sample) for odd in form.oddities]


def test_the_parent_s_custody_ends_where_the_child_s_begins() -> None:
    """One glass would be held by two people at once, or by nobody in between."""
    story = visit("accepted")
    entry = story.forwarded(0)
    state = story.state()
    parent, child = state.samples[story.samples[0]], state.samples[story.samples[3]]
    assert parent.holder is not None
    assert child.holder is not None
    assert parent.holder.until == child.holder.since
    assert (child.holder.kid, child.holder.received.n) == (CUSTODIAN.kid, entry.n)
    assert (parent.status, child.status, child.condition) == ("forwarded", "collected", ("opened", "stained"))
    assert (child.collected, child.stopped) == (parent.collected, parent.stopped)
    assert codes(state) == []


def test_sent_on_by_somebody_who_does_not_hold_it() -> None:
    """Another person of the laboratory could send away what lies on a bench; it is recorded, and said."""
    story = visit("accepted")
    story.forwarded(0, by=LAB_QUALITY)
    assert codes(story.state()) == [("not-holder", story.samples[0])]


def test_one_glass_is_not_sent_on_twice() -> None:
    """Two second laboratories would each report the same trace as theirs."""
    story = visit("accepted")
    story.forwarded(0)
    story.forwarded(0, at="2026-12-03T10:00:00-06:00")
    assert ("sent-twice", story.samples[4]) in codes(story.state())
    assert story.state().samples[story.samples[4]].parent is None


def test_a_number_already_in_use_is_no_child() -> None:
    """The child would take the place of another sample of the visit."""
    story = visit("accepted")
    story.forwarded(0, child=story.samples[1])
    state = story.state()
    assert codes(state) == [("sent-twice", story.samples[1])]
    assert state.samples[story.samples[1]].parent is None
    assert state.samples[story.samples[0]].child is None


def test_no_sample_is_its_own_ancestor() -> None:
    """A circle of numbers would make the form unreadable for ever."""
    story = visit("accepted")
    story.forwarded(0)
    child = story.samples[3]
    story.forwarded(child, child=story.samples[0], at="2026-12-03T10:00:00-06:00")
    state = story.state()
    assert state.samples[story.samples[0]].parent is None
    assert state.samples[child].collected is state.samples[story.samples[0]].collected


def test_received_before_it_was_said_to_be_sent() -> None:
    """The second laboratory's upload comes first.

    The child's custody still begins with the first laboratory.
    """
    story = visit("accepted")
    story.second_laboratory()
    child = story.number("sample")
    seen = story.state().entries[-1].leaf
    at = "2026-12-04T10:40:00-07:00"
    items = [{"sample": child, "condition": ["opened"]}]
    story.received([child], by=SECOND_CUSTODIAN, at=at, after=seen, items=items)
    story.forwarded(0, child=child, after=seen)
    links = story.state().samples[child].links
    assert [link.org for link in links] == ["quill-lab", "third-lab"]
    assert links[0].until is not None


def test_the_form_knows_its_laboratories_and_where_an_envelope_goes() -> None:
    """The second journey would be planned to the first laboratory's dock."""
    story: Story = visit("accepted")
    story.forwarded(0)
    envelope = story.number("envelope")
    story.sealed(
        [story.samples[3]],
        by=CUSTODIAN,
        envelope=envelope,
        seal=story.number("seal"),
        total=1,
        forms=[story.form],
    )
    state = story.state()
    assert state.laboratories == ["quill-lab", "third-lab"]
    assert state.addressed_to(envelope) == "third-lab"
    assert state.addressed_to(story.envelope) == "quill-lab"
