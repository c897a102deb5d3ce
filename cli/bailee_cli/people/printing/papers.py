"""Papers about samples: the custody record, as it stands or to be enclosed; what goes with an envelope."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import click

from bailee.asking import hand_over_steps
from bailee.domain import numbers
from bailee.errors import Malformed
from bailee_cli.device import cache, profile
from bailee_cli.device.session import Session
from bailee_cli.people.printing import prints
from bailee_cli.signing import duplicates
from bailee_cli.terminal import prompts, show
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.options import Number, Whole, json_option, present
from bailee_cli.terminal.progress import waiting

_TITLES = {
    (False, False): "Custody record",
    (True, False): "Blind copy",
    (False, True): "For the report",
}
_OUTPUT = click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write to this PDF file.",
)


@click.command("record", cls=AskingCommand)
@click.argument("form", type=Number())
@_OUTPUT
@click.option(
    "--for", "envelope", type=Number("envelope"), help="To enclose in this envelope.  [default: a new number]"
)
@click.option("--seal", help="To enclose: number of the custody seal in your hand.")
@click.option("--containers", type=Whole(0), help="To enclose: bags or boxes it goes in, if counted.")
@click.option("--blind", is_flag=True, help="For an analyst: no client, site, place, kind or volume.")
@click.option("--for-report", is_flag=True, help="Only what the laboratory states in its report.")
@json_option
@click.pass_obj
def record_command(
    session: Session, form: str, output: Path, envelope: str | None, seal: str | None,
    containers: int | None, blind: bool, for_report: bool,
) -> None:  # fmt: skip
    """Get the custody record of FORM as a PDF. Any sample on the form may name it.

    With --seal it is the one to enclose: it names the envelope and the seal about to be used, has lines for
    what turns out otherwise, and no verdicts. Then seal with that envelope number: bailee seal --envelope.

    With --blind it is blind on paper only: the ledger shows the rest to all who may read the form. Sign
    that it was given out: bailee copy FORM --of blind.

    With --for-report it has items e, f, g, h, k and n of ISO/IEC 17025:2017 7.8.2.1.
    """
    if numbers.kind_of(form) == "sample":
        form = cache.form_of(session, form)
    numbers.require(form, "form")
    into = _into(session, envelope, seal, containers)
    if bool(into) + blind + for_report > 1:
        raise Malformed(
            "Each is a paper of its own: enter --seal (with --for, --containers), --blind or --for-report.",
            code="one-paper",
        )
    into |= {name: True for name, wanted in (("blind", blind), ("report", for_report)) if wanted}
    path = f"/forms/{form}/record.pdf"
    if for_report:
        _save(session, path, output, **into)
    else:
        prints.save(session, path, output, f"{_paper(into)}/{form}", **into)
    if "envelope" in into:
        prints.remember_enclosed(session, into["seal"], into["envelope"])
    if session.json:
        show.print_json({"form": form, **into, "written": [str(output)]})
        return
    click.echo(f"{_TITLES.get((blind, for_report))} of {numbers.grouped(form)}: {output}")
    if "envelope" in into:
        show.say(
            f"To enclose in envelope {numbers.grouped(into['envelope'])}: name it when you seal,"
            f" `bailee seal --envelope {into['envelope']} --seal {into['seal']}`."
        )


def _paper(into: Mapping[str, Any]) -> str:
    """Which of the records that are written on it is: for each envelope another."""
    return "blind" if "blind" in into else f"record/{into.get('envelope', '')}"


def _into(session: Session, envelope: str | None, seal: str | None, containers: int | None) -> dict[str, Any]:
    """The envelope that the record is to lie in, and its seal; nothing for a record that stays outside.

    Raises `Refused` for an envelope that is sealed.
    """
    if envelope is None and seal is None and containers is None:
        return {}
    if envelope:
        duplicates.refuse_sealed(session, envelope)
    read = numbers.read_seal(seal or prompts.answer(session, hand_over_steps.SEAL_NUMBER))
    printed = None if envelope else prints.enclosed_in(session, read)
    if printed:
        duplicates.refuse_sealed(session, printed)
    number = envelope or printed or numbers.issue("envelope", secrets.choice)
    return present({"envelope": number, "seal": read, "containers": containers})


@click.command("sealed-sheet", cls=AskingCommand)
@click.argument("envelope", type=Number("envelope"))
@_OUTPUT
@json_option
@click.pass_obj
def sealed_sheet_command(session: Session, envelope: str, output: Path) -> None:
    """Get the sheet of a sealed ENVELOPE as a PDF: for the pocket outside, where the dock writes.

    No client and no site stand on it. With the threshold dock_blind the number of the seal does not either.
    """
    path = f"/envelopes/{envelope}/sealed-sheet.pdf"
    prints.save(session, path, output, f"sealed-sheet/{envelope}")
    if session.json:
        show.print_json({"envelope": envelope, "written": [str(output)]})
    else:
        click.echo(f"Sealed sheet of {numbers.grouped(envelope)}: {output}")


@click.command("receipt-slip", cls=AskingCommand)
@click.argument("envelope", type=Number("envelope"))
@click.option("--slip", required=True, help="Number of this slip, as your firm counts them.")
@click.option("--telephone", help="Of your firm; printed and not kept.  [default: a line to write it on]")
@_OUTPUT
@json_option
@click.pass_obj
def receipt_slip_command(
    session: Session, envelope: str, slip: str, telephone: str | None, output: Path
) -> None:
    """Get the slip that a person without a key signs in ink who carries a sealed ENVELOPE: two copies.

    One stays here, one goes with the envelope, and its dock signs both. Then `ship --by-hand --slip`.
    """
    prints.save(
        session,
        f"/envelopes/{envelope}/receipt-slip.pdf",
        output,
        f"receipt-slip/{envelope}/{slip}",
        **present({"slip": slip, "telephone": telephone}),
    )
    if session.json:
        show.print_json({"envelope": envelope, "slip": slip, "written": [str(output)]})
    else:
        click.echo(f"Slip {slip} of {numbers.grouped(envelope)}: {output}")


def _save(session: Session, path: str, output: Path, **query: Any) -> None:
    with waiting("Drawing the paper"):
        content = session.service.get_bytes(path, prints.PDF, **query)
    profile.replace_file(output, content)
