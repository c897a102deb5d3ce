"""The shipping clerk opens an envelope that was sealed, before it is shipped."""

from __future__ import annotations

import click

from bailee.asking import hand_over_steps
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Unsealed
from bailee.domain.acts.table import name_of
from bailee.domain.facts import choices
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import submit
from bailee_cli.signing.answered import seal_as_read
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import prompts
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.done_times import done
from bailee_cli.terminal.options import (
    Number,
    act_options,
    anyway_option,
    note_option,
    time_options,
)


@click.command("unseal", cls=AskingCommand)
@click.argument("envelope", type=Number("envelope"))
@click.option(
    "--reason",
    required=True,
    type=click.Choice(choices(form_acts.Unsealed, "reason")),
)
@click.option("--seal", "seal", help="Number read on the seal.  [default: asked]")
@click.option("--form", "form", type=Number("form"), help="The form in it (needed with --offline).")
@note_option
@anyway_option
@time_options
@act_options
@click.pass_obj
def unseal_command(
    session: Session, envelope: str, reason: str, seal: str | None, form: str | None, note: str | None,
    at: str | None, zone: str | None, offline: bool,
) -> None:  # fmt: skip
    """Record that a sealed ENVELOPE was opened again, and why. Sealing it again needs a new seal number."""
    forms = [form] if form else session.service.get(f"/envelopes/{envelope}")["forms"]
    if not seal:
        session.was_asked = True
        seal = prompts.answer(session, hand_over_steps.SEAL_OPENED)
    seal = seal_as_read(session, str(seal))
    cache.see(session, forms, offline=offline)
    data = {
        "envelope": envelope,
        "seal": seal.strip().upper(),
        "reason": reason,
        "at": done(session, name_of(Unsealed), at, zone).text(),
    }
    submit.act(
        session,
        *[Act(f"form/{each}", name_of(Unsealed), data, {"note": note}) for each in forms],
        offline=offline,
    )
