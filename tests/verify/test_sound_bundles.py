"""Bundles in which nothing is wrong, or only what honest people do; and what the verifier must not be silent about."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest

from bailee.domain.moments import Moment
from bailee.ledger import entry as entries
from bailee.ledger.base64url import b64u
from bailee.ledger.checkpoint import KeyType, VerifierKey
from bailee.signing import signed_statement
from bailee.verify.bundle import Bundle
from bailee.verify.result import Report
from bailee.verify.verifier import Trust, verify
from builders import CLERK, DAY, FIRM, INSPECTOR, LAB, SECOND_INSPECTOR, STEPS, Person, Step
from log_simulator import AT, LogSimulator, seeded, told

ALWAYS = {"cosigners", "tail", "elsewhere", "world"}


def checked(log: LogSimulator, sound: Bundle | None = None) -> Report:
    """The report on the log's bundle."""
    return verify(sound or log.bundle(), log.trust(), AT)


def codes(report: Report) -> set[str]:
    """What was not checked."""
    return {each.code for each in report.not_checked}


@pytest.mark.parametrize("upto", STEPS)
def test_a_faultless_visit_is_intact_at_every_step(upto: Step) -> None:
    """An honest laboratory would be told that its records are broken."""
    found = checked(told(upto))
    assert (found.state, found.faults, found.remarks, found.left_out) == ("intact, not cosigned", (), (), 0)
    assert codes(found) == ALWAYS
    assert found.verdicts[0].sentence.startswith(
        f"Nothing altered or missing was found in {len(found.entries)} entries."
    )


def test_a_faultless_visit_raises_no_finding_and_has_four_verdicts() -> None:
    """The auditor's laptop and the clerk's screen would judge the same envelope differently."""
    found = checked(told())
    assert found.findings == ()
    assert [(each.area, each.state) for each in found.verdicts] == [
        ("records", "intact"), ("custody", "nothing found"), ("media", "nothing found"), ("comparison", "nothing found"),
    ]  # fmt: skip


def test_the_verifier_folds_as_the_ledger_does() -> None:
    """Two programs would tell two stories of one sample."""
    log = told()
    found = checked(log)
    own = log.state()
    assert [each.number for each in found.samples] == sorted(own.samples)
    for account in found.samples:
        sample = own.samples[account.number]
        assert account.status == sample.status
        assert [link.org for link in sample.links] == [holding.org for holding in account.holdings]
        assert [link.since.text() for link in sample.links] == [holding.since for holding in account.holdings]


def test_volume_is_computed_from_flow_and_time() -> None:
    """A volume that somebody typed would decide a concentration. 14.95 L/min in 300 s is 74.75 L (arithmetic)."""
    sample = checked(told()).samples[0]
    assert (sample.flow_lpm, sample.volume_l, sample.run_s) == ("14.95", "74.8", 300)
    assert Decimal("14.95") * 5 == Decimal("74.75")


def test_a_blank_has_no_volume() -> None:
    """A field blank would be given litres of air it never drew."""
    log = told("opened")
    log.collected(0, "blank")
    (sample,) = checked(log).samples
    assert (sample.kind, sample.flow_lpm, sample.volume_l) == ("blank", None, None)


def test_a_redacted_bundle_verifies_and_counts_what_is_hidden() -> None:
    """Erasing a client's name, as the law may demand, would make years of records look altered."""
    log = told()
    whole = log.bundle()
    bare = replace(whole, entries=tuple(replace(each, disclosures=()) for each in whole.entries))
    found = checked(log, bare)
    hidden = sum(len(each.disclosures) for each in whole.entries)
    assert (found.state, found.faults, found.redacted) == ("intact, not cosigned", (), hidden)
    assert found.visit is not None
    assert found.visit.told == {}
    assert {each.person for each in found.signers} == {""}
    assert checked(log).redacted == 0


