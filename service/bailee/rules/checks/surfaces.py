"""What was taken from surfaces: of which material and where, how much of it, and with what it shares an
envelope; and air from a cavity, which is none of a room.

It is no air sample: pump, volume, inlet and outdoor control are not asked of it (`Case.air`). Custody,
labels, seals, the dock and results are, as of any other.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bailee.domain.acts.form import Cavity
from bailee.domain.acts.lot import OF_SURFACES
from bailee.domain.acts.surface import LOOSE, SurfaceCollected
from bailee.domain.acts.table import name_of
from bailee.domain.custody import Form, Sample
from bailee.rules.case import Case
from bailee.rules.checks.envelope.packing import Closing, closings
from bailee.rules.readers import Step
from bailee.rules.registry import Hit, alike, rule
from bailee.rules.remedies import advice, do
from bailee.rules.wording import counted, listed, printed, samples, start, were

_ACT: Final = name_of(SurfaceCollected)


def _add(field: str) -> Step:
    return do("corrected", "sample", of=_ACT, field=field, new=..., reason="left_out")


@rule(
    "SL-14", "Material or room of a surface sample not stated", "block", "media",
    "16 Tex. Admin. Code 78.100(d)(3): each location and material sampled",
    advice("Add what it was taken from, and in which room.", _add("material"), _add("room")),
)  # fmt: skip
def unplaced(case: Case) -> Iterator[Hit]:
    """A result of growth on nobody knows what, nobody knows where, answers no question."""
    return alike(
        ((form, sample, lacking) for form, sample, body in _taken(case) if (lacking := _unstated(body))),
        lambda found, lacking: (
            f"{start(samples([each.number for each in found]))}: {listed(list(lacking))} not stated."
        ),
    )


def _unstated(body: SurfaceCollected) -> tuple[str, ...]:
    return tuple(name for name in ("material", "room") if getattr(body, name) is None)


@rule(
    "SL-15", "Count or mass asked for, no area or mass on record", "warn", "media",
    "ASTM D7910 and D7789, scope and significance: a defined area; common practice",
    advice(
        "Add the area that was lifted, wiped or vacuumed, or the mass that was cut out. Not measured: the"
        " laboratory can report presence, and no count per area or mass.",
        _add("area_cm2"), _add("mass_g"),
    ),
)  # fmt: skip
def unmeasured(case: Case) -> Iterator[Hit]:
    """What is counted per area or per gram needs one of the two."""
    return alike(
        (
            (form, sample, "")
            for form, sample, body in _taken(case)
            if body.quantified and body.area_cm2 is None and body.mass_g is None
        ),
        lambda found, _: (
            f"A count or mass is asked for of {samples([each.number for each in found])}; no area or mass is"
            " on record."
        ),
    )


@rule(
    "SL-16", "Opening or tube of a cavity sample not in order", "warn", "media", "common practice, no source",
    advice(
        "Add how the tube got in, and whether it was new or cleaned. A tube that was used before may hold"
        " what it drew then: it is printed on the custody record.",
        do("corrected", "sample", field="cavity.opening", new=..., reason="left_out"),
        do("corrected", "sample", field="cavity.tube", new=..., reason="left_out"),
    ),
)  # fmt: skip
def cavities(case: Case) -> Iterator[Hit]:
    """Drawn from a cavity without a word on the opening, or through a tube not said to be new or cleaned."""
    return alike(
        ((form, sample, why) for form, sample in case.air() if (why := _untidy(sample.taken.cavity))),
        lambda found, why: (
            f"{start(samples([each.number for each in found]))}, from a cavity: {listed(list(why))}."
        ),
    )


def _untidy(cavity: Cavity | None) -> tuple[str, ...]:
    if cavity is None:
        return ()
    opening = () if cavity.opening else ("no opening is on record",)
    if cavity.tube in ("new", "cleaned"):
        return opening
    return (*opening, "the tube was used before" if cavity.tube else "no entry shows that the tube was clean")


@rule(
    "ML-14", "Number of a lot of another kind", "warn", "media", "common practice, no source",
    advice(
        "Look at the label and the box: void a number that sticks on the wrong thing, or correct the lot.",
        do("corrected", "sample", field="lot", new=..., reason="misread"),
    ),
)  # fmt: skip
def of_another_kind(case: Case) -> Iterator[Hit]:
    """The number was issued from a box of cassettes, and a surface was sampled under it; or the reverse."""
    return alike(
        (
            (form, sample, (lot.cassette in OF_SURFACES, lot.number))
            for form, sample in case.samples()
            if (lot := case.lot_of(sample)) and (sample.surface or sample.collected)
            if bool(sample.surface) != (lot.cassette in OF_SURFACES)
        ),
        lambda found, what: (
            f"{start(samples([each.number for each in found]))} {were(found)} collected"
            f" {'with a cassette' if what[0] else 'from a surface'}; lot {printed([what[1]])} is one of"
            f" {'media for surfaces' if what[0] else 'cassettes'}."
        ),
    )


@rule(
    "SE-15", "Loose material in one envelope with cassettes", "warn", "media",
    "common practice, no source; bulk material shipped apart from air samples: NIOSH methods, from memory",
    advice(
        "Pack bulk material, dust and contact plates into an envelope of their own.",
        do("sealed", envelope=..., seal=...),
    ),
    afterwards=(
        "Call the laboratory before it opens the envelope: it looks for dust on the cassettes and reports it."
    ),
)  # fmt: skip
def apart(case: Case) -> Iterator[Hit]:
    """What sheds dust, or grows, can reach a cassette whose covers do not close well."""
    together: dict[str, list[Closing]] = {}
    for closing in closings(case):
        together.setdefault(closing.said.envelope, []).append(closing)
    for envelope, parts in together.items():
        inside = [part.form.samples[number] for part in parts for number in part.inside]
        loose = [each.number for each in inside if each.surface and each.surface.medium in LOOSE]
        air = sum(each.collected is not None for each in inside)
        if loose and air:
            yield Hit(
                envelope,
                f"{start(parts[0].name)} holds {counted(air, 'cassette')} together with loose material"
                f" ({printed(loose)}).",
                entries=tuple(n for part in parts for n in part.entries),
                names=tuple(loose),
            )


def _taken(case: Case) -> Iterator[tuple[Form, Sample, SurfaceCollected]]:
    return ((form, sample, sample.surface) for form, sample in case.samples() if sample.surface)
