"""The chase list of an organization: its open forms and its lots, read and judged now; and for one page what
needs somebody of it, with what is new: also which forms are stopped or in trouble, and what is amiss with the
log or its own keys.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import zip_longest
from typing import Final

from sqlalchemy.engine import Connection

from bailee.domain.acts import mentions
from bailee.domain.custody import Form
from bailee.domain.lots import Lot
from bailee.domain.moments import Moment
from bailee.domain.organizations import Organization
from bailee.frozen import frozen
from bailee.operations import number_lookup, queries
from bailee.operations.ledger import Ledger
from bailee.operations.queries import Judged
from bailee.operations.snapshots import Books, OneReading
from bailee.operations.visibility import Asker
from bailee.planning import due_list as rules
from bailee.planning.due_list import Due
from bailee.rules.case import Case, Elsewhere
from bailee.rules.readers import Audience
from bailee.store import conflict_table, number_index, unanswered
from bailee.store.number_index import Mention

MOST_FORMS: Final = 500
"""Open forms read for one list, of each organization that made the asker a party.

One with more has another problem than their order.
"""
MOST_UNINVITED: Final = 20
"""The same, of an organization on none of whose forms the asker ever spoke: it may have named the asker
without asking."""

MOST_READ: Final = 40
"""Open forms read for one page; a list of all is asked for by itself (`chase`)."""
MOST_JUDGED: Final = 6
"""Of these so many are judged by every rule: somebody waits for the page."""
MOST_KEYS: Final = 5
NEWEST: Final = 12
"""Forms and lots listed because they are new."""


@frozen
class Chased:
    """What an organization should look after. `left_out`: so many more open forms were not read."""

    at: Moment
    items: tuple[Wanted, ...]
    left_out: int

    @property
    def overdue(self) -> int:
        """How many are over their time."""
        return sum(each.due.overdue for each in self.items)


def chase(ledger: Ledger, connection: Connection, asker: Asker) -> Chased:
    """Everything that concerns the asker's organization: what is overdue first, then by when it is due."""
    at, found, left_out = waiting(ledger, connection, ledger.books, asker.org)
    wanted = _wanted(found, asker)
    return Chased(at, tuple(wanted[due] for due in rules.in_order(wanted)), left_out)


def _wanted(found: Iterable[tuple[Case, list[Due]]], asker: Asker) -> dict[Due, Wanted]:
    """What waits, each as this asker reads it."""
    cases = [(case.read_by(asker.org, asker.role), dues) for case, dues in found]
    return {due: Wanted(due, case.reader, _form_of(case, due)) for case, dues in cases for due in dues}


def waiting(
    ledger: Ledger, connection: Connection, books: Books, org: str, most_forms: int = MOST_FORMS
) -> tuple[Moment, list[tuple[Case, list[Due]]], int]:
    """When it was looked, what concerns the organization beside the case that it is of, and how many open
    forms were left out.

    Forms are judged together only with forms of the very same parties, so that nobody who is no party of a
    form has a word in it.
    """
    numbers, left_out = unanswered.open_forms(connection, org, most_forms, MOST_UNINVITED)
    at = ledger.now()
    together: dict[frozenset[str], dict[str, Form]] = {}
    for number in numbers:
        form = books.form(connection, number)
        together.setdefault(form.parties, {})[number] = form
    lots = [
        lot
        for chain in number_index.chains_of(connection, org, "lot", MOST_FORMS)
        if (lot := books.lot(connection, chain.removeprefix("lot/")))
    ]
    found = [_of_lots(connection, books, at, org, lots)]
    for forms in together.values():
        orgs = books.organizations_of(connection, forms.values(), org)
        leaned = [books.lots_of(connection, form) for form in forms.values() if form.copies]
        of_copies = {number: lot for found_lots in leaned for number, lot in found_lots.items()}
        again = books.again(connection, forms.values(), org)
        elsewhere = Elsewhere(again=again) if again else None
        case = Case(at, forms, of_copies, orgs, elsewhere=elsewhere)
        found.append((case, rules.chase(case, (), ())))
    return at, [(case, [each for each in dues if org in each.concerns]) for case, dues in found], left_out


def _of_lots(
    connection: Connection, books: Books, at: Moment, org: str, lots: Sequence[Lot]
) -> tuple[Case, list[Due]]:
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
    return case, rules.chase(case, lots, used)


def _known(connection: Connection, books: Books, orgs: Iterable[str]) -> dict[str, Organization]:
    return {name: found for name in sorted(orgs) if (found := books.organization(connection, name))}


@frozen
class Wanted:
    """One thing to chase, who reads it, and on which form it is, if on one."""

    due: Due
    reader: Audience
    form: str | None


@frozen
class Needs:
    """All of it. `forked` are people whose key signed what contradicts itself; `not_read` and `not_judged`
    count open forms. `newest` forms and lots need nothing.
    """

    at: Moment
    forked: tuple[str, ...]
    judged: tuple[tuple[Form, Judged], ...]
    wanted: tuple[Wanted, ...]
    not_read: int
    not_judged: int
    newest: tuple[Form, ...]
    lots: tuple[Lot, ...]


def needs(ledger: Ledger, connection: Connection, asker: Asker) -> Needs:
    """What this asker's organization should look at, as somebody in the asker's role is told it."""
    books = OneReading(ledger.books)
    at, found, not_read = waiting(ledger, connection, books, asker.org, MOST_READ)
    cases = [(case.read_by(asker.org, asker.role), dues) for case, dues in found]
    open_forms = [form for case, _ in cases for form in case.forms.values()]
    first = _most_urgent(open_forms, asker.org)[:MOST_JUDGED]
    return Needs(
        at=at,
        forked=_forked(ledger, connection, asker.org),
        judged=tuple(
            queries.form(ledger, connection, asker.org, form.number, role=asker.role, read=books)
            for form in first
        ),
        wanted=tuple(_wanted(found, asker).values()),
        not_read=not_read,
        not_judged=len(open_forms) - len(first),
        newest=tuple(books.form(connection, number) for number in _newest(connection, asker.org, "form")),
        lots=tuple(
            lot for number in _newest(connection, asker.org, "lot") if (lot := books.lot(connection, number))
        ),
    )


def _most_urgent(forms: Iterable[Form], org: str) -> list[Form]:
    """Those that the organization opened, the oldest first; then those that others opened, of each opener one
    in turn, so that one who opens many pushes away nobody else's.
    """
    opened: dict[str, list[Form]] = {org: []}
    for form in sorted(forms, key=lambda form: form.opened.entry.rec):
        opened.setdefault(form.opened.entry.org, []).append(form)
    own = opened.pop(org)
    turns = zip_longest(*opened.values())
    return own + [form for turn in turns for form in turn if form]


def _newest(connection: Connection, org: str, kind: str) -> list[str]:
    return [chain.removeprefix(f"{kind}/") for chain in number_index.chains_of(connection, org, kind, NEWEST)]


def _form_of(case: Case, due: Due) -> str | None:
    """The form that a due thing is on; None where it is on several, or a lot."""
    forms = [form.number for form in case.about(due.about)]
    return forms[0] if len(forms) == 1 else None


def _forked(ledger: Ledger, connection: Connection, org: str) -> tuple[str, ...]:
    found = conflict_table.of_organization(connection, org, MOST_KEYS)
    own = ledger.books.organization(connection, org) if found else None
    return tuple(dict.fromkeys(own.person(each.kid) for each in found if own and not each.late))
