"""The auditor's file: one text for one bundle, strict reading, and no byte that can change unseen."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from hashlib import sha256
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from joserfc import jws
from joserfc.jwk import OKPKey
from nacl.signing import VerifyKey

from bailee.errors import BaileeError, Malformed
from bailee.ledger.base64url import b64, unb64
from bailee.verify import bundle
from bailee.verify.bundle import Bundle
from bailee.verify.verifier import verify
from log_simulator import AT, LogSimulator, told
from thorough import often


@cache
def small() -> tuple[LogSimulator, str]:
    """A visit that has just begun: two organizations, a lot and one form."""
    log = told("opened")
    return log, bundle.write(log.bundle())


def members() -> dict[str, Any]:
    """The small bundle as plain JSON."""
    found: dict[str, Any] = json.loads(small()[1])
    return found


def test_what_is_written_reads_back_and_is_the_same_every_time() -> None:
    """Two exports of one form would differ, and somebody would have to explain why."""
    log, text = small()
    assert bundle.read(text) == log.bundle()
    assert bundle.write(bundle.read(text)) == text
    assert bundle.read(text.encode()) == log.bundle()
    assert bundle.write(told("opened").bundle()) == text
    assert text.isascii()


def test_entries_come_by_index_whatever_order_they_were_given_in() -> None:
    """The same form would give different files from different databases."""
    log, text = small()
    sound = log.bundle()
    again = bundle.assemble(
        sound.form,
        sound.entries[::-1],
        sound.note,
        sound.ends,
        sound.earlier[::-1],
        dict(sorted(sound.roots.items(), reverse=True)),
        AT.instant,
    )
    assert bundle.write(again) == text


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda text: "", "it is empty"),
        (lambda text: text[: len(text) // 2], "it breaks off"),
        (
            lambda text: text.encode("utf-8-sig"),
            "a program that saved it has put a mark of its own before the text",
        ),
        (
            lambda text: text.encode("utf-16"),
            "a program that saved it has put a mark of its own before the text",
        ),
        (lambda text: "sample,place\n", "it does not begin like one"),
        (lambda text: text.replace('"format"', '"form": "", "form"', 1), "a member appears twice"),
        (lambda text: text.replace('"form": "F', '"form": "F '), "/form is not the number of a form"),
        (
            lambda text: text.replace("{", '{"tokens": [{"type": "rfc3161", "size": 1, "der": "?"}],', 1),
            "/tokens/0/der is not base64",
        ),
    ],
)
def test_says_what_happened_to_a_file_on_its_way(spoil: Callable[[str], str | bytes], says: str) -> None:
    """Somebody with half an attachment, or one that an editor saved, would read a parser's words and not know
    whom to ask for what.
    """
    with pytest.raises(Malformed) as found:
        bundle.read(spoil(small()[1]))
    assert says in found.value.sentence
    assert "Ask for" in found.value.sentence


def test_unknown_members_are_left_alone_and_named() -> None:
    """A file by a newer program would be refused, or its additions would look as if something vouched for
    them.
    """
    more = members()
    more["weather"] = []
    more["entries"][3]["color"] = "green"
    more["earlier"][0]["\N{RIGHT-TO-LEFT OVERRIDE}"] = None
    found = bundle.read(json.dumps(more))
    assert found == bundle.read(small()[1])
    assert found.unknown == ("/earlier/0/\\u202e", "/entries/3/color", "/weather")
    assert found.unauthenticated == ("/exported", "/roots", *found.unknown)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("limit", "spoil"),
    [
        ("MAX_PROOF", lambda m, n: m["entries"][0].update(proof=[b64(bytes(32))] * n)),
        ("MAX_DISCLOSURES", lambda m, n: m["entries"][0].update(disclosures=["A"] * n)),
        ("MAX_ENTRIES", lambda m, n: m.update(entries=[m["entries"][0]] * n)),
        ("MAX_ENTRIES", lambda m, n: m.update(earlier=[m["earlier"][0]] * n)),
        ("MAX_ROOTS", lambda m, n: m.update(roots={f"org-{i}": "A" * 43 for i in range(n)})),
        ("MAX_CONFLICTS", lambda m, n: m.update(conflicts=[["A", "B"]] * n)),
        ("MAX_TOKENS", lambda m, n: m.update(tokens=[{"type": "rfc3161", "size": 1, "der": "AA=="}] * n)),
    ],
)
def test_limits_hold_on_both_sides(limit: str, spoil: Callable[[Any, int], Any]) -> None:
    """A file made to exhaust the reader's machine would do so; or an honest large one would be refused."""
    most: int = getattr(bundle, limit)
    full, over = members(), members()
    spoil(full, most)
    spoil(over, most + 1)
    assert bundle.read(json.dumps(full))
    with pytest.raises(BaileeError) as caught:
        bundle.read(json.dumps(over))
    assert caught.value.code == "bundle"


