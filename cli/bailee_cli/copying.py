"""Copies that leave the house: which version of the custody record, or of a result, was given out."""

from __future__ import annotations

from hashlib import sha256
from pathlib import Path

import click

from bailee.domain.acts import form as form_acts
from bailee.domain.facts import choices
from bailee.errors import Malformed
from bailee.ledger.base64url import b64u
from bailee_cli import acting, reading
from bailee_cli.acting import Act
from bailee_cli.options import Number, act_options, present
from bailee_cli.session import Session


@click.command("copy")
@click.argument("form", type=Number("form"))
@click.option("--of", "of", required=True, type=click.Choice(choices(form_acts.Copied, "of")))
@click.option("--version", "version", required=True, type=click.IntRange(1, 9_999))
@click.option("--reference", help="The name a result bears in your house.")
@click.option(
    "--file",
    "file",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="What was given out: its digest is signed, the file stays here.",
)
@click.option(
    "--entries",
    type=click.IntRange(1),
    help="The newest entry the copy tells of, as it stands in its last section.  [default: the newest there is]",
)
@click.option(
    "--reason", type=click.Choice(choices(form_acts.Copied, "reason")), help="Why it was given out again."
)
@click.option("--note", help="Free text; kept out of the log.")
@act_options
@click.pass_obj
def copy_command(
    session: Session, form: str, of: str, version: int, reference: str | None, file: Path | None, entries: int | None,
    reason: str | None, note: str | None, offline: bool,
) -> None:  # fmt: skip
    """Say that a copy of the custody record of FORM, or a result, was given out as this version.

    The highest version counts and replaces those below it. When something is corrected later, `bailee check FORM` says that it is out of date.
    """
    if offline and entries is None:
        raise Malformed(
            "Say with --entries which is the newest entry the copy tells of: without a network nobody can look.",
            code="no-entries",
        )
    told = None if offline else reading.form(session, form)
    data = present(
        {
            "of": of,
            "version": version,
            "entries": entries or (told["length"] if told else None),
            "reference": reference,
            "file": b64u(sha256(file.read_bytes()).digest()) if file else None,
            "reason": reason,
        }
    )
    acting.act(session, Act(f"form/{form}", "copied", data, {"note": note}), offline=offline)
