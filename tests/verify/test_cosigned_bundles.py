"""The three states of records: complete and cosigned, intact and not cosigned, broken; and the file an auditor brings."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bailee.errors import Malformed
from bailee.ledger.checkpoint import VerifierKey, format_vkey, print_note, read_note
from bailee.signing import notes
from bailee.signing.keys import SigningKey
from bailee.verify import policy
from bailee.verify.bundle import Bundle
from bailee.verify.report import render_text
from bailee.verify.result import Report
from bailee.verify.verifier import verify
from log_simulator import AT, LogSimulator, seeded, told

TIME = 1_796_133_600
"""2026-12-01T14:00:00Z."""

NAMES = ("lab", "firm", "notary")


def key(name: str) -> SigningKey:
    """A cosigner's private key."""
    return seeded("cosigner", name)


def public(name: str) -> VerifierKey:
    """And its public half."""
    return notes.cosigner_key(f"{name}.example/cosigner", key(name))


def cosigned(bundle: Bundle, *names: str, text: str | None = None, by: SigningKey | None = None) -> Bundle:
    """The bundle with cosignatures on its checkpoint, or on another `text`, or with another key than the name says."""
    note = read_note(bundle.note)
    lines = []
    for name in names:
        line = notes.cosign(text or note.text, public(name).name, by or key(name), TIME)
        lines.append(replace(line, key_id=public(name).key_id))
    return replace(bundle, note=print_note(note.with_signatures(lines)))


def judged(log: LogSimulator, bundle: Bundle, quorum: int, *named: str) -> Report:
    """The report for an auditor who names these cosigners."""
    trust = replace(log.trust(), cosigners={each: public(each) for each in named}, quorum=quorum)
    return verify(bundle, trust, AT)


@pytest.mark.parametrize(
    ("signed", "named", "quorum", "state"),
    [
        ((), NAMES, 1, "intact, not cosigned"),
        (("lab",), NAMES, 1, "complete and cosigned"),
        (("lab",), NAMES, 2, "intact, not cosigned"),
        (("lab", "firm"), NAMES, 2, "complete and cosigned"),
        (("lab", "firm"), ("notary",), 1, "intact, not cosigned"),
        (("lab", "firm", "notary"), (), 0, "intact, not cosigned"),
        (("lab",), ("lab",), 0, "intact, not cosigned"),
    ],
)
def test_as_many_cosigners_as_the_auditor_asks_for(
    signed: tuple[str, ...], named: tuple[str, ...], quorum: int, state: str
) -> None:
    """One tick for everything would hide that only the operator vouches; cosigners nobody named must not count."""
    log = told()
    found = judged(log, cosigned(log.bundle(), *signed), quorum, *named)
    assert (found.state, found.faults) == (state, ())
    assert set(found.cosigned) == set(signed) & set(named)
    unchecked = {each.code for each in found.not_checked}
    assert ("cosigners" in unchecked) == (state != "complete and cosigned")
    said = render_text(found)
    assert f"Records: {state}" in said
    for name in found.cosigned:
        assert f"{name} at 2026-12-01T14:00:00Z" in said


def test_one_cosigner_twice_is_one() -> None:
    """Two lines by one machine must not make a quorum of two."""
    log = told()
    once = cosigned(log.bundle(), "lab")
    note = read_note(once.note)
    later = notes.cosign(note.text, public("lab").name, key("lab"), TIME + 60)
    twice = replace(once, note=print_note(note.with_signatures([later])))
    found = judged(log, twice, 2, *NAMES)
    assert (found.state, dict(found.cosigned)) == ("intact, not cosigned", {"lab": TIME + 60})


@pytest.mark.parametrize("how", ["another text", "another key", "another time"])
def test_a_false_cosignature_breaks_the_records(how: str) -> None:
    """A forged line that is only not counted could be tried again and again (C2SP signed-note: such a note is refused)."""
    log = told()
    bundle = log.bundle()
    text = read_note(bundle.note).text
    if how == "another text":
        false = cosigned(bundle, "lab", text=text.replace("\n", "\n1", 1))
    elif how == "another key":
        false = cosigned(bundle, "lab", by=key("firm"))
    else:
        good = read_note(cosigned(bundle, "lab").note)
        line = good.signatures[-1]
        later = replace(line, signature=(TIME + 1).to_bytes(8, "big") + line.signature[8:])
        false = replace(bundle, note=print_note(read_note(bundle.note).with_signatures([later])))
    found = judged(log, false, 1, *NAMES)
    assert found.state == "broken"
    assert [(fault.step, fault.code) for fault in found.faults] == [(2, "cosignature")]


def test_cosignatures_do_not_mend_what_is_broken() -> None:
    """A cosigned checkpoint says nothing about an entry that does not belong under it."""
    log = told()
    bundle = cosigned(log.bundle(), "lab")
    entries = (replace(bundle.entries[0], index=bundle.entries[0].index + 1), *bundle.entries[1:])
    assert judged(log, replace(bundle, entries=entries), 1, "lab").state == "broken"


LOG = format_vkey(notes.verifier_key("ledger.example/x", key("log")))
GOOD = f"""
# what we trust since 2026
log {LOG}

cosigner lab {format_vkey(public("lab"))}
cosigner   notary	{format_vkey(public("notary"))}
quorum 2
"""


def test_a_policy_file_says_whom_the_auditor_trusts() -> None:
    """If the file is read differently than it is written, the wrong people are believed."""
    found = policy.read(GOOD)
    assert [each.name for each in found.log_keys] == ["ledger.example/x"]
    assert found.cosigners == {"lab": public("lab"), "notary": public("notary")}
    assert found.quorum == 2
    assert policy.read(f"log {LOG}\r\n").quorum == 0


@pytest.mark.parametrize(
    ("change", "says"),
    [
        (("quorum 2", "quorum 3"), "larger"),
        (("quorum 2", ""), "how many"),
        (("quorum 2", "quorum -1"), "Line 7"),
        (("quorum 2", "quorum 2\nquorum 1"), "Line 8"),
        (("cosigner   notary", "cosigner lab"), "Line 6"),
        (("cosigner   notary", "witness notary"), "Line 6"),
        ((f"log {LOG}", ""), "no `log` line"),
        ((f"log {LOG}", f"log {format_vkey(public('lab'))}"), "not the key of a log"),
        ((format_vkey(public("notary")), LOG), "not the key of a cosigner"),
        (
            (format_vkey(public("notary")), format_vkey(notes.cosigner_key("twin.example", key("lab")))),
            "one key",
        ),
        ((LOG[-4:], "AAA="), "verifier key"),
    ],
)
def test_a_policy_that_could_be_misread_is_refused(change: tuple[str, str], says: str) -> None:
    """A slip in this file would lower the bar without anybody noticing."""
    with pytest.raises(Malformed, match=says):
        policy.read(GOOD.replace(*change, 1))
