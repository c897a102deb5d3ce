"""Log entries: one exact text (RFC 8785), one hash rule (RFC 9162 2.1.1)."""

from dataclasses import asdict, replace
from datetime import datetime

import pymerkle  # type: ignore[import-untyped]
import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

import public_log
from bailee.domain.acts import form as form_acts
from bailee.errors import Malformed
from bailee.ledger.base64url import b64u
from bailee.ledger.entry import Entry, leaf_hash, link, pack, read, unpack, write
from published import rows

STMT = "eyJhbGciOiJFZDI1NTE5In0.eyJhY3QiOiJzZWFsZWQifQ." + "A" * 86
FIRST = Entry("form/F7K3M9Q2XF4P", 1, None, "2026-11-25T04:46:56.123Z", STMT)
SECOND = Entry("form/F7K3M9Q2XF4P", 2, link(write(FIRST)), "2026-11-25T04:46:57.000Z", STMT)

jws_part = st.text("ABCXYZabcxyz0189-_", min_size=1, max_size=40)
entries = st.builds(
    lambda chain, n, hashed, moment, parts, signature: Entry(
        chain,
        n,
        None if n == 1 else b64u(hashed),
        moment.isoformat(timespec="milliseconds") + "Z",
        ".".join([*parts, b64u(signature)]),
    ),
    st.from_regex(r"\A(form|lot|org)/[A-Za-z0-9][A-Za-z0-9._-]{0,63}\Z"),
    st.integers(1, 2**53 - 1) | st.just(1),
    st.binary(min_size=32, max_size=32),
    st.datetimes(datetime(1970, 1, 1), datetime(2199, 12, 31, 23, 59, 59)),
    st.tuples(jws_part, jws_part),
    st.binary(min_size=64, max_size=64),
)


@given(entries)
def test_the_text_is_canonical_json(entry: Entry) -> None:
    """An auditor's own software would compute another leaf hash for the same entry."""
    text = write(entry)
    assert text.encode() == rfc8785.dumps(asdict(entry))  # reference: library rfc8785
    assert read(text) == entry


def test_the_text_is_what_it_is() -> None:
    """A new release could write entries that hash differently from the old ones."""
    assert write(FIRST) == (
        '{"chain":"form/F7K3M9Q2XF4P","n":1,"prev":null,"rec":"2026-11-25T04:46:56.123Z","stmt":"'
        + STMT
        + '"}'
    )
    assert read(write(SECOND)) == SECOND
    assert SECOND.prev == b64u(leaf_hash(write(FIRST).encode()))


@given(st.data())
def test_an_altered_text_is_never_the_same_entry(data: st.DataObject) -> None:
    """Somebody could respell a stored entry, and the same custody step would exist under two hashes."""
    text = write(SECOND)
    at = data.draw(st.integers(0, len(text) - 1))
    altered = (
        text[:at]
        + data.draw(st.characters(max_codepoint=0x2FF).filter(lambda c: c != text[at]))
        + text[at + 1 :]
    )
    try:
        entry = read(altered)
    except Malformed:
        return
    assert entry != SECOND
    assert write(entry) == altered


TEXT = write(FIRST)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "null",
        "[]",
        '"text"',
        "{}",
        " " + TEXT,
        TEXT + "\n",
        "\ufeff" + TEXT,
        TEXT.replace(",", ", "),
        TEXT.replace('"n":1', '"n":1,"n":1'),
        TEXT.replace('"n":1', '"n":2,"n":1'),
        TEXT.replace('"n":1', '"n":1.0'),
        TEXT.replace('"n":1', '"n":1e0'),
        TEXT.replace('"n":1', '"n":true'),
        TEXT.replace('"n":1', '"n":"1"'),
        TEXT.replace('"n":1', '"n":NaN'),
        TEXT.replace('"n":1', '"n":null'),
        TEXT.replace('"n":1', '"n":' + "1" * 5000),
        TEXT.replace('"prev":null', '"prev":[]'),
        TEXT.replace('"prev":null,', ""),
        TEXT.replace('{"chain"', '{"a":0,"chain"'),
        TEXT.replace("form/", "form\\/"),
        TEXT.replace("form", "\\u0066orm"),
        TEXT.replace("}", ',"z":1}'),
        '{"n":1,' + TEXT[1:].replace('"n":1,', ""),
        "[" * 60_000,
        '{"chain":' * 7_000,
    ],
)
def test_anything_but_the_one_text_is_refused(text: str) -> None:
    """Two spellings of one entry would pass for two entries, or one member could hide behind another."""
    with pytest.raises(Malformed) as refusal:
        read(text)
    assert refusal.value.code == "not-canonical"


GOOD_HASH = b64u(bytes(32))


