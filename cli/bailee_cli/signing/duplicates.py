"""What was said already: nobody signs one thing twice because a command was typed again.

The ledger would record both, as it must: they are two true statements, and which one was meant nobody could tell later. So the
newest statement of this device about the same thing is looked at before signing:

    waits, says the same          it is taken instead of a new one, and sent
    waits, says something else    what differs is shown, and the person is asked
    recorded, of what happens once   the same two answers, and nothing is signed
    recorded, given to the same again   nothing is signed

The same means the same facts. A time that was not typed moves on with the clock and makes no difference; a time that was typed does.

What the ledger knows of a thing before somebody says one more about it: nobody takes, voids, seals or hands over twice.

The ledger would record it, as it must; here it is said before anything is signed. Whoever means it says --both.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Final

import click

from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.errors import BadMoment, Refused, Unavailable, Unknown
from bailee.signing import disclosures, signed_statement
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing.acts import Act, data_of, spoken
from bailee_cli.terminal import clocks, layout, show
from bailee_cli.terminal.options import at_a_terminal

if TYPE_CHECKING:
    from bailee_cli.device.outbox import Kept, Outbox
    from bailee_cli.device.session import Session


_GONE = {"shipped"}
"""In a carrier's hands. What came back and was taken over again is not."""


def refuse_held(session: Session, form: str, samples: Iterable[str]) -> None:
    """Raise `Refused` ("held-already") when some of these samples are in this person's own hands already."""
    if session.both:
        return
    kid = session.key.kid
    found = cache.form(session, form)
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
        told = {each["sample"]: each["void"] for each in cache.form(session, form)["samples"]}
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
            each for each in cache.form(session, number)["samples"] if each["envelope"] == told["envelope"]
        )


_ONCE: Final = frozenset({"collected", "voided", "shipped"})
"""Happens once to a thing, recorded or not."""

_UNANSWERED: Final = frozenset({"relinquished"})
"""Recorded and the same, it is said already until something came back. With other facts it is another try: the first was not taken."""

_CONTRADICTS: Final = _ONCE | {
    "opened", "lot_received", "relinquished", "received", "sealed", "unsealed", "accepted", "on_hold", "rejected", "forwarded",
    "disposed", "corrected", "revoked", "rotated",
}  # fmt: skip
"""Two of them about one thing, with other facts, cannot both be meant. Of other acts the newer one simply counts."""

_UNDOES: Final[Mapping[str, frozenset[str]]] = {
    "relinquished": frozenset({"received"}),
    "received": frozenset({"relinquished", "forwarded", "shipped"}),
    "sealed": frozenset({"unsealed"}),
    "unsealed": frozenset({"sealed"}),
    "shipped": frozenset({"unsealed", "received"}),
    "accepted": frozenset({"on_hold", "rejected"}),
    "on_hold": frozenset({"accepted", "rejected"}),
    "rejected": frozenset({"accepted", "on_hold"}),
    "recalled": frozenset({"released"}),
    "released": frozenset({"recalled"}),
    "retention_held": frozenset({"retention_released"}),
    "retention_released": frozenset({"retention_held"}),
}
"""By act: what makes it possible once more."""

_NAMED_BY: Final[Mapping[str, tuple[str, ...]]] = {
    "collected": ("sample",),
    "voided": ("sample",),
    "unsealed": ("envelope",),
    "shipped": ("envelope",),
    "corrected": ("statement", "field"),
    "excepted": ("rule", "about"),
    "enrolled": ("kid",),
    "revoked": ("kid",),
    "rotated": ("kid",),
    "calendar_set": ("which", "carrier"),
    "equipment_set": ("kind", "id"),
    "endorsed": ("org",),
}
"""The members that name what an act is about."""

_TIMES: Final = frozenset({"at", "since", "until", "started", "stopped", "handed_over"})
_COMPUTED: Final = frozenset({"expected_delivery", "expected_receipt", "findings", "policy", "lab_policy"})
"""What the service adds to an act; nobody types it."""

_SOON: Final = timedelta(minutes=10)
"""Of what is said often, the same said later is said of a later time (common practice, no source)."""
_SLACK: Final = timedelta(minutes=1)
"""Times are typed to the minute."""


def already(session: Session, said: Act) -> Kept | None:
    """The waiting statement that says this already; None when it is to be signed.

    Raises `Refused`: "said-already" when it is recorded and happens once, "said-otherwise" when this device said something else of
    the same thing and nobody is there to be asked, or the person says no.
    """
    if session.both:
        return None
    kept = _newest(session.outbox, said)
    if kept is None or (kept.state == "registered" and said.act not in _ONCE | _UNANSWERED):
        return None
    elapsed = session.now - _signed(kept).instant
    differences = _differences(kept, said, elapsed)
    if kept.state == "registered" and said.act in _UNANSWERED and differences:
        return None
    if said.act not in _CONTRADICTS and (differences or elapsed >= _SOON):
        return None
    if differences:
        _ask(session, kept, differences)
        return None
    if kept.state == "registered":
        raise Refused(
            f"Recorded already: {_spoken(session, kept)}. Nothing was signed. `bailee correct` corrects it; --both signs it once more.",
            code="said-already",
            seq=kept.seq,
        )
    return kept


