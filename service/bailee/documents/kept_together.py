"""What no paper divides between two lines: numbers in groups, times with their offset, values with units."""

from __future__ import annotations

import re
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
    rf"|{_DAY}(?: \d\d?:\d\d(?::\d\d)?)?(?: \(?[+-]\d\d:?\d\d\)?)?"
    r"|\[\d\d:\d\d(?::\d\d)? \([+-]\d\d:\d\d\)\]"
    rf"|\b{_MONTH} \d\d?, \d{{4}}\b|\b\d\d?:\d\d [ap]m\b"
    rf"|\b\d\d? {_MONTH} \d{{4}}\b|\b\d\d:\d\d \(\d\d?:\d\d [ap]m\)"
    rf"|[+-]?\d[\d.,]*(?: to [+-]?\d[\d.,]*)? {_UNIT}(?: \d+ (?:h|min|s)\b)*"
)


def tied(words: str) -> str:
    """The same words, with ties for the spaces inside what is kept together."""
    return _TOGETHER.sub(lambda found: found[0].replace(" ", TIE), words)
