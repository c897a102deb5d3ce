"""Every way to spoil a bundle, by name: what the verifier must say, at which step, and nothing else.

An id ending in `_fail` is a bundle that must be found broken. `_by_operator` means that whoever spoilt it holds the log's key and rebuilt
the tree, so that all proofs hold; otherwise somebody changed a file that was sound.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any, Final

import pytest

from bailee.domain.moments import Moment
from bailee.ledger import entry as entries
from bailee.ledger.base64url import b64u, unb64u
from bailee.signing import signed_statement
from bailee.signing.keys import jwk_of, thumbprint
from bailee.signing.signed_statement import Seen
from bailee.verify.bundle import Bundle, Earlier, Placed
from bailee.verify.result import Report
from bailee.verify.verifier import Trust, verify
from builders import (
    ANALYST,
    CLERK,
    DAY,
    FIRM,
    INSPECTOR,
    LAB_QUALITY,
    QUALITY,
    ROOT,
    SECOND_INSPECTOR,
    Person,
)
from log_simulator import AT, LogSimulator, seeded, told

Case = Callable[[LogSimulator], Bundle]
CASES: Final[list[Any]] = []
LATER: Final = "2026-12-02T12:00:00-06:00"


def spoilt(name: str, *expected: tuple[int, str]) -> Callable[[Case], Case]:
    """Enter a case: its name, and the (step, code) of every kind of fault that must be found."""

    def enter(case: Case) -> Case:
        CASES.append(pytest.param(case, set(expected), id=f"{name}_fail"))
        return case

    return enter


@pytest.mark.parametrize(("case", "expected"), CASES)
def test_spoilt_bundles_are_found_broken(case: Case, expected: set[tuple[int, str]]) -> None:
    """A dispute would be decided on records that somebody changed, and nobody would know where to look."""
    log = told()
    found = verify(case(log), log.trust(), AT)
    assert {(fault.step, fault.code) for fault in found.faults} == expected
    assert found.state == "broken"
    assert found.verdicts[0].state == "broken"
    assert all("rests on broken records" in verdict.sentence for verdict in found.verdicts[1:])
    assert all(fault.sentence for fault in found.faults)


def form(log: LogSimulator, n: int) -> int:
    """Log index of entry `n` of the form."""
    return log.find(f"form/{log.form}", n)


def changed(sound: Bundle, index: int, change: Callable[[Placed], Placed]) -> Bundle:
    """The bundle with one entry changed."""
    return replace(sound, entries=tuple(change(e) if e.index == index else e for e in sound.entries))


def without(sound: Bundle, *indexes: int) -> Bundle:
    """The bundle without some entries."""
    return replace(sound, entries=tuple(each for each in sound.entries if each.index not in indexes))


def speak(log: LogSimulator, by: Person = CLERK, **how: Any) -> str:
    """A harmless statement on the form, spoilt by `how`."""
    data = {"secured": "locked", "where": "office", "since": f"{DAY}T16:00:00-05:00"}
    return log.signed(by, f"form/{log.form}", "held", data, said=LATER, **how)


# Somebody changes a sound file


@spoilt("recorded-time-changed", (3, "inclusion-proof"), (4, "broken-chain"), (7, "unknown-entry"))
def _(log: LogSimulator) -> Bundle:
    return changed(
        log.bundle(),
        form(log, 3),
        lambda e: replace(e, text=e.text.replace("14:33:05.000Z", "14:33:06.000Z")),
    )


@spoilt(
    "one-byte-of-a-statement",
    (3, "inclusion-proof"),
    (4, "broken-chain"),
    (6, "bad-signature"),
    (7, "unknown-entry"),
)
def _(log: LogSimulator) -> Bundle:
    def change(each: Placed) -> Placed:
        found = entries.read(each.text)
        header, payload, signature = found.stmt.split(".")
        other = b64u(unb64u(payload).replace(b'"secured":"locked"', b'"secured":"sealed"'))
        return replace(each, text=entries.write(replace(found, stmt=f"{header}.{other}.{signature}")))

    return changed(log.bundle(), form(log, 5), change)


@spoilt("entry-with-a-space", (3, "not-canonical"), (4, "entry-missing"), (7, "unknown-entry"))
def _(log: LogSimulator) -> Bundle:
    return changed(log.bundle(), form(log, 5), lambda e: replace(e, text=e.text.replace('"n":5', '"n": 5')))


@spoilt("entry-removed", (4, "entry-missing"), (7, "unknown-entry"))
def _(log: LogSimulator) -> Bundle:
    return without(log.bundle(), form(log, 4))


@spoilt("first-entry-removed", (4, "entry-missing"), (7, "unknown-entry"))
def _(log: LogSimulator) -> Bundle:
    return without(log.bundle(), form(log, 1))


@spoilt("two-entries-swapped", (3, "inclusion-proof"), (4, "log-order"), (8, "seen-later"))
def _(log: LogSimulator) -> Bundle:
    sound = log.bundle()
    first, second = form(log, 3), form(log, 4)
    places = {first: second, second: first}
    return replace(
        sound, entries=tuple(replace(e, index=places.get(e.index, e.index)) for e in sound.entries)
    )


@spoilt("forged-signature", (3, "inclusion-proof"), (6, "bad-signature"))
def _(log: LogSimulator) -> Bundle:
    def forge(each: Placed) -> Placed:
        found = entries.read(each.text)
        signing_input = found.stmt.rpartition(".")[0]
        made = b64u(seeded("forger").sign(signing_input.encode()))
        return replace(each, text=entries.write(replace(found, stmt=f"{signing_input}.{made}")))

    return changed(log.bundle(), form(log, 12), forge)


@spoilt("proof-missing", (3, "proof-missing"))
def _(log: LogSimulator) -> Bundle:
    return changed(log.bundle(), form(log, 3), lambda e: replace(e, proof=()))


@spoilt("proof-of-another-entry", (3, "inclusion-proof"))
def _(log: LogSimulator) -> Bundle:
    return changed(log.bundle(), form(log, 3), lambda e: replace(e, proof=log.placed(form(log, 4)).proof))


@spoilt("index-twice", (3, "index-twice"), (4, "number-twice"), (7, "statement-twice"))
def _(log: LogSimulator) -> Bundle:
    sound = log.bundle()
    return replace(sound, entries=(*sound.entries, sound.entries[-1]))


@spoilt("index-beyond-the-log", (3, "inclusion-proof"))
def _(log: LogSimulator) -> Bundle:
    return changed(log.bundle(), form(log, 12), lambda e: replace(e, index=99))


@spoilt(
    "checkpoint-of-another-log",
    (2, "checkpoint"),
    (3, "inclusion-proof"),
    (5, "wrong-audience"),
    (8, "consistency-proof"),
)
def _(log: LogSimulator) -> Bundle:
    return replace(log.bundle(), note=LogSimulator(origin="ledger.example/log2").note())


@spoilt("checkpoint-by-another-key", (2, "checkpoint"))
def _(log: LogSimulator) -> Bundle:
    sound = log.bundle()
    log.log_key = seeded("another operator")
    note = log.note()
    log.log_key = seeded("log", log.origin)
    return replace(sound, note=note)


@spoilt("checkpoint-of-an-older-log", (3, "inclusion-proof"), (8, "consistency-proof"))
def _(log: LogSimulator) -> Bundle:
    return replace(log.bundle(), note=log.note(len(log.log) - 2))


@spoilt("checkpoint-unreadable", (2, "note"))
def _(log: LogSimulator) -> Bundle:
    return replace(log.bundle(), note="no checkpoint")


@spoilt("named-as-another-form", (4, "chain-missing"))
def _(log: LogSimulator) -> Bundle:
    return replace(log.bundle(), form=log.number("form"))


@spoilt("organisation-left-out", (4, "chain-missing"), (6, "unknown-key"))
def _(log: LogSimulator) -> Bundle:
    sound = log.bundle()
    return without(sound, *(e.index for e in sound.entries if '"org/quill-lab"' in e.text))


@spoilt("disclosure-changed", (9, "wrong-disclosure"))
def _(log: LogSimulator) -> Bundle:
    false = b64u(b'["AAAAAAAAAAAAAAAAAAAAAA","client","Somebody else"]')
    return changed(log.bundle(), form(log, 1), lambda e: replace(e, disclosures=(*e.disclosures[1:], false)))


@spoilt("disclosure-twice", (9, "wrong-disclosure"))
def _(log: LogSimulator) -> Bundle:
    return changed(log.bundle(), form(log, 1), lambda e: replace(e, disclosures=e.disclosures * 2))


@spoilt("disclosure-unreadable", (9, "not-canonical"))
def _(log: LogSimulator) -> Bundle:
    return changed(log.bundle(), form(log, 1), lambda e: replace(e, disclosures=("ä",)))


@spoilt("earlier-tree-head-false", (8, "consistency-proof"))
def _(log: LogSimulator) -> Bundle:
    sound = log.bundle()
    false = Earlier(7, bytes(32), sound.earlier[0].proof)
    return replace(sound, earlier=(*sound.earlier, false))


@spoilt("revocation-left-out", (4, "entry-missing"), (7, "unknown-entry"))
def _(log: LogSimulator) -> Bundle:
    log.revoked(SECOND_INSPECTOR, since=LATER, last_good_seq=0)
    index = len(log.log) - 1
    log.revoked(QUALITY, since=LATER, last_good_seq=0)
    return without(log.bundle(), index)


# The operator logs what an honest ledger refuses


@spoilt("forged-signature_by_operator", (6, "bad-signature"))
def _(log: LogSimulator) -> Bundle:
    header, payload, _ = speak(log).split(".")
    made = b64u(seeded("forger").sign(f"{header}.{payload}".encode()))
    log.append(f"form/{log.form}", f"{header}.{payload}.{made}")
    return log.bundle()


@spoilt("key-replaced_by_operator", (6, "bad-signature"), (6, "unknown-key"), (7, "unknown-entry"))
def _(log: LogSimulator) -> Bundle:
    # The inspector's enrolment is made to name a key of the operator, and the organisation's chain is joined again.
    index = log.find(f"org/{FIRM}", 2)
    found = log.log[index].entry
    header, payload, signature = found.stmt.split(".")
    own, other = log.device(INSPECTOR).key, seeded("operator")
    swapped = unb64u(payload).decode().replace(own.kid, other.kid).replace(own.jwk["x"], other.jwk["x"])
    log.rewrite(index, entries.write(replace(found, stmt=f"{header}.{b64u(swapped.encode())}.{signature}")))
    log.rechain(index)
    return replace(log.bundle(), earlier=())


@spoilt("removed-and-joined-again_by_operator", (7, "unknown-entry"), (8, "seen-later"))
def _(log: LogSimulator) -> Bundle:
    index = form(log, 5)
    log.remove(index)
    log.rechain(index)
    return log.bundle()


@spoilt("recorded-later-and-joined-again_by_operator", (7, "unknown-entry"), (8, "two-histories"))
def _(log: LogSimulator) -> Bundle:
    index = form(log, 4)
    found = log.log[index].entry
    log.rewrite(index, entries.write(replace(found, rec="2026-12-01T14:49:00.000Z")))
    log.rechain(index)
    return log.bundle()


@spoilt("unenrolled-key_by_operator", (6, "unknown-key"))
def _(log: LogSimulator) -> Bundle:
    stranger = Person(FIRM, "clerk", "Stranger")
    log.append(f"form/{log.form}", speak(log, stranger))
    return log.bundle()


@spoilt("enrolled-only-later_by_operator", (6, "unknown-key"))
def _(log: LogSimulator) -> Bundle:
    late = Person(FIRM, "clerk", "Late")
    log.append(f"form/{log.form}", speak(log, late))
    log.append(f"org/{FIRM}", _enrolment(log, late, ROOT))
    return log.bundle()


@spoilt("rogue-enrolment_by_operator", (6, "wrong-role"), (6, "unknown-key"))
def _(log: LogSimulator) -> Bundle:
    rogue = Person(FIRM, "clerk", "Rogue")
    log.append(f"org/{FIRM}", _enrolment(log, rogue, INSPECTOR))
    log.append(f"form/{log.form}", speak(log, rogue))
    return log.bundle()


@spoilt("enrolment-without-proof_by_operator", (6, "bad-key-proof"))
def _(log: LogSimulator) -> Bundle:
    newcomer = Person(FIRM, "clerk", "Newcomer")
    log.append(f"org/{FIRM}", _enrolment(log, newcomer, ROOT, proof=log.proof_of(CLERK)))
    return log.bundle()


@spoilt("enrolment-under-another-name_by_operator", (6, "wrong-key-name"))
def _(log: LogSimulator) -> Bundle:
    newcomer = Person(FIRM, "clerk", "Newcomer")
    log.append(f"org/{FIRM}", _enrolment(log, newcomer, ROOT, kid=log.device(CLERK).key.kid))
    return log.bundle()


@spoilt("founded-twice_by_operator", (6, "wrong-form"))
def _(log: LogSimulator) -> Bundle:
    taker = Person(FIRM, "root", "Taker")
    data = {"name": "Harrow Field", "jwk": log.device(taker).key.jwk, "recovery": None}
    log.append(f"org/{FIRM}", log.signed(taker, f"org/{FIRM}", "founded", data, said=LATER))
    return log.bundle()


@spoilt("founded-twice-as-first_by_operator", (4, "number-twice"), (6, "unknown-key"))
def _(log: LogSimulator) -> Bundle:
    taker, hand = Person(FIRM, "root", "Taker"), Person(FIRM, "clerk", "Hand")
    data = {"name": "Harrow Field", "jwk": log.device(taker).key.jwk, "recovery": None}
    log.append(f"org/{FIRM}", log.signed(taker, f"org/{FIRM}", "founded", data, said=LATER), n=1)
    log.append(
        f"org/{FIRM}", _enrolment(log, hand, taker), n=9, prev=log.log[log.find(f"org/{FIRM}", 8)].leaf
    )
    return log.bundle()


@spoilt("opened-twice-as-first_by_operator", (4, "number-twice"), (6, "wrong-organisation"))
def _(log: LogSimulator) -> Bundle:
    # The second opening would let a stranger's organisation write on the form.
    stranger, clerk = (
        Person("alder-brook", "root", "Stranger"),
        Person("alder-brook", "clerk", "Clerk of a stranger"),
    )
    chain = "org/alder-brook"
    jwk = log.device(stranger).key.jwk
    log.append(
        chain,
        log.signed(stranger, chain, "founded", {"name": "Alder", "jwk": jwk, "recovery": None}, said=LATER),
    )
    log.append(chain, _enrolment(log, clerk, stranger))
    opened = signed_statement.read(log.log[form(log, 1)].entry.stmt).claims.data
    ours = {**opened, "parties": {"firm": "alder-brook", "lab": "alder-brook"}}
    log.append(f"form/{log.form}", log.signed(clerk, f"form/{log.form}", "opened", ours, said=LATER), n=1)
    log.append(f"form/{log.form}", speak(log, clerk), n=13, prev=log.log[form(log, 12)].leaf)
    return replace(log.bundle(), entries=tuple(log.placed(i) for i in range(len(log.log))))


@spoilt("weak-key_by_operator", (6, "weak-key"))
def _(log: LogSimulator) -> Bundle:
    """The identity point as public key: R = B, S = 1 is then a signature over every message (RFC 8032 5.1.7, equation)."""
    weak = _WeakKey()
    person = Person(FIRM, "clerk", "Weak")
    log.device(person).key = weak  # type: ignore[assignment]
    log.append(f"org/{FIRM}", _enrolment(log, person, ROOT))
    log.append(f"form/{log.form}", speak(log, person))
    return log.bundle()


@spoilt("statement-on-another-form_by_operator", (5, "wrong-form"))
def _(log: LogSimulator) -> Bundle:
    data = {"secured": "locked", "where": "office", "since": f"{DAY}T16:00:00-05:00"}
    other = log.signed(CLERK, f"form/{log.number('form')}", "held", data, said=LATER)
    log.append(f"form/{log.form}", other)
    return log.bundle()


@spoilt("statement-for-another-log_by_operator", (5, "wrong-audience"))
def _(log: LogSimulator) -> Bundle:
    log.append(f"form/{log.form}", speak(log, aud="ledger.example/test"))
    return log.bundle()


@spoilt("statement-of-no-known-act_by_operator", (6, "bad-statement"))
def _(log: LogSimulator) -> Bundle:
    log.append(f"form/{log.form}", log.signed(CLERK, f"form/{log.form}", "teleported", {}, said=LATER))
    return log.bundle()


@spoilt("recorded-backwards_by_operator", (4, "recorded-backwards"))
def _(log: LogSimulator) -> Bundle:
    log.append(f"form/{log.form}", speak(log), rec=Moment.parse(f"{DAY}T08:00:00-05:00"))
    return log.bundle()


@spoilt("previous-entry-denied_by_operator", (4, "broken-chain"))
def _(log: LogSimulator) -> Bundle:
    log.append(f"form/{log.form}", speak(log), prev=log.log[form(log, 11)].leaf)
    return log.bundle()


@spoilt("number-left-out_by_operator", (4, "entry-missing"))
def _(log: LogSimulator) -> Bundle:
    log.append(f"form/{log.form}", speak(log), n=14)
    return log.bundle()


@spoilt("number-twice_by_operator", (4, "number-twice"))
def _(log: LogSimulator) -> Bundle:
    log.append(f"form/{log.form}", speak(log), n=12, prev=log.log[form(log, 11)].leaf)
    return log.bundle()


@spoilt("opened-again_by_operator", (6, "wrong-form"))
def _(log: LogSimulator) -> Bundle:
    data = signed_statement.read(log.log[form(log, 1)].entry.stmt).claims.data
    log.append(f"form/{log.form}", log.signed(INSPECTOR, f"form/{log.form}", "opened", data, said=LATER))
    return log.bundle()


@spoilt("wrong-role_by_operator", (6, "wrong-role"))
def _(log: LogSimulator) -> Bundle:
    data = {"samples": log.samples[:1], "at": LATER, "reasons": ["other"]}
    log.append(f"form/{log.form}", log.signed(ANALYST, f"form/{log.form}", "rejected", data, said=LATER))
    return log.bundle()


@spoilt("not-a-party_by_operator", (6, "wrong-organisation"))
def _(log: LogSimulator) -> Bundle:
    data = {"reason": "other"}
    log.append(
        f"lot/{log.lots[0]}", log.signed(LAB_QUALITY, f"lot/{log.lots[0]}", "recalled", data, said=LATER)
    )
    return log.bundle()


@spoilt("revoked-key-beyond-its-count_by_operator", (6, "revoked-key"))
def _(log: LogSimulator) -> Bundle:
    log.revoked(CLERK, since=f"{DAY}T18:00:00-05:00", last_good_seq=log.device(CLERK).seq)
    log.append(f"form/{log.form}", speak(log))
    return log.bundle()


@spoilt("device-counts-twice_by_operator", (7, "device-fork"))
def _(log: LogSimulator) -> Bundle:
    device = log.device(CLERK)
    seq, prev = device.seq, signed_statement.read(log.log[form(log, 10)].entry.stmt).claims.prev
    log.append(f"form/{log.form}", speak(log, seq=seq, prev=prev))
    return log.bundle()


@spoilt("device-denies-what-it-said_by_operator", (7, "device-fork"))
def _(log: LogSimulator) -> Bundle:
    log.append(f"form/{log.form}", speak(log, prev=b64u(bytes(32))))
    return log.bundle()


@spoilt("device-begins-again_by_operator", (7, "device-fork"))
def _(log: LogSimulator) -> Bundle:
    log.append(f"form/{log.form}", speak(log, seq=40, prev=None))
    return log.bundle()


@spoilt("device-begins-with-a-past_by_operator", (7, "device-fork"))
def _(log: LogSimulator) -> Bundle:
    log.append(f"form/{log.form}", speak(log, SECOND_INSPECTOR, prev=b64u(bytes(32))))
    return log.bundle()


@spoilt("statement-logged-twice_by_operator", (7, "statement-twice"))
def _(log: LogSimulator) -> Bundle:
    log.append(f"form/{log.form}", log.log[form(log, 8)].entry.stmt)
    return log.bundle()


@spoilt("saw-an-entry-that-is-not-here_by_operator", (7, "unknown-entry"))
def _(log: LogSimulator) -> Bundle:
    log.append(f"form/{log.form}", speak(log, after=b64u(bytes(32))))
    return log.bundle()


@spoilt("saw-an-entry-of-another-chain_by_operator", (7, "unknown-entry"))
def _(log: LogSimulator) -> Bundle:
    log.append(f"form/{log.form}", speak(log, after=log.log[0].leaf))
    return log.bundle()


@spoilt("saw-a-longer-log_by_operator", (8, "seen-later"))
def _(log: LogSimulator) -> Bundle:
    log.append(f"form/{log.form}", speak(log, seen=Seen(len(log.log) + 1, b64u(bytes(32)))))
    return log.bundle()


@spoilt("saw-another-log-of-that-size_by_operator", (8, "two-histories"))
def _(log: LogSimulator) -> Bundle:
    log.append(f"form/{log.form}", speak(log, seen=Seen(len(log.log), b64u(bytes(32)))))
    return log.bundle()


@spoilt("saw-a-root-in-another-spelling_by_operator", (8, "two-histories"))
def _(log: LogSimulator) -> Bundle:
    root = log.seen().root  # type: ignore[union-attr]
    spelling = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"
    other = root[:-1] + spelling[spelling.index(root[-1]) ^ 1]
    log.append(f"form/{log.form}", speak(log, seen=Seen(len(log.log), other)))
    return log.bundle()


@spoilt("saw-another-empty-log_by_operator", (8, "two-histories"))
def _(log: LogSimulator) -> Bundle:
    log.append(f"form/{log.form}", speak(log, seen=Seen(0, b64u(bytes(32)))))
    return log.bundle()


def _enrolment(log: LogSimulator, newcomer: Person, by: Person, **changes: Any) -> str:
    key = log.device(newcomer).key
    data = {
        "kid": key.kid, "jwk": key.jwk, "role": newcomer.role, "proof": log.proof_of(newcomer), "identity_check": "known",
    }  # fmt: skip
    return log.signed(by, f"org/{by.org}", "enrolled", {**data, **changes}, said=LATER)


class _WeakKey:
    """Signs anything without knowing anything. The encoding of B is RFC 8032 5.1's base point."""

    public = bytes([1]) + bytes(31)
    jwk = jwk_of(public)
    kid = thumbprint(jwk)

    def sign(self, message: bytes) -> bytes:
        """R = B, S = 1."""
        return bytes([0x58]) + bytes([0x66]) * 31 + bytes([1]) + bytes(31)