def waiting(
    session: Session, act: str, about: Iterable[str], same: Callable[[Mapping[str, Any]], bool]
) -> list[Kept]:
    """Statements of this act that wait to be sent and are about all of these things.

    None when something typed now differs from what they say, which `same` tells of their facts, or when --both is wanted.
    """
    things, told, found = frozenset(about), frozenset[str](), []
    for kept in [] if session.both else session.outbox.unsettled("waiting"):
        data = data_of(kept)
        if kept.act == act and (named := things_of(act, data)) & things:
            if not same(data):
                return []
            told |= named
            found.append(kept)
    return found if things <= told else []


def say(session: Session, kept: Kept) -> None:
    """Say that something is signed already."""
    at = _clock(_signed(kept), session.now)
    layout.warn(
        f"Signed already at {at}, waiting to be sent: {_words(kept)}. It is not signed again; `bailee send` sends it."
    )


def _newest(outbox: Outbox, said: Act) -> Kept | None:
    """The newest statement of the same act about the same thing that nothing said since has undone."""
    if said.fresh:
        return next((kept for kept in _unused(outbox, said) if not _differences(kept, said, None)), None)
    about, undoes = things_of(said.act, said.data), _UNDOES.get(said.act, frozenset())
    for kept in reversed(outbox.of_chains([said.chain])):
        if kept.state in ("refused", "set aside") or kept.act not in undoes | {said.act}:
            continue
        if kept.act == said.act and about & things_of(kept.act, data_of(kept)):
            return kept
        if kept.act in undoes and _touches(about, kept):
            return None
    return None


def _unused(outbox: Outbox, said: Act) -> Iterator[Kept]:
    """Chains begun with this act that wait, and on which nothing else was said."""
    for kept in reversed(outbox.unsettled("waiting")):
        if kept.act == said.act and len(outbox.of_chains([kept.chain])) == 1:
            yield kept


def _touches(about: frozenset[str], kept: Kept) -> bool:
    named = things_of(kept.act, data_of(kept))
    return bool(about & named) or kept.act in ("recalled", "released", "retention_held", "retention_released")


def things_of(act: str, data: Mapping[str, Any]) -> frozenset[str]:
    """What an act is about: its samples, its envelope, the member it corrects; otherwise the chain, which is the same for both."""
    if act in _NAMED_BY:
        return frozenset({" ".join(str(data.get(name)) for name in _NAMED_BY[act])})
    if act == "issued":
        return frozenset({""})
    samples = [item["sample"] for item in data.get("items", ())] + list(data.get("samples") or ())
    envelope = data.get("envelope") or (data.get("dock") or {}).get("envelope")
    return frozenset(samples + [envelope] * bool(envelope)) or frozenset({""})


def _differences(kept: Kept, said: Act, elapsed: timedelta | None) -> list[tuple[str, Any, Any]]:
    """Members that say something else: name, what was said, what is said now. Of `elapsed` None, times are left out."""
    claims = signed_statement.read(kept.text).claims
    before = {**claims.data, **disclosures.reveal(kept.disclosures, claims.private, claims.data)}
    now = {**said.data, **{name: value for name, value in said.private.items() if value}}
    names = sorted((before.keys() | now.keys()) - _COMPUTED)
    if said.act == "issued":
        before["samples"], now["samples"] = len(before["samples"]), len(now["samples"])
    return [
        (name, before.get(name), now.get(name))
        for name in names
        if before.get(name) != now.get(name)
        and not (name in _TIMES and (elapsed is None or _moved(before.get(name), now.get(name), elapsed)))
    ]


def _moved(before: Any, now: Any, elapsed: timedelta) -> bool:
    """Whether two times are apart as the commands are, so that neither was typed, or are the same to the minute."""
    try:
        apart = Moment.parse(before).instant - Moment.parse(now).instant
    except (BadMoment, TypeError):
        return False
    return abs(apart) < _SLACK or abs(apart + elapsed) < _SLACK


def _ask(session: Session, kept: Kept, differences: list[tuple[str, Any, Any]]) -> None:
    told = "; ".join(
        f"{show.words(name)} was {_value(before)}, is now {_value(now)}" for name, before, now in differences
    )
    said = show.plain(f"You said otherwise before: {_spoken(session, kept)}. What differs: {told}.")
    if at_a_terminal():
        layout.warn(said)
        if click.confirm("Sign this one as well?", default=False, err=True):
            return
        said = ""
    then = "corrects it" if kept.state == "registered" else "corrects it once `bailee send` has sent it"
    raise Refused(
        f"{said} Nothing was signed: `bailee correct` {then}; --both signs this one as well.".lstrip(),
        code="said-otherwise",
        seq=kept.seq,
        differs=[name for name, _, _ in differences],
    )


def _value(value: Any) -> str:
    return (
        "not said"
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
    return f"{show.words(kept.act)}, {spoken(kept.chain)} (statement {kept.seq})"


def _signed(kept: Kept) -> Moment:
    claims = signed_statement.read(kept.text).claims
    return Moment.of(claims.iat, claims.tzo)


def _clock(at: Moment, now: datetime) -> str:
    """`14:05`, with its day when that was another one."""
    is_today = at.local_date == Moment(now, at.offset_minutes).local_date
    return f"{at.local:%H:%M}" if is_today else f"{at.local:%Y-%m-%d %H:%M}"
