"""What the ledger knows of a thing before somebody says one more about it: nobody takes, voids, seals or hands over twice.

The ledger would record it, as it must; here it is said before anything is signed. Whoever means it says --both.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from bailee.domain.numbers import grouped
from bailee.errors import Refused, Unavailable, Unknown
from bailee_cli import clocks, reading, show
from bailee_cli.session import Session

_GONE = {"shipped"}
"""In a carrier's hands. What came back and was taken over again is not."""


def refuse_held(session: Session, form: str, samples: Iterable[str]) -> None:
    """Raise `Refused` ("held-already") when some of these samples are in this person's own hands already."""
    if session.both:
        return
    kid = session.key.kid
    found = reading.form(session, form)
    told = {each["sample"]: each for each in found["samples"]}
    held = [
        each
        for each in samples
        if each in told
        and (links := told[each]["links"])
        and (links[-1]["kid"], links[-1]["until"]) == (kid, None)
    ]
    if held:
        since = show.when(told[held[0]]["links"][-1]["since"], found["zone"])
        raise Refused(
            f"You hold {', '.join(map(grouped, held))} already, since {since}. Nothing was signed: take only what somebody else gave you. --both signs it all the same.",
            code="held-already",
            samples=held,
        )


def refuse_void(session: Session, form: str, sample: str) -> None:
    """Raise `Refused` ("void-already") when the sample is void. What the ledger cannot be asked is not known here."""
    if session.both:
        return
    try:
        told = {each["sample"]: each["void"] for each in reading.form(session, form)["samples"]}
    except (Unavailable, Unknown):
        return
    if why := told.get(sample):
        raise Refused(
            f"{grouped(sample)} is void already: {show.words(why)}. Nothing was signed. Was something said wrongly? "
            f"`bailee correct {sample} --act voided` shows what can be corrected. --both signs it all the same.",
            code="void-already",
        )


def refuse_sealed(session: Session, envelope: str) -> None:
    """Raise `Refused` ("sealed-already") when the envelope is sealed, and nobody opened it since."""
    if session.both:
        return
    try:
        told = session.service.get(f"/envelopes/{envelope}")
    except Unknown:
        return
    if told["seal"]:
        raise Refused(
            f"Envelope {grouped(envelope)} was sealed with {show.name(told['seal'])} on {show.when(told['sealed_at'], clocks.of_envelope(session, envelope))} already. Nothing was "
            f"signed: `bailee ship {envelope}` hands it over, `bailee unseal {envelope}` says that it was opened again.",
            code="sealed-already",
        )


def refuse_shipped(session: Session, envelope: str) -> None:
    """Raise `Refused` ("shipped-already") when a carrier has the envelope already."""
    if session.both:
        return
    told = session.service.get(f"/envelopes/{envelope}")
    said = told["shipped"]
    if said and any(each["status"] in _GONE for each in _inside(session, told)):
        tracking = f", tracking number {said['tracking']}" if said.get("tracking") else ""
        raise Refused(
            f"Envelope {grouped(envelope)} was handed to {show.plain(said['carrier'])} on {show.when(said['handed_over'], clocks.of_envelope(session, envelope))} already{tracking}. "
            f"Nothing was signed. Was something said wrongly? `bailee correct {envelope} --act shipped` shows what can be corrected.",
            code="shipped-already",
        )


def refuse_received(session: Session, told: dict[str, Any], named: Iterable[str]) -> None:
    """Raise `Refused` ("received-already") when a dock has received the envelope, and it was not sent on since.

    A cassette that was missing then and is found now is received by a second statement: only such are `named`, or none yet.
    """
    if session.both or not told["received"]:
        return
    said, inside = told["received"], {each["sample"]: each["status"] for each in _inside(session, told)}
    missing = {sample for sample, status in inside.items() if status == "missing"}
    if not (_GONE & set(inside.values()) or (missing and set(named) <= missing)):
        raise Refused(
            f"Envelope {grouped(told['envelope'])} was received on {show.when(said['at'], clocks.of_envelope(session, told['envelope']))} already. Nothing was signed. Was something said wrongly? "
            f"`bailee correct {told['envelope']} --act received` shows what can be corrected. Was it opened a second time? --both signs that.",
            code="received-already",
        )


def _inside(session: Session, told: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for number in told["forms"]:
        yield from (
            each for each in reading.form(session, number)["samples"] if each["envelope"] == told["envelope"]
        )
