"""What stands around the story in a report: whose log, how many faults, who vouches for it, and the rules of
which day.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from bailee.domain.moments import Moment
from bailee.verify.result import BROKEN, COSIGNED, INTACT, Report
from bailee.verify.verifier import verify
from builders import CLERK, FIRM, INSPECTOR, LAB_ROOT, QUALITY, ROOT, WEEK, Person
from log_simulator import AT, ORIGIN, LogSimulator, told
from spoiling import LATER, TIME, cosigned, cosigner, cosigners, enrollment, forged, index_of, keep, without


def report(log: LogSimulator) -> Report:
    """What the verifier says of the form."""
    return verify(log.bundle(), log.trust(), AT)


def set_for(log: LogSimulator, by: Person, act: str, **data: object) -> None:
    """An organization sets something from now on."""
    log.append(f"org/{by.org}", log.signed(by, f"org/{by.org}", act, data, said=LATER))


def rules(log: LogSimulator) -> set[str]:
    """The rules that found something."""
    return {each.rule for each in report(log).findings}


def test_a_report_says_of_which_log_and_when_it_speaks() -> None:
    """Two reports on two logs, or of two days, could not be told apart."""
    log = told()
    at = Moment.parse("2027-02-03T04:05:06+01:00")
    found = verify(log.bundle(), log.trust(), at)
    assert (found.form, found.origin, found.size) == (log.form, ORIGIN, len(log.log))
    assert found.at == "2027-02-03T04:05:06+01:00"
    assert found.claims == {"exported": "2026-12-03T09:00:00Z", "roots": dict(log.trust().roots)}
    unreadable = verify(replace(log.bundle(), note="nothing"), log.trust(), at)
    assert (unreadable.origin, unreadable.size) == (None, None)


def test_the_first_sentence_counts_entries_faults_and_findings() -> None:
    """The one sentence that is quoted would say less than was found."""
    log = told()
    count = len(log.log)
    whole, sound = f"{count} entries", report(log).verdicts[0].sentence
    assert sound.startswith(f"Nothing altered or missing was found in {whole}. ")
    assert "findings" not in sound
    one = without(log.bundle(), index_of(log, 4))
    said = verify(one, log.trust(), AT).verdicts[0].sentence
    assert said.startswith(f"2 faults in {count - 1} entries. This file does not match what was signed.")
    broken = log.append(f"form/{log.form}", forged(keep(log)))
    (fault,) = report(log).faults
    assert fault.place.index == broken
    assert report(log).verdicts[0].sentence.startswith(f"1 fault in {count + 1} entries. ")


def test_erasures_are_counted() -> None:
    """A private field that is gone for good would look like one that somebody keeps back."""
    log = told()
    chain = f"form/{log.form}"
    assert report(log).erased == 0
    opening = log.state().entries[0].digest
    for count in (1, 2):
        data = {"statement": log._real[opening], "count": count}
        log.append(chain, log.signed(QUALITY, chain, "erased", data, said=LATER))
    assert report(log).erased == 3


def test_a_false_cosignature_hides_no_true_one() -> None:
    """An opponent could silence every honest cosigner with one false line (and each stands with its own
    time).
    """
    log = told()
    trust = cosigners(log, 1, "lab", "notary")
    note = cosigned(log.bundle(), "lab", by=cosigner("firm"))
    found = verify(cosigned(note, "notary"), trust, AT)
    assert (found.state, found.cosigned) == (BROKEN, {"notary": TIME})
    found = verify(cosigned(log.bundle(), "lab", "notary"), cosigners(log, 2, "lab", "notary"), AT)
    assert (found.state, found.cosigned) == (COSIGNED, {"lab": TIME, "notary": TIME})


def test_a_checkpoint_that_cannot_be_read_is_cosigned_by_nobody() -> None:
    """The report would not say that nobody vouches for the log."""
    log = told()
    found = verify(replace(log.bundle(), note="no checkpoint"), cosigners(log, 1, "lab"), AT)
    assert (found.state, found.cosigned) == (BROKEN, {})
    assert "cosigners" in {each.code for each in found.not_checked}
    assert "They are cosigned" not in found.verdicts[0].sentence


def test_a_contradiction_that_is_none_hides_no_true_one() -> None:
    """Whoever copied a phone would put two false pairs before the true one."""
    log = told()
    device = log.device(CLERK)
    seq, prev = device.seq, device.prev
    first = keep(log)
    log.append(f"form/{log.form}", first)
    device.seq, device.prev = seq, prev
    other = keep(log, said="2026-12-02T12:01:00-06:00")
    pairs = ((first, "nothing"), (first, first), (first, other))
    found = verify(replace(log.bundle(), conflicts=pairs), log.trust(), AT)
    assert [each.code for each in found.faults] == ["no-conflict", "no-conflict"]
    (remark,) = found.remarks
    assert device.key.kid[:8] in remark.sentence
    (finding,) = (each for each in found.findings if each.rule == "CU-10")
    assert CLERK.name in finding.sentence


def test_two_phones_of_one_person_hold_as_one() -> None:
    """Whoever changes phones during the day would look like somebody who took the cassettes without being
    given them.
    """
    log = told("held")
    second = replace(INSPECTOR, name="Second phone")
    log.append(f"org/{FIRM}", enrollment(log, second, ROOT, same_as=log.device(INSPECTOR).key.kid))
    log._real[second.kid] = log.device(second).key.kid
    log.relinquished(log.samples, by=second)
    log.received(log.samples)
    found = report(log)
    assert found.faults == ()
    assert [each.org for each in found.accounts[0].holdings] == [FIRM, FIRM]
    assert (
        found.accounts[0].holdings[0].given
        == "relinquished to Clerk One (harrow-field) for shipping, entry 6"
    )
    stranger = told("held")
    stranger.relinquished(stranger.samples, by=CLERK)
    assert report(stranger).accounts[0].holdings[0].given is None


@pytest.mark.parametrize(("by", "follows"), [(QUALITY, True), (CLERK, False)])
def test_a_correction_counts_by_the_role_of_whoever_made_it(by: Person, follows: bool) -> None:
    """A clerk who saw no meter could change a volume, or the quality role could not put right what is plainly
    wrong (own rule).
    """
    log = told("collected")
    run = log.state().entries[1]
    log.corrected(run, "flow_after", "15.2", by=by)
    (sample,) = (each for each in report(log).accounts if each.number == log.samples[0])
    assert sample.flow_lpm == ("15.10" if follows else "14.95")


def test_the_place_in_the_log_says_what_came_after_a_key_s_end() -> None:
    """Two things recorded in one millisecond: what a lost key said after its end would pass
    as said before.
    """
    log = told()
    log.revoked(CLERK, since=LATER, last_good_seq=log.device(CLERK).seq + 1)
    ended = len(log.log) - 1
    late = log.append(f"form/{log.form}", keep(log))
    assert log.log[late].entry.rec == log.log[ended].entry.rec
    assert [(each.code, each.place.index) for each in report(log).remarks] == [("late-key", late)]


def test_a_key_that_ends_itself_is_not_late_with_that() -> None:
    """Whoever reports the end of a key with that very key would be doubted for the report itself."""
    log = told()
    log.revoked(CLERK, since=LATER, last_good_seq=log.device(CLERK).seq + 1, by=CLERK)
    assert (report(log).faults, report(log).remarks) == ((), ())
    assert any(each.revoked for each in report(log).signers)


def test_rules_and_hours_are_those_of_the_day_of_sealing() -> None:
    """What an organization sets afterwards would find faults in an envelope that was faultless, or cover up
    others.
    """
    log = told("kept")
    set_for(log, LAB_ROOT, "policy_set", policy={"edition": 1, "min_cassettes": 9})
    log.sealed()
    strict = rules(log)
    later = told("sealed")
    faultless = rules(later)
    set_for(later, LAB_ROOT, "policy_set", policy={"edition": 1, "min_cassettes": 9})
    assert rules(later) == faultless
    assert strict - faultless


def test_hours_entered_after_the_hand_over_cure_nothing() -> None:
    """A laboratory could enter its hours again after the envelope went to the wrong day, and nobody would see
    it.
    """
    log = told("kept")
    set_for(log, ROOT, "policy_set", policy={"edition": 1, "hours_age_days": 1})
    log.sealed()
    log.shipped()
    before = rules(log)
    assert "SH-08" in before
    days = {"zone": "America/Chicago", "hours": {"mon": WEEK["mon"]}, "closed": [], "years": [2026, 2027]}
    set_for(log, LAB_ROOT, "calendar_set", which="lab", calendar=days)
    assert report(log).state == INTACT
    assert rules(log) == before
