"""Which questions are asked where samples change hands: at a transfer, an envelope, a courier, the dock, a
store.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, get_args

from bailee.asking.question import YES_NO, Ask, numbered
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.table import name_of
from bailee.domain.facts import choices
from bailee.domain.fields import Secured

_HAS_NO_BODY: Final = {"tape": ("cracked", "cover_off")}
"""Conditions that a medium cannot be in; the others keep their numbers."""


def condition(number: str, medium: str | None = None) -> Ask:
    """The condition of one sample as received: a cassette, or of a surface by its medium."""
    can_be = numbered(get_args(form_acts.Condition))
    return Ask(
        f"condition/{number}",
        f"{number} condition",
        f"condition of {number}",
        tuple(each for each in can_be if each[1] not in _HAS_NO_BODY.get(medium or "", ())),
        several=True,
    )


def count_by_hand(form: str) -> Ask:
    """How many were counted at a transfer, of one form where there are several."""
    which = f" of form {form}" if form else ""
    return Ask(
        f"count/{form}" if form else "count",
        f"Samples{which} counted (Enter: not counted)",
        label="counted",
        reader="whole",
        optional=True,
    )


PACKAGE: Final = Ask(
    "package",
    "Package (several with commas)",
    "package",
    numbered(get_args(form_acts.Package)),
    several=True,
)
SEAL_READ: Final = Ask("seal", 'Number as read on the seal ("none" if there is none)', "seal as read")
SEAL_STATE: Final = Ask("seal_state", "Seal", "seal", numbered(choices(form_acts.Dock, "seal_state")))
RECORD_INSIDE: Final = Ask("record_enclosed", "Is the custody record inside?", "record inside", YES_NO)
TEMPERATURE: Final = Ask(
    "temperature_c",
    "Temperature inside on opening, like 20 C or 68 F (Enter: not measured)",
    "temperature",
    reader="degrees_by_unit",
    optional=True,
    act=name_of(form_acts.Received),
)
SEAL_NUMBER: Final = Ask("seal", "Number on the custody seal", "seal", reader="seal_number")
ACROSS: Final = Ask("across_opening", "Is the seal across the opening?", "across the opening", YES_NO)
ENCLOSED: Final = Ask("record_enclosed", "Is the custody record in the envelope?", "record enclosed", YES_NO)
CONTAINERS: Final = Ask(
    "containers",
    "Bags or boxes, from outside (Enter: not counted)",
    "containers",
    reader="whole",
    optional=True,
)
PURPOSE: Final = Ask("purpose", "Purpose of the transfer", "purpose", numbered(get_args(form_acts.Purpose)))
PURPOSE_RECEIVED: Final = Ask(
    "purpose",
    "Purpose of the transfer (Enter: as the other person entered it)",
    "purpose",
    PURPOSE.choices,
    optional=True,
)
"""One of the two persons names it (CU-17)."""
CARRIER: Final = Ask("carrier", 'Carrier, or "by hand"', "carrier", act=name_of(form_acts.Shipped))
NOMINAL_FLOW: Final = Ask("nominal_flow", "Flow the maker states, L/min", "nominal flow", reader="flow")
SERVICE: Final = Ask("service", "Service, like next day", "service", act=name_of(form_acts.Shipped))
DAYS: Final = Ask("service_days", "Working days in transit", "working days", reader="days")
TRACKING: Final = Ask(
    "tracking",
    "Tracking number (a carrier needs one; only hand-carried goes without)",
    "tracking",
    optional=True,
    act=name_of(form_acts.Shipped),
)
CLASSIFIED: Final = Ask(
    "classified",
    "Transport class as the shipper decided, or Enter",
    "transport class",
    numbered(get_args(form_acts.Transport)),
    optional=True,
)
COURIER: Final = (
    Ask("courier_name", "Name of the person who carries it (Enter: not named)", "carried by", optional=True),
    Ask("slip", "Number of the receipt slip they signed (Enter: none)", "receipt slip", optional=True),
    Ask("expected", "When it is expected at the dock (Enter: not entered)", "expected", optional=True),
)
RELATION: Final = Ask(
    "relation", "What they are to the firm", "relation", numbered(choices(form_acts.Courier, "relation"))
)
SECURED: Final = Ask("secured", "How is it secured", "secured", numbered(get_args(Secured)))
STANDS: Final = Ask("where", "Where", "where", numbered(get_args(form_acts.Whereabouts)))
SEAL_SEEN: Final = Ask("seal_state", "Seal", "seal", numbered(get_args(form_acts.SealSeen)))
SEAL_OPENED: Final = Ask("seal", "Number read on the seal", "seal as read")
REASONS: Final = Ask(
    "reasons",
    "Reasons (several with commas)",
    "reasons",
    numbered(choices(form_acts.Decision, "reasons")),
    several=True,
)
RESAMPLE: Final = Ask(
    "resample",
    "Can a new sample be collected?",
    "new sample",
    numbered(choices(form_acts.Decision, "resample")),
)
KEEP_UNTIL: Final = Ask(
    "keep_until",
    "Keep until, like 2027-03-01 (Enter: as before)",
    "keep until",
    reader="day",
    optional=True,
    act=name_of(form_acts.Stored),
)


def from_store(known: Iterable[str]) -> Ask:
    """Out of which store; those in which something lies are offered by number."""
    choices = tuple((str(n), store, store) for n, store in enumerate(known, 1))
    return Ask("store", "Which store", "store", choices, act=name_of(form_acts.Withdrawn))


FIRST_NUMBER: Final = Ask("first", "Your number for the first of them, like 26-10412", "first number")
COUNTED: Final = Ask("total", "Samples counted by hand", "count by hand", reader="whole")
