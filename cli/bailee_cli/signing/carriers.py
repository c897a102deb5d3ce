"""The carrier of an envelope: which, with what service, how long it takes; what is likely is offered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import click

from bailee.asking import hand_over_slips, hand_over_steps
from bailee.asking.question import Ask
from bailee.asking.slip import Slip
from bailee.domain.acts.form import Shipped
from bailee.domain.acts.table import name_of
from bailee_cli.device.session import Session
from bailee_cli.signing import lookups, submit
from bailee_cli.terminal import layout, prompts
from bailee_cli.terminal.options import at_a_terminal, chosen

BY_HAND: Final = "by hand"


def asked(session: Session, typed: str | None, last: Mapping[str, Any]) -> str:
    """The carrier, as typed or asked; a name of which no calendar is on record is asked back where somebody
    can be asked, and told elsewhere.
    """
    known = lookups.carriers(session)
    is_asked = prompts.may_ask(session)
    if known and not typed and is_asked and hand_over_steps.CARRIER.member not in session.answered:
        numbered = [f"{number} {each}" for number, each in enumerate(known, 1)]
        layout.warn(layout.listed("Carriers on record: ", numbered if len(known) > 1 else known, "."))
    said = {"carrier": typed or _answer(session, hand_over_steps.CARRIER, last or _only(known), known)}
    if not is_asked or not known:
        _tell_unknown(said["carrier"], known)
        return said["carrier"]

    def again(text: str) -> None:
        said["carrier"] = by_hand_or(chosen(text, known))
        (click.get_current_context().params if typed else session.answered)["carrier"] = said["carrier"]

    prompts.settle(session, lambda: _unknown(said["carrier"], known), {"carrier": again})
    return said["carrier"]


def by_hand_or(text: str) -> str:
    """A carrier as typed; the words for none are spelled in one way."""
    return BY_HAND if text.strip().lower() == BY_HAND else text.strip()


def of_carrier(carrier: str, last: Mapping[str, Any]) -> Mapping[str, Any]:
    """The last way, where it was with this carrier: another one has other services, and other days."""
    return last if last.get("carrier") == carrier else {}


def service(session: Session, last: Mapping[str, Any]) -> str:
    """Its service."""
    return _answer(session, hand_over_steps.SERVICE, last)


def days(session: Session, last: Mapping[str, Any]) -> int:
    """How long it takes: asked at a terminal, elsewhere one working day."""
    if not at_a_terminal():
        return 1
    found: int = prompts.answer(session, hand_over_steps.DAYS, last.get("service_days", 1))
    return found


def last_way(session: Session) -> Mapping[str, Any]:
    """How this device handed over its last envelope to a carrier: what is likely again."""
    sent = (submit.data_of(each) for each in session.outbox.newest(200) if each.act == name_of(Shipped))
    return next((data for data in sent if not data.get("by_hand")), {})


def _only(known: Sequence[str]) -> Mapping[str, str]:
    return {"carrier": known[0]} if len(known) == 1 else {}


def _unknown(carrier: str, known: Sequence[str]) -> list[Slip]:
    return [] if carrier in (BY_HAND, *known) else [hand_over_slips.unknown_carrier(carrier, known)]


def _tell_unknown(carrier: str, known: Sequence[str]) -> None:
    for slip in _unknown(carrier, known):
        on_record = f" On record: {', '.join(known)}." if known else ""
        layout.warn(f"{slip.sentence}{on_record}")


def _answer(session: Session, ask: Ask, last: Mapping[str, Any], known: Sequence[str] = ()) -> str:
    likely = last.get(ask.member) if at_a_terminal() else None
    said = by_hand_or(chosen(str(prompts.answer(session, ask, likely)), known))
    session.answered[ask.member] = said
    return said
