"""Building the tree and its proofs from tiles (RFC 9162 2.1, C2SP tlog-tiles)."""

from functools import cache
from itertools import pairwise

import pymerkle  # type: ignore[import-untyped]
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from naive_tree import MemoryTiles, leaf, mth, path, subproof

import public_log
from bailee.errors import Broken, Malformed
from bailee.ledger.entry import leaf_hash
from bailee.ledger.merkle import (
    EMPTY_ROOT,
    Tile,
    consistency_path,
    grow,
    inclusion_path,
    node_hash,
    read_tile_path,
    root,
    tile_path,
    tile_width,
)
from bailee.ledger.proof import check_inclusion
from published import rows
from thorough import often

EDGES = [255, 256, 257, 511, 512, 513, 65_535, 65_536, 65_537, 65_792, 65_793]
"""Sizes around one tile, two tiles, and the first full tile at level 1."""


@cache
def log(size: int) -> MemoryTiles:
    """Grow a log in one step; its tiles hold exactly `size` entries."""
    tiles = MemoryTiles()
    tiles.store(grow(tiles, 0, map(leaf, range(size))))
    return tiles


def defined_rows(size: int) -> dict[tuple[int, int], bytes]:
    """Give every tile row of a log of `size` entries by the formula of C2SP tlog-tiles, Merkle Tree."""
    rows: dict[tuple[int, int], bytes] = {}
    for level in range(4):
        span = 256**level
        for number in range(size // span):
            row = rows.setdefault((level, number // 256), b"")
            rows[level, number // 256] = row + mth(number * span, (number + 1) * span)
    return rows


def test_every_small_tree_against_the_definition() -> None:
    """An auditor with another program would reject an honest log."""
    for size in range(33):
        tiles = log(size)
        assert root(tiles, size) == mth(0, size)
        for index in range(size):
            assert inclusion_path(tiles, index, size) == path(index, 0, size)
        for old in range(1, size + 1):
            assert consistency_path(tiles, old, size) == subproof(old, 0, size)


@pytest.mark.parametrize("size", EDGES)
def test_trees_at_tile_borders_against_the_definition(size: int) -> None:
    """The log would break on the day its first tile, or its first 256 tiles, are full."""
    tiles = log(size)
    assert root(tiles, size) == mth(0, size)
    near = {
        at for edge in (0, 128, 256, 512, size // 2, 65_280, 65_536, size) for at in range(edge - 2, edge + 3)
    }
    for index in sorted(at for at in near if 0 <= at < size):
        assert inclusion_path(tiles, index, size) == path(index, 0, size)
    for old in sorted(at for at in near if 0 < at <= size):
        assert consistency_path(tiles, old, size) == subproof(old, 0, size)


def test_an_older_size_is_answered_from_newer_tiles() -> None:
    """A checkpoint printed on paper last year could no longer be proved."""
    tiles = log(65_793)
    for size in [1, 2, 255, 256, 257, 300, 511, 512, 513, 65_535, 65_536, 65_537]:
        assert root(tiles, size) == mth(0, size)
        for index in {0, size // 3, size - 1}:
            assert inclusion_path(tiles, index, size) == path(index, 0, size)
        for old in {1, size // 2 or 1, size}:
            assert consistency_path(tiles, old, size) == subproof(old, 0, size)


@given(st.integers(1, 66_000), st.data())
@settings(max_examples=often(15, thorough=60))
def test_any_tree_against_the_definition(size: int, data: st.DataObject) -> None:
    """Some size nobody thought of would give a wrong proof."""
    tiles = log(66_000)
    index = data.draw(st.integers(0, size - 1))
    old = data.draw(st.integers(1, size))
    assert root(tiles, size) == mth(0, size)
    assert inclusion_path(tiles, index, size) == path(index, 0, size)
    assert consistency_path(tiles, old, size) == subproof(old, 0, size)


def test_roots_and_paths_of_another_library() -> None:
    """Our reading of the standard could be wrong in the code and in its reference definition alike."""
    # Reference: library pymerkle. It counts from 1; its paths hold the leaf too, and run in its own order.
    other = pymerkle.InmemoryTree(algorithm="sha256")
    tiles = MemoryTiles()
    for size in range(1, 41):
        data = f"entry {size}".encode()
        other.append_entry(data)
        tiles.store(grow(tiles, size - 1, [leaf_hash(data)]))
        assert root(tiles, size) == other.get_root(size)
        for index in range(size):
            theirs = set(other.prove_inclusion(index + 1, size).path)
            ours = inclusion_path(tiles, index, size)
            assert {other.get_leaf(index + 1), *ours} == theirs
            assert len(ours) == len(theirs) - 1
        for old in range(1, size):
            proof = other.prove_consistency(old, size)
            pymerkle.verify_consistency(root(tiles, old), root(tiles, size), proof, old, size)
            if old % 2:  # for an even old size it cuts the newer part smaller than RFC 9162 does
                ours = consistency_path(tiles, old, size)
                known = [root(tiles, 1)] if old == 1 else []  # RFC 9162 leaves out a root the checker has
                assert {*ours, *known} == set(proof.path)


def test_the_public_reference_tree() -> None:
    """No public log tool could check our roots (transparency-dev/merkle, testonly/constants.go)."""
    levels = [[bytes.fromhex(text) for text in level] for level in rows("merkle", "level")]
    (roots,) = rows("merkle", "roots")
    for lower, upper in pairwise(levels):
        assert [node_hash(*lower[at : at + 2]) for at in range(0, len(lower), 2)] == upper
    tiles = MemoryTiles()
    tiles.store(grow(tiles, 0, levels[0]))
    assert [root(tiles, size).hex() for size in range(9)] == roots
    assert EMPTY_ROOT.hex() == roots[0]


@given(st.lists(st.integers(0, 300), max_size=6))
@settings(max_examples=often(15, thorough=60))
def test_growing_in_any_steps_gives_the_same_tiles(steps: list[int]) -> None:
    """Whether entries came one by one or in a rush would change the log.

    A repeated step after a crash too.
    """
    tiles, size = MemoryTiles(), 0
    for step in steps:
        leaves = [leaf(number) for number in range(size, size + step)]
        before = dict(tiles.rows)
        changed = grow(tiles, size, leaves)
        tiles.store(changed)
        assert grow(tiles, size, leaves) == changed
        size += step
        assert tiles.rows == defined_rows(size)
        assert {(tile.level, tile.index) for tile in changed} == {
            row for row, hashes in tiles.rows.items() if before.get(row) != hashes
        }
        assert all(tile.width == tile_width(tile.level, tile.index, size) for tile in changed)
    assert tiles.rows == log(size).rows


@pytest.mark.parametrize("steps", [(65_535, 1, 1), (65_279, 257, 256, 1), (1, 65_791)])
def test_growing_over_the_first_full_tile_of_level_1(steps: tuple[int, ...]) -> None:
    """Entry 65,536 would stop the log, or start its third level wrongly."""
    tiles, size = MemoryTiles(), 0
    for step in steps:
        changed = grow(tiles, size, [leaf(number) for number in range(size, size + step)])
        assert len({(tile.level, tile.index) for tile in changed}) == len(changed)
        tiles.store(changed)
        size += step
    assert tiles.rows == defined_rows(size)


def test_appending_nothing_changes_nothing() -> None:
    """An idle minute would write files."""
    assert grow(log(300), 300, []) == []


def test_growing_reads_one_tile_per_level() -> None:
    """Appending would become slower as the log grows."""
    tiles = MemoryTiles()
    tiles.rows = dict(log(66_000).rows)
    changed = grow(tiles, 66_000, [leaf(66_000)])
    assert tiles.reads == [(0, 257)]
    assert [(tile.level, tile.index, tile.width) for tile in changed] == [(0, 257, 209)]


class AlikeTiles:
    """A log of 100,000,077 entries that all have the same leaf hash: every row of a level is the same hash
    repeated.
    """

    size = 10**8 + 77  # partial on every level

    def __init__(self) -> None:
        self.reads: list[tuple[int, int]] = []

    def read(self, level: int, index: int) -> bytes:
        """Give the row, exactly as wide as this log has it."""
        self.reads.append((level, index))
        return alike(256**level) * tile_width(level, index, self.size)


@cache
def alike(size: int) -> bytes:
    """Compute the root over `size` equal leaves by the definition (RFC 9162 2.1.1)."""
    if size == 1:
        return leaf(0)
    k = 1 << (size - 1).bit_length() - 1
    return node_hash(alike(k), alike(size - k))


@pytest.mark.parametrize(
    "index", [0, 1, 255, 256, 65_535, 16_777_215, 50_000_000, 99_999_999, 100_000_000, 100_000_076]
)
def test_a_proof_in_a_log_of_100_million_reads_few_tiles(index: int) -> None:
    """Proofs would become slow in a log that has been in use for years."""
    tiles = AlikeTiles()
    found = inclusion_path(tiles, index, tiles.size)
    assert len(found) <= 27
    check_inclusion(leaf(0), index, tiles.size, found, alike(tiles.size))
    assert len(tiles.reads) == len(set(tiles.reads))  # each tile once
    assert len({level for level, _ in tiles.reads}) <= 4
    assert len(tiles.reads) <= 8  # on each level: one on the path, one on the right edge
    tiles = AlikeTiles()
    assert root(tiles, tiles.size) == alike(tiles.size)
    assert [level for level, _ in tiles.reads] == [3, 2, 1, 0]
    tiles = AlikeTiles()
    consistency_path(tiles, index or 1, tiles.size)
    assert len(tiles.reads) == len(set(tiles.reads)) <= 8


@pytest.mark.parametrize("size", [256, 300, 65_537])
def test_a_tile_that_lost_hashes_is_noticed(size: int) -> None:
    """A file cut short by a full disk would turn into a signed wrong root."""
    for row, hashes in log(size).rows.items():
        tiles = MemoryTiles()
        tiles.rows = {**log(size).rows, row: hashes[:-1]}
        needed = (
            row[1] == max(index for level, index in log(size).rows if level == row[0])
            and size >> 8 * row[0] & 255
        )
        if not needed:
            continue
        with pytest.raises(Broken) as rooted:
            root(tiles, size)
        with pytest.raises(Broken) as grown:
            grow(tiles, size, [leaf(number) for number in range(size, size + 65_536)])
        for noticed in (rooted, grown):
            assert noticed.value.code == "tile-short"
            assert noticed.value.facts["place"] == tile_path(*row)
            assert noticed.value.facts["expected"] == noticed.value.facts["found"] + 1


@pytest.mark.parametrize(
    "ask",
    [
        lambda tiles: root(tiles, -1),
        lambda tiles: inclusion_path(tiles, 0, 0),
        lambda tiles: inclusion_path(tiles, 5, 5),
        lambda tiles: inclusion_path(tiles, -1, 5),
        lambda tiles: consistency_path(tiles, 6, 5),
        lambda tiles: consistency_path(tiles, -1, 5),
    ],
)
def test_questions_beyond_the_log_are_refused(ask: object) -> None:
    """A mistyped size would be answered with a proof of something else."""
    assert callable(ask)
    with pytest.raises(Malformed) as refusal:
        ask(log(5))
    assert refusal.value.code == "out-of-range"


def test_nothing_to_prove() -> None:
    """A phone that has seen the empty log, or the same one, would wait for a proof that does not exist."""
    assert (
        consistency_path(log(5), 0, 5)
        == consistency_path(log(5), 5, 5)
        == consistency_path(log(0), 0, 0)
        == []
    )
    assert inclusion_path(log(1), 0, 1) == []


@pytest.mark.parametrize(
    ("where", "text"),
    [
        ((0, 1_234_067, 256), "tile/0/x001/x234/067"),  # the example of C2SP tlog-tiles
        ((0, 273, 112), "tile/0/273.p/112"),  # its tree of 70,000
        ((1, 1, 17), "tile/1/001.p/17"),
        ((2, 0, 1), "tile/2/000.p/1"),
        ((1, 0, 256), "tile/1/000"),
        ((63, 999, 255), "tile/63/999.p/255"),
        ((0, 1_000, 256), "tile/0/x001/000"),
        ((0, 999_999, 256), "tile/0/x999/999"),
        ((0, 1_000_000, 256), "tile/0/x001/x000/000"),
        ((None, 0, 3), "tile/entries/000.p/3"),
        ((None, 1_234_067, 256), "tile/entries/x001/x234/067"),
    ],
)
def test_tile_paths(where: tuple[int | None, int, int], text: str) -> None:
    """A public monitor would ask for files that are stored under another name."""
    assert tile_path(*where) == text
    assert read_tile_path(text) == where


@given(st.none() | st.integers(0, 63), st.integers(0, 2**56 - 1), st.integers(1, 256))
def test_every_tile_path_reads_back(level: int | None, index: int, width: int) -> None:
    """Some tile could be written but never served."""
    assert read_tile_path(tile_path(level, index, width)) == (level, index, width)


@pytest.mark.parametrize(
    "text",
    [
        *[
            "",
            "tile",
            "tile/0",
            "tile/0/",
            "tile/0/0",
            "tile/0/00",
            "tile/0/0000",
            "tile/0/x000",
            "tile/0/x000/001",
        ],
        *[
            "tile/00/000",
            "tile/01/000",
            "tile/64/000",
            "tile/-1/000",
            "tile/entry/000",
            "/tile/0/000",
            "tile/0/000/",
        ],
        *[
            "tile/0/000.p/0",
            "tile/0/000.p/256",
            "tile/0/000.p/257",
            "tile/0/000.p/01",
            "tile/0/000.p/",
            "tile/0/000.p",
        ],
        *[
            "tile/0/001/000",
            "tile/0/x01/000",
            "tile/0/../000",
            "tile/0/000\n",
            "tile/0/٠٠٠",
            "tile/0/000.p/+1",
        ],
    ],
)
def test_other_tile_paths_are_refused(text: str) -> None:
    """One tile under two addresses would be cached twice, or a path could lead out of the folder."""
    with pytest.raises(Malformed) as refusal:
        read_tile_path(text)
    assert refusal.value.code == "tile-path"


def test_widths_of_the_specification() -> None:
    """A partial tile would be looked for where none is (examples of C2SP tlog-tiles, Partial Tiles)."""
    assert [tile_width(0, index, 70_000) for index in (0, 272, 273, 274)] == [256, 256, 112, 0]
    assert [tile_width(1, index, 70_000) for index in (0, 1, 2)] == [256, 17, 0]
    assert [tile_width(2, index, 70_000) for index in (0, 1)] == [1, 0]
    assert [tile_width(0, 0, 256), tile_width(1, 0, 256), tile_width(1, 0, 255)] == [256, 1, 0]
    assert [tile_width(0, 0, 0), tile_width(0, 0, 1), tile_width(0, 0, 255)] == [0, 1, 255]


def test_tiles_of_a_public_log() -> None:
    """Tiles written by us would differ from those of a public
    log (transparency-dev/tessera, testdata/log).
    """
    tiles = MemoryTiles()
    for files in public_log.sizes()[1:]:
        changed = grow(tiles, files.size - 1, [files.hashes[-32:]])
        assert changed == [Tile(0, 0, files.hashes)]
        tiles.store(changed)
