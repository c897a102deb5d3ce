"""The laboratory signs for an envelope before anybody opens it: the seal as read, where it stands since.

As at the opening, the seal on record is shown only after the seal as read was typed.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any, Final, get_args

import click

from bailee.asking import hand_over_steps
from bailee.asking.question import Ask
from bailee.domain import numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import TakenIn
from bailee.domain.acts.table import name_of
from bailee.domain.fields import Secured
from bailee.errors import BadNumber, Malformed
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import duplicates, submit
from bailee_cli.signing.answered import containers_differ, seal_as_read
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import prompts, show
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.done_times import done
from bailee_cli.terminal.options import (
    Number,
    Whole,
    act_options,
    anyway_option,
    moment,
    note_option,
    present,
    time_options,
)
from bailee_cli.terminal.scanning import scan

_PACKAGE: Final = get_args(form_acts.Package)
_SEEN: Final = get_args(form_acts.SealSeen)
_UNREAD: Final = frozenset({"missing", "not_looked_at"})
"""Of such a seal there is no number to type."""


@click.command("take-in", cls=AskingCommand)
@click.argument("envelope", type=Number("envelope"), required=False)
@click.option("--seal", help="Number read on the seal.  [default: asked]")
@click.option("--seal-state", type=click.Choice(_SEEN), help="[default: asked]")
@click.option("--package", multiple=True, type=click.Choice(_PACKAGE), help="[default: asked]")
@click.option("--how", "secured", type=click.Choice(get_args(Secured)), help="[default: asked]")
@click.option("--where", type=click.Choice(get_args(form_acts.Whereabouts)), help="[default: asked]")
@click.option("--delivered", help="When the carrier brought it, if that is known.")
@click.option("--containers", type=Whole(0), help="Bags or boxes, if you counted them.")
@click.option("--place", help="Where exactly, in words; kept out of the log.")
@click.option("--form", "form", type=Number("form"), help="A form inside: needed with --offline.")
@note_option
@anyway_option
@time_options
@act_options
@click.pass_obj
def take_in_command(
    session: Session, /, envelope: str | None, form: str | None, place: str | None, note: str | None,
    at: str | None, zone: str | None, offline: bool, **said: Any,
) -> None:  # fmt: skip
    """Sign for ENVELOPE and leave it unopened: its seal secures what is inside until `receive` opens it.

    A seal that is broken or missing is recorded as it is.
    """
    envelope = envelope or next(scan("envelope"), None)
    if envelope is None:
        raise Malformed("No envelope was scanned: scan the label on it.", code="nothing-scanned")
    click.get_current_context().params["envelope"] = envelope
    if submit.finish(session, name_of(TakenIn), [envelope], lambda data: _is_what_was_seen(data, said)):
        return
    if offline and not form:
        raise Malformed("Without a network, enter which form is inside, with --form.", code="no-form")
    asked = {"form": form} if form else {}
    told = None if offline else session.service.get(f"/envelopes/{envelope}", **asked)
    if told:
        duplicates.refuse_taken_in(session, told)
    ask = partial(_asked, session)
    state = said["seal_state"] or ask(hand_over_steps.SEAL_SEEN)
    data = {
        "envelope": envelope,
        "seal_state": state,
        "package": list(said["package"]) or ask(hand_over_steps.PACKAGE),
        "secured": said["secured"] or ask(hand_over_steps.SECURED),
        "where": said["where"] or ask(hand_over_steps.STANDS),
        "delivered": moment(session, said["delivered"], zone).text() if said["delivered"] else None,
        "containers": _containers(session, told, said["containers"]),
        "at": done(session, name_of(TakenIn), at, zone).text(),
    }
    is_read = state not in _UNREAD
    seal = seal_as_read(session, said["seal"] or ask(hand_over_steps.SEAL_READ)) if is_read else None
    facts = {**present(data), "seal": seal and seal.strip().upper()}
    if told and seal:
        _compare(session, told, facts["seal"])
    forms: list[str] = told["forms"] if told else [form or ""]
    cache.see(session, forms, offline=offline)
    private = {"place": place, "note": note}
    submit.act(
        session, *[Act(f"form/{each}", name_of(TakenIn), facts, private) for each in forms], offline=offline
    )


def _asked(session: Session, ask: Ask) -> Any:
    session.was_asked = True
    return prompts.answer(session, ask)


def _containers(session: Session, told: Mapping[str, Any] | None, typed: int | None) -> int | None:
    """Bags or boxes as counted: typed, or asked where their number is on record, and not told before."""
    on_record = told["containers"] if told else None
    counted = typed
    if counted is None and on_record is not None and prompts.may_ask(session):
        counted = _asked(session, hand_over_steps.CONTAINERS)
    if differ := containers_differ(counted, on_record):
        click.echo(differ, err=session.json)
    return counted


def _compare(session: Session, told: Mapping[str, Any], seal: str) -> None:
    """Say at once that the seal as read is another one than that on record."""
    if told["seal"] and _tidy(seal) != told["seal"]:
        click.echo(
            f"The seal reads {show.name(seal)}; {show.name(told['seal'])} is on record.", err=session.json
        )


def _tidy(seal: str) -> str:
    try:
        return numbers.read_seal(seal)
    except BadNumber:
        return seal


def _is_what_was_seen(data: Mapping[str, Any], said: Mapping[str, Any]) -> bool:
    """Whether what is typed now, as far as it is, is what a statement says."""
    typed = {name: said[name] for name in ("seal_state", "secured", "where", "containers")}
    return (
        all(value in (None, data.get(name)) for name, value in typed.items())
        and (not said["package"] or list(said["package"]) == data["package"])
        and (said["seal"] is None or said["seal"].strip().upper() == data["seal"])
    )
