"""Whether this kit will do.

Cassettes, pump and flow meter are judged for the day of the visit, before anybody drives.

The findings bear the numbers of the rules that would speak later, when it is too late to fetch another
cassette. What could not be looked up is said in its own list and never counted as fine.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import Literal

from bailee.domain.acts.lot import OF_SURFACES
from bailee.domain.lots import freshness
from bailee.domain.numbers import grouped
from bailee.domain.policy import Policy
from bailee.frozen import field, frozen
from bailee.rules.readers import ToldAct
from bailee.rules.registry import Finding, Severity
from bailee.rules.remedies import act
from bailee.rules.wording import counted, day, listed, printed

KIT = "kit"
"""What a finding about the whole kit is about."""

_ASIDE = "Set it aside and use another one."


@frozen
class LotSeen:
    """A lot as far as it was looked up: `expires` is its last good day, None when no date was entered; `kind`
    is that of its cassettes, or its medium for surfaces.
    """

    number: str
    expires: date | None
    recalled: bool
    kind: str = "slit"


@frozen
class Carried:
    """One number scanned in the kit, and what the service knows of it (`is_looked_up`) or else this device
    remembers.

    `lot` None: not known there. `is_mine` None: nobody said to whom it was issued.
    """

    number: str
    lot: LotSeen | None
    scans: int = 1
    is_looked_up: bool = True
    is_used: bool = False
    is_mine: bool | None = None
    visit: date | None = None

    @property
    def medium(self) -> str:
        """What it is if it is for surfaces; empty for a cassette, and for what nobody knows."""
        return self.lot.kind if self.lot and self.lot.kind in OF_SURFACES else ""


@frozen
class Instrument:
    """A pump or flow meter in the kit.

    `why_not` says why its certificate does not hold; None: it could not be looked up.
    """

    kind: Literal["pump", "meter"]
    id: str
    why_not: str | None


@frozen
class Cassettes:
    """How many to carry, by what they are for."""

    indoor: int
    outdoor: int
    blanks: int
    duplicates: int
    spare: int

    @property
    def needed(self) -> int:
        """Without the spare."""
        return self.indoor + self.outdoor + self.blanks + self.duplicates

    @property
    def total(self) -> int:
        """All of them."""
        return self.needed + self.spare


@frozen
class KitAnswer:
    """What was found, the gravest first, how many cassettes nothing stops, what was not checked, and how many
    of each medium for surfaces nothing stops.
    """

    findings: tuple[Finding, ...]
    good: int
    unchecked: tuple[str, ...]
    media: Mapping[str, int] = field(default_factory=dict)

    @property
    def told(self) -> str:
        """What nothing stops, in words: 4 cassettes and 2 tapes."""
        return listed([counted(self.good, "cassette"), *_in_words(self.media)])

    @property
    def will_not_do(self) -> bool:
        """Something has to be changed before driving."""
        return any(each.severity == "block" for each in self.findings)


def check(
    carried: Sequence[Carried], instruments: Sequence[Instrument], on: date, wanted: Cassettes, policy: Policy
) -> KitAnswer:
    """Judge a kit for the local day of the visit."""
    found = [finding for each in carried for finding in _of_cassette(each, on, policy)]
    bad = {each.about for each in found if each.severity == "block"}
    usable = [each for each in carried if each.number not in bad]
    good = sum(not each.medium for each in usable)
    media = Counter(each.medium for each in usable if each.medium)
    found += [*_of_lots(carried, on, policy), *_of_count(good, media, wanted)]
    found += [finding for each in instruments for finding in _of_instrument(each, on, policy)]
    order: tuple[Severity, ...] = ("block", "warn", "note")
    found.sort(key=lambda each: (order.index(each.severity), each.rule, each.about))
    return KitAnswer(tuple(found), good, tuple(_unchecked(carried, instruments)), dict(media))


def _in_words(media: Mapping[str, int]) -> list[str]:
    return [counted(count, medium.replace("_", " ")) for medium, count in sorted(media.items())]


def _of_cassette(each: Carried, on: date, policy: Policy) -> Iterator[Finding]:
    name, lot = grouped(each.number), each.lot
    then = freshness(lot.expires, on, policy) if lot else None
    if lot is None:
        if each.is_looked_up:
            said = f"{name} was never issued here: neither its expiration date nor a recall can be looked up."
            remedy = f"{_ASIDE} Ask the media keeper which box it came from."
            yield _found("ML-01", "block", each.number, said, remedy)
    elif then is None and each.medium != "container":  # none is printed on that
        said = f"{name} comes from lot {grouped(lot.number)}, which has no expiration date on record."
        yield _found(
            "ML-03",
            "block",
            each.number,
            said,
            f"{_ASIDE} The media keeper reads the box and enters it.",
            act("expiry_corrected", lot=lot.number, new=None, reason="left_out"),
        )
    elif then and not then.may_be_used:
        said = f"{name} is expired on {day(on)}: the expiration date of its lot is {day(then.last)}."
        yield _found("ML-02", "block", each.number, said, _ASIDE)
    if lot and lot.recalled:
        said = f"{name} comes from lot {grouped(lot.number)}, which was recalled."
        yield _found("ML-06", "block", each.number, said, f"{_ASIDE} Return this one to the media keeper.")
    yield from _of_number(each, on)


def _of_number(each: Carried, on: date) -> Iterator[Finding]:
    name = grouped(each.number)
    if each.is_used:
        remedy = f"{_ASIDE} Find out which cassette has this number."
        yield _found("CL-01", "block", each.number, f"{name} was collected already.", remedy)
    elif each.scans > 1:
        remedy = (
            "If two cassettes have this number, set both aside; if one was scanned twice, nothing is wrong."
        )
        yield _found("CL-01", "warn", each.number, f"{name} was scanned {each.scans} times.", remedy)
    if each.is_mine is False:
        remedy = "Ask for one issued to you, or record how the empty cassette was transferred."
        yield _found("CL-12", "warn", each.number, f"{name} was issued to another person.", remedy)
    if each.visit and each.visit != on:
        said = f"{name} was issued for a visit on {day(each.visit)}."
        yield _found("", "note", each.number, said, "Make sure that visit is not left without it.")


def _of_lots(carried: Sequence[Carried], on: date, policy: Policy) -> Iterator[Finding]:
    lots: dict[str, list[str]] = {}
    last_days: dict[str, date | None] = {}
    for each in carried:
        if each.lot:
            if not each.medium:
                lots.setdefault(each.lot.number, []).append(each.number)
            last_days[each.lot.number] = each.lot.expires
    if len(lots) > 1 and policy.same_lot_wanted:
        parts = "; ".join(f"lot {grouped(lot)}: {printed(numbers)}" for lot, numbers in lots.items())
        remedy = "Use one lot for indoor, outdoor and blank cassettes where you can."
        yield _found("ML-11", "warn", KIT, f"The cassettes come from {len(lots)} lots ({parts}).", remedy)
    for number, last in last_days.items():
        then = freshness(last, on, policy)
        if then and then.is_near:
            said = (
                f"On {day(on)} lot {grouped(number)} has {counted(then.left, 'day')} to go: its expiration"
                f" date is {day(then.last)}."
            )
            yield _found("ML-05", "note", number, said, "Use this lot first.")


def _of_count(good: int, media: Mapping[str, int], wanted: Cassettes) -> Iterator[Finding]:
    parts = {
        "indoors": wanted.indoor,
        "outdoors": wanted.outdoor,
        "as blanks": wanted.blanks,
        "as duplicates": wanted.duplicates,
    }
    planned = listed([f"{count} {what}" for what, count in parts.items() if count])
    others = f" or {listed(_in_words(media))}" if media else ""
    said = (
        f"{counted(good, 'cassette')} in the kit, not counting those set aside{others};"
        f" {wanted.needed} are planned ({planned}), with {wanted.spare} to spare."
    )
    if good < wanted.needed:
        yield _found("VP-09", "block", KIT, said, f"Add {wanted.total - good} more before you start.")
    elif good < wanted.total:
        yield _found(
            "VP-09",
            "note",
            KIT,
            said,
            f"Add {wanted.total - good} more: a dropped one cannot be replaced on site.",
        )


def _of_instrument(each: Instrument, on: date, policy: Policy) -> Iterator[Finding]:
    if each.why_not:
        what = "Flow meter" if each.kind == "meter" else "Pump"
        severity: Severity = "block" if each.kind == "meter" and policy.meter_certificate_block else "warn"
        said = f"{what} {each.id}: its certificate {each.why_not}; the visit is on {day(on)}."
        if each.kind == "meter":
            remedy = (
                "Use a meter whose calibration certificate is valid on that day, or have its new certificate"
                " entered."
            )
            entered = act("equipment_set", kind="meter", id=each.id, certified=None)
            yield _found("PV-06", severity, each.id, said, remedy, entered)
        else:
            remedy = (
                "Use another pump, or check its flow before and after every run with a meter whose"
                " certificate is valid."
            )
            yield _found("PV-06", severity, each.id, said, remedy)


def _unchecked(carried: Sequence[Carried], instruments: Sequence[Instrument]) -> Iterator[str]:
    remembered = [each.number for each in carried if each.lot and not each.is_looked_up]
    unknown = [each.number for each in carried if not each.lot and not each.is_looked_up]
    if remembered:
        yield (
            f"{printed(remembered)}: judged by what this device last read of the lot. A recall since, to whom"
            " it was issued and whether the number was used were not looked up."
        )
    if unknown:
        yield f"{printed(unknown)}: not on record on this device, and nothing could be looked up."
    named: dict[str, Instrument] = {each.kind: each for each in instruments}
    for kind, what in (("meter", "Flow meter"), ("pump", "Pump")):
        found = named.get(kind)
        if found is None:
            yield f"{what}: none was scanned or named."
        elif found.why_not is None:
            yield f"{what} {found.id}: no certificate could be looked up."


def _found(rule: str, severity: Severity, about: str, sentence: str, remedy: str, *acts: ToldAct) -> Finding:
    return Finding(rule, severity, "media", about, sentence, remedy, acts=acts)
