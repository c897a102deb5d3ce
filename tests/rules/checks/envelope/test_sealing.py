"""Closing an envelope."""

from __future__ import annotations

import pytest

from bailee.domain.acts.mentions import own_seal
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.rules.case import Elsewhere
from bailee.rules.registry import evaluate
from builders import CLERK, CUSTODIAN, DAY, FIRM, INSPECTOR, Story, findings, visit


def two_visits() -> Story:
    """Two forms whose samples the inspector holds, to go into one envelope."""
    story = visit("collected")
    story.opened(said=f"{DAY}T09:50:00-05:00")
    story.lot()
    for place, kind in ((3, "indoor"), (4, "indoor"), (5, "outdoor")):
        story.collected(place, kind)
    return story


# SE-01


def test_an_open_block_on_a_sample_keeps_the_envelope_open() -> None:
    """A doubled number would travel to the laboratory in a sealed envelope, and the seal would make it look
    settled.
    """
    story = visit("collected")
    story.collected(0, by=INSPECTOR)
    asked = story.sealing(kid=INSPECTOR.kid)
    (found,) = findings(story.case(sealing=asked), "SE-01")
    assert (found.severity, found.about) == ("block", story.envelope)
    assert f"{grouped(story.samples[0])} (CL-01)" in found.sentence


def test_a_block_on_a_sample_left_out_does_not_keep_the_envelope_open() -> None:
    """The clerk must be able to send the good samples while one is looked into."""
    story = visit("collected")
    story.collected(0, by=INSPECTOR)
    asked = story.sealing(story.samples[1:], kid=INSPECTOR.kid)
    assert findings(story.case(sealing=asked), "SE-01") == []


def test_a_block_found_after_sealing_keeps_the_envelope_from_leaving() -> None:
    """A second claim uploaded between sealing and pick-up is the last chance to stop a wrong cassette."""
    story = visit("sealed")
    story.collected(1, by=CLERK, after=None)
    (found,) = findings(story.case(shipping=story.shipping()), "SE-01")
    assert (found.severity, found.about) == ("block", story.envelope)
    assert "CU-12" in found.sentence


def test_an_envelope_that_left_is_not_blocked_again() -> None:
    """Afterwards the fault itself is the flag; saying it a second time buries it."""
    story = visit("shipped")
    story.collected(1, by=CLERK, after=None)
    assert findings(story.case(), "SE-01") == []
    assert findings(story.case(), "CU-12")[0].severity == "flag"


# SE-02


@pytest.mark.parametrize(
    ("counted", "words"), [(2, "2 counted"), (4, "4 counted"), (None, "no count was entered")]
)
def test_cassettes_counted_must_equal_cassettes_scanned(counted: int | None, words: str) -> None:
    """A cassette left on the desk is noticed at the laboratory, when it is too late."""
    story = visit("kept")
    (found,) = findings(story.case(sealing=story.sealing(total=counted)), "SE-02")
    assert (found.severity, found.about) == ("block", story.envelope)
    assert "3 cassettes were scanned" in found.sentence
    assert words in found.sentence


def test_an_envelope_that_was_never_closed_is_not_to_be_opened() -> None:
    """The clerk would be told to cut a seal that is not there, and to look for a new one."""
    story = visit("kept", policy={"min_outdoor": 0})
    asked = [story.sealing(total=2), story.sealing(seal=None), story.sealing(story.samples[:2], total=2)]
    told = [
        found
        for sealing, rule in zip(asked, ("SE-02", "SE-04", "SE-13"), strict=True)
        for found in findings(story.case(sealing=sealing), rule)
    ]

    assert [found.rule for found in told] == ["SE-02", "SE-04", "SE-13"]
    for found in told:
        assert "unsealed" not in {each["act"] for each in found.acts}
        assert "open" not in found.remedy.lower()
    assert "new seal" not in told[0].remedy


def test_an_envelope_that_is_closed_is_opened_first() -> None:
    """The clerk would be told to scan what lies under a seal."""
    story = visit("kept", policy={"min_outdoor": 0})
    story.sealed(story.samples[:2], total=4)
    used = Elsewhere(seals={own_seal(FIRM, story.seal): (story.number("envelope"),)})
    told = findings(story.case(elsewhere=used), "SE-02", "SE-04", "SE-13")

    assert {found.rule for found in told} == {"SE-02", "SE-04", "SE-13"}
    for found in told:
        assert found.remedy.startswith("Open the envelope")
        assert found.acts[0]["act"] == "unsealed"


