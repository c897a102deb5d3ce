"""The lot on its shelf: counted, kept neither too cold nor too hot, its expiry set right, not handed out for a day it will not last.

Asked of every lot in the case, with samples beside it or alone. Its limits are those of a form it was used on, else of its owner.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from bailee.domain.lots import Lot
from bailee.domain.numbers import grouped
from bailee.domain.policy import Policy
from bailee.rules.case import Case, Elsewhere
from bailee.rules.labels import accounted
from bailee.rules.registry import Hit, rule
from bailee.rules.wording import counted, day, printed


@rule(
    "ML-04", "Issued for a visit that the lot will not last to", "warn", "media", "common practice, no source",
    "Take these cassettes out of the kit, and hand out others that are in date on the day of the visit: `bailee lot show` "
    "tells which lots are, `bailee lot issue … --count …` issues from one.",
)  # fmt: skip
def issued_too_late(case: Case) -> Iterator[Hit]:
    """Issued for a day later than the last good one and the days of grace, and not used yet; once used, ML-02 speaks."""
    for lot, policy in _lots(case):
        late: dict[date, list[str]] = {}
        for number, issued in lot.issued.items():
            over = (issued.visit - lot.expires).days if issued.visit and lot.expires else 0
            if (
                issued.visit
                and over > policy.expiry_grace_days
                and not accounted(case, number, case.elsewhere or Elsewhere())
            ):
                late.setdefault(issued.visit, []).append(number)
        for visit, numbers in sorted(late.items()):
            assert lot.expires
            yield Hit(
                lot.number,
                f"{counted(len(numbers), 'cassette')} of lot {_named(lot)} {'was' if len(numbers) == 1 else 'were'} issued for "
                f"{day(visit)}, {counted((visit - lot.expires).days, 'day')} after its last good day, {day(lot.expires)}: "
                f"{printed(numbers)}.",
                by=("expiry_grace_days",),
            )


@rule(
    "ML-09", "Cassettes of a lot do not add up", "warn", "media", "common practice, no source",
    "Count the shelf again, and say what is there: `bailee lot count LOT --remaining … --voided …`. Look for cassettes "
    "handed out without a number, or thrown away and not said.",
)  # fmt: skip
def adds_up(case: Case) -> Iterator[Hit]:
    """At the newest count: issued by then, left and voided unused must make what was received, exactly."""
    for lot, _ in _lots(case):
        if lot.counted:
            left, voided = lot.counted.remaining, lot.counted.voided
            made = lot.issued_when_counted + left + voided
            if made != lot.count:
                yield Hit(
                    lot.number,
                    f"{counted(lot.count, 'cassette')} of lot {_named(lot)} came in; {lot.issued_when_counted} issued, {left} "
                    f"left and {voided} voided make {made}.",
                )


@rule(
    "ML-10", "Expiry corrected after it was entered", "note", "media", "49 CFR 40.208 by analogy",
    "Compare with the box when it is still there: the corrected expiry is the one that counts. Is it wrong: `bailee lot "
    "expiry LOT … --reason …`.",
)  # fmt: skip
def expiry_corrected(case: Case) -> Iterator[Hit]:
    """Every correction of the lot's expiry, with both values and who signed it."""
    for lot, _ in _lots(case):
        for made in lot.other_expiries:
            yield Hit(
                lot.number,
                f"The expiry of lot {_named(lot)} was entered as {made.old or 'none'} and corrected to {made.new} by "
                f"{case.person(lot.org, made.kid)} ({made.reason.replace('_', ' ')}; entry {made.n} of the lot).",
            )


@rule(
    "ML-12", "Cassettes kept too cold or too hot", "note", "media", "common practice, no source",
    "Ask the maker whether the lot may still be used, and keep it indoors. If it may not: `bailee lot recall LOT --reason "
    "…`.",
)  # fmt: skip
def storage(case: Case) -> Iterator[Hit]:
    """A temperature of storage below or above the wanted range, both limits included in it; not read is left alone."""
    for lot, policy in _lots(case):
        low, high = policy.media_storage_min_c, policy.media_storage_max_c
        colder = [
            each.coldest_c for each in lot.storage if each.coldest_c is not None and each.coldest_c < low
        ]
        hotter = [
            each.warmest_c for each in lot.storage if each.warmest_c is not None and each.warmest_c > high
        ]
        extremes = {
            "media_storage_min_c": min(colder, default=None),
            "media_storage_max_c": max(hotter, default=None),
        }
        read = {name: value for name, value in extremes.items() if value is not None}
        if read:
            yield Hit(
                lot.number,
                f"Lot {_named(lot)} was kept at {' and '.join(f'{value} °C' for value in read.values())}; {low} to {high} °C are "
                "wanted.",
                by=tuple(read),
            )  # fmt: skip


def _lots(case: Case) -> Iterator[tuple[Lot, Policy]]:
    used = {s.taken.lot: form for form in case.forms.values() for s in form.live}
    for lot in case.lots.values():
        owner = case.organisations.get(lot.org)
        if lot.number in used:
            yield lot, case.policy(used[lot.number])
        else:
            yield lot, owner.policy if owner else Policy()


def _named(lot: Lot) -> str:
    return f"{grouped(lot.number)} ({lot.maker_lot})"
