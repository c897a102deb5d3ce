"""What was taken from a surface, and no air: a tape lift, a swab, material, a contact plate, dust.

It stands on `form/<number>` beside the cassettes of the visit, and changes hands as they do. What is asked
of air (flow, volume, place of an inlet, outdoor control) is not asked of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final, Literal

from bailee.domain.acts.form import Area, OnPaper, Photo, Room, wrongly_replaced
from bailee.domain.facts import Facts
from bailee.domain.fields import At, FormNumber, LotNumber, Percent, Quantity, SampleNumber, Tag

Medium = Literal["tape", "swab", "bulk", "contact_plate", "dust"]
Material = Literal["drywall", "wood", "textile", "masonry", "metal", "insulation", "duct", "other"]

LOOSE: Final = frozenset({"bulk", "contact_plate", "dust"})
"""Media that shed what they hold, or grow, unless each is closed off by itself."""


class SurfaceCollected(Facts):
    """One sample from a surface; no air is drawn. Private: place, note.

    `lot` is that of the tape, swab or container; `null`: it has none. `surface` is how it looked where it was
    taken. `area_cm2` is the area lifted, wiped or vacuumed, `mass_g` what was cut out or vacuumed up.
    `quantified`: a count or mass per area or per gram is asked for. `wetted`: with what a swab was wetted.
    `moisture_pct` is what a moisture meter showed there. `culture`: it is to be grown.
    `replaces`: as of a cassette. `label_on`: the body
    is what holds the sample, be it slide, tube, dish or bag.
    """

    sample: SampleNumber
    medium: Medium
    at: At
    lot: LotNumber | None = None
    entered: Literal["scan", "typed"] = "scan"
    room: Room | None = None
    point: Tag | None = None
    unit: Tag | None = None
    area: Area | None = None
    material: Material | None = None
    surface: Literal["growth", "stained", "dusty", "clean", "wet"] | None = None
    area_cm2: Quantity | None = None
    mass_g: Quantity | None = None
    quantified: bool = False
    wetted: Literal["dry", "sterile_water", "buffer"] | None = None
    moisture_pct: Percent | None = None
    culture: bool = False
    replaces: SampleNumber | None = None
    replaces_form: FormNumber | None = None
    label_on: Literal["body", "cover", "bag"] | None = None
    photo: Photo | None = None
    paper: OnPaper | None = None

    def contradictions(self) -> Iterator[str]:
        """Something with which a medium that is no swab was wetted."""
        yield from wrongly_replaced(self.sample, self.replaces, self.replaces_form)
        if self.wetted is not None and self.medium != "swab":
            yield "wetted is for a swab: leave it out of any other medium"
