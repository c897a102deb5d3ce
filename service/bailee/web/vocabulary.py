"""What the app at `/sign/` knows of acts: the facts and roles of those that are signed on a phone, the codes
with their words, the cautions. Made of the registry of acts and the table of words, so that neither is
written twice.
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
    Excepted,
    Held,
    Opened,
    OutdoorRuledOut,
    Received,
    Relinquished,
    Requested,
    Sealed,
    Shipped,
    TakenIn,
    Unsealed,
    Voided,
    Witnessed,
)
from bailee.domain.acts.organization import Enrolled, Revoked, Rotated
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.acts.table import ACCEPTED, ON_HOLD, REJECTED, ROWS, name_of
from bailee.domain.facts import Facts
from bailee.domain.fields import EDITION
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


def as_module() -> bytes:
    """`vocabulary.js` of the app: the same bytes in every process of one edition."""
    told = json.dumps(vocabulary(), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return f"export const vocabulary = {told};\n".encode()


def _act(name: str) -> dict[str, Any]:
    row = ROWS[name]
    shape = described(row.facts)
    for member in _NEVER.get(name, ()):
        del shape["properties"][member]
    reckoned = sorted({*row.computed, *row.facts.later})
    return {"words": row.words, "may": sorted(row.may), "data": _bare(shape), "reckoned": reckoned}


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
