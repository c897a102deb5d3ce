"""Where chains end: one text for one meaning, signed as a note that other tools can
check (C2SP signed-note).
"""

from __future__ import annotations

import base64
import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from nacl.signing import VerifyKey

from bailee.errors import Malformed, OtherKey
from bailee.ledger import ends
from bailee.ledger.checkpoint import Checkpoint
from bailee.ledger.ends import End, Ends
from bailee.signing import notes
from bailee.signing.keys import SigningKey

CHECKPOINT = Checkpoint("ledger.example/log1", 7, bytes(range(32)))
LEAF = "A" * 43
SOME = Ends(CHECKPOINT, {"form/FAAAAAAAAAAA": End(3, LEAF), "lot/LAAAAAAAAAAA": End(0, None)})
KEY = SigningKey.from_seed(bytes(32))
VKEY = notes.verifier_key(CHECKPOINT.origin, KEY)

_LEAVES = st.text("ABCXYZabcxyz019_-", min_size=43, max_size=43)
_ENDS = st.one_of(st.just(End(0, None)), st.builds(End, st.integers(1, 2**40), _LEAVES))
_CHAINS = st.dictionaries(st.from_regex(r"(form|lot|org)/[A-Za-z0-9-]{1,12}", fullmatch=True), _ENDS)


@pytest.mark.slow
@given(_CHAINS)
def test_comes_back_as_it_was_said(chains: dict[str, End]) -> None:
    """An end read back as another one would accuse an honest file, or pass one that was cut."""
    said = Ends(CHECKPOINT, chains)
    assert ends.read(said.body()) == said


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("bailee-ends/1", "bailee-ends/2"),
        ("\n7\n", "\n07\n"),
        (" 3 ", " 03 "),
        (" 3 ", " 0 "),
        (" 3 ", "  3 "),
        (" 0 -", " 1 -"),
        (" 0 -", " 0 -\n"),
        (" 0 -\n", " 0 -"),
        ("form/F", "zform/F"),
        (LEAF, LEAF[1:]),
        (LEAF, LEAF + "="),
        ("lot/LAAAAAAAAAAA 0 -", f"form/FAAAAAAAAAAA 4 {LEAF}"),
    ],
)
def test_another_spelling_is_refused(old: str, new: str) -> None:
    """Two programs would read two ends out of one signed text."""
    text = SOME.body()
    assert old in text
    with pytest.raises(Malformed):
        ends.read(text.replace(old, new))


def test_the_note_is_one_that_any_tool_for_signed_notes_can_check() -> None:
    """A dispute about a cut file could be settled with this program alone (C2SP signed-note: key ID,
    signature; PyNaCl verifies).
    """
    text, _, line = notes.sign_ends(SOME, KEY).rpartition("\n\n")
    dash, name, told = line.rstrip("\n").split(" ")
    signed = base64.b64decode(told, validate=True)
    key_id = hashlib.sha256(name.encode() + b"\n\x01" + KEY.public).digest()[:4]
    assert (dash, name, signed[:4]) == ("\N{EM DASH}", CHECKPOINT.origin, key_id)
    VerifyKey(KEY.public).verify(f"{text}\n".encode(), signed[4:])
    assert notes.open_ends(notes.sign_ends(SOME, KEY), [VKEY]) == SOME


def test_neither_note_can_be_taken_for_the_other() -> None:
    """The log's key would say two things with one signature: a tree head would pass as an end, or an end as a
    tree head.
    """
    with pytest.raises(Malformed):
        notes.open_ends(notes.sign(CHECKPOINT, KEY), [VKEY])
    for said in (SOME, Ends(CHECKPOINT, {})):
        with pytest.raises(Malformed):
            notes.open_checkpoint(notes.sign_ends(said, KEY), [VKEY])


def test_the_word_of_another_log_does_not_count() -> None:
    """Whoever cuts a file could say with a key of their own that it ends there."""
    other = SigningKey.from_seed(b"\x01" * 32)
    with pytest.raises(OtherKey) as found:
        notes.open_ends(notes.sign_ends(SOME, other), [VKEY])
    assert found.value.code == "other-log-key"
