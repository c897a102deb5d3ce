"""Where chains end under a checkpoint: the log's own word on it, so that nobody who passes a file on can cut
a chain short.

    bailee-ends/1                                    what this is
    example.org/log1                                 origin
    20852163                                         size
    CsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=     root
    form/F7K3… 14 q1Jv…                              chain, number and leaf hash of its last entry, by name
    lot/L9P2… 0 -                                    one of which there is nothing that the parties may read

Text only, as with checkpoints; the log signs it as a note (C2SP signed-note) with the key of its checkpoints.
Neither can be taken for the other: the first line of a checkpoint is the name of the key that signed it, and
this one's is no name a log may have.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.ledger.checkpoint import Checkpoint, parse

FORMAT: Final = "bailee-ends/1"
_NOTHING: Final = "-"
_N: Final = re.compile(r"[1-9][0-9]{0,14}")
_LEAF: Final = re.compile(r"[A-Za-z0-9_-]{43}")


@frozen
class End:
    """The last entry of a chain: its number and its leaf hash (base64url); 0 and nothing when there is none
    that the readers may see.
    """

    n: int
    leaf: str | None


@frozen
class Ends:
    """By chain its last entry among those that the checkpoint covers."""

    checkpoint: Checkpoint
    chains: Mapping[str, End]

    def body(self) -> str:
        """The text that is signed, chains by name."""
        lines = [f"{chain} {end.n} {end.leaf or _NOTHING}\n" for chain, end in sorted(self.chains.items())]
        return f"{FORMAT}\n{self.checkpoint.body()}{''.join(lines)}"


def read(text: str) -> Ends:
    """Read what `body` wrote.

    Raises `Malformed` ("ends", or what its checkpoint raises) for any other text.
    """
    match text.split("\n"):
        case [head, origin, size, root, *lines, ""] if head == FORMAT:
            found = Ends(parse(f"{origin}\n{size}\n{root}\n"), dict(map(_end, lines)))
            if found.body() == text:
                return found
    raise _bad()


def _end(line: str) -> tuple[str, End]:
    match line.split(" "):
        case [chain, "0", leaf] if leaf == _NOTHING:
            return chain, End(0, None)
        case [chain, n, leaf] if _N.fullmatch(n) and _LEAF.fullmatch(leaf):
            return chain, End(int(n), leaf)
    raise _bad()


def _bad() -> Malformed:
    return Malformed("This does not show where chains end. Ask for the file again, unaltered.", code="ends")
