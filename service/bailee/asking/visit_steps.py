"""Which questions a visit needs: what is found on arrival, the air and the building during it, what the
laboratory is asked for, the license to sample there.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import Any, Final, Literal

from bailee.asking.question import OR_UNKNOWN, Ask, numbered, of_act
from bailee.domain.acts import form as form_acts
from bailee.domain.facts import choices
from bailee.presentation import words

CONDITIONS: Final = (
    Ask(
        "temperature_c",
        "Temperature of the air, like 20 C or 68 F (Enter: not read)",
        "temperature",
        reader="degrees_celsius",
        optional=True,
    ),
    Ask(
        "humidity_pct", "Relative humidity, % (Enter: not read)", "humidity", reader="decimal", optional=True
    ),
    Ask(
        "pressure_hpa",
        "Air pressure, like 1013 hPa or 29.9 inHg (Enter: not read)",
        "pressure",
        reader="hectopascals",
        optional=True,
    ),
)
RAIN_ENDED: Final = Ask(
    "rain_ended_h",
    "Hours since rain ended (Enter: not known)",
    "rain ended, h before",
    reader="hours",
    optional=True,
)


def conditions(where: str) -> tuple[Ask, ...]:
    """What is asked about the air on site; of rain only outdoors."""
    asks = (*CONDITIONS, RAIN_ENDED) if where == "outdoors" else CONDITIONS
    return of_act(form_acts.ConditionsRead, asks)


def building(member: Literal["was", "now"], what: str) -> Ask:
    """How something in a building was before it changed, or is now."""
    states = numbered(form_acts.BUILDING_STATES[what])
    if member == "now":
        return Ask("now", f"{words.plain(what).capitalize()} now", "now", states)
    return Ask(
        "was", f"{words.plain(what).capitalize()} before (Enter: not known)", "before", states, optional=True
    )


_HOURS: Final = "hours before the first sample"
_FRESH_AIR: Final = Ask(
    "fresh_air",
    "Fresh-air exchanger, whole-house or attic fan",
    "fresh air",
    numbered(choices(form_acts.Preparation, "fresh_air")),
    unknown=True,
)
_FRESH_AIR_OFF: Final = Ask(
    "fresh_air_off_h",
    f"Off for how many {_HOURS} ({OR_UNKNOWN})",
    "fresh air off, h",
    reader="hours",
    unknown=True,
)
_ANALYSIS: Final = Ask(
    "analysis", f"Analysis wanted, like spore count ({OR_UNKNOWN})", "analysis", keeps=True, unknown=True
)
_TURNAROUND: Final = Ask(
    "turnaround", f"Turnaround wanted, like 2 days ({OR_UNKNOWN})", "turnaround", keeps=True, unknown=True
)


def _as_before(ask: Ask, question: str) -> Ask:
    return replace(ask, question=f"{question} (Enter: as before)", optional=True, unknown=False)


REQUEST: Final = of_act(
    form_acts.Requested,
    (
        _as_before(_ANALYSIS, "Analysis wanted, like spore count"),
        _as_before(_TURNAROUND, "Turnaround wanted, like 2 days"),
        Ask(
            "due",
            "Last day for the result, like 2026-12-07 (Enter: none)",
            "due",
            reader="day",
            optional=True,
        ),
        Ask(
            "priority",
            "Priority (Enter: none)",
            "priority",
            numbered(choices(form_acts.Requested, "priority")),
            optional=True,
        ),
        Ask("purchase", "Number of your purchase order (Enter: none)", "purchase order", optional=True),
        Ask("cost_center", "Cost center (Enter: none)", "cost center", optional=True),
    ),
)
"""What is asked of a laboratory, where nothing was typed."""
_VISIT: Final = (
    Ask("site", "Address of the site (kept out of the log)", "site", optional=True),
    Ask("client", "Client (kept out of the log)", "client", optional=True),
    Ask("question", "What should the samples answer (kept out of the log)", "question", optional=True),
    Ask(
        "ventilation",
        "Ventilation as found",
        "ventilation",
        numbered(choices(form_acts.Preparation, "ventilation")),
    ),
    Ask(
        "windows_closed_h",
        f"Windows and doors closed, {_HOURS} ({OR_UNKNOWN})",
        "windows closed, h",
        reader="hours",
        unknown=True,
    ),
    Ask(
        "purifiers_off_h",
        f"Air cleaners off, {_HOURS} (Enter: none, or not known)",
        "air cleaners off, h",
        reader="hours",
        optional=True,
    ),
    Ask(
        "cleaned_h_ago",
        f"Last cleaning, {_HOURS} (Enter: none, or not known)",
        "cleaned, h ago",
        reader="hours",
        optional=True,
    ),
)


def visit(said: Mapping[str, Any]) -> tuple[Ask, ...]:
    """What is asked about a visit once its laboratory and zone are known: what is found on arrival, and what
    the laboratory is asked for.
    """
    off = (_FRESH_AIR_OFF,) if said.get("fresh_air") == "off" else ()
    return of_act(form_acts.Opened, (*_VISIT, _FRESH_AIR, *off, _ANALYSIS, _TURNAROUND))


def license_of(said: Mapping[str, Any], needing: Collection[str]) -> tuple[Ask, ...]:
    """What is asked about the license to sample at a site, by the firm's list of where one is needed
    (VP-06).
    """
    if not needing:
        return ()
    question = f"Whose law applies at the site; a license is needed in {', '.join(sorted(needing))}"
    where = Ask("jurisdiction", f"{question} (Enter: not known)", "jurisdiction", optional=True)
    return (where, *_LICENSE) if as_listed(said.get("jurisdiction"), needing) in needing else (where,)


def as_listed(jurisdiction: str | None, needing: Collection[str]) -> str | None:
    """A jurisdiction as the firm's list spells it, where it is in it: `us-ny` is its `US-NY`."""
    said = (jurisdiction or "").casefold()
    return next((each for each in needing if each.casefold() == said), jurisdiction)


_LICENSE: Final = (
    Ask(
        "license",
        "Number of your license there (Enter: none; VP-06 will stop it)",
        "license",
        optional=True,
    ),
    Ask(
        "license_valid_to",
        "Its expiration date, like 2027-06-30 (Enter: none on it)",
        "license valid to",
        reader="day",
        optional=True,
    ),
)
