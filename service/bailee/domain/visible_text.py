"""Text that shows all that is in it: nothing that moves a cursor, turns the direction of reading, or looks
like nothing at all.

What other people wrote is shown beside what was found of it. A sign that cannot be seen could hide words,
push them out of sight, or make two names look like one.
"""

from __future__ import annotations

import re
from typing import Final

_BLANK: Final = re.compile(
    "[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2800\u3164\ufe00-\ufe0f\uffa0\U00016fe4\U0001d159\U000e0100-\U000e01ef]"
)
"""Signs that Python calls printable and that show nothing: Unicode 15.0, Default_Ignorable_Code_Point (UAX
44), and two blank symbols."""


def visible(text: str, keep: str = "") -> str:
    """The text with U+FFFD for every sign that cannot be seen, ordinary spaces and those in `keep` aside."""
    if text.isascii() and text.isprintable():
        return text
    seen = "".join(
        each if each.isprintable() or each in keep else "\N{REPLACEMENT CHARACTER}" for each in text
    )
    return _BLANK.sub("\N{REPLACEMENT CHARACTER}", seen)
