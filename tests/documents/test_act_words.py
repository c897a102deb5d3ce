"""What the custody record prints of acts that have no place of their own on it."""

from __future__ import annotations

from typing import Any, Final

import pytest

from bailee.documents import record_sections
from bailee.domain.acts.table import ON_CHAIN
from bailee.domain.numbers import grouped
from bailee.presentation.act_words import says
from builders import CLERK, DAY, INSPECTOR, SECOND_INSPECTOR, Story, findings, visit
from domain.test_statements import LEAST

PRINTED: Final = [
    name for name, row in ON_CHAIN["form"].items() if row.facts not in record_sections._ELSEWHERE
]


@pytest.mark.parametrize("act", PRINTED)
def test_every_act_that_the_record_prints_is_put_into_words(act: str) -> None:
    """A signature would stand on the paper, and beside it nothing of what was signed, or
    another act's words.
    """
    story = visit("collected")
    entry = story.add(f"form/{story.form}", act, LEAST[act], by=INSPECTOR, said=f"{DAY}T11:00:00-05:00")
    try:
        lines = list(says(entry, story.state()))
    except NotImplementedError:
        pytest.fail(f"service/bailee/presentation/act_words.py: write a case of {act!r} into `says`")
    assert lines
    assert all(lines), "service/bailee/presentation/act_words.py: `says` prints an empty line"


def watched(story: Story, *entries: Any, **read: Any) -> list[str]:
    """What the record prints of a second person's word on these entries."""
    data = {"statements": [each.digest for each in entries], **read}
    entry = story.say("witnessed", data, {}, by=SECOND_INSPECTOR, at=f"{DAY}T11:00:00-05:00")
    return list(says(entry, story.state()))


def test_who_watched_is_printed_with_the_cassettes_that_they_read() -> None:
    """Whoever reads "2 statements" does not learn whether the missing cassette was among those counted."""
    story = visit("opened")
    one, other = story.collected(0), story.collected(1)
    first, second, third = map(grouped, story.samples[:3])
    assert watched(story, one, other, samples=story.samples[:2], count=2) == [
        f"Entries 2-3: collected {first}, {second}", "Counted by hand: 2", f"Numbers read: {first}, {second}",
    ]  # fmt: skip
    assert watched(story, one) == [
        f"Entry 2: collected {first}", "Counted by hand: not stated", "Numbers read: not stated",
    ]  # fmt: skip
    assert watched(story, one, other, samples=[story.samples[0], story.samples[2]], count=2) == [
        f"Entries 2-3: collected {first}, {second}", "Counted by hand: 2", f"Numbers read: {first}, {third}",
        "Does not count as witness of entry 3: number not read",
    ]  # fmt: skip
    story.say("affirmed", {"statements": [one.digest, "A" * 43]}, {}, by=CLERK, at=f"{DAY}T11:00:00-05:00")
    assert list(says(story.state().ordered[-1], story.state())) == [
        f"Entry 2: collected {first}", "1 entry not on this form here",
    ]  # fmt: skip


@pytest.mark.parametrize(("read", "is_named"), [(None, True), ([0], True), ([0, 1], True), ([1], False)])
def test_a_second_person_is_no_witness_of_a_cassette_whose_number_they_did_not_read(
    read: list[int] | None, is_named: bool
) -> None:
    """A code on a screen may show two numbers and mean a third entry, and its signer would vouch for that."""
    story = visit("opened")
    late = story.collected(0, said=f"{DAY}T22:00:00-05:00")
    data = {"statements": [late.digest], "samples": read and [story.samples[each] for each in read]}
    story.say("witnessed", data, {}, by=SECOND_INSPECTOR, at=f"{DAY}T22:05:00-05:00")
    (found,) = findings(story.case(), "CU-15")
    assert ("signed as witness" in found.sentence) == is_named


def test_who_read_the_numbers_of_cassettes_is_no_witness_of_what_else_the_code_meant() -> None:
    """Behind the digests of a code stand a cassette that was voided, and one locked up with those that were
    read: its signer saw neither.
    """
    story = visit("opened")
    one = story.collected(0)
    voided = story.voided(1, said=f"{DAY}T22:00:00-05:00")
    kept = story.held(samples=[story.samples[0], story.samples[2]])
    own = story.held(samples=story.samples[:1])
    read = watched(story, one, voided, kept, own, samples=[story.samples[0]], count=1)
    assert read[-1] == "Does not count as witness of entries 3-4: number not read"
    read = watched(story, story.outdoor_ruled_out(), samples=[story.samples[0]], count=1)
    assert read[-1].startswith("Does not count as witness of entry")