def test_a_cassette_scanned_twice_is_counted_once() -> None:
    """A scanner that beeps twice must not make three cassettes look like four."""
    story = visit("kept")
    twice = (*story.samples, story.samples[0])
    assert findings(story.case(sealing=story.sealing(twice, total=3)), "SE-02") == []


def test_a_scanned_number_that_nobody_collected_is_named() -> None:
    """An unused cassette in the envelope comes back as a sample with no place and no volume."""
    story = visit("kept")
    stray = story.number("sample")
    (found,) = findings(story.case(sealing=story.sealing([*story.samples, stray])), "SE-02")
    assert (found.severity, found.about) == ("block", stray)
    assert grouped(stray) in found.sentence


@pytest.mark.parametrize(("step", "severity"), [("sealed", "block"), ("docked", "flag")])
def test_a_sealed_total_must_equal_the_samples_listed(step: str, severity: str) -> None:
    """The dock counts against a number that was wrong from the start."""
    story = visit(step, sealed={"total": 4})  # type: ignore[arg-type]
    (found,) = findings(story.case(), "SE-02")
    assert (found.severity, found.about) == (severity, story.envelope)
    assert "a total of 4 cassettes" in found.sentence
    assert "list 3" in found.sentence


def test_the_total_is_added_up_over_all_forms_of_an_envelope() -> None:
    """Two visits in one envelope are the normal case, and neither form alone holds the total."""
    story = two_visits()
    first, second = story.forms
    story.sealed(form=first, by=INSPECTOR)
    story.sealed(story.samples[3:], form=second, by=INSPECTOR, total=6, forms=[first, second])
    assert findings(story.case(), "SE-02") == []
    case = story.case()
    alone = type(case)(case.at, {first: case.forms[first]}, case.lots, case.organizations)
    assert findings(alone, "SE-02") == []


def test_a_count_that_differs_from_its_own_list_is_flagged() -> None:
    """A form that says 2 and names 3 leaves the dock to guess."""
    story = visit("sealed", sealed={"count": 2})
    assert "2 counted, 3 on the manifest" in findings(story.case(), "SE-02")[0].sentence


# SE-03


def test_a_sample_cannot_be_sealed_into_two_envelopes() -> None:
    """One of the two laboratories would report a sample it never had."""
    story = visit("sealed")
    other = story.number("envelope")
    story.sealed(
        [story.samples[0]], envelope=other, seal=story.number("seal"), at=f"{DAY}T14:30:00-05:00", total=1
    )
    (found,) = findings(story.case(), "SE-03")
    assert (found.severity, found.about) == ("block", story.samples[0])
    assert grouped(story.envelope) in found.sentence


def test_a_sample_in_a_closed_envelope_cannot_be_scanned_into_the_next() -> None:
    """The clerk learns it while both envelopes are on the desk."""
    story = visit("sealed")
    other = story.number("envelope")
    asked = story.sealing([story.samples[0]], envelope=other, seal="NEW-0001")
    (found,) = findings(story.case(sealing=asked), "SE-03")
    assert found.about == story.samples[0]
    assert grouped(story.envelope) in found.sentence
    again = story.sealing(story.samples, seal="NEW-0001")
    assert findings(story.case(sealing=again), "SE-03") == []


def test_an_envelope_known_only_elsewhere_counts() -> None:
    """The other envelope may belong to another office that this clerk cannot see."""
    story = visit("kept")
    other = story.number("envelope")
    elsewhere = Elsewhere(envelopes={story.samples[1]: (other,)})
    (found,) = findings(story.case(sealing=story.sealing(), elsewhere=elsewhere), "SE-03")
    assert found.about == story.samples[1]
    assert grouped(other) in found.sentence
    same = Elsewhere(envelopes={story.samples[1]: (story.envelope,)})
    assert findings(story.case(sealing=story.sealing(), elsewhere=same), "SE-03") == []


# SE-04


