"""What a person says, before it is signed and after."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from bailee.domain import numbers
from bailee.frozen import field, frozen
from bailee.presentation import words as custody
from bailee.signing import disclosures, signed_statement

if TYPE_CHECKING:
    from bailee_cli.device.outbox import Kept


@frozen
class Act:
    """What a person says: the chain it is about, the act, its public facts, and its private ones (empty ones
    are left out).
    """

    chain: str
    act: str
    data: Mapping[str, Any]
    private: Mapping[str, str | None] = field(default_factory=dict)
    refs: tuple[str, ...] = ()
    fresh: bool = False
    """The number of the chain was made for this act, so that typing it again would make another."""


def data_of(kept: Kept) -> Mapping[str, Any]:
    """The public facts of a statement this device signed."""
    return signed_statement.read(kept.text).claims.data


def signed_at(kept: Kept) -> datetime:
    """When this device signed a statement, by its clock."""
    return datetime.fromtimestamp(signed_statement.read(kept.text).claims.iat, UTC)


def may_sign(kept: Kept) -> str:
    """What an enrollment that this device signed lets whom do: `Ines Vole (YFqd…) may sign as clerk`."""
    claims = signed_statement.read(kept.text).claims
    told = disclosures.reveal(kept.disclosures, claims.private, claims.data)
    who = told.get("person") or "A person without a name"
    return f"{who} ({claims.data['kid'][:4]}…) may sign as {custody.plain(claims.data['role'])}"


def spoken(chain: str) -> str:
    """A chain in words: `form F7K3 M9Q2 XF4P`."""
    kind, _, number = chain.partition("/")
    return f"organization {number}" if kind == "org" else f"{kind} {numbers.grouped(number)}"
