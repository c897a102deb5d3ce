"""SH: whether the envelope reaches an open dock in time.

All is reckoned from the calendars people entered; no source gives a holding time for spore traps, so the
hours are a firm's own.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bailee.domain.acts.form import Sealed
from bailee.domain.numbers import grouped
from bailee.rules import clock_bounds, transit, trips
from bailee.rules.case import Case
from bailee.rules.registry import Hit, Severity, rule
from bailee.rules.remedies import advice, by, do, for_all

_CP: Final = "common practice, no source"
_TOO_OLD: Final = advice(
    "Nothing shipped now arrives within the limit. Ask the laboratory whether it accepts samples of that age;"
    " those it does not accept are collected again, and voided here.",
    do("voided", "sample", "form", reason="other"),
)
_BY_HAND: Final = advice(
    "Have it hand-carried to the laboratory while its dock is open; or ask the laboratory whether it accepts"
    " samples of that age.",
    do("ask_window", "form", carrier=...),
)
_ANOTHER_TIME: Final = advice(
    "Call the laboratory, so that the dock is attended; or let it arrive while the dock is open, and correct"
    " the time expected.",
    do("corrected", "form", of="shipped", field="expected_delivery", new=..., reason="other"),
)
_NO_HOURS: Final = advice(
    "Ask the laboratory when its dock is open; it can enter its hours once for all sampling firms."
)
_HOLDS: Final[tuple[tuple[str, Severity], ...]] = (("hold_block_h", "block"), ("hold_warn_h", "warn"))


@rule(
    "SH-01", "Laboratory closed at expected delivery", "warn", "media", _CP,
    by(
        ("clerk", "inspector"),
        "Choose another day or service. Keep it locked until then, and record that.",
        do("ask_window", "envelope", carrier=..., at=...),
        do("held", "envelope", secured="locked", where="office"),
    ),
    afterwards="The laboratory is notified, and states where it is secured until the dock opens.",
)  # fmt: skip
def dock_open(case: Case) -> Iterator[Hit]:
    """States the delivery, that the dock is shut then, and the next opening.

    Without the hours it only says so.
    """
    for trip in trips.under_way(case):
        lab = trip.lab
        window = trips.window(case, trip)
        if window is None:
            said = (
                f"{lab} has no opening hours on record: receipt of {trip.name}, and its age then, are not"
                " computed."
            )
            yield Hit(trip.envelope, said, "note", trip.entries, remedy=_NO_HOURS)
            continue
        notes = "".join(f" {note}" for note in window.notes)
        if trip.said.by_hand and window.plan:
            if said := transit.carried_to_a_shut_dock(trip.name, lab, window.plan):
                yield Hit(trip.envelope, said, entries=trip.entries, remedy=_ANOTHER_TIME)
        elif trip.said.by_hand and trip.said.expected_delivery is None:
            continue  # that nobody said when it arrives is SH-16
        elif window.plan is None or window.route is None:
            said = f"Expected receipt of {trip.name} cannot be computed.{notes}"
            yield Hit(trip.envelope, said, entries=trip.entries)
        elif said := transit.dock_shut(trip.name, lab, window.plan, window.route):
            yield Hit(trip.envelope, said + notes, entries=trip.entries)


@rule(
    "SH-02",
    "Too long from collection to receipt",
    "warn",
    "media",
    "common practice; we found no published holding time for spore traps",
    by(
        ("clerk", "inspector"),
        "Choose a faster service, or have it hand-carried. Otherwise ask the laboratory whether it accepts"
        " samples of that age.",
        do("ask_window", "envelope", carrier=...),
    ),
    may_be_excepted=True,
    afterwards=for_all(
        "The laboratory records whether it accepts samples of that age; it accepts them with the result"
        " qualified, as late.",
        do("accepted", "envelope", qualified=True, reason="late"),
    ),
)
def in_time(case: Case) -> Iterator[Hit]:
    """From the oldest start of a run to the receipt: the soonest, as expected, or as it was.

    Strictly more than the policy's hours.

    Where the clock of a device cannot have been right, the worst bound of the start counts.
    """
    yield from _too_late_to_seal(case)
    for trip in trips.trips(case):
        plan = trips.plan(case, trip)
        received = trip.received or (plan.received if plan else None)
        started = [
            (clock_bounds.begun(f, s), f, s)
            for f in trip.forms
            for s in f.live
            if trips.inside(trip, f, s.number)
        ]
        if received is None or not started:
            continue
        oldest, form, sample = min(started, key=lambda each: each[0])
        policy = case.policy(form)
        for crossed, severity in _HOLDS:
            said = transit.too_old(
                trip.name, oldest, received, getattr(policy, crossed), is_past=trip.received is not None
            )
            if said:
                said += clock_bounds.told(form, sample)
                yield Hit(trip.envelope, said, severity, trip.entries, by=(crossed,))
                break


def _too_late_to_seal(case: Case) -> Iterator[Hit]:
    """What no way of sending can mend, or only a person who drives, is said before the envelope closes."""
    started = [(clock_bounds.begun(form, s), form, s) for form, s in case.samples()]
    closing = case.draft(Sealed)
    if closing is None or not started:
        return
    oldest, form, sample = min(started, key=lambda each: each[0])
    envelope, policy = closing.body.envelope, case.policy(form)
    name, soonest = f"envelope {grouped(envelope)}", trips.soonest(case, form, closing)
    for crossed, severity in _HOLDS:
        if said := transit.already_too_old(name, oldest, soonest, getattr(policy, crossed)):
            said += clock_bounds.told(form, sample)
            yield Hit(envelope, said, severity, by=(crossed,), remedy=_TOO_OLD, names=(form.number,))
            return
    latest = trips.latest_by_carrier(case, form, closing, oldest)
    if latest and latest.instant < closing.body.at.instant:
        said = transit.only_by_hand(name, oldest, latest, policy.hold_warn_h) + clock_bounds.told(
            form, sample
        )
        yield Hit(envelope, said, "warn", by=("hold_warn_h",), remedy=_BY_HAND, names=(form.number,))


@rule(
    "SH-03",
    "Shipped after the cut-off",
    "warn",
    "media",
    _CP,
    by(
        ("clerk", "inspector"),
        "Ship it before the cut-off, or keep it locked until it is shipped and record that.",
        do("held", "envelope", secured="locked", where="office"),
    ),
    afterwards="Nothing to fix: the later expected receipt is used.",
)
def before_cutoff(case: Case) -> Iterator[Hit]:
    """The cut-off itself is still in time."""
    for trip, _, plan, route in trips.reckoned(case):
        if said := transit.after_cutoff(trip.name, trip.said.handed_over, plan, route):
            yield Hit(trip.envelope, said, entries=trip.entries)


@rule(
    "SH-04",
    "Days off between shipment and delivery",
    "note",
    "media",
    _CP,
    advice(
        "Nothing to fix: the days are counted. Update the calendars of carrier, laboratory and office when"
        " they change.",
        do("calendar_set", which="carrier", carrier=...),
        do("calendar_set", which="lab"),
        do("calendar_set", which="office"),
    ),
)
def days_off(case: Case) -> Iterator[Hit]:
    """Days on which the carrier rests, and a hand-over planned for a time at which the firm's own office is
    shut.
    """
    for trip, _, plan, _ in trips.reckoned(case):
        said = transit.days_off(trip.name, plan)
        firm = case.organizations.get(trip.org)
        shut = "" if trip.entries else transit.office_shut(firm, trip.said.handed_over)
        if said or shut:
            yield Hit(trip.envelope, " ".join(filter(None, (said, shut))), entries=trip.entries)


@rule(
    "SH-05", "Saturday delivery to a laboratory that is closed on Saturday", "block", "media", _CP,
    advice(
        "Leave Saturday delivery out, or ask the laboratory to open, and to enter it.",
        do("shipped", "envelope", saturday=False), do("calendar_set", which="lab"),
    ), may_be_excepted=True,
    afterwards=advice(
        "Ask the laboratory whether it opens on that Saturday; if so it enters it.",
        do("calendar_set", which="lab"),
    ),
)  # fmt: skip
def saturday_open(case: Case) -> Iterator[Hit]:
    """Money spent so that the envelope lies outside a locked door over the weekend."""
    for trip, _, plan, route in trips.reckoned(case):
        if said := transit.saturday_for_nothing(trip.name, trip.lab, plan, route):
            yield Hit(trip.envelope, said, entries=trip.entries)


@rule(
    "SH-12",
    "Closed days of a year were never entered",
    "warn",
    "media",
    "follows from the calendars",
    advice(
        "Enter the closed days of that year: the firm those of the carrier, the laboratory its own.",
        do("calendar_set", which="carrier", carrier=...),
        do("calendar_set", which="lab"),
    ),
)
def years_known(case: Case) -> Iterator[Hit]:
    """A year not entered is unknown, not free of holidays."""
    for trip in trips.under_way(case):
        plan = trips.plan(case, trip)
        if plan and (said := transit.unlisted_years(trip.name, plan)):
            yield Hit(trip.envelope, said, entries=trip.entries)
