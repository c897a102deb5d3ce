"""Whether numbers of a lot may be handed out.

Asked before it is signed: a cassette that is out of date is best not carried to a visit.

    ML-02  the lot is out of date on the day of asking                    stops
    ML-03  no expiry was entered                                          stops
    ML-04  the lot will be out of date on the day of the visit            warns
    ML-05  it is near its expiry                                          note
    ML-06  it is recalled                                                 stops
    ML-09  more numbers than cassettes that are left                      warns

What stops here stops the samples too, once they are taken; nothing is refused that was signed all the same.
"""

from __future__ import annotations

from datetime import date
from typing import Final

from sqlalchemy.engine import Connection

from bailee.domain.moments import Moment
from bailee.domain.policy import Policy
from bailee.operations import queries
from bailee.operations.ledger import Ledger
from bailee.rules.case import Case
from bailee.rules.checks import media
from bailee.rules.registry import ORDER, Finding, evaluate

_OF_THE_LOT: Final = ("ML-03", "ML-05")
"""Rules whose words about a lot by itself fit whoever hands it out."""


def findings(
    ledger: Ledger,
    connection: Connection,
    asker: str,
    number: str,
    count: int,
    at: Moment,
    visit: date | None,
) -> list[Finding]:
    """What the rules say of handing out so many numbers of a lot, the gravest first.

    Raises `Unknown` for a lot the asker may not see.
    """
    lot = queries.lot(ledger, connection, asker, number)
    owner = ledger.books.organization(connection, lot.org)
    case = Case(at, {}, {lot.number: lot}, {owner.id: owner} if owner else {})
    alone = [each for each in evaluate(case) if each.rule in _OF_THE_LOT]
    policy = owner.policy if owner else Policy()
    found = [*alone, *media.of_an_issue(lot, count, at.local_date, visit, policy)]
    return sorted(found, key=lambda each: (ORDER.index(each.severity), each.rule))
