"""The chase list of an organisation: its open forms and its lots, read and judged now."""

from __future__ import annotations

from typing import Final

from sqlalchemy.engine import Connection

from bailee.domain.moments import Moment
from bailee.frozen import frozen
from bailee.operations.ledger import Ledger
from bailee.rules import chase as rules
from bailee.rules.case import Case
from bailee.rules.chase import Due
from bailee.store import mentions, unanswered

MOST_FORMS: Final = 500
"""Open forms read for one list; a firm with more of them has another problem than their order."""


@frozen
class Chased:
    """What an organisation should look after. `left_out`: there are more open forms than were read."""

    at: Moment
    items: tuple[Due, ...]
    left_out: bool

    @property
    def overdue(self) -> int:
        """How many are over their time."""
        return sum(each.overdue for each in self.items)


def chase(ledger: Ledger, connection: Connection, org: str) -> Chased:
    """Everything that concerns the organisation: what is overdue first, then by when it is due."""
    numbers = unanswered.open_forms(connection, org, MOST_FORMS + 1)
    at, books = ledger.now(), ledger.books
    forms = {number: books.form(connection, number) for number in numbers[:MOST_FORMS]}
    orgs = {org, *(name for form in forms.values() for name in form.organisations)}
    known = {name: found for name in sorted(orgs) if (found := books.organisation(connection, name))}
    chains = mentions.chains_of(connection, org, "lot", MOST_FORMS)
    lots = [lot for chain in chains if (lot := books.lot(connection, chain.removeprefix("lot/")))]
    asked = sorted({number for lot in lots for number, issued in lot.issued.items() if issued.visit})
    used = {m.number for m in books.spoken(connection, asked) if m.what in ("collected", "voided")}
    due = rules.chase(Case(at, forms, {lot.number: lot for lot in lots}, known), lots, used)
    mine = tuple(each for each in due if org in each.concerns)
    return Chased(at, mine, len(numbers) > MOST_FORMS)
