"""Erasing private fields: an act of administration, refused when it is not in order.

The act says how many fields of which statement are erased; their names come beside it as a private field that is signed, used here
and never kept. The rows go in the same transaction that records the act.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy.engine import Connection

from bailee.domain.privacy_acts import Erased
from bailee.errors import Forged, Unknown
from bailee.operations.books import Books
from bailee.signing.signed_statement import SignedStatement
from bailee.store import private
from bailee.store.private import Spoken


@dataclass(frozen=True, slots=True)
class Erasure:
    """What is about to go: rows of one statement."""

    spoken: Spoken
    positions: tuple[int, ...]

    def done(self, connection: Connection) -> None:
        """Erase it."""
        private.erase(connection, self.spoken, self.positions)


def require(connection: Connection, books: Books, signed: SignedStatement, body: Erased) -> Erasure:
    """What this act erases. Raises `Unknown` for a statement that is not on its chain, and `Forged` when it may not be done.

    Codes: `wrong-organisation` (it was made by another organisation), `retention-held`, `wrong-count` (so many are not there).
    """
    chain, org = signed.claims.sub, signed.claims.iss
    spoken = private.find(connection, body.statement)
    if spoken is None or spoken.chain != chain:
        raise Unknown(f"There is no statement {body.statement} on {chain}.", statement=body.statement)
    if spoken.org != org:
        raise Forged(
            f"That statement was made by {spoken.org}: only its own administrator may erase what is private in it.",
            code="wrong-organisation",
        )
    if chain.startswith("form/"):
        held = sorted(books.form(connection, chain.removeprefix("form/")).retained)
        if held:
            raise Forged(
                f"The private fields of this form are held by {', '.join(held)}: nothing is erased until they release it.",
                code="retention-held",
                held=held,
            )
    wanted = set(signed.disclosed.get("fields", "").split())
    positions = tuple(at for name, at in spoken.fields if not wanted or name in wanted)
    if len(positions) != body.count:
        raise Forged(
            f"There are {len(positions)} such private fields of this statement now, and {body.count} are named: look again.",
            code="wrong-count",
            count=len(positions),
        )
    return Erasure(spoken, positions)
