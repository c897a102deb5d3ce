"""What was said already, as the terminal asks for it and tells it; `domain.said_already` decides.

    this device     its newest statement about the same thing is taken instead, shown, or refused
    the ledger      nobody takes, voids, seals, hands over or receives twice: it is said before signing

Whoever means both says --both.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

from bailee.domain import said_already
from bailee.domain.acts.form import Received, TakenIn
from bailee.domain.acts.table import name_of
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.domain.said_already import Difference, SaidBefore, Words
from bailee.errors import Refused, Unavailable, Unknown
from bailee.presentation import words
from bailee.signing import disclosures, signed_statement
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing.acts import Act, spoken
from bailee_cli.terminal import layout, show, time_zones, yes_no
from bailee_cli.terminal.options import at_a_terminal

if TYPE_CHECKING:
    from bailee_cli.device.outbox import Kept


def refuse_held(session: Session, form: str, samples: Iterable[str]) -> None:
    """Raise `Refused` ("held-already") when some of these samples are in this person's own hands already."""
    if session.both:
        return
    found = cache.form(session, form)
    last = {each["sample"]: each["links"][-1] for each in found["samples"] if each["links"]}
    hands = {sample: (link["kid"], link["until"]) for sample, link in last.items()}
    if held := said_already.held_by(session.key.kid, hands, samples):
        since = show.when(last[held[0]]["since"], found["zone"])
        raise Refused(
            f"You hold {', '.join(map(grouped, held))} already, since {since}. Nothing was signed: receive"
            " only what another person relinquished to you. --both signs it anyway.",
            code="held-already",
            samples=held,
        )