# Where the fault lies


def test_a_fault_names_its_exact_place() -> None:
    """Counsel would be told that something is wrong, and not which line of which record."""
    log = told()
    index = form(log, 3)
    bad = changed(
        log.bundle(), index, lambda e: replace(e, text=e.text.replace("14:33:05.000Z", "14:33:06.000Z"))
    )
    faults = {fault.code: fault for fault in verify(bad, log.trust(), AT).faults}
    here = faults["inclusion-proof"].place
    assert (here.index, here.chain, here.n) == (index, f"form/{log.form}", 3)
    after = faults["broken-chain"].place
    assert (after.index, after.chain, after.n) == (form(log, 4), f"form/{log.form}", 4)
    assert str(here) == f"form/{log.form} entry 3, log index {index}"
    (shown_twice,) = verify(
        changed(log.bundle(), index, lambda e: replace(e, disclosures=e.disclosures * 2)), log.trust(), AT
    ).faults
    assert str(shown_twice.place) == f"form/{log.form} entry 3, log index {index}, sample {log.samples[1]}"


def test_all_faults_are_shown_in_the_order_of_the_steps() -> None:
    """An auditor who sees one fault at a time needs as many visits as there are faults."""
    log = told()
    bad = without(log.bundle(), form(log, 4))
    bad = changed(bad, form(log, 1), lambda e: replace(e, disclosures=e.disclosures * 2))
    bad = changed(bad, form(log, 12), lambda e: replace(e, proof=()))
    found = verify(replace(bad, note=bad.note.replace("ledger", "1edger")), log.trust(), AT)
    steps = [fault.step for fault in found.faults]
    assert steps == sorted(steps)
    assert {2, 3, 4, 5} <= set(steps)


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


