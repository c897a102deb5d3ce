"""Where the samples were taken: enough places, at breathing height, in rooms that people use, and described.

Heights are compared with a tolerance, because 3 ft written as 0.91 m is still 3 ft.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Final

from bailee.domain.form_acts import Collected
from bailee.domain.measures import feet_text
from bailee.domain.numbers import grouped
from bailee.rules.case import Case
from bailee.rules.registry import Hit, rule

_UNCONDITIONED: Final = frozenset({"attic", "crawl_space", "garage", "wall_cavity", "other"})


@rule(
    "SL-01", "Too few indoor places", "warn", "media", "common practice, no source",
    "While you are on site: take another sample in a second room: `bailee collect … --kind indoor --form FORM`. Once "
    "everybody has left there is nothing to cure: it is printed beside the results.",
)  # fmt: skip
def few_places(case: Case) -> Iterator[Hit]:
    """Fewer different indoor places than wanted on a visit with samples; a duplicate adds no place."""
    for form, in_question in case.visits():
        indoor = [s.taken for s in form.live if s.taken.kind == "indoor" and not s.taken.duplicate_of]
        places = {(each.room, each.point) for each in indoor}
        wanted = case.policy(form).min_indoor
        if in_question and len(places) < wanted:
            yield Hit(
                form.number,
                f"Indoor samples were taken in {_count(len(places), 'place')}; {wanted} are wanted.",
                by=("min_indoor",),
            )


@rule(
    "SL-02", "Too few cassettes", "warn", "media", "common practice, no source; three sites: NIOSH Method 0800",
    "While you are on site: take the missing samples: `bailee collect … --kind indoor --form FORM`. Once everybody has left"
    " there is nothing to cure: it is printed beside the results.",
)  # fmt: skip
def few_cassettes(case: Case) -> Iterator[Hit]:
    """Fewer live samples than wanted on a visit with samples; blanks draw no air and do not count."""
    for form, in_question in case.visits():
        count = sum(sample.taken.kind != "blank" for sample in form.live)
        wanted = case.policy(form).min_cassettes
        if in_question and count < wanted:
            said = f"The visit has {_count(count, 'air sample')}; {wanted} are wanted."
            yield Hit(form.number, said, by=("min_cassettes",))


@rule(
    "SL-04", "Inlet height indoors out of range", "warn", "media", "common practice, no source",
    "While you are on site: take the sample again at breathing height. A height that was misread: `bailee correct SAMPLE "
    "--field height_m --new … --reason misread`. Once everybody has left there is nothing to cure: it is printed beside the"
    " results.",
)  # fmt: skip
def height_indoors(case: Case) -> Iterator[Hit]:
    """The inlet of an indoor sample below or above the wanted heights, both included."""
    return heights(case, "indoor", "above the floor")


@rule(
    "SL-05", "Space not lived in, without a reason", "warn", "media", "common practice, no source",
    "Say why it was taken there: `bailee correct SAMPLE --field space_reason --new … --reason left_out`; or that the space "
    "is conditioned after all: `bailee correct SAMPLE --field space --new conditioned --reason misread`.",
)  # fmt: skip
def odd_space(case: Case) -> Iterator[Hit]:
    """An indoor sample from an attic, crawl space, garage, wall cavity or the like, and no reason given."""
    for _, sample in case.samples():
        body = sample.taken
        space = body.space or body.room
        if body.kind == "indoor" and space in _odd(body) and body.space_reason is None:
            where = (
                "another unconditioned space" if space == "other" else f"the {str(space).replace('_', ' ')}"
            )
            yield Hit.on(sample, f"{grouped(sample.number)} was taken in {where} and no reason was given.")


@rule(
    "SL-07", "Place not described", "block", "media", "ISO/IEC 17025:2017 7.3.3(g); 16 Tex. Admin. Code 78.100",
    "Name the room, or the point on the sketch, where it was taken: `bailee correct SAMPLE --field room --new … --reason "
    "left_out` or `bailee correct SAMPLE --field point --new … --reason left_out`.",
    may_be_excepted=True,
)  # fmt: skip
def no_place(case: Case) -> Iterator[Hit]:
    """Neither a room nor a point; `other` is no room. A blank has no place. It may stand elsewhere, hence the exception."""
    for _, sample in case.samples():
        body = sample.taken
        if body.kind != "blank" and body.point is None and body.room in (None, "other"):
            yield Hit.on(
                sample,
                f"{grouped(sample.number)} has neither a room nor a point: nobody can say where it was.",
            )


def heights(case: Case, kind: str, above: str) -> Iterator[Hit]:
    """Samples of a kind whose inlet stood outside the firm's range; one that was not measured is left alone."""
    for form, sample in case.samples():
        height, policy = sample.taken.height_m, case.policy(form)
        low, high, slack = policy.height_min_m, policy.height_max_m, policy.length_tolerance_m
        if sample.taken.kind == kind and height is not None and not low - slack <= height <= high + slack:
            limit = "height_min_m" if height < low else "height_max_m"
            yield Hit.on(
                sample,
                f"The inlet of {grouped(sample.number)} stood {length(height)} {above}; {length(low)} to {length(high)} "
                "are wanted.",
                by=(limit, "length_tolerance_m"),
            )


def length(metres: Decimal) -> str:
    """A length in both units: `0.80 m (2.62 ft)`."""
    return f"{metres} m ({feet_text(metres)})"


def _odd(body: Collected) -> frozenset[str]:
    """Space codes that need a reason; a room called `other` says nothing about the space."""
    return _UNCONDITIONED if body.space else _UNCONDITIONED - {"other"}


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"