def refuse_void(session: Session, form: str, sample: str) -> None:
    """Raise `Refused` ("void-already") when the sample is void, if the ledger can be asked."""
    if session.both:
        return
    try:
        told = {each["sample"]: each["void"] for each in cache.form(session, form)["samples"]}
    except (Unavailable, Unknown):
        return
    if why := told.get(sample):
        raise Refused(
            f"{grouped(sample)} is void already: {show.words(why)}. Nothing was signed. Entry wrong? `bailee"
            f" correct {sample} --act voided` shows what can be corrected. --both signs it anyway.",
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
        at = show.when(told["sealed_at"], time_zones.of_envelope(session, envelope))
        raise Refused(
            f"Envelope {grouped(envelope)} was sealed with {show.name(told['seal'])} on {at} already. Nothing"
            f" was signed: `bailee ship {envelope}` ships it, `bailee unseal {envelope}` records that it was"
            " opened again.",
            code="sealed-already",
        )


def refuse_shipped(session: Session, envelope: str) -> None:
    """Raise `Refused` ("shipped-already") when a carrier has the envelope already."""
    if session.both:
        return
    told = session.service.get(f"/envelopes/{envelope}")
    said = told["shipped"]
    if said and said_already.is_on_its_way(_inside(session, told).values()):
        tracking = f", tracking number {said['tracking']}" if said.get("tracking") else ""
        to = "the person who carries it" if said.get("by_hand") else show.plain(said["carrier"])
        at = show.when(said["handed_over"], time_zones.of_envelope(session, envelope))
        raise Refused(
            f"Envelope {grouped(envelope)} was shipped with {to} on {at} already{tracking}. Nothing was"
            f" signed. Entry wrong? `bailee correct {envelope} --act shipped` shows what can be corrected.",
            code="shipped-already",
        )


def refuse_received(session: Session, told: dict[str, Any], named: Iterable[str]) -> None:
    """Raise `Refused` ("received-already") when a dock received the envelope, and it was not sent on since.

    `named` are the cassettes read now, none yet when it is only begun.
    """
    if session.both or not told["received"]:
        return
    said = told["received"]
    if said_already.is_received(_inside(session, told), frozenset(named)):
        number, at = (
            told["envelope"],
            show.when(said["at"], time_zones.of_envelope(session, told["envelope"])),
        )
        raise Refused(
            f"Envelope {grouped(number)} was received on {at} already. Nothing was signed. Entry wrong?"
            f" `bailee correct {number} --act received` shows what can be corrected. Was it opened a second"
            " time? --both signs that.",
            code="received-already",
        )


def refuse_taken_in(session: Session, told: dict[str, Any]) -> None:
    """Raise `Refused` ("taken-in-already") when somebody signed for the envelope, or a dock opened it.

    Not when it was sent on since.
    """
    said = told["taken_in"] or told["received"]
    if session.both or not said or "shipped" in _inside(session, told).values():
        return
    number = told["envelope"]
    at = show.when(said["at"], time_zones.of_envelope(session, number))
    kind = TakenIn if said is told["taken_in"] else Received
    raise Refused(
        f"Envelope {grouped(number)} was {words.STATUSES[name_of(kind)]} on {at} already. Nothing was "
        f"signed. Entry wrong? `bailee correct {number} --act {name_of(kind)}` shows what can "
        "be corrected. --both signs it anyway.",
        code="taken-in-already",
    )


def _inside(session: Session, told: dict[str, Any]) -> dict[str, str]:
    """By sample in the envelope: its state."""
    return {
        each["sample"]: each["status"]
        for number in told["forms"]
        for each in cache.form(session, number)["samples"]
        if each["envelope"] == told["envelope"]
    }


def already(session: Session, said: Act) -> Kept | None:
    """The waiting statement that says this already; None when it is to be signed.

    Raises `Refused`: "said-already" when it is recorded and happens once, "said-otherwise" when this device
    said something else of the same thing and nobody is there to be asked, or the person says no.
    """
    if session.both:
        return None
    kept = {each.seq: each for each in _candidates(session, said)}
    private = {name: value for name, value in said.private.items() if value}
    words = Words(said.act, said.data, private, begins=said.fresh)
    found = said_already.said_already(words, map(_earlier, kept.values()), session.now)
    if found is None:
        return None
    before = kept[found.earlier.seq]
    match found.outcome:
        case "waits":
            return before
        case "recorded":
            raise Refused(
                f"Recorded already: {_spoken(session, before)}. Nothing was signed. `bailee correct` "
                "corrects it; --both signs it once more.",
                code="said-already",
                seq=before.seq,
            )
        case "otherwise":
            _ask(session, before, found.differs)
    return None


def waiting(
    session: Session, act: str, about: Iterable[str], same: Callable[[Mapping[str, Any]], bool]
) -> list[Kept]:
    """Statements of this act that wait to be sent and are about all of these things.

    None when something typed now differs from what they say, as `same` tells of their facts, or for --both.
    """
    unsent = [] if session.both else session.outbox.unsettled("waiting")
    kept = {each.seq: each for each in unsent if each.act == act}
    return [kept[each.seq] for each in said_already.waiting(act, about, same, map(_earlier, kept.values()))]


def _candidates(session: Session, said: Act) -> Iterator[Kept]:
    """What this device said that may bear on it, the newest first."""
    if said.fresh:
        for kept in reversed(session.outbox.unsettled("waiting")):
            if kept.act == said.act and len(session.outbox.of_chains([kept.chain])) == 1:
                yield kept
        return
    bearing = said_already.bearing(said.act)
    for kept in reversed(session.outbox.of_chains([said.chain])):
        if kept.act in bearing and kept.state in ("waiting", "registered"):
            yield kept


def _earlier(kept: Kept) -> SaidBefore:
    claims = signed_statement.read(kept.text).claims
    return SaidBefore(
        seq=kept.seq,
        act=kept.act,
        data=claims.data,
        at=Moment.of(claims.iat, claims.tzo),
        is_recorded=kept.state == "registered",
        private=disclosures.reveal(kept.disclosures, claims.private, claims.data),
    )


def say(session: Session, kept: Kept) -> None:
    """Say that something is signed already."""
    at = _clock(_signed(kept), session.now)
    layout.warn(
        f"Signed already at {at}, waiting to be sent: {_words(kept)}. It is not signed again; "
        "`bailee send` sends it."
    )


def _ask(session: Session, kept: Kept, differences: Iterable[Difference]) -> None:
    told = "; ".join(
        f"{show.words(each.name)} was {_value(each.before)}, is now {_value(each.now)}"
        for each in differences
    )
    said = show.plain(f"Your earlier entry is different: {_spoken(session, kept)}. Different: {told}.")
    if at_a_terminal():
        layout.warn(said)
        if yes_no.asked("Sign this one as well?"):
            return
        said = ""
    then = "corrects it" if kept.state == "registered" else "corrects it once `bailee send` has sent it"
    raise Refused(
        f"{said} Nothing was signed: `bailee correct` {then}; --both signs this one as well.".lstrip(),
        code="said-otherwise",
        seq=kept.seq,
        differs=[each.name for each in differences],
    )


def _value(value: Any) -> str:
    return (
        "not entered"
        if value is None
        else value
        if isinstance(value, str)
        else json.dumps(value, ensure_ascii=False)
    )


def _spoken(session: Session, kept: Kept) -> str:
    entry = (
        f", entry {(kept.answer or {}).get('n')}"
        if kept.state == "registered"
        else ", which waits to be sent"
    )
    return f"{_words(kept)}, signed at {_clock(_signed(kept), session.now)}{entry}"


def _words(kept: Kept) -> str:
    return f"{show.words(kept.act)}, {spoken(kept.chain)} (number {kept.seq} of this device)"


def _signed(kept: Kept) -> Moment:
    claims = signed_statement.read(kept.text).claims
    return Moment.of(claims.iat, claims.tzo)


def _clock(at: Moment, now: datetime) -> str:
    """`14:05`, with its day when that was another one."""
    is_today = at.local_date == Moment(now, at.offset_minutes).local_date
    return f"{at.local:%H:%M}" if is_today else f"{at.local:%Y-%m-%d %H:%M}"
