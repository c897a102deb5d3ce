"""Where to sample first, and how many cassettes to carry: advice in words, before anybody drives.

The order is that of the trade (common practice, no source): growth that is plain to see or an active leak,
then past moisture, complaints, musty odor, what the client asks for, then where people spend time. A
complaint area, a non-complaint area and the outdoors belong together (NIOSH Method 0800, by analogy). It is
advice: the person on site decides, and local codes and licensed practice come first.

A short list of places as people write it, for `sampling_plan`: TOML or JSON of the same shape.

    visit_h = 5            # hours the visit will take
    indoor = 4             # at most so many places indoors; else every place with a sign, and a reference
    blanks = 1
    duplicates = 0
    on_the_day = 1         # cassettes for what looks worth it on the day

    [[places]]
    name = "main bedroom"
    complaint = true
    hours_a_day = 8

Of a place also: `visible_growth`, `active_leak`, `past_moisture`, `musty_odor`, `asked_for` (by the client;
it is sampled whatever `indoor` is; true or false), `space`
(conditioned, attic, crawl_space, garage, wall_cavity, other) and `reason` to sample in a space that is not
conditioned.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import field
from decimal import Decimal
from typing import Annotated, Any, Final, Literal

from bailee.domain import cautions, measures
from bailee.domain.acts.form import Space
from bailee.domain.facts import Facts, Reads, between, sized
from bailee.domain.fields import decimal_of
from bailee.domain.policy import COMMON_PRACTICE, Policy
from bailee.errors import BadFacts, Malformed
from bailee.frozen import frozen
from bailee.rules.checks.kit import Cassettes
from bailee.rules.wording import counted

THREE_SITES: Final = (
    "NIOSH Method 0800, by analogy: at least a complaint area, a non-complaint area and the outdoors"
)
COMPARABLE: Final = 2
"""Fewest places indoors that can be compared with each other: one in question, one reference (common
practice, no source)."""

Reason = Literal["complaint_there", "source_there", "client_request", "other"]
"""Why a space that is not lived in is sampled all the same: the codes of `collected.space_reason`."""

Role = Literal["in question", "reference", "not now", "left out"]

_REASONS: Final[dict[Reason, str]] = {
    "complaint_there": "the complaint is about it",
    "source_there": "the source is believed to be there",
    "client_request": "the client asked for it",
    "other": "a reason was entered",
}


def _hours(value: Any) -> Decimal:
    """Whole numbers, decimals, and decimals as text; true is no number."""
    if type(value) is int or (isinstance(value, Decimal) and value.is_finite()):
        return Decimal(value)
    if isinstance(value, str):
        return decimal_of(value)
    raise Malformed("write a number")


Hours = Annotated[Decimal, Reads(_hours), between(0, 24, "hours")]
Few = Annotated[int, between(0, 100)]


class Place(Facts):
    """A place on the short list and what is known of it. `hours_a_day`: how long people are there."""

    name: Annotated[str, sized(1, 80)]
    visible_growth: bool = False
    active_leak: bool = False
    past_moisture: bool = False
    complaint: bool = False
    musty_odor: bool = False
    asked_for: bool = False
    hours_a_day: Hours = Decimal(0)
    space: Space = "conditioned"
    reason: Reason | None = None

    @property
    def is_open_to_sampling(self) -> bool:
        """Conditioned space, or any other with a stated reason."""
        return self.space == "conditioned" or self.why_there is not None

    @property
    def why_there(self) -> Reason | None:
        """Why a space that is not lived in is sampled: what was entered, or that the client asks for it."""
        return self.reason or ("client_request" if self.asked_for else None)

    @property
    def is_reference(self) -> bool:
        """A conditioned place nothing is known against."""
        return self.space == "conditioned" and not any(self.signs)

    @property
    def signs(self) -> tuple[bool, ...]:
        """What speaks for sampling here, the gravest first."""
        is_wet = self.visible_growth or self.active_leak
        return is_wet, self.past_moisture, self.complaint, self.musty_odor, self.asked_for


@frozen
class Advice:
    """One place in the order of the plan: its number, what to do there, and why, in sentences with their
    source.
    """

    number: int
    place: str
    role: Role
    says: tuple[str, ...]
    source: str


@frozen
class Plan:
    """The places in order, what speaks against the plan as it stands, what else to know, and the cassettes to
    carry.
    """

    advice: tuple[Advice, ...]
    lacking: tuple[str, ...]
    notes: tuple[str, ...]
    cassettes: Cassettes

    @property
    def sampled(self) -> tuple[Advice, ...]:
        """The places to sample."""
        return tuple(each for each in self.advice if each.role in ("in question", "reference"))


@frozen
class Wishes:
    """What is wanted beyond the firm's thresholds, which nothing here lowers.

    `indoor`: most places to sample; None is every place with a sign, and a reference. `visit_h`: hours the
    visit will take. `on_the_day`: cassettes for what looks worth it once the inspector is there.
    """

    indoor: int | None = None
    visit_h: Decimal | None = None
    blanks: int = 0
    duplicates: int = 0
    on_the_day: int = 0


def ranked(places: Sequence[Place]) -> list[Place]:
    """The places in order of advice.

    Those left out come last, and places nothing distinguishes keep their order.
    """
    return sorted(places, key=_rank, reverse=True)


def plan(places: Sequence[Place], policy: Policy, wishes: Wishes) -> Plan:
    """Advice for a short list of places."""
    order = ranked(places)
    taken = _chosen(order, policy, wishes)
    advice = tuple(
        _advice(number, place, is_taken=number - 1 in taken) for number, place in enumerate(order, 1)
    )
    lacking, notes = tuple(_lacking(order, taken, policy)), tuple(_notes(order, taken, policy, wishes))
    return Plan(advice, lacking, notes, cassettes(len(taken), policy, wishes))


def cassettes(indoor: int, policy: Policy, wishes: Wishes) -> Cassettes:
    """What to carry for so many places indoors: the controls, blanks and spares that the firm wants, or more
    if wished.

    A place still to be found is carried for, so that the visit does not end for want of a cassette.
    """
    outdoor = max(policy.min_outdoor, 2 if _is_long(policy, wishes) else 1)
    indoor = max(indoor, policy.min_indoor, COMPARABLE, policy.min_cassettes - outdoor)
    air = indoor + outdoor + wishes.duplicates
    blanks = max(wishes.blanks, blanks_wanted(air, policy))
    return Cassettes(indoor, outdoor, blanks, wishes.duplicates, policy.spare_cassettes + wishes.on_the_day)


def blanks_wanted(air_samples: int, policy: Policy) -> int:
    """Field blanks for so many air samples: none unless the firm wants any, then its least number or one for
    each so many begun.
    """
    if not policy.min_blanks:
        return 0
    served = policy.samples_per_blank
    return max(policy.min_blanks, -(-air_samples // served) if served else 0)


def _rank(place: Place) -> tuple[bool | Decimal, ...]:
    return (place.is_open_to_sampling, *place.signs, place.hours_a_day)


def _chosen(order: Sequence[Place], policy: Policy, wishes: Wishes) -> frozenset[int]:
    """Positions to sample: what is in question from the top, room kept for references, the rest filled where
    people are. What the client asks for is among them, however many that makes.
    """
    can = [n for n, place in enumerate(order) if place.is_open_to_sampling]
    questioned = [n for n in can if not order[n].is_reference]
    references = [n for n in can if order[n].is_reference]
    kept = min(len(references), max(policy.min_reference, 1))
    least = max(policy.min_indoor, COMPARABLE, 1 + kept)
    most = max(wishes.indoor if wishes.indoor is not None else len(questioned) + kept, least)
    room = most - kept
    chosen = [n for place, n in enumerate(questioned) if place < room or order[n].asked_for]
    return frozenset([*chosen, *references[: max(most - len(chosen), kept)]])


def _advice(number: int, place: Place, *, is_taken: bool) -> Advice:
    if not place.is_open_to_sampling:
        where = "an unconditioned space" if place.space == "other" else _named(place)
        says = f"Leave it out: {where} is not conditioned, and no reason to sample there was entered."
        return Advice(number, place.name, "left out", (says,), COMMON_PRACTICE)
    role: Role = "not now" if not is_taken else "reference" if place.is_reference else "in question"
    source = THREE_SITES if place.is_reference and is_taken else COMMON_PRACTICE
    return Advice(number, place.name, role, tuple(_reasons(place, role)), source)


def _reasons(place: Place, role: Role) -> Iterator[str]:
    why = [
        words
        for is_so, words in (
            (place.visible_growth, "growth is visible"),
            (place.active_leak, "there is an active leak"),
            (place.past_moisture, "it was wet before"),
            (place.complaint, "people complain about it"),
            (place.musty_odor, "it smells musty"),
            (place.asked_for, "the client asks for it"),
        )
        if is_so
    ]
    if why:
        yield f"{', '.join(why)[:1].upper()}{', '.join(why)[1:]}."
    elif place.is_reference:
        yield "No sign entered: a reference to compare the others with."
    if place.hours_a_day:
        yield f"People spend about {measures.rounded(place.hours_a_day, 1).normalize():f} h a day here."
    if place.visible_growth:
        yield cautions.VISIBLE_GROWTH.says
    if place.space != "conditioned":
        assert place.why_there is not None
        yield (
            f"It is not conditioned space ({_named(place)}); {_REASONS[place.why_there]}. Record that reason"
            " with the sample."
        )
        yield cautions.UNCONDITIONED.says
    if role == "not now":
        yield "Not among the locations of this plan; next one if a cassette remains."


def _lacking(order: Sequence[Place], taken: frozenset[int], policy: Policy) -> Iterator[str]:
    wanted = max(policy.min_indoor, COMPARABLE)
    if len(taken) < wanted:
        yield (
            f"{counted(len(taken), 'indoor location')}; the policy asks for at least {wanted}: find another"
            " one in conditioned space."
        )
    references, needed = sum(order[n].is_reference for n in taken), max(policy.min_reference, 1)
    if references < needed:
        yield (
            f"{references} reference areas; the policy asks for at least {needed}: find a conditioned room"
            " with no complaint, odor, growth or moisture to compare with."
        )


def _notes(order: Sequence[Place], taken: frozenset[int], policy: Policy, wishes: Wishes) -> Iterator[str]:
    if order and not any(any(order[n].signs) for n in taken):
        yield "No sign is entered for any location: ask first what question the samples should answer."
    yield (
        f"Outdoor control: at least {_length(policy.outdoor_distance_m)} from the building, inlet"
        f" {_length(policy.height_min_m)} to {_length(policy.height_max_m)} above the ground, away from"
        " plants, compost, vents, bins, traffic and eaves; same pump, flow, run and lot as indoors, and"
        f" within {policy.outdoor_gap_min} min of every indoor sample."
    )
    yield (
        f"In each room: in the middle, inlet {_length(policy.height_min_m)} to {_length(policy.height_max_m)}"
        " above the floor, away from walls, supply vents, open doors and fans."
    )
    if wishes.on_the_day:
        yield (f"{counted(wishes.on_the_day, 'cassette')} more to spare, for what looks worth it on the day.")
    if _is_long(policy, wishes):
        yield (
            f"The visit lasts more than {policy.long_visit_h} h: collect a second outdoor control towards its"
            " end, because outdoor air changes."
        )


def _is_long(policy: Policy, wishes: Wishes) -> bool:
    return wishes.visit_h is not None and wishes.visit_h > policy.long_visit_h


def _length(meters: Decimal) -> str:
    return f"{measures.feet_text(meters)} ({measures.rounded(meters, 2)} m)"


def _named(place: Place) -> str:
    return f"the {place.space.replace('_', ' ')}" if place.space != "other" else "unconditioned space"


MOST_PLACES: Final = 200


class _List(Facts):
    indoor: Annotated[int, between(1, 100)] | None = None
    visit_h: Annotated[Decimal, Reads(_hours), between(0, 240, "hours")] | None = None
    blanks: Few = 0
    duplicates: Few = 0
    on_the_day: Few = 0
    places: Annotated[list[Place], sized(0, MOST_PLACES, "places")] = field(default_factory=list)


def read(text: str) -> tuple[list[Place], Wishes]:
    """The places and what is wanted beyond the thresholds.

    Raises `Malformed`, code `bad-places`, with every fault.
    """
    data = _parse(text)
    if not isinstance(data, dict):
        raise Malformed("Write the list of places as an object with the member places.", code="bad-places")
    try:
        shape = _List.read(data)
    except BadFacts as error:
        errors = error.facts["errors"]
        listed = "; ".join(f"{_spoken(fault['at'])}: {fault['says']}" for fault in errors)
        raise Malformed(f"Correct the list of places: {listed}.", code="bad-places", errors=errors) from error
    wishes = Wishes(shape.indoor, shape.visit_h, shape.blanks, shape.duplicates, shape.on_the_day)
    return shape.places, wishes


def _parse(text: str) -> Any:
    try:
        if text.lstrip().startswith("{"):
            return json.loads(text, parse_float=Decimal)
        return tomllib.loads(text, parse_float=Decimal)
    except (ValueError, RecursionError, ArithmeticError) as error:
        raise Malformed(
            f"The list of places is neither TOML nor JSON: {error}.", code="bad-places"
        ) from error


def _spoken(at: str) -> str:
    """`/places/1/reason` as `place 2, reason`."""
    steps = at.split("/")[1:]
    if len(steps) > 1 and steps[0] == "places":
        return ", ".join([f"place {int(steps[1]) + 1}", *steps[2:]])
    return steps[-1] if steps and steps[-1] else "the list"
