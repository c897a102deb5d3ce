"""Every link of custody, and whether one fits the next."""

from __future__ import annotations

import pytest

from bailee.domain.folding import hands, samples
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.rules.registry import Finding
from builders import (
    ANALYST,
    CLERK,
    CUSTODIAN,
    DAY,
    INSPECTOR,
    SECOND_INSPECTOR,
    Story,
    findings,
    visit,
)  # fmt: skip


def found(story: Story, rule: str, at: str | None = None) -> list[Finding]:
    """What one rule says of the story."""
    return findings(story.case(at), rule)


# CU-01


def test_received_from_nobody_blocks_every_sample() -> None:
    """Relinquished by left empty: the commonest hole on paper forms."""
    story = visit("held")
    story.received(story.samples)
    hits = found(story, "CU-01")
    assert [each.severity for each in hits] == ["block"] * 3
    assert {each.about for each in hits} == set(story.samples)
    assert all(CLERK.name in each.sentence for each in hits)


def test_received_from_nobody_is_a_flag_once_shipped() -> None:
    """Found after the fact it is shown, and the samples are not lost for it."""
    story = visit("held")
    story.received(story.samples)
    story.sealed()
    story.shipped()
    assert [each.severity for each in found(story, "CU-01")] == ["flag"] * 3


def test_a_late_half_completes_the_hand_over() -> None:
    """Who forgot to sign must be able to sign, with the true time (49 CFR 40.205 by analogy)."""
    story = visit("held")
    story.received(story.samples)
    story.relinquished(story.samples, said=f"{DAY}T18:00:00-05:00")
    assert found(story, "CU-01") == []
    assert found(story, "CU-02") == []
    assert [each.severity for each in found(story, "CU-15")] == ["note"]


@pytest.mark.parametrize(("asked_at", "count"), [("11:45:00", 0), ("11:45:01", 3)])
def test_given_and_never_received(asked_at: str, count: int) -> None:
    """A drop box: for a quarter of an hour it may be a hand-over in progress, then it is a hole."""
    story = visit("relinquished", relinquished={"at": f"{DAY}T11:30:00-05:00"})
    hits = found(story, "CU-01", f"{DAY}T{asked_at}-05:00")
    assert [each.severity for each in hits] == ["block"] * count


def test_given_and_sealed_without_being_received() -> None:
    """Once the envelope is closed, nobody is still on the way to sign."""
    story = visit("relinquished")
    case = story.case(
        f"{DAY}T11:31:00-05:00", sealing=story.sealing(at=Moment.parse(f"{DAY}T11:31:00-05:00"))
    )
    assert len(findings(case, "CU-01")) == 3


def test_received_by_somebody_it_was_not_given_to() -> None:
    """Two people at the desk, and the wrong one signs."""
    story = visit("relinquished")
    story.received(by=SECOND_INSPECTOR)
    hits = found(story, "CU-01")
    assert len(hits) == 3
    assert "relinquished to another person" in hits[0].sentence
    assert SECOND_INSPECTOR.name in hits[0].sentence


def test_custody_that_begins_in_the_middle() -> None:
    """A cassette nobody collected has no place and no volume, however well it was carried."""
    story = visit("collected")
    stray = story.number("sample")
    story.relinquished([*story.samples, stray])
    story.received()
    story.received([stray], at=f"{DAY}T11:37:00-05:00")
    hits = [each for each in found(story, "CU-01") if each.about == stray]
    assert any("no collection entry is on record here" in each.sentence for each in hits)


def test_an_envelope_received_without_having_been_sent() -> None:
    """The seal says what was inside, and nobody says who let it out of the house."""
    story = visit("sealed")
    story.docked()
    (hit,) = found(story, "CU-01")
    assert (hit.severity, hit.about) == ("flag", story.envelope)


def test_a_sealed_envelope_carried_to_the_dock_by_hand_needs_no_carrier() -> None:
    """Given at the dock and received at the dock: two signatures are the whole link."""
    story = visit("sealed")
    story.relinquished(story.samples, by=CLERK, to="quill-lab", to_kid=None, at=f"{DAY}T16:00:00-05:00")
    story.docked(at=f"{DAY}T15:05:00-06:00", dock={"delivered": None})
    assert found(story, "CU-01") == []
    assert found(story, "CU-05") == []


def test_a_carrier_is_not_asked_to_sign() -> None:
    """Carriers do not sign custody records; the seal and the tracking number speak for them."""
    assert found(visit("docked"), "CU-01") == []


# CU-02


def test_given_away_by_somebody_who_did_not_hold_it() -> None:
    """The clerk hands on what the inspector still has in the car."""
    story = visit("held")
    entry = story.relinquished(story.samples, by=CLERK, to_kid=SECOND_INSPECTOR.kid)
    (hit,) = found(story, "CU-02")
    assert (hit.severity, hit.about, hit.entries) == ("flag", story.form, (entry.n,))
    for words in (CLERK.name, "relinquishes", *map(grouped, story.samples)):
        assert words in hit.sentence
    assert found(visit("accepted"), "CU-02") == []


