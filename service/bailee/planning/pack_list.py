"""What to carry to a visit besides the cassettes: a list to tick off at the shelf, in words.

What belongs in a kit is common practice, no source; the plan has the number of cassettes, and the firm's
limits how high a stand must reach. It is advice: nothing is looked up, and nothing of it is judged.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bailee.domain import measures
from bailee.domain.policy import Policy
from bailee.frozen import frozen
from bailee.rules.checks.kit import Cassettes

SPARE_SEALS: Final = 1
"""A seal that was torn or misread is replaced by another number, never used again."""
A_PAGE: Final = 6
"""Cassettes on a page of the pen form."""


@frozen
class ToPack:
    """One thing to carry: what it is for, in which number, and what to look at before it goes in."""

    group: str
    what: str
    count: int | None = None


def pack(wanted: Cassettes, policy: Policy) -> tuple[ToPack, ...]:
    """The list for so many cassettes by the limits of a firm."""
    return tuple(_pack(wanted, policy))


def _pack(wanted: Cassettes, policy: Policy) -> Iterator[ToPack]:
    parts = {
        "indoor": wanted.indoor, "outdoor": wanted.outdoor, "blank": wanted.blanks,
        "duplicate": wanted.duplicates, "spare": wanted.spare,
    }  # fmt: skip
    told = ", ".join(f"{count} {what}" for what, count in parts.items() if count)
    yield ToPack(
        "air", f"cassettes of one lot ({told}): dropped ones cannot be replaced on site", wanted.total
    )
    yield ToPack("air", "pump, charged, with its number", 1)
    yield ToPack("air", "spare battery or charger, and a power cord")
    yield ToPack("air", "flow meter, its calibration certificate valid on the day", 1)
    low, high = (measures.feet_text(each) for each in (policy.height_min_m, policy.height_max_m))
    yield ToPack("air", f"tubing, and a stand that reaches {low} to {high}")
    yield ToPack("air", "tape measure, thermometer and hygrometer")
    yield ToPack("record", "phone, charged, and a power bank; its clock is right")
    yield ToPack("record", "pen forms, for when power or network fail", -(-wanted.total // 6))
    yield ToPack("record", "pens with ink that does not run", 2)
    yield ToPack("return", "bag or box for the cassettes, and something that keeps them from moving", 1)
    yield ToPack("return", "return envelope that takes a seal across its opening", 1)
    yield ToPack("return", "custody seals with numbers, one of them spare", 1 + SPARE_SEALS)
    yield ToPack("return", "label of the envelope, and the carrier's label with the dock's address", 1)
    yield ToPack("return", "cooler pack, where the firm or its laboratory asks for one")
    yield ToPack("person", "N-95 you were fit-tested for, gloves, eye protection without vent holes")
