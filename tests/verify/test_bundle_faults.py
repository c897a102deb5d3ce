"""What a report of faults is like: every fault, its exact place, the order of the steps.

The faults themselves: `cases/`.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from bailee.domain.numbers import grouped
from bailee.ledger.base64url import b64u
from bailee.verify.result import Report
from bailee.verify.verifier import Trust, verify
from builders import ANALYST, FIRM, LAB, ROOT, Person
from log_simulator import AT, seeded, told
from spoiling import LATER, changed, index_of, keep, replaced, with_statement, without


def test_a_fault_names_its_exact_place() -> None:
    """Counsel would be told that something is wrong, and not which line of which record."""
    log = told()
    index = index_of(log, 3)
    bad = changed(
        log.bundle(), index, lambda e: replace(e, text=e.text.replace("14:33:05.000Z", "14:33:06.000Z"))
    )
    faults = {fault.code: fault for fault in verify(bad, log.trust(), AT).faults}
    here = faults["inclusion-proof"].place
    assert (here.index, here.chain, here.n) == (index, f"form/{log.form}", 3)
    after = faults["broken-chain"].place
    assert (after.index, after.chain, after.n) == (index_of(log, 4), f"form/{log.form}", 4)
    assert str(here) == f"form/{log.form} entry 3, log index {index}"
    (shown_twice,) = verify(
        changed(log.bundle(), index, lambda e: replace(e, disclosures=e.disclosures * 2)), log.trust(), AT
    ).faults
    printed = grouped(log.samples[1])
    assert str(shown_twice.place) == f"form/{log.form} entry 3, log index {index}, sample {printed}"


def test_all_faults_are_shown_in_the_order_of_the_steps() -> None:
    """An auditor who sees one fault at a time needs as many visits as there are faults."""
    log = told()
    bad = without(log.bundle(), index_of(log, 4))
    bad = changed(bad, index_of(log, 1), lambda e: replace(e, disclosures=e.disclosures * 2))
    bad = changed(bad, index_of(log, 12), lambda e: replace(e, proof=()))
    found = verify(replace(bad, note=bad.note.replace("ledger", "1edger")), log.trust(), AT)
    steps = [fault.step for fault in found.faults]
    assert steps == sorted(steps)
    assert {2, 3, 4, 5} <= set(steps)


def test_within_a_step_faults_come_in_the_order_of_the_log() -> None:
    """An auditor who goes through the log from its beginning would have to go back for every second fault."""
    log = told()
    chain, root = f"org/{FIRM}", log.device(ROOT).key.kid
    data = {"org": LAB, "root": root}
    late = [log.append(chain, log.signed(ROOT, chain, "endorsed", data, said=LATER)) for _ in range(2)]
    early = [log.find(f"org/{LAB}", n) for n in (2, 3)]
    middle = [index_of(log, n) for n in (3, 4)]
    bad = without(log.bundle(), log.find(f"lot/{log.lots[0]}", 1))
    for index, _ in (late, early, middle):
        bad = changed(bad, index, lambda e: replace(e, text=e.text.replace('.000Z"', '.001Z"')))
    found = verify(bad, log.trust(), AT).faults
    broken = [fault.place.index for fault in found if fault.code in {"entry-missing", "broken-chain"}]
    assert broken == [None, early[1], middle[1], late[1]]
    places = [(fault.step, -1 if fault.place.index is None else fault.place.index) for fault in found]
    assert places == sorted(places)


def test_missing_entries_are_named_from_the_first_to_the_last() -> None:
    """An auditor would ask for one entry when three are missing, and get a file that is short of two."""
    log = told()
    for gone, which in (
        ((1,), "Entry 1 of {} is not here"),
        ((1, 2, 3), "Entries 1 to 3 of {} are not here"),
        ((5,), "Entry 5 of {} is not here"),
        ((5, 6), "Entries 5 to 6 of {} are not here"),
    ):
        bad = without(log.bundle(), *(index_of(log, n) for n in gone))
        (fault,) = (each for each in verify(bad, log.trust(), AT).faults if each.code == "entry-missing")
        chain = f"form/{log.form}"
        assert (fault.place.chain, fault.place.n, fault.place.index) == (chain, gone[0], None)
        assert fault.sentence == which.format(chain) + ", or cannot be read."


def test_one_statement_that_cannot_be_read_hides_no_other() -> None:
    """Everything recorded after one line of rubbish would go unread, and the signers after it would not be
    named.
    """
    log = told()
    rubbish = [index_of(log, 3), index_of(log, 5)]
    taker = Person(FIRM, "root", "Taker")
    data = {"name": "Harrow Field", "jwk": log.device(taker).key.jwk, "recovery": None}
    log.append(f"org/{FIRM}", log.signed(taker, f"org/{FIRM}", "founded", data, said=LATER))
    log.append(f"form/{log.form}", keep(log, ANALYST))
    bad = log.bundle()
    for index in rubbish:
        bad = changed(bad, index, lambda e: with_statement(e, lambda s: replaced(s, s.split(".")[1], "AAAA")))
    found = verify(bad, log.trust(), AT)
    assert [fault.place.index for fault in found.faults if fault.step == 5] == rubbish
    assert ANALYST.name in {each.person for each in found.signers}
    assert found.entries[-1].person == ANALYST.name


def test_what_is_not_believed_is_left_out_of_custody() -> None:
    """A forged hand-over would appear in the story of a sample as if somebody had signed it."""
    log = told()
    data = {"samples": log.samples, "how": "archived", "at": LATER}
    header, payload, _ = log.signed(ANALYST, f"form/{log.form}", "disposed", data, said=LATER).split(".")
    log.append(f"form/{log.form}", f"{header}.{payload}.{b64u(seeded('forger').sign(b'-'))}")
    found = verify(log.bundle(), log.trust(), AT)
    assert found.left_out == 1
    assert {sample.status for sample in found.samples} == {"accepted"}
    assert all(line.act != "disposed" for line in found.entries)


@pytest.mark.parametrize("n", range(2, 13))
def test_nobody_is_accused_of_what_was_altered_or_taken_out(n: int) -> None:
    """Somebody changes one byte of a clerk's receipt, and the report says that the clerk sealed and shipped
    what the clerk never held.
    """
    log = told()

    def change(stmt: str) -> str:
        header, payload, _ = stmt.split(".")
        return f"{header}.{payload}.{b64u(seeded('forger').sign(b'-'))}"

    at = index_of(log, n)
    for bad in (changed(log.bundle(), at, lambda e: with_statement(e, change)), without(log.bundle(), at)):
        found = verify(bad, log.trust(), AT)
        assert (found.state, found.findings) == ("broken", ())
        assert {each.state for each in found.verdicts[1:]} == {"not judged"}


def test_without_a_log_key_nothing_counts_as_checked() -> None:
    """An auditor who forgot the key would read a report that sounds as if the log had been checked."""
    log = told()
    found = verify(log.bundle(), Trust(log.trust().roots, ()), AT)
    assert (found.state, found.faults) == ("not under your keys", ())
    assert [each.code for each in found.other_keys] == ["other-log-key"]


def test_a_form_whose_beginning_is_not_believed_has_no_story() -> None:
    """Without the opening nobody knows whose form it is; a story told all the same would be invented."""
    log = told()
    found = verify(without(log.bundle(), index_of(log, 1)), log.trust(), AT)
    assert (found.visit, found.samples, found.findings) == (None, (), ())
    assert [verdict.area for verdict in found.verdicts] == ["records"]


def test_a_report_of_faults_is_plain_data() -> None:
    """A program that reads the report would have to parse sentences."""
    log = told()
    found: Report = verify(without(log.bundle(), index_of(log, 4)), log.trust(), AT)
    told_json = found.to_json()
    assert told_json["state"] == "broken"
    assert {"step": 4, "code": "entry-missing"}.items() <= told_json["faults"][0].items()
