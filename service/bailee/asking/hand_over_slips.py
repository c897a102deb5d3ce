"""What is surely a slip where samples change hands: counts, what was given, numbers of seal and airbill."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any, Final

from bailee.asking.slip import Slip
from bailee.domain import measures, numbers
from bailee.domain.moments import Moment

WARM_C: Final = Decimal(30)
COOL_F: Final = Decimal(60)
"""Between them an envelope is opened that lay in the sun, in degrees Celsius, or in a cool van, in Fahrenheit
(common practice, no source).
"""


def counted(
    count: int | None, named: int, *, member: str = "count", may_scan: bool = False
) -> Iterator[Slip]:
    """A count by hand that is not the number of cassettes named; the missing one may be scanned, where it
    `may_scan`.
    """
    if count is not None and count != named:
        yield Slip(
            "count-differs",
            member,
            str(count),
            f"{count} counted by hand, and {named} named.",
            "Count again, and see which is missing or too many.",
            asks=_SCAN_OR_COUNT if may_scan and count > named else "",
        )


_SCAN_OR_COUNT: Final = "Count again, or scan the one that is missing; or y: it is so; or n"


def of_either_unit(said: Mapping[str, Any], member: str) -> Iterator[Slip]:
    """A temperature in an envelope, in degrees Celsius, that is as likely one in Fahrenheit."""
    value = None if said.get(member) is None else Decimal(str(said[member]))
    if value is not None and WARM_C <= value <= COOL_F:
        yield Slip(
            "celsius-or-fahrenheit",
            member,
            f"{value} C",
            f"{value} C or {value} F? {value} \N{DEGREE SIGN}F is"
            f" {measures.rounded(measures.celsius(value), 1)} \N{DEGREE SIGN}C.",
            "Write the unit after the number.",
            f"{value} F",
        )


def not_shipped(envelope: str, shipped: Mapping[str, Any] | None, now: datetime) -> Iterator[Slip]:
    """An envelope on the bench of the dock that is still at the sender's by what is on record: never shipped,
    or to be shipped later than `now`.
    """
    handed_over = Moment.parse(shipped["handed_over"]) if shipped else None
    if handed_over and handed_over.instant <= now:
        return
    told = (
        f"is to be shipped only at {handed_over.text()}"
        if handed_over
        else "was not shipped as far as the ledger shows"
    )
    yield Slip(
        "not-shipped",
        "envelope",
        envelope,
        f"{numbers.grouped(envelope)} {told}.",
        "Compare this number with the label on the envelope.",
        asks="Is it this envelope? [y/n]",
    )


def accepted_already(before: Mapping[str, str]) -> Iterator[Slip]:
    """Samples that would be accepted once more, with when they were."""
    for at in dict.fromkeys(before.values()):
        named = ", ".join(numbers.grouped(sample) for sample, when in before.items() if when == at)
        yield Slip(
            "accepted-already",
            "numbers",
            named,
            f"{named}: accepted already on {at}.",
            "Name only what is not decided about yet.",
        )


def kept_longer(until: Mapping[str, str], day: str) -> Iterator[Slip]:
    """Samples that would be disposed of on a day before that until which they are kept."""
    for last in sorted({each for each in until.values() if day < each}):
        named = ", ".join(numbers.grouped(sample) for sample, each in until.items() if each == last)
        yield Slip(
            "kept-longer",
            "numbers",
            named,
            f"{named}: to be kept until {last}, and this is {day}.",
            "Keep them, or ask who set that day.",
        )


def given_already(before: Mapping[str, tuple[str, str]]) -> Iterator[Slip]:
    """Samples that would be relinquished once more, with who relinquished them to which organization, and
    that no one has received.
    """
    for who in dict.fromkeys(before.values()):
        named = ", ".join(numbers.grouped(sample) for sample, given in before.items() if given == who)
        yield Slip(
            "given-already",
            "numbers",
            named,
            f"{named}: relinquished already by {who[0]} to {who[1]}, and not received since.",
            "Relinquish them again only if they are not taken there.",
        )


def left_with_giver(given: Mapping[str, str]) -> Iterator[Slip]:
    """Cassettes that were relinquished to whoever takes others of the visit, and are not among these, with
    who relinquished them.
    """
    for giver in dict.fromkeys(given.values()):
        left = [numbers.grouped(sample) for sample, by in given.items() if by == giver]
        yield Slip(
            "given-not-taken",
            "samples",
            ", ".join(left),
            f"{giver} relinquished {', '.join(left)} to you as well, not among those you take.",
            "Look for what is missing, and take it with the others if it is there.",
        )


def read_on_seal(text: str | None, applied: str | None = None) -> Iterator[Slip]:
    """The number of a label, or of a choice in a list, where that of a custody seal was to be read; one with
    fewer characters than the number `applied`, where that is known. Which number that is, is not told.
    """
    remedy = "Read the number on the seal itself."
    yield from _label_instead(text, "seal", "label-as-seal", "of a seal", remedy)
    read = "".join((text or "").split())
    if read.casefold() != "none" and 0 < len(read) < numbers.SHORTEST_SEAL:
        said = f"{read} is no number of a seal: those have {numbers.SHORTEST_SEAL} characters or more."
        yield Slip("short-seal", "seal", read, said, remedy)
    elif read and read.casefold() != "none" and len(read) < len(applied or ""):
        said = f"{read} has fewer characters than the number on record."
        yield Slip("short-seal", "seal", read, said, "Read all of it, as far as it can be read.")


def read_on_airbill(text: str | None, seal: str | None = None) -> Iterator[Slip]:
    """The number of a label, or of the `seal` on the envelope, where the carrier's was to be read."""
    remedy = "Scan the number on the airbill."
    yield from _label_instead(text, "tracking", "label-as-tracking", "of the carrier", remedy)
    if text and seal and "".join(text.split()).casefold() == seal.casefold():
        said = f"{text} is the number of the seal on this envelope, not of the carrier."
        yield Slip("seal-as-tracking", "tracking", text, said, remedy)


