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

from collections.abc import Iterator
from datetime import date
from typing import Final

from sqlalchemy.engine import Connection

from bailee.domain.lots import Lot
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.domain.policy import Policy
from bailee.operations import queries
from bailee.operations.ledger import Ledger
from bailee.rules.case import Case
from bailee.rules.registry import ORDER, RULES, Finding, evaluate
from bailee.rules.remedies import ToldAct, act
from bailee.rules.wording import counted, day

_OF_THE_LOT: Final = ("ML-03", "ML-05", "ML-06")
"""Rules that speak of a lot by itself, as they stand."""


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
    found = [*alone, *_of_this_issue(lot, count, at.local_date, visit, policy)]
    return sorted(found, key=lambda each: (ORDER.index(each.severity), each.rule))


def _of_this_issue(
    lot: Lot, count: int, today: date, visit: date | None, policy: Policy
) -> Iterator[Finding]:
    now, then = lot.on(today, policy), lot.on(visit, policy) if visit else None
    if now and not now.may_be_used:
        yield _finding(
            lot,
            "ML-02",
            f"Lot {_named(lot)} went out of date {counted(now.past, 'day')} ago: its last good day was"
            f" {day(now.last)}.",
            "Set the cassettes of this lot aside and issue from one that is in date.",
        )
    elif visit and then and not then.may_be_used:
        yield _finding(
            lot,
            "ML-04",
            f"The visit of {day(visit)} is {counted(then.past, 'day')} after the last good day of lot"
            f" {_named(lot)}, {day(then.last)}.",
            "Issue from a lot that is in date on the day of the visit.",
        )
    if count > lot.left:
        yield _finding(
            lot,
            "ML-09",
            f"{counted(count, 'number')} asked for, and lot {_named(lot)} holds"
            f" {counted(max(lot.left, 0), 'cassette')} more: {lot.count} came in, {len(lot.issued)} have a"
            " number.",
            "Count the shelf, or issue fewer.",
            act("counted", lot=lot.number, remaining=None, voided=None),
        )


def _finding(lot: Lot, rule: str, sentence: str, remedy: str, *acts: ToldAct) -> Finding:
    known = RULES[rule]
    return Finding(known.id, known.severity, known.area, lot.number, sentence, remedy, acts=acts)


def _named(lot: Lot) -> str:
    return f"{grouped(lot.number)} ({lot.maker_lot})"
