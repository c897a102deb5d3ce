"""SH: whether the envelope reaches an open dock in time.

All is reckoned from the calendars people entered; no source gives a holding time for spore traps, so the hours are a firm's own.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bailee.domain.numbers import grouped
from bailee.rules import arrival, bounds, transit, trips
from bailee.rules.case import Case, airbill
from bailee.rules.registry import Hit, Severity, rule
from bailee.rules.trips import Trip
from bailee.rules.wording import printed, start

_CP: Final = "common practice, no source"
_READ_AGAIN: Final = (
    "Read the airbill again. If both envelopes travel in one parcel it is right, and stays as a warning; otherwise say the number of this one: "
    "`bailee ship ENVELOPE … --tracking …`."
)
_ONE_PARCEL: Final = (
    "Nothing to do if they travelled in one parcel; otherwise its sender corrects it: "
    "`bailee correct FORM --act shipped --field tracking --new … --reason misread`."
)
_TOO_OLD: Final = (
    "Nothing that is sent now comes in time. Ask the laboratory whether it takes samples of that age; those it does not take are taken again, "
    "and voided here: `bailee void … --form FORM --reason other`."
)
_BY_HAND: Final = (
    "Have it carried to the laboratory, `bailee window --for FORM --carrier …` tells when its dock is open; or ask the laboratory whether it "
    "takes samples of that age."
)
_HOLDS: Final[tuple[tuple[str, Severity], ...]] = (("hold_block_h", "block"), ("hold_warn_h", "warn"))


@rule(
    "SH-01", "The laboratory is shut when the envelope arrives", "warn", "media", _CP,
    "Choose another service or another day, `bailee window --for ENVELOPE --carrier … --at …` tells which would do; until "
    "then keep it locked, and say so: `bailee secure ENVELOPE --how locked --where office`.",
    afterwards="Tell the laboratory, so that somebody takes it in, or it lies safe until the dock opens.",
)  # fmt: skip
def dock_open(case: Case) -> Iterator[Hit]:
    """States the delivery, that the dock is shut then, and the next opening. Without the hours it only says so."""
    for trip in trips.under_way(case):
        lab = trip.lab
        window = trips.window(case, trip)
        if window is None:
            said = f"{lab} has entered no opening hours: when {trip.name} will be received, and how old it is then, is not checked."
            yield Hit(trip.envelope, said, "note", trip.entries)
            continue
        notes = "".join(f" {note}" for note in window.notes)
        if window.plan is None or window.route is None:
            said = f"When {trip.name} will be received cannot be reckoned.{notes}"
            yield Hit(trip.envelope, said, entries=trip.entries)
        elif said := arrival.dock_shut(trip.name, lab, trip.handed_over, window.plan, window.route):
            yield Hit(trip.envelope, said + notes, entries=trip.entries)


@rule(
    "SH-02", "Too long from collection to receipt", "warn", "media", "common practice; no source gives a holding time for spore traps",
    "Choose a faster service, or have it carried: `bailee window --for ENVELOPE --carrier …` tells what is still in time. "
    "Otherwise ask the laboratory whether it takes samples of that age.",
    may_be_excepted=True,
    afterwards="Ask the laboratory whether it takes samples of that age; it says so beside the result: `bailee accept ENVELOPE "
    "--qualified --reason late`.",
)  # fmt: skip
def in_time(case: Case) -> Iterator[Hit]:
    """From the oldest start of a run to the receipt: the soonest, as expected, or as it was. Strictly more than the policy's hours.

    Where the clock of a device cannot have been right, the worst bound of the start counts.
    """
    yield from _too_late_to_seal(case)
    for trip in trips.trips(case):
        plan = trips.plan(case, trip)
        received = trip.received or (plan.received if plan else None)
        started = [
            (bounds.begun(f, s), f, s) for f in trip.forms for s in f.live if trips.inside(trip, f, s.number)
        ]
        if received is None or not started:
            continue
        oldest, form, sample = min(started, key=lambda each: each[0])
        policy = case.policy(form)
        for crossed, severity in _HOLDS:
            said = arrival.too_old(
                trip.name, oldest, received, getattr(policy, crossed), is_past=trip.received is not None
            )
            if said:
                said += bounds.told(form, sample)
                yield Hit(trip.envelope, said, severity, trip.entries, by=(crossed,))
                break


def _too_late_to_seal(case: Case) -> Iterator[Hit]:
    """What no way of sending can mend, or only a person who drives, is said before the envelope closes."""
    started = [(bounds.begun(form, s), form, s) for form, s in case.samples()]
    if case.sealing is None or not started:
        return
    oldest, form, sample = min(started, key=lambda each: each[0])
    envelope, policy = case.sealing.envelope, case.policy(form)
    name, soonest = f"envelope {grouped(envelope)}", trips.soonest(case, form, case.sealing)
    for crossed, severity in _HOLDS:
        if said := arrival.already_too_old(name, oldest, soonest, getattr(policy, crossed)):
            said += bounds.told(form, sample)
            yield Hit(envelope, said, severity, by=(crossed,), remedy=_TOO_OLD, names=(form.number,))
            return
    latest = trips.latest_by_carrier(case, form, case.sealing, oldest)
    if latest and latest.instant < case.sealing.at.instant:
        said = arrival.only_by_hand(name, oldest, latest, policy.hold_warn_h) + bounds.told(form, sample)
        yield Hit(envelope, said, "warn", by=("hold_warn_h",), remedy=_BY_HAND, names=(form.number,))


@rule(
    "SH-03",
    "Handed over after the cut-off",
    "warn",
    "media",
    _CP,
    "Hand it over before the cut-off, or keep it locked until it leaves and say so: `bailee secure ENVELOPE --how locked "
    "--where office`.",
    afterwards="Nothing to do: the later receipt is what is reckoned with. Tell the laboratory.",
)
def before_cutoff(case: Case) -> Iterator[Hit]:
    """The cut-off itself is still in time."""
    for trip, _, plan, route in trips.reckoned(case):
        if said := arrival.after_cutoff(trip.name, trip.handed_over, plan, route):
            yield Hit(trip.envelope, said, entries=trip.entries)


@rule(
    "SH-04",
    "Days off between hand-over and delivery",
    "note",
    "media",
    _CP,
    "Nothing to correct: it is counted. The calendars are kept up to date with `bailee calendar carrier … --carrier …`, "
    "`bailee calendar lab …` and `bailee calendar office …`.",
)
def days_off(case: Case) -> Iterator[Hit]:
    """Days on which the carrier rests, and a hand-over planned for a time at which the firm's own office is shut."""
    for trip, _, plan, _ in trips.reckoned(case):
        said = arrival.days_off(trip.name, plan)
        firm = case.organisations.get(trip.org)
        shut = "" if trip.entries else transit.office_shut(firm, trip.handed_over)
        if said or shut:
            yield Hit(trip.envelope, " ".join(filter(None, (said, shut))), entries=trip.entries)


