"""What a person takes along into a basement without a network: cassettes and their dates, people to give to,
instruments, laboratories, limits, and the forms under way with the newest entry of each.

Everything in it the asker's organization may see anyway. It is gathered, never judged: only the service says
that something is ready.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from datetime import date, datetime
from typing import Final

from sqlalchemy.engine import Connection

from bailee.domain.acts.form import Opened
from bailee.domain.acts.lot import OF_SURFACES
from bailee.domain.acts.organization import EquipmentSet
from bailee.domain.custody import Form, Sample
from bailee.domain.lots import Lot
from bailee.domain.organizations import Key, Organization
from bailee.errors import Unknown
from bailee.frozen import frozen
from bailee.operations.ledger import Ledger
from bailee.operations.visibility import Asker
from bailee.store import number_index

MOST_LOTS: Final = 20
MOST_FORMS: Final = 20
MOST_ERASED: Final = 5000
"""Statements; a device that asks is told of each while it is among the newest."""


@frozen
class ErasedForm:
    """A form, those of its statements of which private fields were erased, and when the newest of it was
    recorded.
    """

    number: str
    statements: tuple[str, ...]
    recorded: datetime


@frozen
class Brief:
    """Of one organization. `laboratories` are those named on the newest forms on which it spoke and those it
    endorsed; `forms` those on which something is still to be done before it leaves, its own or opened by one
    of these. `erased` are, however old, those on which it spoke or that one of these opened, and of which
    private fields were erased: a device keeps none of it.
    """

    organization: Organization
    lots: tuple[Lot, ...]
    forms: tuple[Form, ...]
    erased: tuple[ErasedForm, ...]
    laboratories: tuple[str, ...]

    @property
    def people(self) -> list[Key]:
        """Keys to which something can be given."""
        return [key for key in self.organization.keys.values() if key.revocation is None]

    @property
    def instruments(self) -> Iterator[EquipmentSet]:
        """The newest word about each pump and each meter."""
        return (said[-1] for said in self.organization.equipment.values())


def brief(ledger: Ledger, connection: Connection, asker: Asker) -> Brief:
    """Everything an enrolled key takes along. Raises `Unknown` when its organization is not there."""
    books = ledger.books
    organization = books.organization(connection, asker.org)
    if organization is None:
        raise Unknown(f"No organization {asker.org!r} was founded here.", organization=asker.org)
    lots = [
        books.lot(connection, chain.removeprefix("lot/"))
        for chain in number_index.chains_of(connection, asker.org, "lot", MOST_LOTS)
    ]
    forms = [
        books.form(connection, chain.removeprefix("form/"))
        for chain in number_index.chains_of(connection, asker.org, "form", MOST_FORMS, apart=True)
    ]
    spoken = {each.number for each in forms if asker.org in each.speakers}
    known = {each.opened.of(Opened).parties.lab for each in forms if each.number in spoken}
    known |= organization.endorsed.keys()
    # What a stranger opened in its name is no visit of its own, and the stranger no laboratory to choose.
    asked = [each for each in forms if each.number in spoken or each.opened.entry.org in known]
    return Brief(
        organization,
        tuple(each for each in lots if each),
        tuple(each for each in asked if _is_under_way(each, asker.org)),
        _erased(connection, asker.org, known),
        tuple(sorted(known - {asker.org})),
    )


def carried(ledger: Ledger, connection: Connection, asker: Asker, visit: date) -> list[Lot]:
    """The lots of the cassettes that this key carries for a visit, as far as is known: issued to it, for that
    day or for any, and on no form yet. Where it was issued none: those issued to nobody by name.
    """
    mine: list[Lot] = []
    anybodys: list[Lot] = []
    for chain in number_index.chains_of(connection, asker.org, "lot", MOST_LOTS):
        lot = ledger.books.lot(connection, chain.removeprefix("lot/"))
        if lot is None or lot.org != asker.org or lot.cassette in OF_SURFACES:
            continue
        used = {each.sample for each in number_index.uses(connection, lot.number, asker.org)}
        free = [each for number, each in lot.issued.items() if number not in used]
        people = {each.to for each in free if each.visit in (None, visit)}
        mine += [lot] * (asker.kid in people)
        anybodys += [lot] * (None in people)
    return mine or anybodys


def _erased(connection: Connection, org: str, known: Collection[str]) -> tuple[ErasedForm, ...]:
    """The newest first."""
    statements: dict[str, set[str]] = {}
    recorded: dict[str, datetime] = {}
    for form, statement, at in number_index.erased(connection, org, known, MOST_ERASED):
        statements.setdefault(form, set()).add(statement)
        recorded.setdefault(form, at)
    return tuple(ErasedForm(form, tuple(sorted(found)), recorded[form]) for form, found in statements.items())


def _is_under_way(form: Form, org: str) -> bool:
    live = list(form.live)
    is_here = form.opened.of(Opened).parties.firm == org
    return is_here and (not live or any(_is_out(each, org) for each in live))


def _is_out(sample: Sample, org: str) -> bool:
    """Whether a sample is still with the firm and in no envelope."""
    return sample.envelope is None and sample.holder is not None and sample.holder.org == org