def test_shipped_by_somebody_who_did_not_hold_it() -> None:
    """Whoever carries it to the counter is a link too."""
    story = visit("sealed")
    story.shipped(by=INSPECTOR)
    assert "ships" in found(story, "CU-02")[0].sentence


# CU-03: domain catalog 4.7


@pytest.mark.parametrize(
    ("received_at", "severity", "words"),
    [
        ("15:10:00", None, ""),
        ("15:17:00", None, ""),  # 15 min to the second
        ("15:17:01", "warn", "15 min 1 s"),
        ("15:20:00", "warn", "18 min"),
        ("16:02:00", "warn", "1 h"),
        ("16:02:01", "flag", "1 h 1 s"),
        ("16:30:00", "flag", "1 h 28 min"),
    ],
)
def test_minutes_between_giving_and_receiving(received_at: str, severity: str | None, words: str) -> None:
    """Domain catalog 4.7: 8 min is a walk down the corridor, 18 a question, 88 a break.

    Common practice, no source.
    """
    story = visit("held")
    story.relinquished(at=f"{DAY}T15:02:00-05:00")
    story.received(at=f"{DAY}T{received_at}-05:00")
    hits = found(story, "CU-03")
    assert [each.severity for each in hits] == ([severity] if severity else [])
    for each in hits:
        assert each.sentence.startswith(f"Gap of {words} from")
        assert ("break in custody" in each.sentence) == (severity == "flag")


# CU-05: domain catalog 4.7


@pytest.mark.parametrize("received_at", ["2026-12-02T10:40:00-06:00", "2026-12-08T10:40:00-06:00"])
def test_equal_seals_leave_no_gap_whatever_the_hours(received_at: str) -> None:
    """A week in a depot under one whole seal is one unbroken link (EPA 905R78115: container closed with a
    custody seal).
    """
    story = visit("shipped")
    story.docked(at=received_at)
    assert found(story, "CU-05") == []


@pytest.mark.parametrize(
    "dock", [{"seal": "OTHER-77"}, {"seal_state": "broken"}, {"seal_state": "missing", "seal": None}]
)
def test_unequal_seals_break_custody_from_sealing_to_receipt(dock: dict[str, str | None]) -> None:
    """Sealed 14:00 Eastern, received 10:40 Central next day: 21 h 40 min in which anybody may
    have opened it.
    """
    story = visit("shipped")
    story.docked(dock=dock)
    (hit,) = found(story, "CU-05")
    assert (hit.severity, hit.about) == ("flag", story.envelope)
    assert "(21 h 40 min)" in hit.sentence
    assert "2026-12-01 13:00 (-06:00) to receipt 2026-12-02 10:40 (-06:00)" in hit.sentence


def test_an_envelope_opened_again_and_shipped_open_breaks_from_the_hand_over() -> None:
    """The old seal number is on the record, and the envelope left the house without it."""
    story = visit("sealed")
    story.unsealed()
    story.shipped()
    story.docked(story.samples)
    (hit,) = found(story, "CU-05")
    assert "(20 h 10 min)" in hit.sentence
    assert "no closed seal was on it" in hit.sentence


# CU-06


@pytest.mark.parametrize("step", ["relinquished", "handed_over"])
def test_a_count_that_does_not_agree_at_a_hand_over(step: str) -> None:
    """Five handed over and four taken: the question is asked now or never."""
    story = visit("handed_over", **{step: {"count": 4}})
    (hit,) = found(story, "CU-06")
    assert (hit.severity, hit.about) == ("block", story.form)
    assert "4 counted, 3 listed" in hit.sentence


def test_each_signer_of_a_wrong_count_is_offered_the_statement_that_is_theirs() -> None:
    """Both said a count: whoever types the correction would be asked which of the two is meant."""
    story = visit("handed_over", relinquished={"count": 4}, handed_over={"count": 4})
    hits = found(story, "CU-06")
    offered = [[each for each in hit.acts if each["act"] == "corrected"] for hit in hits]

    assert [[each["statement"] for each in acts] for acts in offered] == [
        [str(n) for n in hit.entries] for hit in hits
    ]
    assert len({hit.entries for hit in hits}) == 2


def test_given_but_not_received_is_named() -> None:
    """The cassette that fell behind the seat."""
    story = visit("relinquished")
    story.received(story.samples[:2])
    (hit,) = found(story, "CU-06")
    assert grouped(story.samples[2]) in hit.sentence
    assert {each.about for each in found(story, "CU-01")} == {story.samples[2]}


