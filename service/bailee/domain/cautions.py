"""Cautions for people on site, in one place: every screen, page and paper that warns takes its words from
here.

They are reminders, not instructions: local codes, the employer's program and licensed practice come first.
`source` is for those who maintain the list; what was only remembered is never printed as a citation.
"""

from __future__ import annotations

from collections.abc import Iterable
from types import MappingProxyType
from typing import Final

from bailee.frozen import frozen

COMMON_PRACTICE: Final = "common practice, no source"
_NO_LIMIT: Final = "OSHA, CDC-NIOSH and EPA statements, read as quoted by a university safety office"
_REMEDIATION: Final = "EPA 402-K-01-001 chapter 3, read on a mirror of the page"

DEFER: Final = (
    "Local codes, your employer's safety program and your license come first: where they ask for more, do"
    " more."
)


@frozen
class Caution:
    """One reminder in one or two sentences, and where it comes from."""

    says: str
    source: str


LOOK_FIRST: Final = Caution(
    "Look first. Where growth is visible, an air sample is often not needed; never disturb it to get a"
    " number.",
    _NO_LIMIT,
)

ON_SITE: Final = (
    LOOK_FIRST,
    Caution(
        "Do not touch or disturb visible growth. Where it may be disturbed: at least an N-95, gloves, eye"
        " protection without vent holes; more where your program requires it.",
        f"{_REMEDIATION}; vent holes: from memory",
    ),
    Caution(
        "A respirator protects only the face it fits: fit-tested, trained, and medically cleared where your"
        " employer's program asks for it.",
        "16 Tex. Admin. Code 78.74 (provided, fit-tested, trained); medical clearance: 29 CFR 1910.134, from"
        " memory",
    ),
    Caution(
        "The larger the area, the more protection: under 10, 10 to 100, over 100 sq ft (0.9 and 9.3"
        " m\N{SUPERSCRIPT TWO}). Larger than expected: stop and call.",
        f"{_REMEDIATION}; the size classes read in a secondary text",
    ),
    Caution(
        "Asthma, mold allergy, weakened immunity or pregnancy: do not enter before your employer's safety"
        " lead has decided; ask occupants to stay out of the work area. General precaution, not medical"
        " advice.",
        COMMON_PRACTICE,
    ),
    Caution(
        "Before going in check for sewage, live wires near water, a smell of gas, sagging floors or ceilings,"
        " suspected asbestos or lead, animals. If there is any, leave and call. Gas: switch nothing on or"
        " off, and call from outside.",
        "gas: Pennsylvania Public Utility Commission, Gas Emergencies; common practice",
    ),
    Caution(
        "Do not enter a confined space without the permit, training and attendant your employer requires."
        " Attics and crawl spaces: not alone; check heat and footing first.",
        "29 CFR 1910.146 (permits, training, attendants); attics and crawl spaces: common practice",
    ),
    Caution("Where an ozone machine has run, do not enter until the rooms are aired.", COMMON_PRACTICE),
    Caution(
        "No outdoor run in lightning or storm: at thunder go indoors, and stay 30 min after the last one."
        " Pump off wet floors, cords off stairs. Ladders and roofs only under your program.",
        "OSHA and NOAA fact sheet, Lightning Safety When Working Outdoors, by summary; common practice",
    ),
    Caution("Wash your hands, bag used gloves, do not eat or drink in the rooms.", COMMON_PRACTICE),
    Caution(
        "No figure from these samples is a health finding, and there is no federal limit to compare it with.",
        _NO_LIMIT,
    ),
    Caution("Alone on site: call the office when you go in and when you are out.", COMMON_PRACTICE),
    Caution(
        "For the envelope: cassettes closed, and no loose culture plates or bulk material with them unless"
        " the rules for those are met.",
        "letters of the US Department of Transportation on environmental samples (the shipper judges); common"
        " practice",
    ),
)
"""Before the first cassette is opened, in the order in which they matter on arrival."""

VISIBLE_GROWTH: Final = Caution(
    "An air sample is often not needed here, and the growth must not be disturbed to get a number. If you"
    " collect one, write down why.",
    _NO_LIMIT,
)

UNCONDITIONED: Final = Caution(
    "Attics and crawl spaces: not alone; check heat and footing first. Do not enter a confined space without"
    " the permit, training and attendant your employer requires.",
    "29 CFR 1910.146 (permits, training, attendants); attics and crawl spaces: common practice",
)

SURFACE: Final = (
    Caution(
        "Do not disturb growth more than this one sample needs: at least an N-95, gloves, and eye protection"
        " without vent holes; keep other people out of the room.",
        f"{_REMEDIATION}; vent holes: from memory",
    ),
    Caution(
        "Cut into nothing that may hold asbestos or lead before a licensed person has cleared it, and into no"
        " wall before you know where wires and pipes run.",
        COMMON_PRACTICE,
    ),
    Caution(
        "Look for wet floors near outlets, for insects and animals, and for your footing; ladders only under"
        " your program.",
        COMMON_PRACTICE,
    ),
)
"""Before something is taken from a surface."""

OPENING: Final = Caution(
    "Before a wall is opened: power off, wires and pipes known, asbestos and lead cleared by a licensed"
    " person, wasps and rodents thought of. What grows inside comes out: respirator on, people out, close it"
    " again.",
    COMMON_PRACTICE,
)
"""Before air is drawn from a wall cavity."""

IN_ROOM: Final = MappingProxyType(
    {"attic": UNCONDITIONED, "crawl_space": UNCONDITIONED, "wall_cavity": OPENING}
)
"""By the code of a room, what to be careful of there before the rest is asked."""

OCCUPANTS: Final = (
    Caution(
        "Please leave visible growth, stains and wet material alone: do not wipe, scrape, spray or cover"
        " them.",
        _NO_LIMIT,
    ),
    Caution(
        "Please stay out of the rooms we work in until we have left if you have asthma, mold allergy or a"
        " weakened immune system, or are pregnant. Keep children and animals out as well. This is a general"
        " precaution and not a finding about your building.",
        COMMON_PRACTICE,
    ),
    Caution(
        "Safety goes first. Never switch off medical equipment, or ventilation that a gas or fuel appliance"
        " needs. If heat, smoke or fumes make you open a window, do so, and let us know when.",
        COMMON_PRACTICE,
    ),
    Caution(
        "The samples answer one question about the air on one day. They are not a health finding; for"
        " questions about health ask a physician.",
        _NO_LIMIT,
    ),
)
"""For whoever lives or works there."""


def in_words(title: str = "Before you start", cautions: Iterable[Caution] = ON_SITE) -> str:
    """A numbered list for a screen, after what comes before it."""
    lines = [f"{number:>3}. {each.says}" for number, each in enumerate(cautions, 1)]
    return "\n".join([title, f"     {DEFER}", *lines, ""])
