"""Checking proofs (RFC 9162 2.1.3.2 and 2.1.4.2): every honest one holds, every altered one is refused."""

from collections.abc import Iterator
from hashlib import sha256

import pytest
from naive_tree import MemoryTiles, leaf, mth, path, subproof

from bailee.errors import Broken
from bailee.ledger import merkle
from bailee.ledger.proof import check_consistency, check_inclusion
from published import rows

EMPTY = sha256(b"").digest()  # RFC 9162 2.1.1
OTHER = b"\x5a" * 32
SAME_LENGTH, OTHER_LENGTH = {"root", "old-root"}, {"too-short", "too-long"}
EDGES = [255, 256, 257, 65_535, 65_536, 65_537]


def altered(proof: list[bytes]) -> Iterator[list[bytes]]:
    """Give the proof with one hash altered, dropped, doubled, moved or added, in every place."""
    for at, found in enumerate(proof):
        for bit in (0, 255):
            flipped = (int.from_bytes(found, "big") ^ (1 << bit)).to_bytes(32, "big")
            yield [*proof[:at], flipped, *proof[at + 1 :]]
        yield [*proof[:at], *proof[at + 1 :]]
        yield [*proof[: at + 1], *proof[at:]]
    for at in range(len(proof) + 1):
        yield [*proof[:at], OTHER, *proof[at:]]
    for at in range(len(proof) - 1):
        yield [*proof[:at], proof[at + 1], proof[at], *proof[at + 2 :]]


def fault_of_inclusion(found: bytes, index: int, size: int, proof: list[bytes], root: bytes) -> str:
    """Give the named fault, after seeing that it is refused as an inclusion proof."""
    with pytest.raises(Broken) as refusal:
        check_inclusion(found, index, size, proof, root)
    assert refusal.value.code == "inclusion-proof"
    return str(refusal.value.facts["fault"])


def fault_of_consistency(old: int, new: int, proof: list[bytes], old_root: bytes, new_root: bytes) -> str:
    """Give the named fault, after seeing that it is refused as a consistency proof."""
    with pytest.raises(Broken) as refusal:
        check_consistency(old, new, proof, old_root, new_root)
    assert refusal.value.code == "consistency-proof"
    return str(refusal.value.facts["fault"])


def test_every_inclusion_in_every_small_tree() -> None:
    """An entry could be shown as logged that is not, or a logged one could not be shown."""
    for size in range(1, 33):
        root = mth(0, size)
        for index in range(size):
            proof = path(index, 0, size)
            check_inclusion(leaf(index), index, size, proof, root)
            for spoilt in altered(proof):
                fault = fault_of_inclusion(leaf(index), index, size, spoilt, root)
                assert fault in (SAME_LENGTH if len(spoilt) == len(proof) else OTHER_LENGTH)
            assert fault_of_inclusion(OTHER, index, size, proof, root) == "root"
            assert fault_of_inclusion(leaf(index), index, size, proof, OTHER) == "root"
            for elsewhere in set(range(size)) - {index}:
                assert (
                    fault_of_inclusion(leaf(index), elsewhere, size, proof, root)
                    in SAME_LENGTH | OTHER_LENGTH
                )


def test_every_consistency_of_every_two_small_trees() -> None:
    """A log that dropped or rewrote entries could pass for a grown one, or an honest one could not."""
    for new in range(1, 33):
        for old in range(1, new + 1):
            proof = subproof(old, 0, new)
            old_root, new_root = mth(0, old), mth(0, new)
            check_consistency(old, new, proof, old_root, new_root)
            for spoilt in altered(proof):
                fault = fault_of_consistency(old, new, spoilt, old_root, new_root)
                assert fault in (SAME_LENGTH if len(spoilt) == len(proof) else OTHER_LENGTH)
            assert fault_of_consistency(old, new, proof, OTHER, new_root) in SAME_LENGTH
            assert fault_of_consistency(old, new, proof, old_root, OTHER) == "root"


@pytest.mark.parametrize("size", EDGES)
def test_proofs_at_tile_borders(size: int) -> None:
    """Verification would fail on the day a tile is full."""
    root = mth(0, size)
    for at in (0, 1, 127, 128, 253, 254, 255, 256, 65_279, 65_280, 65_534, 65_535, 65_536):
        if at < size:
            proof = path(at, 0, size)
            check_inclusion(leaf(at), at, size, proof, root)
            for spoilt in altered(proof):
                fault_of_inclusion(leaf(at), at, size, spoilt, root)
        if 0 < at <= size:
            proof = subproof(at, 0, size)
            check_consistency(at, size, proof, mth(0, at), root)
            for spoilt in altered(proof):
                fault_of_consistency(at, size, spoilt, mth(0, at), root)