@pytest.mark.parametrize("seal", [None, ""])
def test_an_envelope_without_a_seal_number_stays_open(seal: str | None) -> None:
    """Without a number a new seal cannot be told from the old one."""
    story = visit("kept")
    (found,) = findings(story.case(sealing=story.sealing(seal=seal)), "SE-04")
    assert (found.severity, found.about) == ("block", story.envelope)


def test_a_seal_number_used_elsewhere_is_refused_and_its_own_use_is_not() -> None:
    """Two envelopes under one number: whoever swaps them breaks no seal."""
    story = visit("kept")
    other = story.number("envelope")
    used = Elsewhere(seals={own_seal(FIRM, story.seal): (other,)})
    (found,) = findings(story.case(sealing=story.sealing(), elsewhere=used), "SE-04")
    assert found.severity == "block"
    assert story.seal in found.sentence
    assert grouped(other) in found.sentence
    own = Elsewhere(seals={own_seal(FIRM, story.seal): (story.envelope,)})
    assert findings(story.case(sealing=story.sealing(), elsewhere=own), "SE-04") == []


def test_a_seal_used_elsewhere_and_found_later_is_a_flag() -> None:
    """The laboratory must hear of it although nothing can be stopped any more."""
    story = visit("docked")
    used = Elsewhere(seals={own_seal(FIRM, story.seal): (story.envelope, story.number("envelope"))})
    (found,) = findings(story.case(elsewhere=used), "SE-04")
    assert (found.severity, found.about) == ("flag", story.envelope)


def test_a_re_opened_envelope_needs_a_new_seal_number() -> None:
    """A clerk who writes the old number on the new seal hides that the envelope was open."""
    story = visit("sealed")
    story.unsealed()
    assert findings(story.case(sealing=story.sealing()), "SE-04")[0].severity == "block"
    assert findings(story.case(sealing=story.sealing(seal=story.number("seal"))), "SE-04") == []
    story.sealed(at=f"{DAY}T14:30:00-05:00")
    (found,) = findings(story.case(), "SE-04")
    assert found.entries == (len(story.state().entries),)


def test_two_forms_under_one_seal_are_one_closing() -> None:
    """The clerk's one gesture signs one statement a form, all with the same seal number."""
    story = two_visits()
    first, second = story.forms
    story.sealed(form=first, by=INSPECTOR)
    story.sealed(story.samples[3:], form=second, by=INSPECTOR, total=6, forms=[first, second])
    assert findings(story.case(), "SE-04") == []


# SE-07


def test_a_sealer_who_took_nothing_over_is_stopped() -> None:
    """The inspector drops the cassettes on a desk; the link from car to envelope is never signed."""
    story = visit("held")
    (found,) = findings(story.case(sealing=story.sealing()), "SE-07")
    assert (found.severity, found.about) == ("block", story.envelope)
    for words in (CLERK.name, INSPECTOR.name, *map(grouped, story.samples)):
        assert words in found.sentence
    assert findings(story.case(sealing=story.sealing(kid=INSPECTOR.kid)), "SE-07") == []


@pytest.mark.parametrize(("shipped", "severity"), [(False, "block"), (True, "flag")])
def test_sealed_without_a_hand_over_stays_visible(shipped: bool, severity: str) -> None:
    """Recorded as it was, and never refused: else people write the convenient name."""
    story = visit("held")
    entry = story.sealed()
    if shipped:
        story.shipped()
    (found,) = findings(story.case(), "SE-07")
    assert (found.severity, found.about, found.entries) == (severity, story.envelope, (entry.n,))


# SE-09


def test_opened_again_before_pick_up_is_a_warning_with_the_reason() -> None:
    """Scenario 9: the forgotten outdoor control is added; the record shows why and under which new seal."""
    story = visit("sealed")
    story.unsealed()
    (open_now,) = findings(story.case(), "SE-09")
    assert "not closed again so far" in open_now.sentence
    new = story.number("seal")
    story.sealed(seal=new, at=f"{DAY}T14:30:00-05:00")
    (found,) = findings(story.case(), "SE-09")
    assert (found.severity, found.about) == ("warn", story.envelope)
    for words in ("add sample", CLERK.name, new, "14:20"):
        assert words in found.sentence