def test_a_missing_tail_cannot_be_seen_and_is_said() -> None:
    """An operator could cut off the rejection and hand out the rest; the reader must know that a file cannot show that."""
    log = told()
    sound = log.bundle()
    last = log.find(f"form/{log.form}", 12)
    found = checked(log, replace(sound, entries=tuple(each for each in sound.entries if each.index != last)))
    assert (found.state, found.faults) == ("intact, not cosigned", ())
    assert "tail" in codes(found)
    assert "not cosigned" in found.verdicts[0].sentence


def test_a_root_that_was_not_given_is_said() -> None:
    """An organisation nobody vouches for would be believed because its own signatures fit each other."""
    log = told()
    found = verify(log.bundle(), log.trust(quill=None), AT)
    assert found.faults == ()
    assert codes(found) == ALWAYS | {"root"}
    assert found.state == "intact, not cosigned"
    (said,) = [each.sentence for each in found.not_checked if each.code == "root"]
    assert said.startswith(f"Root of {LAB} not given")
    assert said in found.verdicts[0].not_checked


def test_the_exporters_own_roots_are_shown_and_never_trusted() -> None:
    """A forger would write the forged roots into the file, and it would verify by itself."""
    log = told()
    sound = log.bundle()
    claimed = replace(sound, roots={org: seeded("impostor").kid for org in sound.roots})
    found = verify(claimed, Trust({}, (log.log_vkey,)), AT)
    assert found.faults == ()
    assert sum(each.code == "root" for each in found.not_checked) == 2
    assert found.claims["roots"] == claimed.roots
    assert found.unauthenticated[:2] == ("/exported", "/roots")


def test_a_lot_that_is_not_here_is_said_and_judged_by_the_rules() -> None:
    """A recall could be hidden by leaving out the lot; a lot typed wrong must not be called a forgery either."""
    log = told()
    sound = log.bundle()
    bare = replace(sound, entries=tuple(each for each in sound.entries if '"chain":"lot/' not in each.text))
    found = checked(log, bare)
    assert found.faults == ()
    assert "chain" in codes(found)
    assert "ML-01" in {each.rule for each in found.findings}
    assert found.verdicts[2].state == "flagged"


def test_a_party_that_never_spoke_may_be_missing() -> None:
    """A form opened for a laboratory that is not on this ledger yet would be called a forgery."""
    log = told("collected")
    sound = log.bundle()
    bare = replace(
        sound, entries=tuple(each for each in sound.entries if f'"chain":"org/{LAB}"' not in each.text)
    )
    found = checked(log, bare)
    assert found.faults == ()
    assert "chain" in codes(found)


def test_tree_heads_without_a_proof_are_said() -> None:
    """An exporter who shows one half of a split log would simply leave out the proof that it is whole."""
    log = told()
    found = checked(log, replace(log.bundle(), earlier=()))
    assert found.faults == ()
    assert "seen" in codes(found)


def test_the_last_tree_head_needs_no_proof_of_its_own() -> None:
    """A device that saw the very checkpoint of the bundle would be reported as not checked."""
    log = told()
    size = len(log.log)
    newest = log.seen()
    assert newest is not None
    log.append(f"form/{log.form}", _held(log, seen=newest))
    found = checked(log)
    assert (found.faults, codes(found)) == ((), ALWAYS)
    assert found.entries[-1].not_before == found.entries[size - 1].recorded


def test_statements_between_those_shown_are_counted() -> None:
    """A device whose statement about this very form was dropped would look as if it had said nothing else."""
    log = told()
    log.device(CLERK).seq += 3
    log.append(f"form/{log.form}", _held(log, prev=b64u(bytes(32))))
    found = checked(log)
    assert found.faults == ()
    (said,) = [each.sentence for each in found.not_checked if each.code == "counters"]
    assert said.startswith("3 statements lie between")


