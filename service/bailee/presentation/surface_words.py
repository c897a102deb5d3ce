"""What was taken from a surface, in words: which medium, of what, and how much of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Final

from bailee.domain.acts.surface import SurfaceCollected
from bailee.presentation.words import NOT_RECORDED, plain
from bailee.rules.wording import counted, listed

MEDIA: Final = {
    "tape": "tape lift",
    "swab": "swab",
    "bulk": "bulk material",
    "contact_plate": "contact plate",
    "dust": "dust",
}
_PIECES: Final = MEDIA | {"bulk": "bulk sample", "dust": "dust sample"}
NO_AREA_OR_MASS: Final = f"area or mass {NOT_RECORDED}"


def of_what(material: str | None, surface: str | None) -> str:
    """The material, and how its surface looked: `drywall, growth`."""
    return ", ".join(filter(None, [plain(material) or f"material {NOT_RECORDED}", plain(surface)]))


def amount(area_cm2: object, mass_g: object) -> str:
    """How much of it: `4 cm2`, `0.5 g`, with a real superscript."""
    told = [f"{area_cm2} cm\N{SUPERSCRIPT TWO}"] if area_cm2 is not None else []
    told += [f"{mass_g} g"] if mass_g is not None else []
    return ", ".join(told) or NO_AREA_OR_MASS


def pieces(media: Iterable[str | None], total: int | None = None) -> str:
    """How many of what: `7 cassettes and 1 tape lift`; None among `media` is a cassette.

    Where not all of `total` are known, they are samples if one of a surface is among those that are.
    """
    found = Counter(media)
    surfaces = [name for name in MEDIA if found[name]]
    if total is not None and total != found.total():
        return counted(total, "sample" if surfaces else "cassette")
    told = [counted(found[None], "cassette")] if found[None] or not surfaces else []
    return listed([*told, *(counted(found[name], _PIECES[name]) for name in surfaces)])


def asked(body: SurfaceCollected) -> Iterator[str]:
    """How it was wetted, how moist it was there, and what is to be done with it."""
    if body.wetted is not None:
        yield "dry" if body.wetted == "dry" else f"wetted with {plain(body.wetted)}"
    if body.moisture_pct is not None:
        yield f"moisture {body.moisture_pct} %"
    if body.quantified:
        yield "count or mass asked for"
    if body.culture:
        yield "to be cultured"
