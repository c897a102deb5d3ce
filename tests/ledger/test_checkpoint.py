"""Checkpoints, signed notes, verifier keys and cosignatures as text (C2SP)."""

from base64 import b64encode
from dataclasses import replace
from typing import Any

import pytest
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from hypothesis import given
from hypothesis import strategies as st
from naive_tree import MemoryTiles

import public_log
from bailee.errors import Malformed
from bailee.ledger.checkpoint import (
    LAST_TIME,
    Checkpoint,
    Cosignature,
    KeyType,
    NoteSignature,
    SignedNote,
    VerifierKey,
    cosignature_message,
    format_vkey,
    key_id,
    parse,
    parse_vkey,
    print_note,
    read_cosignature,
    read_note,
)
from bailee.ledger.entry import leaf_hash, unpack
from bailee.ledger.merkle import consistency_path, grow, inclusion_path, root
from bailee.ledger.proof import check_consistency, check_inclusion
from published import rows

(PLAIN,), (EXAMPLE,) = rows("notes-c2sp", "keyless")  # tlog-checkpoint.md; tlog-cosignature.md
EXAMPLE_TEXT = "example.com/behind-the-sofa\n20852163\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n"


def verify(key: VerifierKey, signature: bytes, message: bytes) -> None:
    """Verify with library cryptography; it raises InvalidSignature."""
    Ed25519PublicKey.from_public_bytes(key.public).verify(signature, message)


@pytest.mark.parametrize("source", ["notes-c2sp", "notes-go"])
def test_public_notes_and_their_keys(source: str) -> None:
    """Notes signed by any other software could not be verified."""
    ((published, text),) = rows(source, "signed")
    key = parse_vkey(published)
    assert key.type is KeyType.ED25519
    assert format_vkey(key) == published
    note = read_note(text)
    assert print_note(note) == text
    (line,) = note.by(key)
    verify(key, line.signature, note.text.encode())
    with pytest.raises(InvalidSignature):
        verify(key, line.signature, note.text.replace("e", "f", 1).encode())


@pytest.mark.parametrize(("published", "text"), rows("notes-sunlight", "cosigned"), ids=["one", "two"])
def test_public_cosignatures(published: str, text: str) -> None:
    """A cosigner outside our own software would not count, or its time would be misread."""
    key = parse_vkey(published)
    assert key.type is KeyType.COSIGNATURE_V1
    assert format_vkey(key) == published
    note = read_note(text)
    assert print_note(note) == text
    assert parse(note.text).size == 300
    (line,) = note.by(key)
    cosignature = read_cosignature(line.signature)
    assert cosignature.to_bytes() == line.signature
    verify(key, cosignature.signature, cosignature_message(cosignature.time, note.text))
    with pytest.raises(InvalidSignature):
        verify(key, cosignature.signature, cosignature_message(cosignature.time + 1, note.text))


@pytest.mark.parametrize("text", [PLAIN, EXAMPLE], ids=["checkpoint", "cosigned"])
def test_the_examples_of_the_specifications(text: str) -> None:
    """Our checkpoints would not be checkpoints to anybody else."""
    assert print_note(read_note(text)) == text


def test_the_cosigned_example() -> None:
    """The message a cosigner signs would be another one (C2SP tlog-cosignature, Ed25519 signed message)."""
    note = read_note(EXAMPLE)
    assert note.text == EXAMPLE_TEXT
    checkpoint = parse(note.text)
    assert (checkpoint.origin, checkpoint.size) == ("example.com/behind-the-sofa", 20_852_163)
    assert checkpoint.body() == EXAMPLE_TEXT
    log_line, cosigner_line = note.signatures
    assert (log_line.name, log_line.key_id.hex()) == (checkpoint.origin, "033de0ae")
    cosignature = read_cosignature(cosigner_line.signature)
    assert cosignature.time == 1_679_315_147  # the time line printed in the specification
    assert cosignature_message(cosignature.time, note.text) == (
        b"cosignature/v1\ntime 1679315147\n" + EXAMPLE_TEXT.encode()
    )