def test_without_a_log_key_nothing_counts_as_checked() -> None:
    """An auditor who forgot the key would read a report that sounds as if the log had been checked."""
    log = told()
    found = verify(log.bundle(), Trust(log.trust().roots, ()), AT)
    assert [(fault.step, fault.code) for fault in found.faults] == [(2, "checkpoint")]


def test_another_root_is_another_organisation() -> None:
    """Anybody can found an organisation of the same name and sign a whole history for it."""
    log = told()
    found = verify(log.bundle(), log.trust(harrow=seeded("impostor").kid), AT)
    assert [(fault.step, fault.code, fault.place.index) for fault in found.faults] == [(6, "wrong-root", 0)]


def test_a_form_whose_beginning_is_not_believed_has_no_story() -> None:
    """Without the opening nobody knows whose form it is; a story told all the same would be invented."""
    log = told()
    found = verify(without(log.bundle(), form(log, 1)), log.trust(), AT)
    assert (found.visit, found.samples, found.findings) == (None, (), ())
    assert [verdict.area for verdict in found.verdicts] == ["records"]


def test_a_report_of_faults_is_plain_data() -> None:
    """A program that reads the report would have to parse sentences."""
    log = told()
    found: Report = verify(without(log.bundle(), form(log, 4)), log.trust(), AT)
    told_json = found.to_json()
    assert told_json["state"] == "broken"
    assert {"step": 4, "code": "entry-missing"}.items() <= told_json["faults"][0].items()
