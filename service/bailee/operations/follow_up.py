"""The chase list of an organization: its open forms and its lots, read and judged now."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from sqlalchemy.engine import Connection

from bailee.domain.acts import mentions
from bailee.domain.custody import Form
from bailee.domain.lots import Lot
from bailee.domain.moments import Moment
from bailee.domain.organizations import Organization
from bailee.frozen import frozen
from bailee.operations import number_lookup
from bailee.operations.ledger import Ledger
from bailee.operations.snapshots import Books
from bailee.planning import due_list as rules
from bailee.planning.due_list import Due
from bailee.rules.case import Case, Elsewhere
from bailee.store import number_index, unanswered
from bailee.store.number_index import Mention

MOST_FORMS: Final = 500
"""Open forms read for one list, of each organization that made the asker a party.

One with more has another problem than their order.
"""
MOST_UNINVITED: Final = 20
"""The same, of an organization on none of whose forms the asker ever spoke: it may have named the asker
without asking."""


@frozen
class Chased:
    """What an organization should look after. `left_out`: so many more open forms were not read."""

    at: Moment
    items: tuple[Due, ...]
    left_out: int

    @property
    def overdue(self) -> int:
        """How many are over their time."""
        return sum(each.overdue for each in self.items)


def chase(ledger: Ledger, connection: Connection, org: str) -> Chased:
    """Everything that concerns the organization: what is overdue first, then by when it is due.

    Forms are judged together only with forms of the very same parties, so that nobody who is no party of a
    form has a word in it.
    """
    numbers, left_out = unanswered.open_forms(connection, org, MOST_FORMS, MOST_UNINVITED)
    at, books = ledger.now(), ledger.books
    together: dict[frozenset[str], dict[str, Form]] = {}
    for number in numbers:
        form = books.form(connection, number)
        together.setdefault(form.parties, {})[number] = form
    lots = [
        lot
        for chain in number_index.chains_of(connection, org, "lot", MOST_FORMS)
        if (lot := books.lot(connection, chain.removeprefix("lot/")))
    ]
    found = _of_lots(connection, books, at, org, lots)
    for forms in together.values():
        orgs = books.organizations_of(connection, forms.values(), org)
        leaned = [books.lots_of(connection, form) for form in forms.values() if form.copies]
        of_copies = {number: lot for found_lots in leaned for number, lot in found_lots.items()}
        again = books.again(connection, forms.values(), org)
        elsewhere = Elsewhere(again=again) if again else None
        found += rules.chase(Case(at, forms, of_copies, orgs, elsewhere=elsewhere), (), ())
    mine = rules.in_order(each for each in found if org in each.concerns)
    return Chased(at, tuple(mine), left_out)


def _of_lots(connection: Connection, books: Books, at: Moment, org: str, lots: Sequence[Lot]) -> list[Due]:
    """A number counts as used by the word of the lot's owner and of whom the owner meant it for by name
    (`operations.number_lookup`).
    """
    asked = {number: lot for lot in lots for number, issued in lot.issued.items() if issued.visit}
    said: dict[str, list[Mention]] = {}
    for each in books.spoken(connection, sorted(asked), org):
        if each.what in (mentions.COLLECTED, mentions.VOIDED):
            said.setdefault(each.number, []).append(each)
    keys = number_lookup.Keys(connection, books)
    used = {
        number
        for number, spoken in said.items()
        if number_lookup.accounting(keys, asked[number], number, spoken)
    }
    case = Case(at, {}, {lot.number: lot for lot in lots}, _known(connection, books, {org}))
    return rules.chase(case, lots, used)


def _known(connection: Connection, books: Books, orgs: Iterable[str]) -> dict[str, Organization]:
    return {name: found for name in sorted(orgs) if (found := books.organization(connection, name))}