def test_a_statement_that_refers_to_one_not_here_is_said() -> None:
    """A hand-over seen face to face and then dropped would leave no trace in the report."""
    log = told()
    log.append(f"form/{log.form}", _held(log, refs=(b64u(bytes(32)),)))
    found = checked(log)
    assert (found.faults, codes(found)) == ((), ALWAYS | {"refs"})


def test_a_clock_that_ran_backwards_is_marked() -> None:
    """A statement dated back by its signer would pass without a word."""
    log = told()
    log.append(f"form/{log.form}", _held(log, iat=Moment.parse(f"{DAY}T09:00:00-05:00").epoch_seconds))
    found = checked(log)
    assert (found.faults, [each.code for each in found.remarks]) == ((), ["clock-backwards"])


def test_late_uploads_from_two_phones_are_no_fault() -> None:
    """Two inspectors who worked without a network would be told that their honest records are forged."""
    log = told("opened")
    uploaded = f"{DAY}T11:00:00-05:00"
    log.collected(1, by=SECOND_INSPECTOR, after=None, rec=uploaded)
    log.collected(0, after=None, rec=uploaded)
    log.collected(2, "outdoor", rec=uploaded)
    found = checked(log)
    assert (found.state, found.faults) == ("intact, not cosigned", ())


def test_the_policy_in_force_at_sealing_judges_the_visit() -> None:
    """A stricter policy made next year would find faults in an envelope that was faultless when it was sealed."""
    log = told()
    data = {"policy": {"min_cassettes": 9}}
    log.append(
        f"org/{FIRM}",
        log.signed(_root(), f"org/{FIRM}", "policy_set", data, said="2027-01-04T09:00:00-05:00"),
    )
    assert checked(log).findings == ()


def test_a_window_of_time_is_shown_for_every_entry() -> None:
    """A claimed time would stand alone, with nothing to hold it against."""
    log = told()
    found = checked(log)
    first, *later = found.entries
    assert first.not_before is None
    assert all(each.not_before and each.not_before <= each.recorded for each in later)
    assert found.entries[-1].claimed == "2026-12-02T11:00:00-06:00"
    assert found.entries[-1].recorded == "2026-12-02T17:00:05.000Z"


def test_signers_are_named_with_their_roles() -> None:
    """Five years later nobody would know who the keys were."""
    found = checked(told())
    who = {(each.person, each.org, each.role, each.statements) for each in found.signers}
    assert ("Inspector One", FIRM, "inspector", 6) in who
    assert ("Custodian One", LAB, "custodian", 2) in who


# Keys that were revoked


def test_what_a_key_said_before_its_end_stands() -> None:
    """Losing a phone would undo everything that was ever signed with it."""
    log = told()
    log.revoked(INSPECTOR, since="2026-12-03T08:00:00-05:00", last_good_seq=log.device(INSPECTOR).seq)
    found = checked(log)
    assert (found.faults, found.remarks) == ((), ())
    (signer,) = [each for each in found.signers if each.person == "Inspector One"]
    assert signer.revoked is not None
    assert signer.revoked.startswith("lost, since 2026-12-03T08:00:00-05:00")


@pytest.mark.parametrize(("counted", "code"), [(0, None), (1, "late-key")])
def test_an_upload_after_the_loss_within_the_count_is_late(counted: int, code: str | None) -> None:
    """Statements from the basement, uploaded after the phone was reported, would be refused or believed without a word."""
    log = told()
    log.revoked(CLERK, since="2026-12-02T10:00:00-05:00", last_good_seq=log.device(CLERK).seq + counted)
    log.append(f"form/{log.form}", _held(log))
    found = checked(log)
    if code is None:
        assert [fault.code for fault in found.faults] == ["revoked-key"]
    else:
        assert (found.faults, [each.code for each in found.remarks]) == ((), [code])
        assert "Nobody has affirmed it" in found.remarks[0].sentence


