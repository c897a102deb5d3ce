"""Air drawn from inside a wall, floor or ceiling, in words: how the tube got in, which tube, which wall."""

from __future__ import annotations

from collections.abc import Iterator

from bailee.domain import measures
from bailee.domain.acts.form import Cavity
from bailee.presentation.words import NOT_RECORDED, plain


def lines(body: Cavity) -> Iterator[str]:
    """The opening and the tube; its length, bore and purge where they are known; the side of the building."""
    yield f"opening {plain(body.opening) or NOT_RECORDED}, tube {plain(body.tube) or NOT_RECORDED}"
    length = f"tube length {measures.length_text(body.tube_m)}" if body.tube_m is not None else ""
    bore = f"bore {body.tube_mm} mm" if body.tube_mm is not None else ""
    purge = f"purged {body.purge_s} s" if body.purge_s is not None else ""
    if told := ", ".join(filter(None, (length, bore, purge))):
        yield told
    if body.side:
        yield f"{body.side} wall"
