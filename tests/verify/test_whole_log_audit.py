"""What only an audit of a whole log sees or adds up, and that it accuses nobody who may speak."""

from __future__ import annotations

from dataclasses import replace
from hashlib import sha256

import pytest

from bailee.errors import BaileeError
from bailee.ledger.base64url import b64u
from bailee.signing import signed_statement
from bailee.verify import bundle
from bailee.verify.log_audit import Audit, leaf_of
from bailee.verify.result import Report
from builders import FIRM, QUALITY, ROOT, SECOND_LAB, SECOND_LAB_ROOT, Person
from case_folders import FOLDERS, judged_cases
from log_simulator import LogSimulator, seeded, told
from spoiling import LATER, WeakKey, enrollment, keep, other_laboratory


def audited(log: LogSimulator) -> tuple[Audit, dict[int, list[str]]]:
    """The audit, and what it says by index of the log."""
    audit = Audit(log.origin)
    said = {index: list(audit.read(each.text, each.disclosures)) for index, each in enumerate(log.log)}
    return audit, {index: sentences for index, sentences in said.items() if sentences}


OF_A_FILE = {
    "checkpoint-of-another-log",
    "entry-removed",
    "first-entry-removed",
    "index-twice",
    "log-contradicts-its-own-word",
    "organization-left-out",
    "refused-explains-nothing",
    "revocation-left-out",
}
"""Folders whose log is sound: whoever wrote the file left something out, showed it twice, or brought another
checkpoint."""
NOT_OF_A_LOG = {
    "wrong-end": "the log's word on where chains end belongs to one file",
    "chain-missing": "a whole log has every chain that it has",
    "chain-added": "as above",
    "entry-missing": "told at the next entry of the chain, which does not go on from the one before",
    "log-order": "as above: a whole log is read in its own order",
    "no-conflict": "contradictions lie beside the log",
    "no-refusal": "refused texts lie beside the log",
    "proof-missing": "a tree head that a device had seen is reckoned again, not proven",
    "consistency-proof": "as above",
    "token": "time stamps lie beside the log",
}
"""Faults of a file that a whole log cannot have, and why."""


@pytest.mark.slow
def test_every_fault_of_an_entry_in_a_file_is_one_of_the_whole_log() -> None:
    """A monitor would cosign, and an operator call sound, a log whose every file is broken."""
    compared: set[str] = set()
    named: set[str] = set()
    for case, report in (each for folder in FOLDERS for each in judged_cases(folder)):
        if not isinstance(report, Report):
            continue
        faults = [each for each in report.faults if 4 <= each.step <= 8]
        named |= {each.code for each in faults}
        shown = bundle.read(case.file).entries
        log = case.town.log
        if case.name.split()[0] in OF_A_FILE or any(
            each.index >= len(log) or log[each.index].text != each.text for each in shown
        ):
            continue
        _, said = audited(case.town)
        here = {each.place.index: each.code for each in faults if each.place.index is not None}
        here = {index: code for index, code in here.items() if code not in NOT_OF_A_LOG}
        compared |= set(here.values())
        assert here.keys() - said.keys() == set(), case.name
        if not report.faults:
            assert said.keys() & {each.index for each in shown} == set(), case.name
    only_a_file = named - compared
    assert only_a_file == NOT_OF_A_LOG.keys()


def test_a_weak_key_is_named_where_it_first_speaks() -> None:
    """Anybody could sign in its name, and two programs would disagree about it (RFC 8032 5.1.7; C2SP CCTV
    ed25519).
    """
    log = told()
    weak = Person(FIRM, "clerk", "Weak")
    log.device(weak).key = WeakKey()  # type: ignore[assignment]
    log.append(f"org/{FIRM}", enrollment(log, weak, ROOT))
    spoke = log.append(f"form/{log.form}", keep(log, weak))
    _, said = audited(log)
    assert list(said) == [spoke - 1, spoke]  # the proof that comes with its enrollment, and what it says
    assert "weak" in said[spoke - 1][0]
    assert "enrolled" in said[spoke][0]


