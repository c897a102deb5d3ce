"""What a person at a terminal hears after signing: about what it was, in which role they spoke, what comes
next. Programs read the entries.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from bailee.asking import next_steps
from bailee.domain.acts.form import Corrected, Held, Relinquished
from bailee.domain.acts.table import name_of
from bailee.errors import BaileeError
from bailee.presentation import words
from bailee_cli.device.session import Session
from bailee_cli.signing.acts import data_of
from bailee_cli.terminal import layout, show
from bailee_cli.terminal.commands import commands

if TYPE_CHECKING:
    from bailee_cli.device.outbox import Kept

_MOST: Final = 6
"""More numbers than this are counted, not listed."""


def say(session: Session, kept: Sequence[Kept]) -> None:
    """About what, in which role, and what comes next, of what was recorded or waits."""
    said = [each for each in kept if each.state in ("registered", "waiting")]
    if not said:
        return
    for each in said:
        about = _about(each.act, data_of(each))
        if each.act == name_of(Corrected):
            about = _corrected(session, each)
        if about:
            layout.say(about, "  about ", "    ")
    if who := _who(session):
        layout.say(f"{who}.", "  signed by ", "    ")
    if following := next_steps.after(said[-1].act, data_of(said[-1]), differs=session.differs):
        sentence, act = following
        kind, _, number = said[-1].chain.partition("/")
        act |= {"lot": number} if kind == "lot" else {}
        layout.say(sentence, "Next: ", "  ")
        show.offer(commands([act]), "  ")


def _corrected(session: Session, kept: Kept) -> str:
    """The member that was corrected, and of which sample, where this device signed it."""
    data = data_of(kept)
    first = next(
        (each for each in session.outbox.of_chains([kept.chain]) if each.digest == data["statement"]), None
    )
    of = _about(first.act, data_of(first)) if first else ""
    return f"{words.plain(data['field'])}{f' of {of}' if of else ''}"


def _about(act: str, data: Mapping[str, Any]) -> str:
    """The things a statement names, with their numbers."""
    samples = [data["sample"]] if "sample" in data else list(data.get("samples") or [])
    samples += [each["sample"] for each in data.get("items", ())]
    told = []
    if samples:
        listed = f": {', '.join(map(show.name, samples))}" if len(samples) <= _MOST else ""
        told.append(f"{show.counted(len(samples), 'sample')}{listed}")
    envelope = (data.get("dock") or data).get("envelope")
    if envelope:
        told.append(f"envelope {show.name(envelope)}")
    if act == name_of(Relinquished):
        told[-1:] = [f"{told[-1]}; to {data['to']}"]
    if act == name_of(Held):
        listed = told.pop() if samples else "all samples of it that you hold"
        told.append(f"{listed}: {words.plain(data['secured'])}, {words.plain(data['where'])}")
    if "kid" in data:
        told.append(f"key {data['kid']}")
    if "id" in data and "kind" in data:
        told.append(f"{data['kind']} {data['id']}")
    return "; ".join(told)


def _who(session: Session) -> str:
    """`Ines Marlow, inspector of harrow-field`, asked once and remembered: a key has one role for ever."""
    known: dict[str, str] | None = session.outbox.recall("me")
    if known is None:
        try:
            told = session.service.get("/devices/me")
            known = {"person": told["person"], "role": told["role"]}
        except BaileeError:
            return ""
        session.outbox.remember("me", known)
    role = f"{words.plain(known['role'])} of {session.profile.org}"
    return f"{known['person']}, {role}" if known["person"] else role