def _first(part: str, **changes: Any) -> Callable[[Any], Any]:
    return lambda m: m[part][0].update(changes)


@pytest.mark.parametrize(
    ("spoil", "place"),
    [
        (lambda m: m.update(format="bailee-bundle/3"), "/format"),
        (lambda m: m.update(checkpoint=5), "/checkpoint"),
        (lambda m: m.update(roots=[]), "/roots"),
        (lambda m: m.update(roots={"a": 5}), "/roots/a"),
        (lambda m: m.update(roots={"a": "short"}), "/roots"),
        (lambda m: m.update(roots={"A": "A" * 43}), "/roots"),
        (lambda m: m.update(exported="2026-12-03"), "/exported"),
        (lambda m: m.update(exported=5), "/exported"),
        (lambda m: m.update(entries=[]), "/entries"),
        (lambda m: m.update(entries={}), "/entries"),
        (lambda m: m.update(entries=[5]), "/entries/0"),
        (_first("entries", index=True), "/entries/0/index"),
        (_first("entries", index=-1), "/entries/0/index"),
        (_first("entries", entry=5), "/entries/0/entry"),
        (_first("entries", disclosures={}), "/entries/0/disclosures"),
        (_first("entries", disclosures=["A", 5]), "/entries/0/disclosures/1"),
        (_first("entries", proof=None), "/entries/0/proof"),
        (_first("entries", proof=[b64(bytes(32)), 5]), "/entries/0/proof/1"),
        (_first("entries", proof=[b64(bytes(31))]), "/entries/0/proof/0"),
        (_first("entries", proof=[b64(bytes(33))]), "/entries/0/proof/0"),
        (lambda m: m.pop("earlier"), "/earlier"),
        (lambda m: m.update(earlier=[5]), "/earlier/0"),
        (_first("earlier", size="1"), "/earlier/0/size"),
        (_first("earlier", size=-1), "/earlier/0/size"),
        (_first("earlier", root=5), "/earlier/0/root"),
        (_first("earlier", root=b64(bytes(31))), "/earlier/0/root"),
        (_first("earlier", proof=[b64(bytes(31))]), "/earlier/0/proof/0"),
        (lambda m: m.update(conflicts={}), "/conflicts"),
        (lambda m: m.update(conflicts=[{}]), "/conflicts/0"),
        (lambda m: m.update(conflicts=[["A"]]), "/conflicts/0"),
        (lambda m: m.update(conflicts=[["A", "B", "C"]]), "/conflicts/0"),
        (lambda m: m.update(conflicts=[["A", "B"], [5, "B"]]), "/conflicts/1/0"),
        (lambda m: m.update(conflicts=[["A", 5]]), "/conflicts/0/1"),
        (lambda m: m.update(tokens={}), "/tokens"),
        (lambda m: m.update(tokens=[5]), "/tokens/0"),
        (lambda m: m.update(tokens=[{"type": 5, "size": 1, "der": ""}]), "/tokens/0/type"),
        (lambda m: m.update(tokens=[{"type": "rfc3162", "size": 1, "der": ""}]), "/tokens/0/type"),
        (lambda m: m.update(tokens=[{"type": "rfc3161", "size": -1, "der": ""}]), "/tokens/0/size"),
        (lambda m: m.update(tokens=[{"type": "rfc3161", "size": 1, "der": 5}]), "/tokens/0/der"),
    ],
)
def test_a_file_that_is_refused_names_the_place(spoil: Callable[[Any], Any], place: str) -> None:
    """Whoever wrote the file would have to look for the one wrong member among a thousand (JSON pointers, RFC
    6901).
    """
    spoilt = members()
    spoil(spoilt)
    with pytest.raises(BaileeError) as caught:
        bundle.read(json.dumps(spoilt))
    assert (caught.value.code, caught.value.facts["place"]) == ("bundle", place)


@pytest.mark.parametrize("count", [0, 2**53 - 1])
def test_counts_reach_from_nothing_to_the_largest_log(count: int) -> None:
    """The first entry of a log, or a log that has grown for long, could not be shown (greatest whole number
    of I-JSON, RFC 7493 2.2).
    """
    told_ = members()
    told_["entries"][0]["index"] = told_["earlier"][0]["size"] = count
    found = bundle.read(json.dumps(told_))
    assert (found.entries[0].index, found.earlier[0].size) == (count, count)


def test_so_many_unknown_members_are_named_and_no_more() -> None:
    """A report could be buried under names that somebody put into the file."""
    more = {**members(), **{f"x{place:03}{'y' * 90}": None for place in range(bundle.MAX_UNKNOWN + 1)}}
    found = bundle.read(json.dumps(more)).unknown
    assert len(found) == bundle.MAX_UNKNOWN
    assert {len(each) for each in found} == {80}