@pytest.mark.parametrize(
    ("member", "value"),
    [
        *[
            ("chain", value)
            for value in ("", "form", "form/", "/F7", "Form/F7", "form/F 7", "form/F7/2", 'form/"', "form/é")
        ],
        *[
            ("chain", value)
            for value in ("form/.F7", "form/" + "F" * 65, "f" * 17 + "/F7", "form/F7\n", 7, None)
        ],
        *[("n", value) for value in (0, -1, 2**53, 2.0, True, "2", None)],
        *[
            ("prev", value)
            for value in (None, "", GOOD_HASH + "A", GOOD_HASH[:-1], GOOD_HASH[:-1] + "B", b64u(bytes(31)), 7)
        ],
        *[
            ("rec", value)
            for value in ("2026-11-25T04:46:56Z", "2026-11-25T04:46:56.123", "2026-11-25T04:46:56.123+00:00")
        ],
        *[
            ("rec", value)
            for value in ("2026-02-29T00:00:00.000Z", "2026-13-01T00:00:00.000Z", "0000-01-01T00:00:00.000Z")
        ],
        *[
            ("rec", value)
            for value in ("1969-12-31T23:59:59.999Z", "2200-01-01T00:00:00.000Z", "9999-12-31T19:00:00.000Z")
        ],
        *[
            ("rec", value)
            for value in ("2026-11-25T24:00:00.000Z", "2026-11-25T23:60:00.000Z", "2026-12-31T23:59:60.000Z")
        ],
        *[
            ("rec", value)
            for value in (
                "2026-11-25t04:46:56.123z",
                "2026-11-25T04:46:56.1234Z",
                "２026-11-25T04:46:56.123Z",
                0,
            )
        ],
        *[
            ("stmt", value)
            for value in (
                "",
                "a.b",
                "a.b.c",
                STMT + "A",
                STMT[:-1],
                "." + STMT,
                STMT.replace(".", ".="),
                None,
            )
        ],
    ],
)
def test_a_member_that_cannot_be_is_refused(member: str, value: object) -> None:
    """A wrong chain name, count, link, moment or statement would enter the log and stay there."""
    with pytest.raises(Malformed) as refusal:
        Entry(**asdict(SECOND) | {member: value})
    assert refusal.value.code == "not-canonical"


@pytest.mark.parametrize(
    ("member", "value"),
    [
        ("chain", "form/F"),
        ("chain", "org/" + "a" * 64),
        ("n", 2**53 - 1),
        ("prev", GOOD_HASH),
        ("rec", "2028-02-29T23:59:59.999Z"),
        ("rec", "1970-01-01T00:00:00.000Z"),
        ("rec", "2199-12-31T23:59:59.999Z"),
    ],
)
def test_a_member_at_its_edge_is_taken(member: str, value: object) -> None:
    """A good entry at the edge of the rules would be lost."""
    entry = Entry(**asdict(SECOND) | {member: value})
    assert read(write(entry)) == entry


def test_the_first_entry_has_no_predecessor() -> None:
    """A chain could pretend that something came before its first step."""
    with pytest.raises(Malformed):
        replace(FIRST, prev=GOOD_HASH)


def test_the_size_limit() -> None:
    """An entry that no entry tile can hold would stop the log (C2SP tlog-tiles: 16-bit length)."""
    room = 65_535 - len(write(FIRST))
    largest = replace(FIRST, stmt="A" * room + STMT)
    assert len(write(largest)) == 65_535
    assert read(write(largest)) == largest
    with pytest.raises(Malformed) as writing:
        write(replace(FIRST, stmt="A" * (room + 1) + STMT))
    with pytest.raises(Malformed) as reading:
        read(write(largest).replace("AA", "AAA", 1))
    assert writing.value.code == reading.value.code == "too-large"
    assert "again from the log" in reading.value.sentence


def test_who_has_too_much_to_say_is_told_of_what_exists() -> None:
    """Somebody would look for a way to attach a file, which there is not, instead of having the picture bound
    by its digest.
    """
    with pytest.raises(Malformed) as refusal:
        write(replace(FIRST, stmt="A" * 65_535 + STMT))
    assert "attach" not in refusal.value.sentence
    assert "of a photograph only the digest is signed" in refusal.value.sentence
    assert set(form_acts.Photo.keys.values()) == {"sha-256", "size", "type"}
    assert form_acts.PICTURE.startswith("image/")
    for act in (form_acts.Collected, form_acts.Sealed):
        assert "photo" in act.keys.values()


def test_leaf_hashes_of_the_reference_tree() -> None:
    """No public log tool could check our entries (transparency-dev/merkle, testonly/constants.go)."""
    inputs = [bytes.fromhex(text) for (text,) in rows("merkle", "leaf")]
    assert [leaf_hash(data).hex() for data in inputs] == rows("merkle", "level")[0]


@given(st.binary(max_size=300))
def test_leaf_hashes_agree_with_another_library(data: bytes) -> None:
    """The hash chain and the tree would stand on a home-made hash (reference: library pymerkle)."""
    assert leaf_hash(data) == pymerkle.InmemoryTree(algorithm="sha256").hash_buff(data)


def test_entry_tiles_of_a_public_log() -> None:
    """A public monitor could not read our entries (transparency-dev/tessera, testdata/log)."""
    for files in public_log.sizes()[1:]:
        found = unpack(files.bundle)
        assert len(found) == files.size
        assert pack(found) == files.bundle
        assert b"".join(map(leaf_hash, found)) == files.hashes


@given(st.lists(st.binary(max_size=40), min_size=1, max_size=6), st.data())
def test_a_cut_entry_tile_is_noticed(found: list[bytes], data: st.DataObject) -> None:
    """A half-written file after a crash would read as fewer, or other, entries."""
    tile = pack(found)
    assert unpack(tile) == found
    cut = data.draw(st.integers(0, len(tile) - 1))
    borders = {len(pack(found[:count])): found[:count] for count in range(len(found))}
    if cut in borders:
        assert unpack(tile[:cut]) == borders[cut]
    else:
        with pytest.raises(Malformed) as refusal:
            unpack(tile[:cut])
        assert refusal.value.code == "entry-tile"


def test_an_entry_too_long_for_a_tile_is_refused() -> None:
    """Its length would be written modulo 65,536 and every later entry in the tile misread."""
    assert unpack(pack([bytes(65_535), b"x"])) == [bytes(65_535), b"x"]
    with pytest.raises(Malformed) as refusal:
        pack([bytes(65_536)])
    assert refusal.value.code == "too-large"
