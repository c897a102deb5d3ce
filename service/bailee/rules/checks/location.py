"""What was around the inlet: where nobody complains, drafts, a picture of the place, the right site, dust
stirred up or heavy.

Where the samples were taken: enough places, at breathing height, in rooms that people use, and described.

Heights are compared with a tolerance, because 3 ft written as 0.91 m is still 3 ft.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Final

from bailee.domain.acts.form import Collected
from bailee.domain.custody import Sample
from bailee.domain.measures import feet_text
from bailee.domain.numbers import grouped
from bailee.rules.case import Case
from bailee.rules.registry import Hit, alike, rule, shared
from bailee.rules.remedies import advice, do, for_all, off_site, on_site
from bailee.rules.wording import counted, listed, samples, start

MISREAD_HEIGHT: Final = advice(
    "Correct a height that was misread.",
    do("corrected", "sample", field="height_m", new=..., reason="misread"),
)
_UNCONDITIONED: Final = frozenset({"attic", "crawl_space", "garage", "wall_cavity", "other"})


@rule(
    "SL-01", "Too few indoor locations", "warn", "media", "common practice, no source",
    on_site(
        "Still on site: collect another sample in a second room. Otherwise there is nothing to fix: it is "
        "printed on the custody record.",
        do("collected", "form", kind="indoor"),
    ),
)  # fmt: skip
def few_places(case: Case) -> Iterator[Hit]:
    """Fewer different indoor places than wanted on a visit with samples; a duplicate adds no place, nor does
    a cavity.
    """
    for form, in_question in case.air_visits():
        indoor = [s.taken for s in form.air if s.kind == "indoor" and not s.taken.duplicate_of]
        places = {(each.room, each.point) for each in indoor}
        wanted = case.policy(form).min_indoor
        if any(sample.kind != "cavity" for sample in in_question) and len(places) < wanted:
            yield Hit(
                form.number,
                f"Indoor samples: {_count(len(places), 'location')}; the policy asks for at least {wanted}.",
                by=("min_indoor",),
            )


@rule(
    "SL-02",
    "Too few air samples",
    "warn",
    "media",
    "common practice, no source; three sites: NIOSH Method 0800, by analogy",
    on_site(
        "Still on site: collect the missing samples. Otherwise there is nothing to fix: it is printed on the "
        "custody record.",
        do("collected", "form", kind="indoor"),
    ),
)
def few_cassettes(case: Case) -> Iterator[Hit]:
    """Fewer live samples than wanted on a visit with samples; blanks draw no air and do not count."""
    for form, in_question in case.air_visits():
        count = sum(sample.taken.kind != "blank" for sample in form.air)
        wanted = case.policy(form).min_cassettes
        if in_question and count < wanted:
            said = f"{_count(count, 'air sample')}; the policy asks for at least {wanted}."
            yield Hit(form.number, said, by=("min_cassettes",))


@rule(
    "SL-04", "Inlet height outside limits", "warn", "media", "common practice, no source",
    on_site("Still on site: collect again with the inlet within the limits.")
    + off_site("Nothing to fix any more: it is printed on the custody record.")
    + MISREAD_HEIGHT,
)  # fmt: skip
def height_indoors(case: Case) -> Iterator[Hit]:
    """The inlet of an indoor sample below or above the wanted heights, both included."""
    return heights(case, "indoor", "above the floor")


@rule(
    "SL-05", "Unconditioned space, no reason given", "warn", "media", "common practice, no source",
    advice(
        "Record why it was collected there, or correct the space.",
        do("corrected", "sample", field="space_reason", new=..., reason="left_out"),
        do("corrected", "sample", field="space", new="conditioned", reason="misread"),
    ),
)  # fmt: skip
def odd_space(case: Case) -> Iterator[Hit]:
    """An indoor sample from an attic, crawl space, garage, wall cavity or the like, and no reason given."""
    for form, sample in case.air():
        body = sample.taken
        space = body.space or body.room
        if body.kind == "indoor" and space in _odd(body) and body.space_reason is None:
            where = (
                "another unconditioned space" if space == "other" else f"the {str(space).replace('_', ' ')}"
            )
            said = f"{{these}} {{was}} collected in {where}; no reason is on record."
            yield shared(form, sample, said)


@rule(
    "SL-07",
    "Location not recorded",
    "block",
    "media",
    "ISO/IEC 17025:2017 7.3.3(g); 16 Tex. Admin. Code 78.100",
    advice(
        "Record the room, or the point on the sketch, where it was collected.",
        do("corrected", "sample", field="room", new=..., reason="left_out"),
        do("corrected", "sample", field="point", new=..., reason="left_out"),
    ),
    may_be_excepted=True,
)
def no_place(case: Case) -> Iterator[Hit]:
    """Neither a room nor a point; `other` is no room.

    A blank has no place. It may stand elsewhere, hence the exception.
    """
    for form, sample in case.air():
        body = sample.taken
        if body.kind != "blank" and body.point is None and body.room in (None, "other"):
            yield shared(form, sample, "{these} {has} neither a room nor a point on record.")


def heights(case: Case, kind: str, above: str) -> Iterator[Hit]:
    """Samples of a kind whose inlet stood outside the firm's range.

    One that was not measured is left alone.
    """
    for form, sample in case.air():
        height, policy = sample.taken.height_m, case.policy(form)
        low, high, slack = policy.height_min_m, policy.height_max_m, policy.length_tolerance_m
        if sample.kind == kind and height is not None and not low - slack <= height <= high + slack:
            limit = "height_min_m" if height < low else "height_max_m"
            limits = f"limits {length(low)} to {length(high)}"
            said = f"The inlet of {{these}} was {length(height)} {above}; {limits}."
            yield shared(form, sample, said, by=(limit, "length_tolerance_m"))


def length(meters: Decimal) -> str:
    """A length in both units: `0.80 m (2.62 ft)`."""
    return f"{meters} m ({feet_text(meters)})"


def _odd(body: Collected) -> frozenset[str]:
    """Space codes that need a reason; a room called `other` says nothing about the space."""
    return _UNCONDITIONED if body.space else _UNCONDITIONED - {"other"}


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


_DRAFTS: Final = ("supply_vent", "open_door", "fan")
_USUAL_RUN_S: Final = 300
"""A full run where the lot is unknown (common practice, no source)."""


@rule(
    "SL-03", "No non-complaint (reference) area sampled", "warn", "media",
    "NIOSH Method 0800, by analogy: complaint, non-complaint and outdoor sites",
    on_site(
        "Still on site: collect a sample in a room without complaints.",
        do("collected", "form", kind="indoor", area="reference"),
    )
    + advice(
        "Correct an area that was left out or wrong.",
        do("corrected", "sample", field="area", new=..., reason="left_out"),
    ),
)  # fmt: skip
def no_reference(case: Case) -> Iterator[Hit]:
    """Fewer indoor places outside the complaint area than wanted on a visit with indoor samples.

    Not said does not count.
    """
    for form, in_question in case.air_visits():
        indoor = [sample.taken for sample in form.air if sample.kind == "indoor"]
        calm = {
            (each.room, each.point)
            for each in indoor
            if each.area in ("non_complaint", "reference") and not each.duplicate_of
        }
        wanted = case.policy(form).min_reference
        if len(calm) < wanted and any(sample.kind == "indoor" for sample in in_question):
            places = len({(each.room, each.point) for each in indoor})
            if any(each.area for each in indoor):
                are = "is" if len(calm) == 1 else "are"
                said = f"{counted(len(calm), 'indoor location')} of {places} {are} outside the"
                said += f" complaint area; the policy asks for at least {wanted}."
            else:
                said = f"No entry shows for {counted(places, 'indoor location')} whether in or outside the"
                said += f" complaint area; the policy asks for at least {wanted} outside it."
            yield Hit(form.number, said, by=("min_reference",))


@rule(
    "SL-06", "Inlet near a vent, fan or open door", "warn", "media", "common practice, no source",
    on_site("Still on site: collect again away from it.")
    + off_site("Nothing to fix any more: it is printed on the custody record.")
    + advice(
        "Correct a distance that was misread.",
        do("corrected", "sample", field="near_m", new=..., reason="misread"),
    ),
)  # fmt: skip
def draft(case: Case) -> Iterator[Hit]:
    """An indoor inlet near a supply vent, open door or fan.

    With a measured distance, only nearer than wanted.
    """
    for form, sample in case.air():
        body, policy = sample.taken, case.policy(form)
        near = [each.replace("_", " ") for each in _DRAFTS if each in body.near]
        limit = policy.draft_distance_m
        if (
            body.kind == "indoor"
            and near
            and (body.near_m is None or body.near_m < limit - policy.length_tolerance_m)
        ):
            how = "next to" if body.near_m is None else f"{length(body.near_m)} from"
            wanted = f"the policy asks for at least {length(limit)}"
            said = f"The inlet of {{these}} was {how} {listed(near)}; {wanted}."
            yield shared(form, sample, said, by=("draft_distance_m", "length_tolerance_m"))


@rule(
    "SL-08",
    "Samples at one point, not marked as duplicates",
    "warn",
    "media",
    "derived: one point is one place",
    advice(
        "Correct the point of one of them, or record of which sample it is the duplicate.",
        do("corrected", "sample", field="point", new=..., reason="misread"),
        do("corrected", "sample", field="duplicate_of", new=..., reason="left_out"),
    ),
)
def same_point(case: Case) -> Iterator[Hit]:
    """Indoors, by room and point. An outdoor control may be taken again at its place on a long visit."""
    for form, in_question in case.air_visits():
        at: dict[tuple[str | None, str], list[Sample]] = {}
        for sample in in_question:
            body = sample.taken
            if body.kind == "indoor" and body.point and not body.duplicate_of:
                at.setdefault((body.room, body.point), []).append(sample)
        for (room, point), found in at.items():
            if len(found) > 1:
                where = f"{point} in the {room.replace('_', ' ')}" if room else point
                yield Hit(
                    form.number,
                    start(
                        f"{samples([each.number for each in found])} were collected at {where}, and none is"
                        " marked as a duplicate."
                    ),
                    entries=tuple(claim.entry.n for each in found for claim in each.claims),
                )


@rule(
    "SL-09",
    "No sketch or photo of the location",
    "note",
    "media",
    "ISO/IEC 17025:2017 7.3.3(g), where appropriate",
    advice(
        "Add the point of the sketch.",
        do("corrected", "sample", field="point", new=..., reason="left_out"),
        do("collected", sample=..., photo=...),
    ),
)
def no_picture(case: Case) -> Iterator[Hit]:
    """Neither a point on the sketch nor a photo, where the firm wants one. A blank has no place."""
    return alike(
        (
            (form, sample, "")
            for form, sample in case.air()
            if sample.taken.kind != "blank"
            and sample.taken.point is None
            and sample.taken.photo is None
            and case.policy(form).picture_wanted
        ),
        lambda found, _: (
            f"Of {samples([each.number for each in found])} no point on the sketch and no photo is on record."
        ),
        by=("picture_wanted",),
    )


@rule(
    "SL-10", "Device far from the site", "warn", "media", "common practice, no source",
    advice(
        "Find out whether this sample belongs to this visit. If the position was wrong, correct it; if it "
        "was recorded on the wrong form, void it here.",
        do("corrected", "sample", field="gps_distance_m", new=..., reason="misread"),
        do("voided", "sample", reason="wrong_place"),
    ),
)  # fmt: skip
def far_away(case: Case) -> Iterator[Hit]:
    """Farther from the site than the limit, which itself is near enough; not measured is left alone."""
    for form, sample in case.air():
        away, limit = sample.taken.gps_distance_m, case.policy(form).gps_distance_m
        if away is not None and away > limit:
            yield Hit.on(
                sample,
                f"The device that recorded {grouped(sample.number)} was {away} m from the site; the limit is"
                f" at most {limit} m.",
                by=("gps_distance_m",),
            )


@rule(
    "SL-11", "Surfaces disturbed while sampling", "note", "media", "common practice, no source",
    advice(
        "The laboratory states this with the result. Declared by mistake? Correct it.",
        do("corrected", "sample", field="aggressive", new=False, reason="misread"),
    ),
)  # fmt: skip
def aggressive(case: Case) -> Iterator[Hit]:
    """Declared aggressive sampling."""
    for form, sample in case.air():
        if sample.taken.aggressive:
            yield shared(form, sample, "Surfaces were disturbed while {these} ran.")


_LOADED: Final = for_all("A loaded trace may be hard or impossible to count; the laboratory decides.")
_FULL_RUN: Final = (
    on_site(
        "Still on site: collect a shorter run beside it.",
        do("collected", "form", short_run="dust"),
    )
    + _LOADED
)


@rule(
    "SL-12",
    "Heavy dust",
    "note",
    "media",
    "common practice; the range depends on the particulate load: ASTM D7391-20, scope",
    advice(
        "Record why the run was short.",
        do("corrected", "sample", field="short_run", new=..., reason="left_out"),
    )
    + _LOADED,
)
def heavy_dust(case: Case) -> Iterator[Hit]:
    """Heavy dust and the full run of the cassette; or a shorter one whose reason nobody gave."""
    for form, sample in case.air():
        body, lot = sample.taken, case.lot_of(sample)
        full = lot.run_s if lot else _USUAL_RUN_S
        if body.kind == "blank" or body.dust != "heavy":
            continue
        if body.run_s >= full:
            said = f"{{these}} ran the full {body.run_s} s in heavy dust: the trace may be overloaded."
            yield shared(form, sample, said, remedy=_FULL_RUN)
        elif body.short_run is None:
            said = f"{{these}} ran {body.run_s} s of {full} s in heavy dust; no reason is on record."
            yield shared(form, sample, said)
