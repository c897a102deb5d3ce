"""A file with several time stamps, good and bad: each is judged by itself (RFC 3161; the authority is made by
openssl).
"""

from __future__ import annotations

import pytest

from authority import EC, Authority
from bailee.ledger.checkpoint import Checkpoint
from bailee.signing import timestamp
from bailee.verify import authority, stamped_checkpoints
from bailee.verify.bundle import TimeStampToken
from bailee.verify.evidence import Notes
from bailee.verify.result import Fault, PlaceInFile

ORIGIN = "ledger.example/log1"
ROOTS = {size: bytes([size]) * 32 for size in (3, 9, 27)}
PROVEN = set(ROOTS.items())


def text(size: int) -> str:
    """What a stamp over so many entries is over."""
    return Checkpoint(ORIGIN, size, ROOTS[size]).body()


@pytest.fixture(scope="module")
def tsa(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    """An authority of our own."""
    return Authority(tmp_path_factory.mktemp("several") / "tsa", kind=EC)


def stamp(tsa: Authority, size: int) -> bytes:
    """Its stamp over the log of so many entries."""
    return timestamp.token_in(tsa.stamp(timestamp.request(text(size), size)))


@pytest.mark.parametrize("brought", [False, True], ids=["no root", "root"])
def test_every_stamp_is_judged_by_itself(tsa: Authority, brought: bool) -> None:
    """A bad stamp in a file would hide the good ones after it, or a good one let a bad one pass."""
    late, early = stamp(tsa, 27), stamp(tsa, 3)
    unreadable, of_another, unproven = (
        TimeStampToken(9, b"junk"),
        TimeStampToken(9, late),
        TimeStampToken(4, early),
    )
    tokens = [unreadable, TimeStampToken(27, late), of_another, unproven, TimeStampToken(3, early)]
    roots = list(authority.certificates(tsa.root.read_bytes())) if brought else []
    notes = Notes()
    found = stamped_checkpoints.check(tokens, ORIGIN, PROVEN, roots, notes)

    assert [(each.size, each.text) for each in found] == [(3, text(3)), (27, text(27))]
    assert [each.at for each in found] == [_told(early), _told(late)]
    assert {each.signed for each in found} == {"checked" if brought else "not checked"}
    assert {each.code for each in notes.unchecked} == {"stamp-ended" if brought else "tokens"}
    assert all(each.sentence for each in notes.unchecked)
    again = "The time stamp over {} entries is over another text than this log's checkpoint of that size."
    assert notes.faults[1:] == [
        Fault(8, "token", PlaceInFile(), again.format(9)),
        Fault(8, "token", PlaceInFile(), again.format(4)),
    ]
    assert (notes.faults[0].step, notes.faults[0].code, notes.faults[0].place) == (8, "token", PlaceInFile())
    assert notes.faults[0].sentence.startswith("A time stamp over 9 entries cannot be read.")


def _told(token: bytes) -> str:
    """Its time as openssl would print it, to the second and in UTC."""
    return timestamp.read(token).at.strftime("%Y-%m-%dT%H:%M:%SZ")
