"""Thresholds of the rules, with their defaults.

An organization signs its own values into its chain (`policy_set`), and names the edition of the rule book
whose defaults count for all else. Defaults of an edition never change; a later one may bring others.

Units stand in the names: _h hours, _min minutes, _s seconds, _m meters, _pct per cent, _l liters, _c degrees
Celsius, _days. Every member says of itself what it means, which direction is the stricter one, and where it
comes from. Most defaults are common practice with no source; none is a legal limit. In particular no source
gives a holding time for spore traps.
"""

from __future__ import annotations

import hashlib
import json
from base64 import urlsafe_b64encode
from collections.abc import Callable, Mapping
from decimal import Decimal
from functools import cache
from typing import Annotated, Any, Final, Literal

from bailee.domain.facts import Facts, Reads, at_least, bad_facts, between, members, plain
from bailee.domain.fields import EDITION, Edition, decimal_of
from bailee.errors import BadFacts, Malformed
from bailee.frozen import frozen

COMMON_PRACTICE: Final = "common practice, no source"


def _number(value: object) -> Decimal:
    """A decimal of the signed form, refused in the words of a file, where numbers stand bare."""
    try:
        number = decimal_of(value)
    except Malformed as error:
        raise Malformed("write a number with at most six digits before the point and six after it") from error
    if str(number) != value:  # one number, one digest
        raise Malformed(f"write {number}, without zeros before it")
    return number


Threshold = Annotated[Decimal, Reads(_number), at_least(0, "a number")]
Temperature = Annotated[Decimal, Reads(_number), between(-90, 90, "degrees Celsius")]
Whole = Annotated[int, between(0, 1_000_000)]


@frozen
class Meaning:
    """What a threshold is for: the rules that use it, one sentence, the direction that asks more of people,
    its source.

    `edition` brought it, with the default that stands beside it; `changed` are defaults since later
    ones, in their order.
    """

    rules: str
    says: str
    stricter: Literal["higher", "lower", "yes"]
    source: str = COMMON_PRACTICE
    edition: int = 1
    changed: tuple[tuple[int, Any], ...] = ()