def test_a_private_field_beside_the_log_must_be_the_one_that_was_signed() -> None:
    """An operator could exchange a client's name in the database, and the operator's own check would find
    nothing.
    """
    log = told()
    opening = log.find(f"form/{log.form}", 1)
    false = b64u(b'["AAAAAAAAAAAAAAAAAAAAAA","client","Somebody else"]')
    log.log[opening] = replace(log.log[opening], disclosures=(*log.log[opening].disclosures[1:], false))
    _, said = audited(log)
    assert list(said) == [opening]


def test_only_a_root_key_makes_a_root_key() -> None:
    """A stolen administrator's phone would lock the owners out, and whoever mirrors the log would not be told
    (own rule, deploy/keys.md).
    """
    log = told()
    administrator, second = Person(FIRM, "admin", "Administrator"), Person(FIRM, "root", "Second root")
    log.append(f"org/{FIRM}", enrollment(log, administrator, ROOT))
    made = log.append(f"org/{FIRM}", enrollment(log, second, administrator))
    _, said = audited(log)
    assert list(said) == [made]
    assert "root" in said[made][0]


def test_a_recovered_organization_is_no_trouble() -> None:
    """An organization that lost its root key and used its recovery key would be accused by every monitor."""
    log = told()
    recovery, new = seeded("recovery"), Person(SECOND_LAB, "root", "New root")
    other_laboratory(log, recovery.kid)
    chain, key = f"org/{SECOND_LAB}", log.device(new).key
    data = {
        "recovery_jwk": recovery.jwk,
        "kid": key.kid,
        "jwk": key.jwk,
        "proof": log.proof_of(new),
        "since": LATER,
    }
    by = Person(SECOND_LAB, "root", "Recovery")
    log.append(chain, log.signed(by, chain, "recovered", data, said=LATER, key=recovery))
    log.append(chain, enrollment(log, Person(SECOND_LAB, "custodian", "New custodian"), new))
    assert audited(log)[1] == {}
    late = log.append(chain, enrollment(log, Person(SECOND_LAB, "clerk", "Clerk"), SECOND_LAB_ROOT))
    assert list(audited(log)[1]) == [late]


def test_erasures_of_one_statement_are_added_up() -> None:
    """Fields that came back from an old copy of the database would be counted as never erased."""
    log = told()
    chain = f"form/{log.form}"
    opening, run = (signed_statement.digest(log.log[log.find(chain, n)].entry.stmt) for n in (1, 2))
    for statement, count in ((opening, 1), (opening, 2), (run, 1)):
        data = {"statement": statement, "count": count}
        log.append(chain, log.signed(QUALITY, chain, "erased", data, said=LATER))
    audit, said = audited(log)
    assert said == {}
    assert audit.erased == {opening: 3, run: 1}


def test_whatever_bytes_a_log_shows_are_hashed_as_they_came() -> None:
    """A log that publishes rubbish would stop the monitor, or be compared with another tree than it signed
    (RFC 9162 2.1.1).
    """
    audit = Audit("ledger.example/log1")
    shown = [b"\xff not text", b"{}"]
    for data in shown:
        assert list(audit.read(data.decode("utf-8", "surrogateescape")))
    left, right = (sha256(b"\x00" + data).digest() for data in shown)
    assert audit.root(2) == sha256(b"\x01" + left + right).digest()
    assert leaf_of(shown[0].decode("utf-8", "surrogateescape")) == b64u(left)


def test_the_rows_of_the_tree_are_the_hashes_of_the_entries() -> None:
    """The operator's check would find every stored tile false, or none (C2SP tlog-tiles: level 0 are the leaf
    hashes).
    """
    log = told()
    audit, _ = audited(log)
    leaves = b"".join(sha256(b"\x00" + each.text.encode()).digest() for each in log.log)
    assert list(audit.tiles()) == [(0, 0, leaves)]


def test_a_root_of_more_than_was_read_is_refused() -> None:
    """A monitor would stop with an error of its own when a log shows fewer entries than its checkpoint
    counts.
    """
    audit, _ = audited(told("opened"))
    with pytest.raises(BaileeError):
        audit.root(audit.size + 1)
    with pytest.raises(BaileeError):
        Audit("ledger.example/log1").root(1)
