"""Opening hours and closed days: of the laboratory's dock, of a carrier, of the own office."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from bailee.domain import calendar_file
from bailee.domain.calendar_file import Which
from bailee.errors import Malformed
from bailee_cli import acting, show
from bailee_cli.acting import Act
from bailee_cli.options import act_options
from bailee_cli.session import Session


@click.command("calendar")
@click.argument("which", type=click.Choice(["lab", "office", "carrier"]))
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path), required=False)
@click.option("--carrier", help="Which carrier, if its file does not name it.")
@click.option("--example", is_flag=True, help="Print a file to begin with.")
@act_options
@click.pass_obj
def calendar_command(
    session: Session, which: Which, file: Path | None, carrier: str | None, example: bool, offline: bool
) -> None:
    """Set opening hours and closed days from a TOML file; without one, show those in force.

    \b
    zone = "America/Chicago"
    years = [2026, 2027]
    closed = ["us-federal", 2026-11-27]
    [hours]
    mon = ["08:00-17:00"]
    """  # noqa: D301 - click's mark for lines that stay as they are
    if example:
        click.echo(calendar_file.example(which, session.now.year), nl=False)
        return
    data = calendar_file.read(which, _text(file)) if file else {}
    carrier = _carrier(which, carrier, data.get("carrier"))
    if file is None:
        _show(session, which, carrier)
        return
    acting.act(
        session,
        Act(f"org/{session.profile.org}", "calendar_set", data | ({"carrier": carrier} if carrier else {})),
        offline=offline,
    )
    for year in calendar_file.unlisted(data["calendar"], session.now.year):
        click.echo(
            f"Its closed days are not said to be complete for {year}: the rules will warn (SH-12).", err=True
        )


def _carrier(which: Which, said: str | None, written: str | None) -> str | None:
    if which != "carrier":
        return None
    if said and written and said != written:
        raise Malformed(f"The file is of {written}, and you said {said}.", code="other-carrier")
    if not (said or written):
        raise Malformed("Say which carrier, with --carrier or in the file.", code="no-carrier")
    return said or written


def _show(session: Session, which: Which, carrier: str | None) -> None:
    name = f"carrier/{carrier}" if carrier else which
    told = session.service.get(f"/organisations/{session.profile.org}")
    if name not in told["calendars"]:
        click.echo(f"{session.profile.org} has set no calendar {name}.", err=True)
        raise click.exceptions.Exit(1)
    calendar: dict[str, Any] = told["calendars"][name]
    times: dict[str, str | None] = told["carrier_times"].get(name) or {}
    if session.json:
        show.print_json({**calendar, **times})
        return
    click.echo(calendar_file.write(which, calendar, {"carrier": carrier, **times}), nl=False)


def _text(file: Path) -> str:
    try:
        return file.read_text("utf-8")
    except UnicodeDecodeError as error:
        raise Malformed(f"{file} is no text in UTF-8.", code="bad-file") from error