def test_a_rewritten_log_is_noticed() -> None:
    """Somebody could change one old entry and grow the log on from there."""
    tiles = MemoryTiles()
    tiles.store(merkle.grow(tiles, 0, [OTHER if number == 3 else leaf(number) for number in range(20)]))
    for old in range(4, 20):
        proof = merkle.consistency_path(tiles, old, 20)
        check_consistency(
            old, 20, proof, merkle.root(tiles, old), merkle.root(tiles, 20)
        )  # sound within itself
        assert fault_of_consistency(old, 20, proof, mth(0, old), merkle.root(tiles, 20)) in SAME_LENGTH


def test_numbers_outside_the_tree() -> None:
    """A proof for entry 9 of 8 would be taken for something."""
    root = mth(0, 8)
    proof = path(5, 0, 8)
    for index, size in [(8, 8), (9, 8), (-1, 8), (2**64 - 1, 8), (0, 0), (0, -1), (-1, -1)]:
        assert fault_of_inclusion(leaf(5), index, size, proof, root) == "range"
    for old, new in [(9, 8), (-1, 8), (8, -1), (-2, -1), (1, 0)]:
        assert fault_of_consistency(old, new, [], root, root) == "range"


def test_hashes_of_another_length() -> None:
    """A hash cut short, or one with bytes shifted into its neighbor, would be hashed to the same root."""
    root = mth(0, 2)
    for wrong in (b"", leaf(1)[:31], leaf(1) + b"\x00"):
        assert fault_of_inclusion(leaf(0), 0, 2, [wrong], root) == "hash-length"
        assert fault_of_inclusion(wrong, 0, 2, [leaf(1)], root) == "hash-length"
        assert fault_of_inclusion(leaf(0), 0, 2, [leaf(1)], wrong) == "hash-length"
        assert fault_of_consistency(1, 2, [wrong], leaf(0), root) == "hash-length"
        assert fault_of_consistency(1, 2, [leaf(1)], wrong, root) == "hash-length"
        assert fault_of_consistency(1, 2, [leaf(1)], leaf(0), wrong) == "hash-length"
    # The same 64 bytes cut elsewhere give the same node hash; only the length tells.
    joined = leaf(0) + leaf(1)
    assert sha256(b"\x01" + joined[:31] + joined[31:]).digest() == root
    assert fault_of_inclusion(joined[:31], 0, 2, [joined[31:]], root) == "hash-length"


def test_the_empty_log() -> None:
    """A phone that first saw an empty log could never follow it, or could be sold any past."""
    check_consistency(0, 0, [], EMPTY, EMPTY)
    for new in (1, 2, 7):
        check_consistency(0, new, [], EMPTY, mth(0, new))
        assert fault_of_consistency(0, new, [], OTHER, mth(0, new)) == "old-root"
        assert fault_of_consistency(0, new, [OTHER], EMPTY, mth(0, new)) == "too-long"
    assert fault_of_consistency(0, 0, [], EMPTY, OTHER) == "root"
    assert fault_of_consistency(0, 0, [], OTHER, OTHER) == "old-root"


def test_equal_sizes() -> None:
    """Two different logs of one size would count as the same log."""
    check_consistency(5, 5, [], mth(0, 5), mth(0, 5))
    assert fault_of_consistency(5, 5, [], mth(0, 5), OTHER) == "root"
    assert fault_of_consistency(5, 5, [OTHER], mth(0, 5), mth(0, 5)) == "too-long"
    assert fault_of_consistency(5, 6, [], mth(0, 5), mth(0, 6)) == "too-short"


def test_public_inclusion_proofs() -> None:
    """We would disagree with other verifiers (98 cases of transparency-dev/merkle, testdata/inclusion)."""
    cases = rows("merkle", "inclusion")
    assert len(cases) == 98
    for result, index, size, *hashes in cases:
        root, found, *proof = map(bytes.fromhex, hashes)
        if result == "valid":
            check_inclusion(found, int(index), int(size), proof, root)
        else:
            fault_of_inclusion(found, int(index), int(size), proof, root)


def test_public_consistency_proofs() -> None:
    """We would disagree with other verifiers (98 cases of transparency-dev/merkle, testdata/consistency)."""
    cases = rows("merkle", "consistency")
    assert len(cases) == 98
    placeholders = 0
    for result, old, new, *hashes in cases:
        old_root, new_root, *proof = map(bytes.fromhex, hashes)
        if result == "valid" and len(old_root) == len(new_root) == 32:
            check_consistency(int(old), int(new), proof, old_root, new_root)
            continue
        fault = fault_of_consistency(int(old), int(new), proof, old_root, new_root)
        if result == "valid":  # its hashes are placeholders of another length: we refuse those on purpose
            assert fault == "hash-length"
            placeholders += 1
    assert placeholders == 1
