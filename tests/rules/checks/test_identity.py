"""Who signed, and whether they were allowed to."""

from __future__ import annotations

from datetime import timedelta

import pytest

from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.errors import Malformed
from bailee.rules.case import Case
from bailee.rules.registry import Finding
from bailee.signing import signed_statement
from builders import (
    ANALYST,
    CLERK,
    CUSTODIAN,
    DAY,
    INSPECTOR,
    LAB,
    LAB_QUALITY,
    QUALITY,
    SECOND_INSPECTOR,
    Person,
    Story,
    _jwk,
    findings,
    visit,
)  # fmt: skip


def found(story: Story, rule: str) -> list[Finding]:
    """What one rule says of the story."""
    return findings(story.case(), rule)


@pytest.mark.parametrize("text", ["eyJhbGciOiJub25lIn0.e30.", "e30.e30", '{"act": "collected"}'])
def test_a_statement_without_a_signature_is_refused(text: str) -> None:
    """SI-01: the form with an empty signature line. The first text is an unsecured JWT (RFC 7519 6)."""
    with pytest.raises(Malformed):
        signed_statement.read(text)


# SI-02


def test_signed_after_the_last_counter_vouched_for() -> None:
    """Scenario 8: the phone is lost, and something signed by it arrives afterwards."""
    story = visit("collected")
    last = story.state().entries[-1]
    story.revoked(INSPECTOR, since=f"{DAY}T10:00:00-05:00", last_good_seq=last.seq)
    assert found(story, "SI-02") == []
    late = story.held(since=f"{DAY}T10:30:00-05:00")
    (hit,) = found(story, "SI-02")
    assert (hit.severity, hit.area, hit.entries) == ("flag", "records", (late.n,))
    assert "lost" in hit.sentence
    assert INSPECTOR.name in hit.sentence


def again(story: Story) -> Person:
    """The new phone of the inspector whose key has ended."""
    own = Person(INSPECTOR.org, "inspector", "Inspector One again")
    story.enrolled(own, same_as=INSPECTOR.kid)
    return own


def test_affirmed_by_the_new_key_it_is_a_note() -> None:
    """The inspector did sign it before the phone was gone, and says so with the new phone."""
    story = visit("held")
    held = story.state().entries[-1]
    reported = {"since": f"{DAY}T08:00:00-05:00", "rec": f"{DAY}T18:00:00-05:00"}
    story.revoked(INSPECTOR, last_good_seq=held.seq - 1, **reported)
    story.affirmed(held, by=CUSTODIAN)
    assert found(story, "SI-02")[0].severity == "flag"  # another organization cannot speak for it
    story.affirmed(held)
    assert found(story, "SI-02")[0].severity == "flag"  # nor the lost key for itself
    own = again(story)
    story.affirmed(held, by=own)
    vouched = next(each for each in found(story, "SI-02") if held.n in each.entries)
    assert vouched.severity == "note"
    assert own.name in vouched.sentence
    story.affirmed(held, by=SECOND_INSPECTOR)
    assert next(each for each in found(story, "SI-02") if held.n in each.entries) == vouched


def test_a_colleague_who_affirms_what_a_thief_may_have_signed_changes_nothing() -> None:
    """Two who work together make a clean form out of one that a found phone had written on."""
    story = visit("held")
    held = story.state().entries[-1]
    reported = {"since": f"{DAY}T08:00:00-05:00", "rec": f"{DAY}T18:00:00-05:00"}
    story.revoked(INSPECTOR, last_good_seq=held.seq - 1, **reported)
    story.affirmed(held, by=SECOND_INSPECTOR)
    (hit,) = (each for each in found(story, "SI-02") if held.n in each.entries)
    assert hit.severity == "flag"
    assert f"{SECOND_INSPECTOR.name} affirmed it" in hit.sentence
    assert "not enrolled as the same person's" in hit.sentence


@pytest.mark.parametrize(("before", "flagged"), [(1, []), (0, [True]), (-1, [True])])
def test_between_loss_and_report_a_statement_is_in_doubt(before: int, flagged: list[bool]) -> None:
    """Everything the inspector did that morning would be doubted because the phone was lost at noon, or
    nothing the thief did.
    """
    story = visit("held")
    held = story.state().entries[-1]
    since = Moment(held.rec + timedelta(seconds=before), -300).text()
    story.revoked(INSPECTOR, since=since, last_good_seq=held.seq - 1, rec=f"{DAY}T18:00:00-05:00")
    assert [held.n in hit.entries for hit in found(story, "SI-02")] == flagged