def test_a_public_log_from_end_to_end() -> None:
    """Origin, signatures, tiles, roots and proofs would each be right, and not fit each other."""
    key = parse_vkey(public_log.key())  # transparency-dev/tessera, testdata/log
    tiles, roots = MemoryTiles(), []
    leaves = [leaf_hash(data) for data in unpack(public_log.sizes()[-1].bundle)]
    for files in public_log.sizes():
        size = files.size
        if size:
            tiles.store(grow(tiles, size - 1, [leaves[size - 1]]))
        note = read_note(files.checkpoint)
        assert print_note(note) == files.checkpoint
        (line,) = note.by(key)
        verify(key, line.signature, note.text.encode())
        assert parse(note.text) == Checkpoint(key.name, size, root(tiles, size))
        roots.append(parse(note.text).root)
        for index in range(size):
            check_inclusion(leaves[index], index, size, inclusion_path(tiles, index, size), roots[size])
        for old in range(size + 1):
            check_consistency(old, size, consistency_path(tiles, old, size), roots[old], roots[size])


def test_what_we_write_others_can_verify() -> None:
    """A note written here would carry another text than the one that was signed."""
    private = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
    public = private.public_key().public_bytes_raw()
    log = VerifierKey("log.example/one", KeyType.ED25519, public)
    cosigner = VerifierKey("lab.example/cosigner", KeyType.COSIGNATURE_V1, public)
    body = Checkpoint("log.example/one", 7, bytes(32)).body()
    signed = SignedNote(body, (NoteSignature(log.name, log.key_id, private.sign(body.encode())),))
    cosigned = Cosignature(1_700_000_000, private.sign(cosignature_message(1_700_000_000, body)))
    signed = signed.with_signatures([NoteSignature(cosigner.name, cosigner.key_id, cosigned.to_bytes())])
    note = read_note(print_note(signed))
    assert note == signed
    assert len(note.by(log)) == len(note.by(cosigner)) == 1
    verify(log, note.by(log)[0].signature, note.text.encode())
    assert note.by(replace(log, name="log.example/two")) == ()
    namesake = NoteSignature("log.example/two", log.key_id, bytes(64))  # same ID, other name: not this key's
    assert note.with_signatures([namesake]).by(log) == note.by(log)
    assert note.by(replace(log, type=KeyType.COSIGNATURE_V1)) == ()
    assert note.with_signatures(note.signatures) == note  # a line that comes twice is kept once


@given(st.data())
def test_an_altered_note_is_never_the_same_note(data: st.DataObject) -> None:
    """One signed note would have two spellings, and two copies of one checkpoint would look
    like a dispute.
    """
    at = data.draw(st.integers(0, len(EXAMPLE) - 1))
    new = data.draw(st.sampled_from("\n\t +=AB/09—-é") | st.characters(exclude_categories=[]))
    altered = EXAMPLE[:at] + new + EXAMPLE[at + 1 :]
    try:
        note = read_note(altered)
    except Malformed:
        return
    assert print_note(note) == altered
    assert (note == read_note(EXAMPLE)) is (altered == EXAMPLE)


SIGNED = "— a.example AAAAAAA=\n"


@pytest.mark.parametrize(
    "note",
    [
        *[
            "",
            "\n",
            "\n\n",
            "text\n",
            "text\n\n",
            "text\n" + SIGNED,
            "text\n\n" + SIGNED[:-1],
            "text\n\n" + SIGNED + "\n",
        ],
        *[
            "text\n\n" + SIGNED + "x\n",
            "te\txt\n\n" + SIGNED,
            "te\rxt\n\n" + SIGNED,
            "te\x00xt\n\n" + SIGNED,
            SIGNED,
        ],
        *[
            "text\n\n" + line
            for line in ("- a.example AAAAAAA=\n", "—a.example AAAAAAA=\n", "—  a.example AAAAAAA=\n")
        ],
        *[
            "text\n\n" + line
            for line in (
                "— a.example AAAAAAA= \n",
                "— a.example  AAAAAAA=\n",
                "— AAAAAAA=\n",
                "—  AAAAAAA=\n",
            )
        ],
        *[
            "text\n\n" + line
            for line in (
                "— a+b AAAAAAA=\n",
                "— a\u00a0b AAAAAAA=\n",
                "— a\tb AAAAAAA=\n",
                "— a\u2028b AAAAAAA=\n",
            )
        ],
        *[
            "text\n\n" + line
            for line in ("— a.example AAAAAA==\n", "— a.example AAAA\n", "— a.example \n", "— a.example\n")
        ],
        "te\ud800xt\n\n" + SIGNED,
    ],
)
def test_a_broken_note_is_refused(note: str) -> None:
    """Readers would disagree where the signed text ends, or who signed."""
    with pytest.raises(Malformed) as refusal:
        read_note(note)
    assert refusal.value.code == "note"