@pytest.mark.parametrize(("since", "doubtful"), [("14:29:59", True), ("14:30:05", True), ("14:30:06", False)])
def test_what_was_recorded_between_loss_and_report_is_in_doubt(since: str, doubtful: bool) -> None:
    """A thief has the phone until it is reported; what was signed in between must not look like the rest."""
    log = told("shipped")
    seal = log.find(f"form/{log.form}", 10)  # recorded at 15:30:05 local time, its device's last
    sealed = signed_statement.read(log.log[seal].entry.stmt).claims
    log.revoked(
        CLERK, since=f"{DAY}T{since}-06:00", last_good_seq=sealed.seq - 1, rec="2026-12-02T08:00:00-05:00"
    )
    found = checked(log)
    assert found.faults == ()
    assert [each.code for each in found.remarks] == (["doubtful-key"] if doubtful else [])


def test_an_affirmed_statement_is_shown_as_such() -> None:
    """The owner who stands by what was said would not be heard."""
    log = told("shipped")
    shipped = log.log[log.find(f"form/{log.form}", 10)].entry
    sealed = signed_statement.read(shipped.stmt).claims
    log.revoked(
        CLERK, since=f"{DAY}T12:00:00-05:00", last_good_seq=sealed.seq - 1, rec="2026-12-02T08:00:00-05:00"
    )
    data = {"statements": [signed_statement.digest(shipped.stmt)]}
    log.append(
        f"form/{log.form}",
        log.signed(INSPECTOR, f"form/{log.form}", "affirmed", data, said="2026-12-02T09:00:00-05:00"),
    )
    found = checked(log)
    assert found.faults == ()
    assert [each.sentence for each in found.remarks] == [
        "Recorded while this key may already have been in other hands (lost). Affirmed in entry 11."
    ]


def test_an_administrators_word_without_effect_is_marked() -> None:
    """A second revocation that changes nothing would be read as if it had moved the end of the key."""
    log = told()
    for _ in range(2):
        log.revoked(SECOND_INSPECTOR, since="2026-12-03T08:00:00-05:00", last_good_seq=0)
    assert [each.code for each in checked(log).remarks] == ["without-effect"]


@pytest.mark.parametrize(
    "change",
    [lambda key: replace(key, type=KeyType.COSIGNATURE_V1), lambda key: replace(key, name="x.example/log")],
)
def test_a_key_that_is_not_the_logs_own_does_not_count(change: Callable[[VerifierKey], VerifierKey]) -> None:
    """A cosigner's key, or another log's, would stand in for the key of this log."""
    log = told("opened")
    found = verify(log.bundle(), Trust(log.trust().roots, (change(log.log_vkey),)), AT)
    assert [fault.code for fault in found.faults] == ["checkpoint"]


def test_the_right_key_among_several_counts() -> None:
    """After a change of the log's key auditors bring both, and neither order may matter."""
    log = told("opened")
    other = VerifierKey("x.example/log", KeyType.ED25519, seeded("x").public)
    assert verify(log.bundle(), Trust(log.trust().roots, (other, log.log_vkey)), AT).faults == ()


def test_other_entries_of_the_log_do_no_harm() -> None:
    """An exporter that shows a chain too many would be accused of forgery."""
    log = told()
    first = log.form
    log.opened()
    found = checked(
        log, replace(log.bundle(first), entries=tuple(log.placed(i) for i in range(len(log.log))))
    )
    assert (found.form, found.faults) == (first, ())
    assert entries.read(log.log[-1].text).chain == f"form/{log.form}"


def _held(log: LogSimulator, by: Person = CLERK, **how: object) -> str:
    data = {"secured": "restricted", "where": "office", "since": "2026-12-02T11:30:00-05:00"}
    return log.signed(by, f"form/{log.form}", "held", data, said="2026-12-02T12:30:00-05:00", **how)  # type: ignore[arg-type]


def _root() -> Person:
    return Person(FIRM, "root", "Root Harrow")
