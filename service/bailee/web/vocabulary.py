"""What the app at `/sign/` knows of acts: the facts and roles of those that are signed on a phone, the codes
with their words, the cautions. What only a desk signs is in a second one, loaded with its screens. Made of
the registry of acts and the table of words, so that neither is written twice.
"""

from __future__ import annotations

import json
from typing import Any, Final

from bailee.api.shapes import described
from bailee.domain import cautions
from bailee.domain.acts.form import (
    BUILDING_STATES,
    Affirmed,
    BuildingChanged,
    Collected,
    ConditionsRead,
    Corrected,
    Disposed,
    Excepted,
    Held,
    Opened,
    OutdoorRuledOut,
    Received,
    Relinquished,
    Requested,
    Sealed,
    Shipped,
    Stored,
    TakenIn,
    Unsealed,
    Voided,
    Withdrawn,
    Witnessed,
)
from bailee.domain.acts.lot import Issued, LotReceived, Recalled
from bailee.domain.acts.organization import CalendarSet, Enrolled, PolicySet, Revoked, Rotated
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.acts.table import ACCEPTED, ON_HOLD, REJECTED, ROWS, name_of
from bailee.domain.facts import Facts
from bailee.domain.fields import EDITION
from bailee.domain.policy import meanings
from bailee.presentation import surface_words, words
from bailee.rules import exceptions
from bailee.rules.registry import RULES, Rule

ON_A_PHONE: Final[tuple[type[Facts], ...]] = (
    Opened,
    Collected,
    Held,
    Relinquished,
    Received,
    Witnessed,
    Voided,
    OutdoorRuledOut,
    ConditionsRead,
    BuildingChanged,
    SurfaceCollected,
    Corrected,
    Excepted,
    Affirmed,
    Requested,
    Sealed,
    Unsealed,
    Shipped,
    TakenIn,
    Enrolled,
    Revoked,
    Rotated,
)
"""Acts that the app signs, beside the decisions of a laboratory."""

AT_A_DESK: Final[tuple[type[Facts], ...]] = (
    Stored,
    Withdrawn,
    Disposed,
    LotReceived,
    Issued,
    Recalled,
    CalendarSet,
    PolicySet,
)
"""Acts of which a phone knows nothing but who may sign them, until it shows a screen of the desk."""

_NAMES: Final = (*map(name_of, ON_A_PHONE), ACCEPTED, ON_HOLD, REJECTED)

_NEVER: Final = {name_of(Received): ("found",), name_of(Collected): ("volume_l",)}
"""Members that no app says: where a dock found what was not there before, and what is computed."""

_WORDS: Final = {
    "kind": {**words.KINDS, **surface_words.MEDIA},
    "medium": surface_words.MEDIA,
    "secured": words.SECURED,
    "tag": words.TAGS,
    "severity": {code: words.severity(code) for code in words.SEVERITIES},
}
"""By member, codes whose words are not the code with blanks."""


def vocabulary() -> dict[str, Any]:
    """As the app imports it."""
    return {
        "edition": EDITION,
        "acts": {name: _act(name) for name in _NAMES},
        "desk": {name: _may(name) for name in map(name_of, AT_A_DESK)},
        "words": _WORDS,
        "exceptions": {name: _exception(RULES[name]) for name in exceptions.exceptable()},
        "building": BUILDING_STATES,
        "demo": words.DEMO,
        "cautions": [each.says for each in cautions.ON_SITE],
        "cautions_end": cautions.DEFER,
        "visible_growth": cautions.VISIBLE_GROWTH.says,
        "surface": [each.says for each in cautions.SURFACE],
        "opening": cautions.OPENING.says,
        "unconditioned": cautions.UNCONDITIONED.says,
    }


def of_the_desk() -> dict[str, Any]:
    """What the screens of a desk know beside it."""
    limits = {
        name: {"says": each.says, "rules": each.rules, "stricter": each.stricter, "edition": each.edition}
        for name, each in meanings().items()
    }
    return {"acts": {name: _act(name) for name in map(name_of, AT_A_DESK)}, "limits": limits}


def as_module(told: dict[str, Any]) -> bytes:
    """A `vocabulary.js` of the app: the same bytes in every process of one edition."""
    text = json.dumps(told, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return f"export const vocabulary = {text};\n".encode()


def _act(name: str) -> dict[str, Any]:
    row = ROWS[name]
    shape = described(row.facts)
    for member in _NEVER.get(name, ()):
        del shape["properties"][member]
    reckoned = sorted({*row.computed, *row.facts.later})
    return {"may": _may(name), "data": _bare(shape), "reckoned": reckoned}


def _may(name: str) -> list[str]:
    return sorted(ROWS[name].may)


def _exception(rule: Rule) -> dict[str, list[str]]:
    """Which reasons and roles an exception of it needs; all where none are named."""
    return {"reasons": sorted(rule.reasons), "signers": sorted(rule.signers)}


def _bare(shape: Any) -> Any:
    """A shape without what is written for people who read it."""
    if isinstance(shape, dict):
        return {
            name: _bare(each)
            for name, each in shape.items()
            if name not in ("title", "description") or isinstance(each, dict)
        }
    return [_bare(each) for each in shape] if isinstance(shape, list) else shape
