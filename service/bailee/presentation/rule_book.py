"""The rule book as people read it: every rule by its group, and all that is known of one.

Everything follows from the registry and the meanings of the thresholds. Terminal and pages take it from here.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Final

import bailee.rules  # noqa: F401 - enters every rule in the registry
from bailee.domain import policy
from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.presentation import words
from bailee.rules import thresholds
from bailee.rules.registry import REFUSALS, RULES, Refusal, Rule

GROUPS: Final[Mapping[str, str]] = {
    "ML": "Media lot",
    "CL": "Cassette and label",
    "VP": "Preparation of the visit",
    "SL": "Where samples were collected",
    "PV": "Pump, flow, time",
    "OC": "Outdoor control",
    "BD": "Blanks and duplicates",
    "SE": "Sealing",
    "SH": "Shipping",
    "RC": "Receiving dock",
    "CU": "Custody and time",
    "SI": "Signatures and roles",
}
"""By the letters of their codes, in the order of the work."""
ABOUT: Final = (
    "Some rules change severity by degree, and each organization sets its own thresholds.",
    "What is not recorded cannot be true, or is not genuine.",
    "Sources name where a rule comes from, often a rule of another trade applied by analogy.",
    "A source listed here need not apply to your case; no lawyer has reviewed them.",
    "We found no published holding time for spore traps.",
    "Common practice means that there is no source to cite.",
)
"""What the list means, and what nobody should take it for."""
_REFUSED: Final = (
    "Correct what the answer shows, and sign it again: nothing was recorded, and nothing else was lost."
)
_ASKED: Final = (
    "Whenever a form or envelope is judged: before it is sealed or shipped, at the dock, on its page, in the"
    " auditor's file."
)
_ASKED_LAST: Final = " After all other rules, because it asks what they found."
_AFTERWARDS: Final = " A stop found after it was shipped is a flag."
_ASKED_FIRST: Final = (
    "When an entry arrives, before anything is recorded: it cannot be true, or is not genuine."
)
_CODE: Final = re.compile(r"([A-Z]{2})[- ]?([0-9]{1,2})")
_NEAR: Final = 5

THRESHOLD_HEADINGS: Final = ("Threshold", "Default", "Stricter", "Meaning")
"""Of the table beside a rule. Stricter is the direction that asks more of people."""


@frozen
class ThresholdLine:
    """A threshold that a rule reads: its name in a policy, its default with unit, its meaning, its source."""

    name: str
    default: str
    says: str
    stricter: str
    source: str

    @property
    def cells(self) -> tuple[str, str, str, str]:
        """As `THRESHOLD_HEADINGS` names them."""
        return self.name, self.default, self.stricter, f"{self.says} Source: {self.source}."


@frozen
class RuleLine:
    """One rule in words. `severity` is the code; `allowed` says who may except it, empty where nobody may."""

    code: str
    group: str
    severity: str
    sentence: str
    remedy: str
    afterwards: str
    allowed: str
    asked: str
    source: str
    thresholds: tuple[ThresholdLine, ...] = ()

    def facts(self) -> Iterator[tuple[str, str]]:
        """What is said of it, each with its heading."""
        yield "Severity", words.severity_meaning(self.severity)
        yield words.NOW, self.remedy
        if self.afterwards:
            yield "After it was shipped", self.afterwards
        yield "Exception", self.allowed or "None."
        yield "Asked", self.asked
        yield "Source", self.source


@cache
def book() -> Mapping[str, RuleLine]:
    """Every rule by its code, by group and number."""
    lines = [*map(_rule, RULES.values()), *map(_refusal, REFUSALS.values())]
    order = list(GROUPS)
    return {
        each.code: each for each in sorted(lines, key=lambda each: (order.index(each.code[:2]), each.code))
    }


def by_group() -> Iterator[tuple[str, list[RuleLine]]]:
    """Each group with its rules."""
    for letters, title in GROUPS.items():
        yield title, [each for each in book().values() if each.code[:2] == letters]


def look_up(code: str) -> RuleLine:
    """The rule of a code as people type it: `OC-01`, `oc1`.

    Raises `Malformed` with the codes that are like it.
    """
    wanted = code.strip().upper()
    if written := _CODE.fullmatch(wanted):
        wanted = f"{written[1]}-{written[2]:>02}"
    if found := book().get(wanted):
        return found
    group = [each for each in book() if each[:2] == wanted[:2]]
    near = group if wanted in GROUPS else difflib.get_close_matches(wanted, group or book(), _NEAR, 0.5)
    told = (
        f"did you mean {' or '.join(filter(None, [', '.join(near[:-1]), near[-1]]))}?"
        if near
        else "`bailee rules` lists them all."
    )
    raise Malformed(f"No rule has the code {code!r}: {told}", code="unknown-rule", near=near)


def source_for_people(source: str) -> str:
    """A source as users may read it: what nobody looked up is common practice, not a citation."""
    parts = [
        "common practice" if "memory" in part or part == policy.COMMON_PRACTICE else part
        for part in source.split("; ")
    ]
    return "; ".join(dict.fromkeys(parts))


def _rule(each: Rule) -> RuleLine:
    return RuleLine(
        each.id,
        GROUPS[each.id[:2]],
        each.severity,
        each.title,
        each.remedy.words,
        each.afterwards.words if each.afterwards else "",
        _allowed(each),
        _ASKED
        + (_ASKED_LAST if each.last else "")
        + (
            f" Of forms opened under edition {each.edition} of the rule book or later."
            if each.edition > 1
            else ""
        )
        + (_AFTERWARDS if each.severity == "block" or each.afterwards else ""),
        source_for_people(each.source),
        tuple(_thresholds(each.id)),
    )


def _refusal(each: Refusal) -> RuleLine:
    return RuleLine(
        each.id, GROUPS[each.id[:2]], "refuse", each.title, _REFUSED, "", "", _ASKED_FIRST,
        source_for_people(each.source),
    )  # fmt: skip


def _allowed(each: Rule) -> str:
    if not each.may_be_excepted:
        return ""
    who = (
        f"a person of the {' or '.join(map(words.plain, sorted(each.signers)))} role"
        if each.signers
        else "a second person"
    )
    why = f", for this reason: {' or '.join(map(words.plain, sorted(each.reasons)))}" if each.reasons else ""
    return f"By {who}{why}."


def _thresholds(rule: str) -> Iterator[ThresholdLine]:
    for name, meaning in policy.meanings().items():
        if rule in meaning.rules.split(", "):
            told = thresholds.figure(name, policy.default(name))
            yield ThresholdLine(name, told, meaning.says, meaning.stricter, source_for_people(meaning.source))
