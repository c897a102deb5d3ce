"""Whoever carries an envelope by hand: asked at a terminal, their name and number kept out of the log."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final, TypeVar

import click

from bailee.asking import hand_over_steps
from bailee.domain.acts import form as form_acts
from bailee.domain.facts import choices
from bailee.errors import Malformed
from bailee_cli.device.session import Session
from bailee_cli.signing import pictures
from bailee_cli.terminal import prompts
from bailee_cli.terminal.options import at_a_terminal, present

F = TypeVar("F", bound=Callable[..., Any])

_RELATIONS: Final = choices(form_acts.Courier, "relation")
_OPTIONS: Final = (
    click.option("--courier-name", help="Who carries it by hand; kept out of the log.  [default: asked]"),
    click.option("--courier-phone", help="Their telephone number; kept out of the log."),
    click.option(
        "--relation", type=click.Choice(_RELATIONS), help="What they are to the firm.  [default: asked]"
    ),
    click.option("--courier-org", help="Short name of their organization, if it is here."),
    click.option("--courier-key", help="Key ID, of a courier who has a key."),
    click.option("--id-seen/--no-id-seen", default=None, help="Was an identity document looked at?"),
    click.option("--slip", help="Number of the receipt slip that they signed.  [default: asked]"),
    click.option(
        "--slip-photo", type=click.Path(exists=True, dir_okay=False, path_type=Path), help="Picture of it."
    ),
    click.option("--expected", help="When it is expected at the dock, hand-carried.  [default: asked]"),
)
_NAMES: Final = (
    "courier_name", "courier_phone", "relation", "courier_org", "courier_key", "id_seen", "slip",
    "slip_photo", "expected",
)  # fmt: skip


def options(command: F) -> F:
    """What can be said of whoever carries an envelope."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def taken(said: dict[str, Any]) -> dict[str, Any]:
    """What was typed of it, taken out of all that was typed."""
    return present({name: said.pop(name) for name in _NAMES})


def asked(session: Session, typed: Mapping[str, Any]) -> dict[str, Any]:
    """The same with what is missing, where somebody is there to be asked."""
    found = dict(typed)
    if not at_a_terminal():
        return found
    for ask in hand_over_steps.COURIER:
        if ask.member not in found:
            found[ask.member] = prompts.answer(session, ask)
    is_told = any(found.get(name) for name in _NAMES if name != "expected")
    if is_told and "relation" not in found:
        found["relation"] = prompts.answer(session, hand_over_steps.RELATION)
    return present(found)


def facts(typed: Mapping[str, Any]) -> dict[str, Any]:
    """The courier as the statement names them; nothing of them when nothing was said.

    Raises `Malformed` ("missing") without what they are to the firm.
    """
    if not typed.keys() - {"expected"}:
        return {}
    if "relation" not in typed:
        raise Malformed(
            "Enter what the person who carries it is to the firm, with --relation.",
            code="missing",
            also="relation",
        )
    photo = typed.get("slip_photo")
    courier = {
        "relation": typed["relation"],
        "org": typed.get("courier_org"),
        "kid": typed.get("courier_key"),
        "named": True if "courier_name" in typed else None,
        "id_seen": typed.get("id_seen"),
        "slip": typed.get("slip"),
        "slip_photo": pictures.digest(photo) if photo else None,
    }
    return {"courier": present(courier)}


def private(typed: Mapping[str, Any]) -> dict[str, str]:
    """What is told of them and kept out of the log."""
    return {name: typed[name] for name in ("courier_name", "courier_phone") if name in typed}
