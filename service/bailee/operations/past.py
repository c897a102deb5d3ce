"""The books as they stood at an instant, so that a check asked then is asked again with the same answer.

Nothing recorded later is in them, whatever it says happened earlier: samples, lots and their recalls, keys, policies, calendars, and
what the rest of the ledger said. What cannot be brought back is a private field that was erased since: its person is named by key.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from sqlalchemy.engine import Connection

from bailee.domain import lots, organisations
from bailee.domain.lots import Lot
from bailee.domain.organisations import Organisation
from bailee.domain.statements import Recorded
from bailee.operations.books import Books
from bailee.store import past
from bailee.store.mentions import Mention


class Past(Books):
    """Books up to and including an instant of recording; of the chains in `before` only what came before that entry."""

    def __init__(self, at: datetime, before: Mapping[str, int] | None = None) -> None:
        super().__init__()
        self._at = at
        self._lengths = {chain: n - 1 for chain, n in (before or {}).items()}

    def organisation(self, connection: Connection, org: str, *, steady: bool = False) -> Organisation | None:
        """The organisation as it stood then."""
        del steady  # the past does not move
        found = self.entries(connection, f"org/{org}")
        return organisations.fold(found) if found else None

    def lot(self, connection: Connection, number: str) -> Lot | None:
        """The lot as it stood then."""
        found = self.entries(connection, f"lot/{number}")
        return lots.fold(found) if found else None

    def entries(self, connection: Connection, chain: str) -> list[Recorded]:
        """What a chain held then."""
        return super().entries(connection, chain)[: self._length(connection, chain)]

    def spoken(
        self,
        connection: Connection,
        numbers: Sequence[str],
        asker: str,
        said_by: Collection[str] | None = None,
    ) -> list[Mention]:
        """Where the numbers had been spoken of by then, and what of it the asker could see then."""
        said = super().spoken(connection, numbers, asker, said_by)
        places = {(each.chain, n) for each in said for n in (each.n, each.since) if n is not None}
        asked = {place for place in places if place[0] not in self._lengths}
        then = past.recorded_by(connection, asked, self._at)
        then |= {(chain, n) for chain, n in places - asked if n <= self._lengths[chain]}
        return [
            each if (each.chain, each.since) in then else replace(each, since=None)
            for each in said
            if (each.chain, each.n) in then
        ]

    def gaps(self, connection: Connection, kids: Sequence[str]) -> dict[str, tuple[int, ...]]:
        """Counters that had not arrived by then."""
        return past.missing_counters_at(connection, kids, self._at)

    def _length(self, connection: Connection, chain: str) -> int:
        if chain not in self._lengths:
            self._lengths[chain] = past.length_at(connection, chain, self._at)
        return self._lengths[chain]
