"""What a report tells of a faultless visit, in numbers and names.

Other sound bundles, and what is not checked in them: `cases/`.
"""

from __future__ import annotations

from decimal import Decimal

from bailee.verify.report_text import render_text
from bailee.verify.result import Report
from bailee.verify.verifier import verify
from builders import FIRM, LAB
from log_simulator import AT, LogSimulator, told
from spoiling import cosigned, cosigners, keep


def checked(log: LogSimulator) -> Report:
    """The report on the log's bundle."""
    return verify(log.bundle(), log.trust(), AT)


def test_the_verifier_folds_as_the_ledger_does() -> None:
    """Two programs would tell two stories of one sample."""
    log = told()
    found = checked(log)
    own = log.state()
    assert [each.number for each in found.samples] == sorted(own.samples)
    for account in found.accounts:
        sample = own.samples[account.number]
        assert account.status == sample.status
        assert [link.org for link in sample.links] == [holding.org for holding in account.holdings]
        assert [link.since.text() for link in sample.links] == [holding.since for holding in account.holdings]


def test_volume_is_computed_from_flow_and_time() -> None:
    """A volume that somebody typed would decide a concentration. 14.95 L/min in 300 s is 74.75 L
    (arithmetic).
    """
    sample = checked(told()).accounts[0]
    assert (sample.flow_lpm, sample.volume_l, sample.run_s) == ("14.95", "74.75", 300)
    assert Decimal("14.95") * 5 == Decimal("74.75")


def test_a_blank_has_no_volume() -> None:
    """A field blank would be given liters of air it never drew."""
    log = told("opened")
    log.collected(0, "blank")
    (sample,) = checked(log).accounts
    assert (sample.kind, sample.flow_lpm, sample.volume_l) == ("blank", None, None)


def test_the_last_tree_head_needs_no_proof_of_its_own() -> None:
    """A device that saw the very checkpoint of the bundle would be reported as not checked."""
    log = told()
    size = len(log.log)
    newest = log.seen()
    assert newest is not None
    log.append(f"form/{log.form}", keep(log, seen=newest))
    found = checked(log)
    assert found.faults == ()
    assert found.entries[-1].not_before == found.entries[size - 1].recorded


def test_a_window_of_time_is_shown_for_every_entry() -> None:
    """A claimed time would stand alone, with nothing to hold it against."""
    log = told()
    found = checked(log)
    first, *later = found.entries
    assert first.not_before is None
    assert all(each.not_before and each.not_before <= each.recorded for each in later)
    assert found.entries[-1].claimed == "2026-12-02T11:00:00-06:00"
    assert found.entries[-1].recorded == "2026-12-02T17:00:05.000Z"


def test_what_others_saw_bounds_a_time_from_above() -> None:
    """An operator's clock set back would be believed although a cosigner had seen the entry, or had not."""
    log = told()
    sound = cosigned(log.bundle(), "lab", "firm")
    believed = verify(sound, cosigners(log, 1, "lab"), AT)
    assert {each.not_after for each in believed.entries} == {"2026-12-02T18:00:00Z"}
    assert ", not after 2026-12-02 13:00 (-05:00)" in render_text(believed)
    assert {each.not_after for each in verify(sound, log.trust(), AT).entries} == {None}


def test_signers_are_named_with_their_roles() -> None:
    """Five years later nobody would know who the keys were."""
    found = checked(told())
    who = {(each.person, each.org, each.role, each.statements) for each in found.signers}
    assert ("Inspector One", FIRM, "inspector", 6) in who
    assert ("Custodian One", LAB, "custodian", 2) in who
