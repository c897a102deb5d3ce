"""The names of private fields: what is said of people and places beside a statement, and can be erased.

A statement may carry others, which a newer program may know: they are kept, and shown as somebody's words,
never where a reader looks for what was found.
"""

from __future__ import annotations

from typing import Final

OF_A_VISIT: Final = ("client", "site", "contact", "question", "note")
"""Those of an opening: they stand at the head of a form, in this order."""

KNOWN: Final = frozenset({*OF_A_VISIT, "place", "called_person", "answer", "person", "device"})
"""All that this program writes."""
