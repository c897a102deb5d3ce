"""Which questions a sample of a surface needs: none of air is among them."""

from __future__ import annotations

from typing import Final

from bailee.asking.cassette_steps import AREA
from bailee.asking.question import YES_NO, Ask, numbered, of_act
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.facts import choices


def surface(medium: str) -> tuple[Ask, ...]:
    """What is asked about a sample of a surface once its number and medium are known. What is lifted by tape
    is read directly and not grown (common practice, no source).
    """
    by_area, by_mass = medium != "bulk", medium in ("bulk", "dust")
    asks = (
        SURFACE_ROOM,
        _POINT_IF_ANY,
        AREA,
        _MATERIAL,
        _LOOKED,
        *((_AREA_CM2,) if by_area else ()),
        *((_MASS_G,) if by_mass else ()),
        *((_WETTED,) if medium == "swab" else ()),
        _QUANTIFIED,
        *((_CULTURE,) if medium != "tape" else ()),
    )
    return of_act(SurfaceCollected, asks)


SURFACE_ROOM: Final = Ask("room", "Room", "room", numbered(choices(SurfaceCollected, "room")))
_POINT_IF_ANY: Final = Ask(
    "point", "Point on the sketch, like P3 (Enter: there is none)", "point", optional=True
)
_MATERIAL: Final = Ask("material", "Material", "material", numbered(choices(SurfaceCollected, "material")))
_LOOKED: Final = Ask(
    "surface", "How the surface looked", "surface", numbered(choices(SurfaceCollected, "surface"))
)
_AREA_CM2: Final = Ask(
    "area_cm2",
    "Area lifted, wiped or vacuumed, square cm (Enter: not measured)",
    "area, cm\N{SUPERSCRIPT TWO}",
    reader="decimal",
    optional=True,
)
_MASS_G: Final = Ask("mass_g", "Mass, g (Enter: not weighed)", "mass, g", reader="decimal", optional=True)
_WETTED: Final = Ask("wetted", "The swab was", "swab", numbered(choices(SurfaceCollected, "wetted")))
_QUANTIFIED: Final = Ask(
    "quantified", "Is a count or mass asked for, and not presence alone?", "count asked for", YES_NO
)
_CULTURE: Final = Ask("culture", "Is it to be grown?", "culture", YES_NO)