def test_within_the_count_vouched_for_nothing_recorded_before_the_report_is_in_doubt() -> None:
    """An administrator who knows the last good number would still have to affirm all of it."""
    story = visit("held")
    held = story.state().entries[-1]
    story.revoked(
        INSPECTOR, since=f"{DAY}T06:00:00-05:00", last_good_seq=held.seq, rec=f"{DAY}T18:00:00-05:00"
    )
    assert found(story, "SI-02") == []


def test_a_key_its_owner_replaced_leaves_no_doubt_about_late_uploads() -> None:
    """Every change of phone would end in a row of statements to be affirmed."""
    story = visit("collected")
    successor = Person(INSPECTOR.org, "inspector", "Inspector One again")
    data = {
        "kid": successor.kid,
        "jwk": _jwk(successor),
        "proof": "p",
        "last_seq": story.state().entries[-1].seq + 2,
    }
    story.add(
        f"org/{INSPECTOR.org}", "rotated", data, by=INSPECTOR, said=f"{DAY}T08:00:00-05:00",
        seq=story.state().entries[-1].seq + 1,
    )  # fmt: skip
    late = story.held()
    assert late.seq == data["last_seq"]
    assert found(story, "SI-02") == []
    beyond = story.held()
    (hit,) = found(story, "SI-02")
    assert (hit.severity, hit.entries) == ("flag", (beyond.n,))
    assert "replaced by its owner" in hit.sentence


def test_an_affirmation_outlives_the_key_it_was_made_with() -> None:
    """After the next change of phone the statements would be in doubt again."""
    story = visit("held")
    held = story.state().entries[-1]
    story.revoked(
        INSPECTOR,
        since=f"{DAY}T08:00:00-05:00",
        last_good_seq=held.seq - 1,
        rec=f"{DAY}T18:00:00-05:00",
    )
    own = again(story)
    said = story.affirmed(held, by=own)
    story.revoked(own, since="2027-06-01T09:00:00-05:00", last_good_seq=said.seq)
    assert [each.severity for each in found(story, "SI-02")] == ["note"]
    assert f"entry {said.n}" in found(story, "SI-02")[0].sentence


def test_a_key_nobody_enrolled() -> None:
    """A verifier may meet an entry the service should never have taken."""
    story = visit("collected")
    stranger = Person(INSPECTOR.org, "inspector", "Nobody Known")
    entry = story.held(by=stranger, samples=[story.samples[0]])
    (hit,) = found(story, "SI-02")
    assert hit.entries == (entry.n,)
    assert "never enrolled" in hit.sentence


def test_signers_of_an_organization_that_is_not_here_are_left_open() -> None:
    """Absence of a chain is not a fault of the signer; the verdict says that it was not checked."""
    story = visit("docked")
    case = story.case()
    bare = {name: org for name, org in case.organizations.items() if name != LAB}
    assert findings(Case(case.at, case.forms, case.lots, bare), "SI-02") == []


# SI-03


def test_a_physical_act_outside_the_role_is_recorded_and_warned_of() -> None:
    """The clerk really did run the pump; refusing to write it down would make it the inspector's lie."""
    story = visit("opened")
    entry = story.collected(0, by=CLERK)
    (hit,) = found(story, "SI-03")
    assert (hit.severity, hit.about, hit.entries) == ("warn", story.form, (entry.n,))
    assert f"{CLERK.name} signed collected as clerk" in hit.sentence


def test_a_decision_outside_the_role_is_a_flag_for_whoever_verifies() -> None:
    """The service refuses it; a file from elsewhere may still hold one."""
    story = visit("docked")
    story.accepted(by=ANALYST)
    assert found(story, "SI-03")[0].severity == "flag"


def test_roles_that_fit_raise_nothing() -> None:
    """A quality role that decides and an inspector that seals are ordinary."""
    story = visit("docked")
    story.accepted(by=LAB_QUALITY)
    assert found(story, "SI-03") == []


# SI-11


def no_outdoor() -> Story:
    """Two indoor samples and no outdoor control."""
    story = visit("opened")
    story.collected(0)
    story.collected(1)
    return story


def test_an_exception_signed_by_the_one_it_excuses_excuses_nothing() -> None:
    """Whoever forgot the outdoor control must not be the one who finds it unnecessary."""
    story = no_outdoor()
    own = story.excepted("OC-01", story.form, by=INSPECTOR, reason="outdoor_impossible")
    (hit,) = found(story, "SI-11")
    assert (hit.severity, hit.about, hit.entries) == ("block", story.form, (own.n,))
    assert INSPECTOR.name in hit.sentence
    assert found(story, "OC-01")[0].severity == "block"