def test_a_file_beyond_all_measure_is_refused_unread(monkeypatch: pytest.MonkeyPatch) -> None:
    """Reading some gigabytes as JSON would stop the auditor's laptop."""
    text = small()[1]
    monkeypatch.setattr(bundle, "MAX_BYTES", len(text))
    assert bundle.read(text)
    with pytest.raises(BaileeError) as caught:
        bundle.read(text + " ")
    assert caught.value.code == "too-large"


@given(st.binary(max_size=200) | st.text(max_size=200))
def test_only_our_errors_come_out_of_reading(text: bytes | str) -> None:
    """A crash would leave the auditor with a stack of program lines instead of a sentence."""
    with pytest.raises(BaileeError):
        bundle.read(text)


@pytest.mark.slow
@settings(max_examples=often(50, thorough=200))
@given(st.data())
def test_no_single_byte_changes_unseen(data: st.DataObject) -> None:
    """Somebody could alter one character of the file, and the verifier would still say that nothing was
    altered.
    """
    log, text = small()
    raw = bytearray(text.encode())
    at = data.draw(st.integers(0, len(raw) - 1))
    raw[at] = data.draw(st.integers(0, 255).filter(lambda byte: byte != raw[at]))
    try:
        changed = bundle.read(bytes(raw))
    except BaileeError:
        return
    found = verify(changed, log.trust(), AT)
    assert found.state == "broken" or only_unauthenticated_differ(changed, log.bundle())


def only_unauthenticated_differ(changed: Bundle, sound: Bundle) -> bool:
    """Whether two bundles say the same but for what the report names as unauthenticated."""
    return replace(changed, roots=sound.roots, exported=sound.exported) == sound


def test_a_bundle_can_be_verified_by_general_libraries() -> None:
    """An auditor who trusts no program of ours would have to.

    Signatures by joserfc (RFC 7515) and libsodium (PyNaCl), the tree by the recursive definition of RFC 9162
    2.1.1.
    """
    log = told()
    plain = json.loads(bundle.write(log.bundle()))
    text, _, signature = plain["checkpoint"].partition("\n\n")
    origin, size, root = text.split("\n")
    VerifyKey(log.log_vkey.public).verify(
        f"{text}\n".encode(), unb64(signature.split(" ")[2].rstrip("\n"))[4:]
    )
    assert origin == log.origin
    leaves = [sha256(b"\0" + each["entry"].encode()).digest() for each in plain["entries"]]
    assert int(size) == len(leaves)
    assert unb64(root) == naive_root(leaves)
    people = {device.key.kid: OKPKey.import_key({**device.key.jwk}) for device in log.devices.values()}
    for each in plain["entries"]:
        stmt = json.loads(each["entry"])["stmt"]
        kid = json.loads(unb64_any(stmt.split(".")[0]))["kid"]
        jws.deserialize_compact(stmt, people[kid], algorithms=["Ed25519"])


def naive_root(leaves: list[bytes]) -> bytes:
    """RFC 9162 2.1.1, as it is written there."""
    if len(leaves) == 1:
        return leaves[0]
    split = 1 << (len(leaves) - 1).bit_length() - 1
    return sha256(b"\1" + naive_root(leaves[:split]) + naive_root(leaves[split:])).digest()


def unb64_any(text: str) -> bytes:
    """Base64url by the standard library."""
    import base64

    return base64.urlsafe_b64decode(text + "==")


def test_contradictions_and_time_stamps_come_back_as_they_were_written() -> None:
    """They would be lost when an auditor passes the file on."""
    sound = replace(
        told().bundle(), conflicts=(("one", "other"),), tokens=(bundle.TimeStampToken(7, b"der"),)
    )
    assert bundle.read(bundle.write(sound)) == sound
    assert "/tokens" in sound.unauthenticated
    assert "/tokens" not in told().bundle().unauthenticated


def test_contradictions_and_time_stamps_are_put_together_in_their_order() -> None:
    """The ledger's export would leave out what speaks against its own people, or differ from one day to the
    next.
    """
    sound = told("opened").bundle()
    pairs, tokens = (
        [("two", "other"), ("one", "other")],
        [bundle.TimeStampToken(7, b"late"), bundle.TimeStampToken(3, b"early")],
    )
    made = bundle.assemble(
        sound.form,
        sound.entries,
        sound.note,
        sound.ends,
        sound.earlier,
        sound.roots,
        AT.instant,
        pairs,
        tokens,
    )
    assert made.conflicts == (("one", "other"), ("two", "other"))
    assert [each.size for each in made.tokens] == [3, 7]
