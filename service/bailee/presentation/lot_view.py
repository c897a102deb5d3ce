"""What is on record of a lot of cassettes, and the words for it."""

from __future__ import annotations

from collections.abc import Mapping

from bailee.domain.lots import Freshness, Lot
from bailee.frozen import frozen
from bailee.presentation import words
from bailee.presentation.words import Heading


@frozen
class LotView:
    """A lot. `left` are cassettes not yet issued.

    `past` says that its expiration date has passed, `grace` that it may be used all the same. `issued` are
    the numbers handed out, to whom and for which visit.
    """

    number: str
    facts: tuple[tuple[str, str], ...]
    count: int
    left: int
    past: bool
    grace: bool
    recalled: str
    issued: tuple[tuple[str, str, str], ...]


def lot_view(lot: Lot, today: Freshness | None, people: Mapping[str, str]) -> LotView:
    """The read model of a lot, and how it stands today; `people` are names by key."""
    facts = {
        Heading.MAKER_LOT: lot.maker_lot,
        Heading.CASSETTE: words.cassette(lot.cassette, lot.nominal_flow, lot.run_s),
        Heading.EXPIRATION: expiration(lot),
    }
    if lot.counted:
        facts[Heading.HAND_COUNTED] = str(lot.counted.remaining)
    return LotView(
        number=lot.number,
        facts=tuple(facts.items()),
        count=lot.count,
        left=lot.count - len(lot.issued),
        past=today is not None and not today.in_date,
        grace=today is not None and today.may_be_used and not today.in_date,
        recalled=words.plain(lot.recalled.reason) if lot.recalled else "",
        issued=tuple(
            (number, people.get(to.to or "", ""), to.visit.isoformat() if to.visit else "")
            for number, to in lot.issued.items()
        ),
    )


def expiration(lot: Lot | None) -> str:
    """When a lot expires, or why that is not known."""
    if lot is None:
        return words.LOT_UNKNOWN
    return words.expiration(lot.expires.isoformat() if lot.expires else None)