def test_whoever_allowed_it_and_seals_reads_that_another_person_must_allow_it() -> None:
    """The clerk would read that the missing control is her own doing, and not what to do."""
    story = no_outdoor()
    story.excepted("OC-01", story.form, by=CLERK, reason="outdoor_impossible")
    hits = findings(story.case(sealing=story.sealing()), "SI-11")
    assert [each.sentence.partition("(")[0].strip() for each in hits] == [
        f"{CLERK.name} allowed OC-01 for {grouped(story.form)}"
    ]
    assert hits[0].sentence.endswith(" and is also sealing; another person must allow it.")


def test_a_second_person_settles_it() -> None:
    """The quality role signs after all: the block becomes a warning, and nothing is left to object to."""
    story = no_outdoor()
    story.excepted("OC-01", story.form, by=INSPECTOR, reason="outdoor_impossible")
    story.excepted("OC-01", story.form, by=QUALITY, reason="outdoor_impossible", said=f"{DAY}T13:45:00-05:00")
    assert found(story, "SI-11") == []
    assert found(story, "OC-01")[0].severity == "warn"


def test_an_exception_for_nothing_is_no_fault() -> None:
    """The fault it excused is gone: the outdoor control was taken after all."""
    story = visit("collected")
    story.excepted("OC-01", story.form, by=INSPECTOR, reason="outdoor_impossible")
    assert found(story, "SI-11") == []


# CU-16


def test_a_correction_shows_both_values() -> None:
    """Nobody may find only the new value."""
    story = visit("collected")
    entry = story.state().entries[1]
    made = story.corrected(entry, "pump", "PUMP-2", reason="misread")
    (hit,) = found(story, "CU-16")
    assert (hit.severity, hit.entries) == ("note", (made.n, entry.n))
    for words in ("'PUMP-1'", "'PUMP-2'", "misread", INSPECTOR.name):
        assert words in hit.sentence
    assert (hit.acts, "Nothing to fix" in hit.remedy) == ((), True)


def test_what_was_corrected_is_told_in_words() -> None:
    """A client reads brackets, braces and *False* of a program, and takes the record for broken."""
    story = visit("collected")
    outdoor = story.state().entries[3]
    story.corrected(outdoor, "weather", {"sky": "rain", "wind": "light", "snow_cover": False})
    story.corrected(story.state().entries[1], "near", ["open_door", "fan"])
    story.corrected(story.state().entries[2], "covers_on", False)
    said = " ".join(each.sentence for each in found(story, "CU-16"))
    assert not set("[]{}") & set(said)
    assert "to sky: rain, wind: light, snow cover: no" in said
    assert "from none to open_door, fan" in said
    assert "from yes to no" in said


def test_a_corrected_time_is_told_as_every_time() -> None:
    """One record shows a time in two forms, and the reader looks for the difference."""
    story = visit("collected")
    entry = story.state().entries[1]
    story.corrected(entry, "started", f"{DAY}T09:13:30-05:00", reason="misread")
    story.corrected(entry, "started", "2026-12-01T25:00:00-05:00", reason="misread")
    right, wrong = sorted((each.sentence for each in found(story, "CU-16")), key=lambda said: "25:00" in said)
    assert f"from {DAY} 09:12 (-05:00) to {DAY} 09:13:30 (-05:00) (misread)" in right
    assert "to 2026-12-01T25:00:00-05:00 (misread); it does not count" in wrong


def test_a_correction_that_is_not_followed_is_warned_of() -> None:
    """Somebody believes the record is corrected, and it is not."""
    story = visit("collected")
    story.corrected(story.state().entries[1], "pump", "PUMP-2", by=CUSTODIAN)
    (hit,) = found(story, "CU-16")
    assert hit.severity == "warn"
    assert "only the organization that signed an entry may correct it" in hit.sentence
    assert [each["act"] for each in hit.acts] == ["corrected"]
    assert "The old value counts" in hit.remedy


@pytest.mark.parametrize(("by", "severity"), [(QUALITY, "note"), (SECOND_INSPECTOR, "warn")])
def test_who_corrects_somebody_elses_statement(by: Person, severity: str) -> None:
    """The quality role may; a colleague may be doing somebody a favor."""
    story = visit("collected")
    story.corrected(story.state().entries[1], "pump", "PUMP-2", by=by)
    (hit,) = found(story, "CU-16")
    assert hit.severity == severity


def test_a_colleagues_correction_is_asked_about() -> None:
    """Whoever reads it would be told to sign again what counts already."""
    story = visit("collected")
    story.corrected(story.state().entries[0], "turnaround", "rush", by=SECOND_INSPECTOR)
    (hit,) = found(story, "CU-16")
    assert (hit.severity, hit.acts) == ("warn", ())
    assert hit.remedy == f"Ask {INSPECTOR.name} which value is right."