def test_closed_twice_without_saying_that_it_was_opened() -> None:
    """A second seal with no word between is what an opened envelope looks like."""
    story = visit("sealed")
    story.sealed(story.samples, seal=story.number("seal"), at=f"{DAY}T14:30:00-05:00")
    (found,) = findings(story.case(), "SE-09")
    assert "no entry shows that it was opened" in found.sentence
    proposed = visit("sealed")
    asked = proposed.sealing(proposed.samples, seal="NEW-0001")
    assert len(findings(proposed.case(sealing=asked), "SE-09")) == 1


def test_what_the_laboratory_opens_is_not_a_re_opening() -> None:
    """Every envelope is opened at the dock; a warning on each would be noise."""
    story = visit("docked")
    story.unsealed(by=CUSTODIAN, reason="inspection", at="2026-12-02T10:41:00-06:00")
    story.sealed(story.samples, by=CUSTODIAN, seal=story.number("seal"), at="2026-12-02T10:50:00-06:00")
    assert findings(story.case(), "SE-09") == []


# SE-10 and CU-04


def unkept(sealed_at: str) -> Story:
    """The inspector's last run ends at 09:47:00; nobody says how the cassettes are kept.

    The inspector seals.
    """
    story = visit("collected")
    story.sealed(by=INSPECTOR, at=sealed_at)
    return story


@pytest.mark.parametrize(
    ("sealed_at", "severity", "length"),
    [
        (f"{DAY}T11:47:00-05:00", None, ""),
        (f"{DAY}T11:47:01-05:00", "warn", "2 h 1 s"),
        (f"{DAY}T21:47:00-05:00", "warn", "12 h"),
        (f"{DAY}T21:47:01-05:00", "block", "12 h 1 s"),
    ],
)
def test_hours_before_sealing_that_nobody_accounts_for(
    sealed_at: str, severity: str | None, length: str
) -> None:
    """A hot car over lunch, or a night on a desk: in none of the five states, and no trace of it on the form.

    2 h and 12 h from the rule catalog: common practice, no source.
    """
    story = unkept(sealed_at)
    found = findings(story.case(), "SE-10")
    assert [each.severity for each in found] == ([severity] if severity else [])
    for each in found:
        assert each.about == story.envelope
        assert f"for {length}," in each.sentence
        assert INSPECTOR.name in each.sentence
    asked = visit("collected")
    proposed = asked.sealing(kid=INSPECTOR.kid, at=Moment.parse(sealed_at))
    assert [each.severity for each in findings(asked.case(sealing=proposed), "SE-10")] == [
        each.severity for each in found
    ]


def test_a_silence_names_every_cassette_that_lay_there() -> None:
    """Three cassettes lay on the clerk's desk all day, and the firm explains the one that is named."""
    story = visit("handed_over")
    story.sealed(at=f"{DAY}T19:00:00-05:00")
    (found,) = findings(story.case(), "SE-10")
    first, second, third = map(grouped, story.samples)
    assert f"samples {first}, {second} and {third} were secured for 7 h 24 min," in found.sentence
    assert "Then they were sealed into envelope" in found.sentence


def test_two_silences_of_one_holder_are_two_findings() -> None:
    """The morning was explained, and the evening, with the same clerk, stayed unsaid."""
    story = visit("handed_over")
    story.held(since=f"{DAY}T14:00:00-05:00", until=f"{DAY}T15:00:00-05:00", by=CLERK)
    story.sealed(at=f"{DAY}T19:00:00-05:00")
    found = findings(story.case(), "SE-10")
    assert [("for 2 h 24 min," in each.sentence, "for 4 h," in each.sentence) for each in found] == [
        (False, True), (True, False)
    ]  # fmt: skip


def test_what_was_collected_one_after_the_other_and_kept_over_night_is_one_silence() -> None:
    """Taken home and handed over next morning: three cassettes, one night, one finding that names all."""
    story = visit("collected")
    story.relinquished(at="2026-12-02T08:00:00-05:00")
    story.received(at="2026-12-02T08:05:00-05:00")
    (found,) = findings(story.case(), "CU-04")
    assert all(grouped(each) in found.sentence for each in story.samples)
    assert "secured for up to 22 h 43 min" in found.sentence
    assert len(found.entries) == 3


