"""What is said of earlier entries: corrected, allowed, affirmed, watched."""

from __future__ import annotations

import re
from collections.abc import Collection
from functools import cache
from typing import Annotated, Final, Literal

from bailee.domain.facts import Facts, Json, Reads, sized
from bailee.domain.fields import (
    Count,
    Digest,
    RuleId,
    Samples,
    Tag,
)  # fmt: skip
from bailee.errors import NOT_KNOWN, Malformed


def _public_field(name: object) -> str:
    """A private field is never corrected here: its new value would stand in the log in clear, for good."""
    if not isinstance(name, str) or not re.fullmatch(r"[a-z_]{1,40}(\.[a-z_]{1,40}){0,3}", name):
        raise Malformed("write the name of a member like pump, or preparation.cleaned_h_ago")
    first = name.partition(".")[0]
    if first not in _public_members():
        raise Malformed(
            f"{first!r} is no member of any entry; a private field is not corrected but entered again with a"
            " note",
            code=NOT_KNOWN,
        )
    return name


_ON_A_FORM: Final = (f"{__package__}.", "bailee.domain.acts.surface")


@cache
def _public_members() -> frozenset[str]:
    """The keys of all members of acts on a form, and of what stands in them."""
    kinds = [kind for kind in Facts.__subclasses__() if kind.__module__.startswith(_ON_A_FORM)]
    return frozenset(key for kind in kinds for key in kind.keys.values())


class Corrected(Facts):
    """An earlier statement said `old` at `field` (a member of its data); it should have said `new`.

    Private: note.
    """

    statement: Digest
    field: Annotated[str, Reads(_public_field)]
    old: Json
    new: Json
    reason: Literal["typing", "misread", "left_out", "wrong_item", "clock", "other"]


class Excepted(Facts):
    """A named finding is allowed, with a reason, by a second person.

    `about` is what the finding names. Private: note.
    """

    rule: RuleId
    about: Tag
    reason: Literal[
        "outdoor_impossible",
        "client_accepts",
        "lab_accepts",
        "no_alternative",
        "documented_elsewhere",
        "other",
    ]


class Affirmed(Facts):
    """I did make these statements, though my key was lost or reported since."""

    statements: Annotated[list[Digest], sized(1, 200)]


class Witnessed(Facts):
    """I watched what these statements say of another person.

    `samples` are the numbers that I read on the cassettes myself, `count` what I counted by hand; left out is
    not stated. Private: note.
    """

    statements: Annotated[list[Digest], sized(1, 200)]
    samples: Samples | None = None
    count: Count | None = None

    def saw(self, statement: str, named: Collection[str]) -> bool:
        """Whether this is a second word on a statement that names these samples.

        Where numbers were read, only on one of which every number was.
        """
        is_read = self.samples is None or (bool(named) and set(named) <= set(self.samples))
        return is_read and statement in self.statements
