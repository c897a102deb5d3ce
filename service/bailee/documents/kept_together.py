"""What no paper divides between two lines: numbers in groups, times with their offset, values with units,
first and last names.
"""

from __future__ import annotations

import re
from itertools import pairwise
from typing import Final

TIE: Final = "\u00a0"
"""A space at which no line ends."""

_UNIT: Final = (
    r"(?:L/min|L|h|min|s|mm|cm|m|ft|in|hPa|°?[CF]|%|days?|hours?|minutes?|seconds?|weeks?)(?![\w/])"
)
_DAY: Final = r"(?:(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun)(?:day|sday|nesday|rsday|urday)?,? )?\d{4}-\d{2}-\d{2}"
_MONTH: Final = "(?:January|February|March|April|May|June|July|August|September|October|November|December)"
_TOGETHER: Final = re.compile(
    r"\b[0-9A-Z]{4}(?: [0-9A-Z]{4}){2}\b"
    rf"|(?:\b(?:[Ii]n|[Oo]ut)doors, (?:[\w-]+, )?)?{_DAY}(?: \d\d?:\d\d(?::\d\d)?)?(?: \(?[+-]\d\d:?\d\d\)?)?"
    r"|\[\d\d:\d\d(?::\d\d)? \([+-]\d\d:\d\d\)\]"
    rf"|\b{_MONTH} \d\d?, \d{{4}}\b|\b\d\d?:\d\d [ap]m\b"
    rf"|\b\d\d? {_MONTH} \d{{4}}\b|\b\d\d:\d\d \(\d\d?:\d\d [ap]m\)"
    r"|\b(?:Unit|Apt\.?|Apartment|Suite|Ste\.?|Building|Bldg\.?|Room|Point|No\.) [\w-]+"
    r"|\b(?:Vol\.|Run), [Ls]\b|\bentr(?:y \d+|ies \d+-\d+)"
    rf"|[+-]?\d[\d.,]*(?: to [+-]?\d[\d.,]*)? {_UNIT}(?: \d+ (?:h|min|s)\b| \([+-]?\d[\d.,]* {_UNIT}\))*"
)


_MOST: Final = 28
"""Characters of a name that is kept together: a longer one would leave half a line empty."""
_NAMED: Final = re.compile(r"[^\W\d_][\w'\u2019-]*(?: [^\W\d_][\w'\u2019-]*)+")


def tied(words: str) -> str:
    """The same words, with ties for the spaces inside what is kept together."""
    named = _NAMED.sub(lambda found: _names_in(found[0].split(" ")), words)
    return _TOGETHER.sub(lambda found: found[0].replace(" ", TIE), named)


def _names_in(words: list[str]) -> str:
    """Words in a row; two or three that begin with a capital each, a person, firm or place, are tied."""
    told, length = words[0], 1
    for before, word in pairwise(words):
        goes_on = _begins(before) and _begins(word) and length < 3
        length = length + 1 if goes_on else 1
        fits = len(told.rpartition(" ")[2]) + len(word) < _MOST
        told += (TIE if goes_on and fits else " ") + word
    return told


def _begins(word: str) -> bool:
    return word[0].isupper() and word != word.upper()