def test_what_is_received_in_two_entries_is_all_there() -> None:
    """The clerk overlooks one, takes it as the finding asks, and could never seal: it would stop for good,
    and name the others as missing too.
    """
    story = visit("relinquished")
    story.received(story.samples[:2])
    story.received(story.samples[2:])
    assert found(story, "CU-06") == []


def test_what_neither_of_two_receipts_names_is_still_missing() -> None:
    """A second receipt would hide the cassette that fell behind the seat."""
    story = visit("relinquished")
    story.received(story.samples[:1])
    story.received(story.samples[1:2])
    (hit,) = found(story, "CU-06")
    assert grouped(story.samples[2]) in hit.sentence
    assert grouped(story.samples[0]) not in hit.sentence
    assert grouped(story.samples[1]) not in hit.sentence


# CU-12


def test_a_cassette_claimed_on_two_devices_blocks_and_keeps_both() -> None:
    """Scenario 1: two inspectors offline, one label; neither phone is believed over the other."""
    story = visit("collected")
    story.collected(0, by=SECOND_INSPECTOR, after=None)
    (hit,) = found(story, "CU-12")
    assert (hit.severity, hit.about) == ("block", story.samples[0])
    assert INSPECTOR.name in hit.sentence
    assert SECOND_INSPECTOR.name in hit.sentence
    assert len(story.state().samples[story.samples[0]].claims) == 2


def test_one_device_claiming_twice_is_another_fault() -> None:
    """A double tap is not two people; the doubled number itself is CL-01."""
    story = visit("collected")
    story.collected(0)
    assert found(story, "CU-12") == []


def test_two_forms_claiming_one_cassette_are_seen_together() -> None:
    """The second inspector opened a form of their own."""
    story = visit("collected")
    story.opened(said=f"{DAY}T10:00:00-05:00")
    story.collected(1, by=SECOND_INSPECTOR)
    (hit,) = found(story, "CU-12")
    assert hit.about == story.samples[1]


def test_a_signed_correction_of_the_number_settles_it() -> None:
    """Whoever was wrong says so, and the old number stays visible."""
    story = visit("collected")
    wrong = story.collected(0, by=SECOND_INSPECTOR)
    story.corrected(wrong, "sample", story.number("sample"), reason="misread")
    assert found(story, "CU-12") == []


# CU-13


def test_nothing_happens_to_a_sample_after_its_end() -> None:
    """A slide that was destroyed cannot be counted the week after."""
    story = visit("accepted")
    story.disposed()
    entry = story.accepted(at="2026-12-03T09:00:00-06:00")
    (hit,) = found(story, "CU-13")
    assert (hit.severity, hit.entries) == ("flag", (entry.n,))
    assert CUSTODIAN.name in hit.sentence


def test_disposal_is_an_ordinary_end() -> None:
    """The usual end of custody must not look like a fault."""
    story = visit("accepted")
    story.disposed(by=ANALYST)
    assert found(story, "CU-13") == []


# CU-19


@pytest.mark.parametrize(("more", "flagged"), [(0, 0), (1, 1)])
def test_what_is_said_without_end_is_followed_so_far_and_flagged(
    more: int, flagged: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Somebody writes about one sample until nobody can read its custody any more.

    Or the rest is left out in silence.
    """
    story = visit("collected")
    monkeypatch.setattr(samples, "MOST_TOLD", 5)
    for _ in range(5 + more):
        last = story.held(samples=[story.samples[0]])
    hits = found(story, "CU-19")
    assert [each.severity for each in hits] == ["flag"] * flagged
    kept = story.state().samples[story.samples[0]].links[0].keeping
    assert len(kept) == 5
    assert all(each.entries == (last.n,) and grouped(story.samples[0]) in each.sentence for each in hits)


@pytest.mark.parametrize(("most", "flagged"), [(7, 0), (6, 1)])
def test_statements_that_name_no_sample_mean_so_many_and_no_more(
    most: int, flagged: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A few words that mean every sample, said again and again, would fill any memory."""
    story = visit("collected")  # three samples
    monkeypatch.setattr(hands, "MOST_UNNAMED", most)
    for _ in range(3):
        last = story.held()
    hits = found(story, "CU-19")
    assert [each.entries for each in hits] == [(last.n,)] * flagged
    assert [len(each.links[0].keeping) for each in story.state().samples.values()] == [3 - flagged] * 3


def test_the_remedy_for_who_did_not_hold_it_says_each_thing_once() -> None:
    """One sentence twice in a row reads as two things to do."""
    story = visit("collected")
    story.relinquished(story.samples, by=CLERK)
    (hit,) = found(story, "CU-02")
    assert hit.remedy.count("If the wrong samples were named") == 1
    assert [each["act"] for each in hit.acts] == ["relinquished", "received", "corrected"]
