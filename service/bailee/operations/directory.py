"""Finding the organization somebody meant: a mistyped name is taken for a true one as soon as
it is signed.
"""

from __future__ import annotations

from difflib import SequenceMatcher
from typing import Final

from sqlalchemy.engine import Connection

from bailee.domain.organizations import Organization
from bailee.errors import Unknown
from bailee.operations.snapshots import Books
from bailee.store import founding

_ALIKE: Final = 0.4
"""Share of characters that two names must have in common and in order to be taken for each other (common
practice, no source)."""
_MOST: Final = 3


def nearest(connection: Connection, wanted: str) -> list[str]:
    """Names of founded organizations that look like this one, the likest first.

    At most three, and none that look otherwise.
    """
    alike = SequenceMatcher(b=wanted.lower(), autojunk=False)
    rated = []
    for name in founding.organizations(connection):
        alike.set_seq1(name.lower())
        rated.append((-alike.ratio(), name))
    return [name for rate, name in sorted(rated) if -rate >= _ALIKE][:_MOST]


def require(connection: Connection, books: Books, wanted: str) -> Organization:
    """The organization of this name. Raises `Unknown` with what was perhaps meant in `facts["nearest"]`."""
    found = books.organization(connection, wanted)
    if found is None:
        near = nearest(connection, wanted)
        meant = f" Known names like it: {', '.join(near)}." if near else ""
        raise Unknown(
            f"No organization {wanted!r} was founded here.{meant}", organization=wanted, nearest=near
        )
    return found
