"""Checking proofs: the two questions an auditor asks the log, answered with hashes alone.

Both functions return nothing when the proof holds and raise `Broken` when it does not, so nobody can forget
to look at an answer. `facts["fault"]` names what failed: "hash-length", "range", "too-short", "too-long",
"root" or "old-root".
"""

from __future__ import annotations

from collections.abc import Sequence

from bailee.errors import Broken
from bailee.ledger.entry import HASH_BYTES
from bailee.ledger.merkle import EMPTY_ROOT, node_hash


def check_inclusion(leaf: bytes, index: int, size: int, path: Sequence[bytes], root: bytes) -> None:
    """Check that the entry with leaf hash `leaf` is number `index` (from 0) of the `size` entries under
    `root`.

    RFC 9162 2.1.3.2. Raises `Broken` ("inclusion-proof").
    """
    code = "inclusion-proof"
    _require(all(len(each) == HASH_BYTES for each in (leaf, root, *path)), code, "hash-length")
    _require(0 <= index < size, code, "range")
    fn, sn = index, size - 1
    computed = leaf
    for sibling in path:
        _require(sn > 0, code, "too-long")
        if fn & 1 or fn == sn:
            computed = node_hash(sibling, computed)
            fn, sn = _up_to_left_turn(fn, sn)
        else:
            computed = node_hash(computed, sibling)
        fn, sn = fn >> 1, sn >> 1
    _require(sn == 0, code, "too-short")
    _require(computed == root, code, "root")


def check_consistency(old: int, new: int, path: Sequence[bytes], old_root: bytes, new_root: bytes) -> None:
    """Check that the log of `new` entries under `new_root` continues the log of `old` entries under
    `old_root`.

    RFC 9162 2.1.4.2 for 0 < old < new. The RFC defines no proof outside that range, so there the path must
    be empty: equal sizes need equal roots, and anything continues an empty log, whose root is SHA-256 of
    nothing (2.1.1). Raises `Broken` ("consistency-proof").
    """
    code = "consistency-proof"
    _require(all(len(each) == HASH_BYTES for each in (old_root, new_root, *path)), code, "hash-length")
    _require(0 <= old <= new, code, "range")
    _require(old > 0 or old_root == EMPTY_ROOT, code, "old-root")
    if old in (0, new):
        _require(not path, code, "too-long")
        _require(old == 0 < new or old_root == new_root, code, "root")
        return
    # A power of two is one full subtree: its root is the first hash, and the sender leaves it out.
    hashes = [old_root, *path] if old & (old - 1) == 0 else list(path)
    fn, sn = old - 1, new - 1
    while fn & 1:
        fn, sn = fn >> 1, sn >> 1
    _require(bool(hashes), code, "too-short")
    old_computed = new_computed = hashes[0]
    for sibling in hashes[1:]:
        _require(sn > 0, code, "too-long")
        if fn & 1 or fn == sn:
            old_computed = node_hash(sibling, old_computed)
            new_computed = node_hash(sibling, new_computed)
            fn, sn = _up_to_left_turn(fn, sn)
        else:
            new_computed = node_hash(new_computed, sibling)
        fn, sn = fn >> 1, sn >> 1
    _require(sn == 0, code, "too-short")
    _require(old_computed == old_root, code, "old-root")
    _require(new_computed == new_root, code, "root")


def _up_to_left_turn(fn: int, sn: int) -> tuple[int, int]:
    """Skip the levels at which a node on the right edge has no sibling: until LSB(fn) is set or fn is 0."""
    while fn and not fn & 1:
        fn, sn = fn >> 1, sn >> 1
    return fn, sn


def _require(holds: bool, code: str, fault: str) -> None:  # noqa: FBT001 - the condition itself
    if not holds:
        raise Broken(
            "A proof from the log does not verify. Ask for it again; if it fails again, save both answers"
            " unchanged.",
            code=code,
            fault=fault,
        )