@rule(
    "SH-05", "Saturday delivery to a laboratory that is shut on Saturday", "block", "media", _CP,
    "Leave Saturday delivery out (`bailee ship ENVELOPE …` without `--saturday`), or ask the laboratory to open, and to "
    "enter it: `bailee calendar lab …`.", may_be_excepted=True,
    afterwards="Ask the laboratory whether somebody opens on that Saturday; if so it enters it: `bailee calendar lab …`.",
)  # fmt: skip
def saturday_open(case: Case) -> Iterator[Hit]:
    """Money spent so that the envelope lies outside a locked door over the weekend."""
    for trip, _, plan, route in trips.reckoned(case):
        if said := arrival.saturday_for_nothing(trip.name, trip.lab, plan, route):
            yield Hit(trip.envelope, said, entries=trip.entries)


@rule(
    "SH-06", "No tracking number, or one that another envelope has", "block", "custody",
    "OSHA Technical Manual II:4: ship with tracking to protect custody",
    "Say the carrier's tracking number: `bailee ship ENVELOPE … --tracking …`; or that a person of yours carries it: "
    "`bailee ship ENVELOPE … --by-hand`.",
    afterwards="Look on the airbill, and correct what was said: "
    "`bailee correct FORM --act shipped --field tracking --new … --reason left_out`.",
)  # fmt: skip
def tracked(case: Case) -> Iterator[Hit]:
    """A carrier signs nothing: its tracking number is all it says about the envelope. Several envelopes in one parcel share one."""
    for trip in trips.trips(case):
        if not (trip.tracking or trip.by_hand):
            severity: Severity = "block" if case.policy(trip.forms[0]).tracking_required else "warn"
            said = f"{trip.name} has no tracking number, and nobody is said to carry it by hand."
            yield Hit(
                trip.envelope,
                start(said),
                severity,
                trip.entries,
                by=("tracking_required",),
                is_proposed=not trip.entries,
            )
        elif trip.tracking and (others := _under_one_airbill(case, trip, trip.tracking)):
            said = f"Tracking number {trip.tracking} was given to {trip.name} and to {printed(others)}."
            yield Hit(
                trip.envelope, said, "warn", trip.entries, remedy=_ONE_PARCEL if trip.entries else _READ_AGAIN
            )


@rule(
    "SH-12",
    "Closed days of a year were never entered",
    "warn",
    "media",
    "follows from the calendars",
    "Enter the closed days of that year: the firm those of the carrier, `bailee calendar carrier … --carrier …`, the "
    "laboratory its own, `bailee calendar lab …`.",
)
def years_known(case: Case) -> Iterator[Hit]:
    """A year not entered is unknown, not free of holidays."""
    for trip, _, plan, _ in trips.reckoned(case):
        if said := arrival.unlisted_years(trip.name, plan):
            yield Hit(trip.envelope, said, entries=trip.entries)


def _under_one_airbill(case: Case, trip: Trip, tracking: str) -> list[str]:
    """Other envelopes that the same organisation handed to the same carrier under this number."""
    name = airbill(trip.org, trip.carrier, tracking)
    here = {
        each.envelope
        for each in trips.trips(case)
        if each.entries and each.tracking and airbill(each.org, each.carrier, each.tracking) == name
    }
    beyond = case.elsewhere.airbills.get(name, ()) if case.elsewhere else ()
    return sorted({*here, *beyond} - {trip.envelope})