class Policy(Facts):
    """One organization's thresholds. Decimals are text in the signed form; unknown names are refused."""

    edition: Edition = EDITION
    min_cassettes: Annotated[
        Whole,
        Meaning(
            "SL-02",
            "Minimum air samples on a visit; blanks do not count.",
            "higher",
            "common practice, no source; three sites: NIOSH Method 0800, by analogy",
        ),
    ] = 3
    min_indoor: Annotated[Whole, Meaning("SL-01", "Minimum indoor locations on a visit.", "higher")] = 2
    min_outdoor: Annotated[Whole, Meaning("OC-01", "Minimum outdoor controls on a visit.", "higher")] = 1
    outdoor_gap_min: Annotated[
        Whole,
        Meaning(
            "OC-03",
            "Maximum minutes between an indoor sample and its outdoor control; a warning beyond.",
            "lower",
        ),
    ] = 120
    outdoor_far_min: Annotated[
        Whole,
        Meaning(
            "OC-02",
            "Maximum minutes between an indoor sample and its outdoor control; a stop beyond. Never fewer"
            " than those of the warning.",
            "lower",
        ),
    ] = 720
    outdoor_gap_block: Annotated[
        bool,
        Meaning(
            "OC-02",
            "Whether an outdoor control that far apart stops the envelope; otherwise it is a warning.",
            "yes",
        ),
    ] = True
    rain_h: Annotated[
        Threshold,
        Meaning("OC-17", "Minimum hours from the end of rain to the outdoor control.", "higher"),
    ] = Decimal(2)
    outdoor_alike_pct: Annotated[
        Threshold,
        Meaning(
            "OC-09",
            "Maximum deviation of flow or run time between outdoor control and indoor sample; a warning"
            " beyond.",
            "lower",
        ),
    ] = Decimal(10)
    long_visit_h: Annotated[
        Threshold,
        Meaning(
            "OC-13",
            "Hours from the first run to the last beyond which a second outdoor control is asked for.",
            "lower",
            "common practice; spore clouds vary more than the method does: Health Canada, guidance on"
            " culturable fungi in air",
        ),
    ] = Decimal(4)
    min_blanks: Annotated[
        Whole,
        Meaning("BD-01", "Minimum field blanks on a visit, whatever its size; 0 asks for none.", "higher"),
    ] = 0
    samples_per_blank: Annotated[
        Whole,
        Meaning(
            "BD-01",
            "Air samples that one field blank serves, where blanks are asked for.",
            "lower",
            "common practice; ASTM D7391-20 covers blanks, and gives no ratio in its scope",
        ),
    ] = 20
    side_by_side_s: Annotated[
        Whole,
        Meaning(
            "BD-06", "Maximum seconds between the starts of two samples collected side by side.", "lower"
        ),
    ] = 60
    consecutive_h: Annotated[
        Threshold,
        Meaning(
            "BD-07",
            "Minimum hours between the starts of two samples collected one after the other.",
            "higher",
            "Health Canada, guidance on culturable fungi in air (1 to 2 h between duplicates)",
        ),
    ] = Decimal(1)
    blind_blanks: Annotated[
        bool, Meaning("BD-08", "Whether the laboratory should not see which cassette is the blank.", "yes"),
    ] = False  # fmt: skip
    outdoor_distance_m: Annotated[
        Threshold,
        Meaning("OC-04", "Minimum distance of an outdoor control from a building (10 ft).", "higher"),
    ] = Decimal("3.048")
    height_min_m: Annotated[
        Threshold, Meaning("OC-06, SL-04", "Lowest inlet above floor or ground (3 ft).", "higher")
    ] = Decimal("0.9144")
    height_max_m: Annotated[
        Threshold, Meaning("OC-06, SL-04", "Highest inlet above floor or ground (6 ft).", "lower")
    ] = Decimal("1.8288")
    length_tolerance_m: Annotated[
        Threshold,
        Meaning(
            "OC-04, OC-06, SL-04", "Slack on every length, because a tape is read to a centimeter.", "lower"
        ),
    ] = Decimal("0.01")
    min_reference: Annotated[
        Whole,
        Meaning(
            "SL-03",
            "Minimum indoor locations in a non-complaint (reference) area.",
            "higher",
            "NIOSH Method 0800, by analogy: complaint, non-complaint and outdoor sites",
        ),
    ] = 1
    draft_distance_m: Annotated[
        Threshold,
        Meaning(
            "SL-06", "Minimum distance of an inlet from a supply vent, open door or fan (3 ft).", "higher"
        ),
    ] = Decimal("0.9144")
    picture_wanted: Annotated[
        bool,
        Meaning(
            "SL-09",
            "Whether a photo, or a point on the sketch, is asked for every sample.",
            "yes",
            "ISO/IEC 17025:2017 7.3.3(g), where appropriate",
        ),
    ] = True
    gps_distance_m: Annotated[
        Threshold,
        Meaning("SL-10", "Maximum distance between the device and the site, where it was measured.", "lower"),
    ] = Decimal(200)
    flow_tolerance_pct: Annotated[
        Threshold,
        Meaning(
            "PV-03", "Maximum deviation of a flow reading from the nominal flow of the cassette.", "lower"
        ),
    ] = Decimal(5)
    drift_warn_pct: Annotated[
        Threshold,
        Meaning(
            "PV-04",
            "Maximum change of flow during a run; a warning beyond.",
            "lower",
            "county-filed air sampling plans (over 5 %: use the mean)",
        ),
    ] = Decimal(5)
    drift_block_pct: Annotated[
        Threshold,
        Meaning(
            "PV-05",
            "Maximum change of flow during a run; a stop beyond.",
            "lower",
            "county-filed air sampling plans (held within 10 %)",
        ),
    ] = Decimal(10)
    flow_required: Annotated[
        bool,
        Meaning(
            "PV-02",
            "Whether a flow that was not read before or after the run stops the sample; otherwise it is a"
            " warning.",
            "yes",
            "county-filed air sampling plans; AIHA Synergist, October 2018",
        ),
    ] = True
    day_check_after: Annotated[
        bool,
        Meaning(
            "PV-02",
            "Whether a pump that was checked before the runs of a day is to be checked after them too;"
            " otherwise a missing check after them is a note.",
            "yes",
            "common practice, no source; post-calibration: OSHA Technical Manual II:1, contents",
        ),
    ] = True
    meter_certificate_days: Annotated[
        Whole,
        Meaning(
            "PV-06", "Maximum days since the calibration certificate of the flow meter (12 months).", "lower"
        ),
    ] = 365  # fmt: skip
    meter_certificate_block: Annotated[
        bool,
        Meaning(
            "PV-06",
            "Whether a calibration certificate that is not current stops the sample; otherwise it is a"
            " warning.",
            "yes",
        ),
    ] = True
    meter_effect_pct: Annotated[
        Threshold,
        Meaning(
            "PV-07",
            "Maximum deviation of a rotameter away from its calibration; a warning beyond.",
            "lower",
        ),
    ] = Decimal(5)
    run_tolerance_s: Annotated[
        Whole,
        Meaning("PV-08", "Maximum deviation of a run from the planned run; a note beyond.", "lower"),
    ] = 5
    run_warn_pct: Annotated[
        Threshold,
        Meaning("PV-08", "The same as a share of the planned run, from which it is a warning.", "lower"),
    ] = Decimal(10)
    walk_s: Annotated[
        Whole,
        Meaning("PV-11", "Minimum seconds between two runs of one pump in different places.", "higher"),
    ] = 60
    volume_min_l: Annotated[
        Threshold,
        Meaning(
            "PV-12",
            "Minimum volume of a sample.",
            "higher",
            "common practice; the range depends on the volume: ASTM D7391-20, scope",
        ),
    ] = Decimal(15)
    cavity_volume_min_l: Annotated[
        Threshold,
        Meaning("PV-12", "Minimum volume of a sample drawn from a cavity.", "higher"),
    ] = Decimal(5)
    volume_max_l: Annotated[
        Threshold,
        Meaning(
            "PV-12",
            "Maximum volume of a sample.",
            "lower",
            "common practice; the range depends on the volume: ASTM D7391-20, scope",
        ),
    ] = Decimal(150)
    volume_gap_pct: Annotated[
        Threshold,
        Meaning(
            "PV-13",
            "Maximum deviation of volume between an indoor sample and its outdoor control; a note beyond.",
            "lower",
        ),
    ] = Decimal(10)
    preparation_h: Annotated[
        Threshold,
        Meaning(
            "VP-01, VP-02, VP-14",
            "Hours that windows are closed, and air cleaners and fresh air off, before the visit.",
            "higher",
        ),
    ] = Decimal(24)
    fresh_air_off: Annotated[
        bool,
        Meaning(
            "VP-05, VP-14",
            "Whether fresh-air exchangers, whole-house and attic fans are to be off before the visit.",
            "yes",
        ),
    ] = True
    undisturbed_h: Annotated[
        Threshold,
        Meaning(
            "VP-04", "Minimum hours without cleaning, painting or construction before the visit.", "higher"
        ),
    ] = Decimal(24)
    notice_h: Annotated[
        Threshold,
        Meaning("VP-12", "Minimum hours from the preparation notice to the first run.", "higher"),
    ] = Decimal(24)
    license_block: Annotated[
        bool,
        Meaning(
            "VP-06",
            "Whether a license that is missing or expired stops the envelope; otherwise it is a warning.",
            "yes",
            "common practice; a license is required by some jurisdictions, e.g. 16 Tex. Admin. Code 78",
        ),
    ] = True
    spare_cassettes: Annotated[
        Whole, Meaning("VP-09", "Cassettes carried beyond those planned.", "higher"),
    ] = 1  # fmt: skip
    expiry_grace_days: Annotated[
        Whole,
        Meaning("ML-02", "Days after its expiration date on which a cassette may still be used.", "lower"),
    ] = 0
    expiry_near_days: Annotated[
        Whole, Meaning("ML-05", "Days before its expiration date from which a lot has a warning.", "higher")
    ] = 30
    same_lot_wanted: Annotated[
        bool,
        Meaning("BD-03, ML-11, OC-09", "Whether all samples of a visit should come from one lot.", "yes"),
    ] = True
    media_storage_min_c: Annotated[
        Threshold,
        Meaning("ML-12", "Lowest storage temperature of cassettes, an estimate.", "higher"),
    ] = Decimal(4)
    media_storage_max_c: Annotated[
        Threshold, Meaning("ML-12", "Highest storage temperature of cassettes, an estimate.", "lower"),
    ] = Decimal(30)  # fmt: skip
    serial_required: Annotated[
        bool, Meaning("CL-03", "Whether the maker's serial is asked for beside every scanned label.", "yes"),
    ] = True  # fmt: skip
    typed_warn_pct: Annotated[
        Threshold,
        Meaning("CL-07", "Maximum share of numbers typed instead of scanned; a warning beyond.", "lower"),
    ] = Decimal(20)
    hand_over_warn_min: Annotated[
        Whole,
        Meaning("CU-01, CU-03", "Maximum minutes from relinquished to received; a warning beyond.", "lower"),
    ] = 15
    hand_over_break_min: Annotated[
        Whole,
        Meaning(
            "CU-03, RC-19",
            "Maximum minutes from relinquished to received, or from an opening to a cassette found after it;"
            " a break in custody beyond.",
            "lower",
        ),
    ] = 60
    unsecured_h: Annotated[
        Threshold,
        Meaning(
            "CU-04, SE-10",
            "Maximum hours with no entry of how samples were secured; a warning beyond.",
            "lower",
        ),
    ] = Decimal(2)
    unsecured_block_h: Annotated[
        Threshold,
        Meaning("SE-10", "The same hours; a stop beyond, until the holder enters it.", "lower"),
    ] = Decimal(12)
    clock_warn_s: Annotated[
        Whole, Meaning("CU-07, CU-08", "Maximum error of a device's clock; a warning beyond.", "lower")
    ] = 120
    clock_flag_s: Annotated[
        Whole, Meaning("CU-08", "Maximum error of a device's clock; a flag beyond.", "lower")
    ] = 900
    late_note_min: Annotated[
        Whole,
        Meaning("CU-15", "Maximum minutes from the time entered to the signature; a note beyond.", "lower"),
    ] = 30
    late_warn_h: Annotated[
        Threshold,
        Meaning("CU-15", "Maximum hours from the time entered to the signature; a warning beyond.", "lower"),
    ] = Decimal(24)
    hold_warn_h: Annotated[
        Threshold,
        Meaning(
            "SH-02",
            "Maximum hours from the oldest run to receipt; a warning beyond.",
            "lower",
            "common practice; we found no published holding time for spore traps",
        ),
    ] = Decimal(72)
    hold_block_h: Annotated[
        Threshold,
        Meaning(
            "SH-02",
            "Maximum hours from the oldest run to receipt; a stop beyond.",
            "lower",
            "common practice; we found no published holding time for spore traps",
        ),
    ] = Decimal(168)
    receipt_lag_h: Annotated[
        Threshold,
        Meaning("RC-08", "Hours from delivery until the laboratory signs for it, opened or not.", "lower"),
    ] = Decimal(4)
    dock_blind: Annotated[
        bool,
        Meaning(
            "RC-02",
            "Whether the sealed sheet outside an envelope leaves the number of its seal out, so that the dock"
            " reads it and does not copy it.",
            "yes",
        ),
    ] = False
    tracking_required: Annotated[
        bool,
        Meaning(
            "SH-06",
            "Whether a missing tracking number stops the shipment; otherwise it is a warning.",
            "yes",
            "OSHA Technical Manual II:4: ship with tracking to protect custody",
        ),
    ] = True
    record_enclosed_required: Annotated[
        bool, Meaning("SE-08", "Whether the custody record must be enclosed in the envelope.", "yes")
    ] = True
    seal_photo_wanted: Annotated[
        bool, Meaning("SE-05", "Whether a photo of every closed envelope is asked for.", "yes")
    ] = False
    transit_high_c: Annotated[
        Temperature,
        Meaning(
            "SH-07", "Highest forecast temperature of the shipment; a note beyond. An estimate.", "lower"
        ),
    ] = Decimal(40)
    transit_low_c: Annotated[
        Temperature,
        Meaning(
            "SH-07", "Lowest forecast temperature of the shipment; a note beyond. An estimate.", "higher"
        ),
    ] = Decimal(-10)
    hours_age_days: Annotated[
        Whole,
        Meaning("SH-08", "Maximum age of a laboratory's opening hours; a note beyond (6 months).", "lower"),
    ] = 183
    unshipped_h: Annotated[
        Threshold,
        Meaning("SH-09", "Maximum hours from sealing to shipment; a warning beyond.", "lower"),
    ] = Decimal(24)
    overdue_h: Annotated[
        Threshold,
        Meaning(
            "SH-10",
            "Maximum hours the dock is open after the expected receipt; a warning beyond.",
            "lower",
        ),
    ] = Decimal(4)
    call_working_days: Annotated[
        Whole,
        Meaning(
            "RC-10",
            "Working days of the laboratory by whose end the sampling firm is called about a discrepancy.",
            "lower",
        ),
    ] = 1
    keep_working_days: Annotated[
        Whole,
        Meaning(
            "RC-11",
            "Minimum working days to hold a sample without its inspector's signature.",
            "higher",
            "49 CFR 40.83, by analogy",
        ),
    ] = 5
    temperature_wanted: Annotated[
        bool,
        Meaning(
            "RC-14",
            "Whether the temperature on opening is asked for; we found no published limit for spore traps.",
            "yes",
        ),
    ] = True
    most_hand_overs: Annotated[
        Whole, Meaning("CU-18", "Maximum transfers of one sample; a note beyond.", "lower"),
    ] = 6  # fmt: skip
    copy_h: Annotated[
        Threshold,
        Meaning(
            "SI-10",
            "Hours after which a device that goes on signing should have fetched what was recorded.",
            "lower",
        ),
    ] = Decimal(24)

    @classmethod
    def from_data(cls, data: Mapping[str, Any]) -> Policy:
        """Read signed values. Raises `BadFacts` naming every bad member."""
        faults, code, read = [], None, cls()
        try:
            read = cls.read(data)
        except BadFacts as error:
            faults, code = list(error.facts["errors"]), error.code
        if "edition" not in data:
            faults.append(
                {"at": "/edition", "says": f"is missing: write {EDITION} for the current rule book"}
            )
        faults += [
            {"at": f"/{name}", "says": f"came with edition {meaning.edition} of the rule book"}
            for name, meaning in meanings().items()
            if name in data and meaning.edition > read.edition
        ]
        if faults:
            raise bad_facts(faults, code)
        return cls.of(read.edition, **{name: getattr(read, name) for name in read.given - {"edition"}})

    @classmethod
    def of(cls, edition: int = EDITION, **stated: Any) -> Policy:
        """What counts under an edition for whoever stated no more than this."""
        policy = cls(**{name: default(name, edition) for name in meanings()} | stated | {"edition": edition})
        object.__setattr__(policy, "given", frozenset(stated) | {"edition"})
        return policy

    def to_data(self) -> dict[str, Any]:
        """All values in signed form."""
        data: dict[str, Any] = plain(self)
        return data

    @property
    def stated(self) -> dict[str, Any]:
        """What was signed: the edition, and the values that the organization named itself. All else are
        defaults of that edition.
        """
        return {name: value for name, value in plain(self).items() if name in self.given}

    @property
    def digest(self) -> str:
        """Base64url SHA-256 of the sorted JSON of what was signed: what `sealed` names, so a check can be
        replayed.

        A threshold that comes later changes none.
        """
        return digest_of(self.stated)


