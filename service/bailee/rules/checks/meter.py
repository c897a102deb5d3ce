"""The flow meter: with a certificate, corrected where it reads wrong, the same one in and out.

The certificates are those the signer's organization entered. Where it lists no meter at all, the verdict on
sampling says that this was not checked.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import Final

from bailee.domain import measures, pairing
from bailee.domain.acts.form import PumpChecked
from bailee.domain.acts.organization import EquipmentSet
from bailee.domain.custody import Form, Sample
from bailee.domain.numbers import grouped
from bailee.domain.organizations import Organization
from bailee.rules.case import Case
from bailee.rules.registry import Hit, Severity, alike, refusal, rule, shared
from bailee.rules.remedies import advice, do, on_site
from bailee.rules.wording import counted, day, listed, samples

_ZERO_CELSIUS_IN_KELVIN: Final = Decimal("273.15")
_CERTIFICATE: Final = (
    "AIHA Synergist, October 2018: keep the certificate of the flow meter; the interval is common practice"
)

refusal(
    "PV-01",
    "Typed volume does not match flow and time",
    "derived: volume is flow times time",
    "bailee.domain.acts.form.Collected",
)
refusal("PV-09", "Run longer than the time between its scans", "derived", "bailee.domain.acts.form.Collected")


@rule(
    "PV-06",
    "Meter calibration not current",
    "block",
    "media",
    _CERTIFICATE,
    advice(
        "Enter the certificate valid that day, if there was one. Correct a meter that was typed wrongly.",
        do("equipment_set", kind="meter", id=..., certified=...),
    )
    + advice(
        "Correct a meter that was typed wrongly.",
        do("corrected", "sample", field="meter", new=..., reason="typing"),
    )
    + on_site(
        "Still on site: if none was valid, check the pump with a meter whose calibration certificate is"
        " valid, and collect again."
    ),
    may_be_excepted=True,
)
def certificate(case: Case) -> Iterator[Hit]:
    """On the day of use: past its last day, or older than the wanted days.

    Not named or not listed is a warning.
    """
    unlisted: list[tuple[Form, Sample, tuple[str, str]]] = []
    past: dict[Severity | None, list[tuple[Form, Sample, tuple[str, str]]]] = {}
    for form, sample, organization, meter in _read_with(case):
        policy, on = case.policy(form), form.day_of(sample.taken.started)
        if not any(kind == "meter" for kind, _ in organization.equipment):
            continue
        found = organization.certificate("meter", meter, on) if meter else None
        why = expired(found, on, policy.meter_certificate_days) if found else ""
        if why:
            severity: Severity | None = None if policy.meter_certificate_block else "warn"
            past.setdefault(severity, []).append(
                (form, sample, (day(on), f"{meter}, whose certificate {why}"))
            )
        elif found is None or (found.certified is None and found.valid_to is None):
            which = (
                f"{meter}, for which no calibration certificate was on record by then"
                if meter
                else "a meter that is not named"
            )
            unlisted.append((form, sample, (day(on), which)))
    yield from alike(unlisted, _read_on, "warn")
    for how_grave, found_past in past.items():
        yield from alike(
            found_past, _read_on, how_grave, by=("meter_certificate_days", "meter_certificate_block")
        )


def _read_on(found: Sequence[Sample], read: tuple[str, str]) -> str:
    return f"The flow of {samples([each.number for each in found])} was read on {read[0]} with {read[1]}."


@rule(
    "PV-07", "Rotameter reading not corrected for temperature and pressure", "warn", "media",
    "AIHA Synergist, October 2018 (temperature and pressure may need correction); the formula is from memory",
    advice(
        "Correct the readings only if this kind of meter needs it, and record that they were corrected.",
        do("corrected", "sample", field="flow_before", new=..., reason="other"),
        do("corrected", "sample", field="flow_after", new=..., reason="other"),
        do("corrected", "sample", field="flow_corrected", new=True, reason="other"),
    ),
)  # fmt: skip
def uncorrected(case: Case) -> Iterator[Hit]:
    """The error there, by the density of air, is strictly more than the limit and was not corrected.

    All four figures are needed.
    """
    for form, sample, organization in _read(case):
        body = sample.taken
        found = (
            organization.certificate("meter", body.meter, form.day_of(body.started)) if body.meter else None
        )
        factor = (
            None
            if body.flow_corrected or found is None
            else _factor(found, body.temperature_c, body.pressure_hpa)
        )
        limit = case.policy(form).meter_effect_pct
        if factor is not None and abs(factor - 1) * 100 > limit:
            error = measures.rounded((factor - 1) * 100, 1)
            flow = body.mean_flow or Decimal(0)
            there = " and ".join(_conditions(body.temperature_c, body.pressure_hpa))
            yield shared(
                form,
                sample,
                f"If {body.meter} is a rotameter, the true flow at {there} is about {error:+} % from its"
                f" reading: {flow} L/min read for"
                f" {{these}} would be {measures.rounded(flow * factor, 2)} L/min (warning"
                f" above {limit} %).",
                by=("meter_effect_pct",),
            )


@rule(
    "PV-15", "Pump or meter not the same outdoors and indoors", "note", "comparison",
    "common practice, no source",
    "Nothing to fix: it is printed on the custody record.",
)  # fmt: skip
def other_instruments(case: Case) -> Iterator[Hit]:
    """An indoor sample and its outdoor control name different pumps or meters; not named is left alone."""
    for form, in_question in case.air_visits():
        asked = {sample.number for sample in in_question}
        found: dict[str, list[str]] = {}
        for pair in pairing.pairs(form):
            if pair.outdoor and pair.indoor.number in asked:
                for what in _different(pair.indoor, pair.outdoor):
                    found.setdefault(f"{what} outdoors ({grouped(pair.outdoor.number)})", []).append(
                        grouped(pair.indoor.number)
                    )
        for what, indoor in found.items():
            yield Hit(form.number, f"{listed(indoor)}: {what}.")


def _read(case: Case) -> Iterator[tuple[Form, Sample, Organization]]:
    """Samples with a reading, and the organization whose meter it was."""
    for form, sample in case.air():
        organization = case.organizations.get(sample.claims[0].entry.org)
        if organization and sample.taken.mean_flow is not None:
            yield form, sample, organization


def _read_with(case: Case) -> Iterator[tuple[Form, Sample, Organization, str | None]]:
    """The same with each meter that was read for it: of a pump checked for several runs perhaps two."""
    for form, sample, organization in _read(case):
        check = sample.day_check
        said = [each for each in (check.before, check.after) if each] if check else []
        meters: list[str | None] = [each.of(PumpChecked).meter for each in said]
        for meter in dict.fromkeys(meters or [sample.taken.meter]):
            yield form, sample, organization, meter


def expired(said: EquipmentSet, on: date, most_days: int | None) -> str:
    """Why a certificate does not hold on a day, after `whose certificate`; empty when it does.

    No `most_days`: its last day counts alone.
    """
    if said.valid_to and said.valid_to < on:
        return f"was valid to {day(said.valid_to)}"
    if said.certified and most_days is not None and (on - said.certified).days > most_days:
        return (
            f"of {day(said.certified)} was {counted((on - said.certified).days, 'day')} old; the limit is at"
            f" most {most_days}"
        )
    return ""


def _factor(meter: EquipmentSet, used_c: Decimal | None, used_hpa: Decimal | None) -> Decimal | None:
    """What a reading is multiplied by there; None unless all four figures are known."""
    if meter.calibrated_c is None or meter.calibrated_hpa is None or used_c is None or used_hpa is None:
        return None
    return measures.rotameter_factor(
        meter.calibrated_hpa,
        used_hpa,
        meter.calibrated_c + _ZERO_CELSIUS_IN_KELVIN,
        used_c + _ZERO_CELSIUS_IN_KELVIN,
    )


def _conditions(celsius: Decimal | None, hectopascals: Decimal | None) -> Iterator[str]:
    if celsius is not None and hectopascals is not None:
        yield measures.warmth_text(celsius)
        yield measures.pressure_text(hectopascals)


def _different(indoor: Sample, outdoor: Sample) -> Iterator[str]:
    ours, theirs = indoor.taken, outdoor.taken
    for one, other in ((ours.pump, theirs.pump), (ours.meter, theirs.meter)):
        if one and other and one != other:
            yield f"{one} was used indoors and {other}"