@pytest.mark.parametrize("encoded", ["AAAAAAB=", "AAAAAAA", "AAAAAA-=", "AAAAAAA=="])
def test_a_signature_with_another_spelling_is_refused(encoded: str) -> None:
    """The same signature would have two texts."""
    with pytest.raises(Malformed) as refusal:
        read_note(f"text\n\n— a.example {encoded}\n")
    assert refusal.value.code == "not-canonical"


def test_the_text_may_hold_empty_lines() -> None:
    """The signed text would be cut at its first empty line (C2SP signed-note: the last one counts)."""
    note = read_note("a\n\n— b.example AAAAAAA=\n\n" + SIGNED)
    assert note.text == "a\n\n— b.example AAAAAAA=\n"
    assert [line.name for line in note.signatures] == ["a.example"]


def test_the_number_and_size_of_signatures() -> None:
    """A busy cosigned checkpoint would be refused, or a hostile one would fill the memory."""
    line = SIGNED.strip()
    # C2SP signed-note: at least 16 must be accepted, each up to nearly 5 kB.
    large = "".join(f"— a{number}.example {b64encode(bytes(5_000)).decode()}\n" for number in range(32))
    assert len(read_note("text\n\n" + large).signatures) == 32
    assert len(read_note("text\n\n" + f"{line}\n" * 32).signatures) == 32
    for refused, code in [(f"{line}\n" * 33, "note"), ("— a " + "A" * 262_144 + "\n", "too-large")]:
        with pytest.raises(Malformed) as refusal:
            read_note("text\n\n" + refused)
        assert refusal.value.code == code
    room = 262_144 - len(f"\n\n{line}\n".encode())
    assert len(read_note("x" * room + f"\n\n{line}\n").text) == room + 1
    with pytest.raises(Malformed):
        read_note("x" * (room + 1) + f"\n\n{line}\n")
    with pytest.raises(Malformed):
        SignedNote("text\n", ())


@pytest.mark.parametrize(
    ("text", "code"),
    [
        *[(EXAMPLE_TEXT + extra, "checkpoint") for extra in ("extension\n", "\n", " ", "x")],
        *[
            (EXAMPLE_TEXT[:-1], "checkpoint"),
            ("", "checkpoint"),
            ("\n\n\n", "checkpoint"),
            ("\n" + EXAMPLE_TEXT, "checkpoint"),
        ],
        *[
            (EXAMPLE_TEXT.replace("20852163", size), "checkpoint")
            for size in (
                "",
                "020852163",
                "00",
                "-1",
                "+1",
                "1.0",
                "1e3",
                " 1",
                "1_000",
                "٣",
                "9223372036854775808",
                "1" * 5000,
            )
        ],
        *[
            (EXAMPLE_TEXT.replace("example.com", name), "checkpoint")
            for name in ("exa mple", "exa+mple", "exa\u00a0mple", "exa\tmple", "\u3000")
        ],
        ("\n20852163\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n", "checkpoint"),
        (EXAMPLE_TEXT.replace("q2I=", "q2J="), "not-canonical"),
        (EXAMPLE_TEXT.replace("q2I=", "q2I"), "not-canonical"),
        (EXAMPLE_TEXT.replace("\n", "\r\n"), "checkpoint"),
        (EXAMPLE_TEXT.replace("CsUY", ""), "checkpoint"),
        (EXAMPLE_TEXT.replace("CsUY", "CsUYCsUY"), "checkpoint"),
    ],
)
def test_a_broken_checkpoint_is_refused(text: str, code: str) -> None:
    """Two readers of one signed checkpoint would see two sizes or two roots."""
    with pytest.raises(Malformed) as refusal:
        parse(text)
    assert refusal.value.code == code


@pytest.mark.parametrize("size", [0, 1, 10, 2**63 - 1])
def test_a_checkpoint_reads_back(size: int) -> None:
    """The log could publish a state that nobody can read."""
    checkpoint = Checkpoint("log.example/one", size, bytes(range(32)))
    assert parse(checkpoint.body()) == checkpoint


@pytest.mark.parametrize(
    "change",
    [
        {"size": -1},
        {"size": 2**63},
        {"root": bytes(31)},
        {"root": bytes(33)},
        {"origin": ""},
        {"origin": "a b"},
        {"origin": "a+b"},
    ],
)
def test_a_checkpoint_that_cannot_be_is_never_signed(change: dict[str, Any]) -> None:
    """The log would sign a state that readers refuse, and could not take it back."""
    with pytest.raises(Malformed) as refusal:
        replace(Checkpoint("log.example/one", 1, bytes(32)), **change)
    assert refusal.value.code == "checkpoint"