def test_a_silence_found_after_shipping_is_a_flag() -> None:
    """Nothing can be held back any more, and the auditor must still see the 14 hours."""
    story = unkept(f"{DAY}T23:47:00-05:00")
    story.shipped(by=INSPECTOR, handed_over="2026-12-02T08:00:00-05:00")
    assert [each.severity for each in findings(story.case(), "SE-10")] == ["flag"]


def test_a_late_held_statement_cures_the_silence() -> None:
    """The holder, and only the holder, can say where the cassettes were; late is better than never."""
    story = unkept(f"{DAY}T23:47:00-05:00")
    story.held(since=f"{DAY}T09:47:00-05:00", said="2026-12-02T07:00:00-05:00")
    assert findings(story.case(), "SE-10") == []
    assert [each.severity for each in findings(story.case(), "CU-15")] == ["note"]


def test_only_the_part_that_is_stated_counts() -> None:
    """A held statement for the afternoon says nothing about the night."""
    story = unkept(f"{DAY}T23:47:01-05:00")
    story.held(since=f"{DAY}T09:47:00-05:00", until=f"{DAY}T11:47:00-05:00", said="2026-12-02T07:00:00-05:00")
    (found,) = findings(story.case(), "SE-10")
    assert found.severity == "block"
    assert "12 h 1 s" in found.sentence
    story.held(since=f"{DAY}T11:47:01-05:00", said="2026-12-02T07:05:00-05:00")
    assert findings(story.case(), "SE-10") == []


def test_the_clock_starts_with_the_last_run_of_the_holder() -> None:
    """An inspector at work for three hours has the cassettes at hand; a warning for that would be noise."""
    story = visit("opened")
    story.collected(0)
    story.collected(1, started=f"{DAY}T12:12:00-05:00")
    story.sealed(by=INSPECTOR, at=f"{DAY}T14:00:00-05:00")
    assert findings(story.case(), "SE-10") == []


def test_a_long_hand_to_hand_stretch_is_warned_of_without_any_envelope() -> None:
    """Cassettes taken home overnight and handed over next morning have the same silence as sealed ones."""
    story = visit("collected")
    story.relinquished(at="2026-12-02T08:00:00-05:00")
    story.received(at="2026-12-02T08:05:00-05:00")
    (found,) = findings(story.case(), "CU-04")
    assert (found.severity, found.about) == ("warn", story.form)
    assert INSPECTOR.name in found.sentence
    assert (
        findings(story.case(sealing=story.sealing(at=Moment.parse("2026-12-02T09:00:00-05:00"))), "CU-04")
        == []
    )


@pytest.mark.parametrize(("decided_at", "count"), [("12:40:00", 0), ("12:40:01", 1)])
def test_a_laboratory_says_how_it_keeps_what_it_receives(decided_at: str, count: int) -> None:
    """Between dock and shelf is where trays are mixed."""
    story = visit("docked")
    story.accepted(at=f"2026-12-02T{decided_at}-06:00")
    assert len(findings(story.case(), "CU-04")) == count


def test_a_seal_covers_the_hours_in_which_an_envelope_changes_hands() -> None:
    """A sealed envelope that waits for the courier in another person's hands needs no further word."""
    story = visit("sealed")
    story.relinquished(story.samples, by=CLERK, to_kid=INSPECTOR.kid, at=f"{DAY}T14:10:00-05:00")
    story.received(story.samples, by=INSPECTOR, at=f"{DAY}T14:12:00-05:00")
    story.shipped(by=INSPECTOR, handed_over=f"{DAY}T18:30:00-05:00")
    assert findings(story.case(), "CU-04") == []


def test_all_rules_agree_that_an_ordinary_double_form_envelope_is_sound() -> None:
    """A clerk with two visits must not be stopped by rules that look at one form only."""
    story = two_visits()
    first, second = story.forms
    story.held(form=first)
    story.held(form=second, since=f"{DAY}T10:35:00-05:00")
    story.sealed(form=first, by=INSPECTOR)
    story.sealed(story.samples[3:], form=second, by=INSPECTOR, total=6, forms=[first, second])
    grave = [each for each in evaluate(story.case()) if each.rule[:2] in ("SE", "CU", "SH", "RC", "SI")]
    assert grave == []
