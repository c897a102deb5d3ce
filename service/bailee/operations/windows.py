"""Planning a hand-over: when it would arrive, by when it must go, and what else could be done."""

from __future__ import annotations

from decimal import Decimal

from sqlalchemy.engine import Connection

from bailee.domain import numbers
from bailee.domain.acts.form import Opened
from bailee.domain.moments import Moment
from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee.operations import number_lookup, visibility
from bailee.operations.ledger import Ledger
from bailee.planning.alternatives import Choice, alternatives
from bailee.rules import transit
from bailee.rules.transit import Window


@frozen
class PlannedTrip:
    """What a hand-over is planned for: whose form, to whose dock, from which zone, how old the oldest run is,
    and the limit on that.
    """

    firm: str
    lab: str
    zone: str
    oldest: Moment | None = None
    hold_h: Decimal | None = None


@frozen
class Planned:
    """The window asked about, and the alternatives, the best first; `trip` says what they
    were reckoned from.
    """

    trip: PlannedTrip
    window: Window
    choices: tuple[Choice, ...]


def trip_of(ledger: Ledger, connection: Connection, asker: str, number: str) -> PlannedTrip:
    """The trip of a form or a sealed envelope.

    Raises `Unknown` for one the asker may not see, `Malformed` for another number.
    """
    kind = numbers.kind_of(number)
    if kind not in ("form", "envelope"):
        raise Malformed("Give the number of a form or an envelope.", code="wrong-kind", number=number)
    envelope = number if kind == "envelope" else None
    if kind == "form":
        visibility.require(connection, f"form/{number}", asker)
    forms = number_lookup.forms_with(connection, ledger.books, asker, number) if envelope else {number}
    if not forms:
        raise visibility.nothing(kind, number)
    case = ledger.books.case(connection, forms, ledger.now(), asker)
    first = case.forms[min(forms)]
    opened = first.opened.of(Opened)
    hold = min(case.policy(form).hold_warn_h for form in case.forms.values())
    return PlannedTrip(
        opened.parties.firm, opened.parties.lab, opened.zone, transit.oldest_run(case, envelope), hold
    )


def window(
    ledger: Ledger,
    connection: Connection,
    trip: PlannedTrip,
    handed_over: Moment,
    *,
    carrier: str,
    days: int,
    saturday: bool,
    carried: Moment | None = None,
) -> Planned:
    """Plan a hand-over at a moment by a carrier's service.

    `carried`: when a person who carries it instead would be at the dock.
    Whoever asks about a laboratory not here is told what was assumed.
    """
    firm = ledger.books.organization(connection, trip.firm)
    lab = ledger.books.organization(connection, trip.lab)
    found = transit.between(
        firm, lab, carrier=carrier, days=days, saturday=saturday, handed_over=handed_over, zone=trip.zone,
        oldest=trip.oldest, hold_h=trip.hold_h,
    )  # fmt: skip
    route = found.route
    assert route is not None
    hold = trip.hold_h if trip.hold_h is not None else (firm.policy.hold_warn_h if firm else None)
    told = (
        transit.office_shut(firm, handed_over),
        "" if carried else transit.carried_in_time(route, trip.oldest, hold, handed_over),
    )
    found = Window(found.plan, found.latest, (*found.notes, *filter(None, told)), route)
    choices = alternatives(
        handed_over,
        route,
        office=firm.calendars.get("office") if firm else None,
        oldest=trip.oldest,
        hold_h=hold,
        carried=carried,
    )
    return Planned(trip, found, tuple(choices))