def digest_of(stated: Mapping[str, Any]) -> str:
    """The same of what was signed, as it was signed."""
    text = json.dumps(stated, sort_keys=True, separators=(",", ":"))
    return urlsafe_b64encode(hashlib.sha256(text.encode()).digest()).decode().rstrip("=")


@cache
def meanings() -> Mapping[str, Meaning]:
    """Every threshold with its meaning, in the order of the file."""
    return {
        name: meaning
        for name, member in members(Policy).items()
        for meaning in member.beside
        if isinstance(meaning, Meaning)
    }


def default(name: str, edition: int = EDITION) -> Decimal | int:
    """What counts under an edition where nobody stated this threshold; before the edition that brought it, as
    that one had it.
    """
    found: Decimal | int = getattr(Policy, name)
    for since, value in meanings()[name].changed:
        found = value if since <= edition else found
    return found


def is_decimal(name: str) -> bool:
    """Whether there is a threshold of this name, and it travels as text."""
    return name in meanings() and isinstance(default(name), Decimal)


def is_stricter(meaning: Meaning, one: Any, other: Any) -> bool:
    """Whether the first of two values of a threshold asks more of people than the second."""
    return bool(one != other and _STRICTER[meaning.stricter](one, other) == one)


_STRICTER: Final[Mapping[str, Callable[[Any, Any], Any]]] = {"higher": max, "lower": min, "yes": max}
"""By direction. `yes` is the greater of two truth values."""
