"""What is said about private fields: that some were erased, and that a form's may not be for now."""

from __future__ import annotations

from typing import Annotated, Literal

from bailee.domain.facts import Facts, between
from bailee.domain.fields import Digest


class Erased(Facts):
    """So many private fields of this statement were erased for good; which ones is not said.

    The proofs hold without them.

    Private, and never kept: `fields`, their names, by which the ledger knows what to erase. Without it all of
    them are.
    """

    statement: Digest
    count: Annotated[int, between(1, 256)]


class RetentionHeld(Facts):
    """The private fields of this form must stay, until the same organization releases them. Private: note."""

    reason: Literal["dispute", "regulator", "contract", "investigation", "other"]


class RetentionReleased(Facts):
    """The private fields of this form need not stay any longer for our sake. Private: note."""

    reason: Literal["settled", "expired", "mistake", "other"]