def enclosed_in(envelope: str, seal: str, printed: str | None) -> Iterator[Slip]:
    """An envelope that is not the one `printed` on the record to enclose, beside the number of this seal."""
    if printed and envelope != printed:
        yield Slip(
            "another-envelope",
            "envelope",
            envelope,
            f"The record printed for seal {seal} names envelope {numbers.grouped(printed)}, not"
            f" {numbers.grouped(envelope)}.",
            "Take the number on the record that lies in it, or print the record again.",
            numbers.grouped(printed),
        )


def named_store(store: str | None) -> Iterator[Slip]:
    """The number of a label where a store was to be named."""
    yield from _label_instead(store, "store", "label-as-store", "of a store", "Name the store, like FR-1.")


def withdrawn_from(store: str, lies_in: Mapping[str, str | None]) -> Iterator[Slip]:
    """A store in which none of the samples lies, with where each does on record (None: in no store)."""
    if lies_in and store not in lies_in.values():
        stores = sorted({each for each in lies_in.values() if each})
        known = f" On record they lie in {', '.join(stores)}." if stores else ""
        yield Slip(
            "nothing-in-store",
            "store",
            store,
            f"None of what is withdrawn was put into store {store}.{known}",
            "Name the store in which they lie, or sign first that they were put there.",
            stores[0] if len(stores) == 1 else "",
        )


def unknown_carrier(name: str, known: Sequence[str]) -> Slip:
    """A carrier that has no calendar on record where others have one."""
    near = difflib.get_close_matches(name.casefold(), known)
    return Slip(
        "unknown-carrier",
        "carrier",
        name,
        f"No calendar on record for {name}: Monday to Friday and the federal holidays are assumed.",
        f"On record: {', '.join(near or known)}.",
        near[0] if len(near) == 1 else "",
    )


def _label_instead(text: str | None, field: str, code: str, of: str, remedy: str) -> Iterator[Slip]:
    if text and (label := numbers.label_number(text)):
        yield Slip(code, field, text, f"{numbers.on_label(label)}, not {of}.", remedy)