VKEY = (  # example of C2SP signed-note.md
    "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k"
)


def test_the_key_id() -> None:
    """Signature lines would be looked up under another key (the id in the example is the specification's)."""
    key = parse_vkey(VKEY)
    assert key.name == "example.com/foo"
    assert key.key_id == key_id("example.com/foo", 1, key.public) == bytes.fromhex("530d903a")
    assert replace(key, type=KeyType.COSIGNATURE_V1).key_id != key.key_id


@pytest.mark.parametrize(
    "text",
    [
        *["", "a", "a+b", "a+b+", VKEY.replace("530d903a", "530D903A"), VKEY.replace("530d903a", "530d903b")],
        *[
            VKEY.replace("530d903a", ""),
            VKEY.replace("foo", "fop"),
            VKEY.replace("+Aeky", "+Aekz"),
            VKEY.replace("+Ae", "+Ce"),
        ],
        *[
            "\ud800" + VKEY,
            VKEY[:-4],
            VKEY + "AAAA",
            VKEY.replace("example", "exa mple"),
            "+530d903a+" + VKEY[-44:],
        ],
    ],
)
def test_a_mistyped_key_is_refused(text: str) -> None:
    """An auditor would trust another key than the one that was read out."""
    with pytest.raises(Malformed) as refusal:
        parse_vkey(text)
    assert refusal.value.code == "vkey"


@pytest.mark.parametrize("text", [VKEY + "\n", VKEY + "=", VKEY.replace("+A", "+A "), VKEY[:-1]])
def test_a_key_with_another_spelling_is_refused(text: str) -> None:
    """One key would have two texts, and a list of trusted keys could hold it twice."""
    with pytest.raises(Malformed) as refusal:
        parse_vkey(text)
    assert refusal.value.code == "not-canonical"


@given(st.data())
def test_any_one_wrong_character_in_a_key_is_noticed(data: st.DataObject) -> None:
    """A slip in copying would be found only when nothing verifies, years later."""
    at = data.draw(st.integers(0, len(VKEY) - 1))
    new = data.draw(st.characters(min_codepoint=0x20, max_codepoint=0x7E).filter(lambda c: c != VKEY[at]))
    with pytest.raises(Malformed):
        parse_vkey(VKEY[:at] + new + VKEY[at + 1 :])


@given(st.binary(min_size=32, max_size=32), st.sampled_from(KeyType))
def test_every_key_reads_back(public: bytes, kind: KeyType) -> None:
    """Some key, one with a plus in its base64 for instance, could not be handed around."""
    key = VerifierKey("log.example/one", kind, public)
    assert parse_vkey(format_vkey(key)) == key


@pytest.mark.parametrize("length", [0, 7, 8, 71, 73])
def test_a_cosignature_of_another_length_is_refused(length: int) -> None:
    """A time could be read out of something that is no cosignature."""
    with pytest.raises(Malformed) as refusal:
        read_cosignature(bytes(length))
    assert refusal.value.code == "cosignature"


def test_the_time_of_a_cosignature() -> None:
    """The field holds 584 billion years (C2SP tlog-cosignature), and no clock or calendar does."""
    last = LAST_TIME.to_bytes(8, "big") + bytes(64)
    assert read_cosignature(last) == Cosignature(LAST_TIME, bytes(64))
    assert read_cosignature(bytes(72)).time == 0
    for refused in ((LAST_TIME + 1).to_bytes(8, "big") + bytes(64), b"\x80" + bytes(71), b"\xff" * 72):
        with pytest.raises(Malformed):
            read_cosignature(refused)
    with pytest.raises(Malformed):
        Cosignature(-1, bytes(64))


@pytest.mark.parametrize(
    "parts",
    [
        ("", b"1234", b"x"),
        ("a b", b"1234", b"x"),
        ("a", b"123", b"x"),
        ("a", b"12345", b"x"),
        ("a", b"1234", b""),
    ],
)
def test_a_signature_line_that_cannot_be_is_never_written(parts: tuple[str, bytes, bytes]) -> None:
    """A note would be published that no reader accepts."""
    with pytest.raises(Malformed) as refusal:
        NoteSignature(*parts)
    assert refusal.value.code == "note"
