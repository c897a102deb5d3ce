"""A pen form that was filled in is entered: asked line by line, by the letters on the sheet, or from a file.

A line that cannot be is named, and the rest is entered. What was answered is kept until it is signed.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import click

from bailee.asking import pen_sheet
from bailee.domain.acts.form import Collected, Held
from bailee.domain.acts.table import name_of
from bailee.errors import Malformed
from bailee_cli.device import cache
from bailee_cli.device.outbox import Kept
from bailee_cli.device.session import Session
from bailee_cli.people.visit.sheet_answers import SheetAnswers
from bailee_cli.people.visit.sheet_in_hand import SheetInHand
from bailee_cli.signing import lookups, scans, submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, show
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.options import act_options, anyway_option

_WATCHED: Final = (name_of(Collected), name_of(Held))
"""What a second person watched; of a transfer that is the other side."""


@click.command("enter-paper", cls=AskingCommand)
@click.argument("sheet")
@click.option(
    "--csv", "file", type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Read the lines from this file. `--example` prints one.",
)  # fmt: skip
@click.option("--example", is_flag=True, help="Print a file for --csv with the columns of every line.")
@click.option(
    "--photo", type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Bind this picture of the sheet by its digest; keep the file.",
)  # fmt: skip
@click.option("--firm", help="Short name of the sampling firm, of a visit not opened yet.  [default: yours]")
@click.option("--client", help="Client, of a visit not opened yet; kept out of the log.")
@click.option("--site", help="Address, of a visit not opened yet; kept out of the log.")
@scans.anew_option
@anyway_option
@act_options
@click.pass_obj
def enter_paper_command(
    session: Session, sheet: str, file: Path | None, photo: Path | None, firm: str | None,
    client: str | None, site: str | None, *, example: bool, anew: bool, offline: bool,
) -> None:  # fmt: skip
    """Enter what was written on SHEET: the form's number, with -2 for its second page.

    Asked are lines A to N by their letters, then the cassettes. A line that cannot be is named by sheet, line
    and column, and left out; the rest is entered, and ends with 1. The second person then signs with
    `bailee witness`.
    """
    form, page = pen_sheet.named(sheet)
    name = pen_sheet.name(form, page)
    if example:
        click.echo(SheetAnswers.example(page))
        return
    seen = cache.see(session, [form], offline=offline).get(form)
    with scans.surviving(session, "enter-paper", name):
        if firm:
            lookups.require(session, firm, offline=offline)
        answers = SheetAnswers(session, name, file, anew=anew)
        paper = SheetInHand(session, form, answers, seen, photo, firm, offline=offline)
        acts = [*paper.opening({"client": client, "site": site}), *paper.lines()]
        _sign(session, paper, acts, offline=offline)


def _sign(session: Session, paper: SheetInHand, acts: Sequence[Act], *, offline: bool) -> None:
    """Sign and send, and tell what was left out, and whose signature is still wanted."""
    if not acts:
        raise Malformed(
            " ".join([*(each.words for each in paper.faults), "Nothing of the sheet was entered."]),
            code="nothing-entered",
            faults=[each.as_data() for each in paper.faults],
        )
    session.was_asked = session.was_asked or paper.asks_back
    kept = submit.perform(session, acts, offline=offline)
    session.outbox.remember("form", paper.form)
    if session.json:
        told = {
            "sheet": paper.answers.sheet,
            "entries": [submit.as_json(each) for each in kept],
            "faults": [each.as_data() for each in paper.faults],
        }
        show.print_json(told)
    else:
        _tell(paper, kept, acts)
    if paper.faults or any(each.state == "refused" for each in kept):
        scans.clear(session, "enter-paper", paper.answers.sheet)
        raise click.exceptions.Exit(1)


def _tell(paper: SheetInHand, kept: Sequence[Kept], acts: Sequence[Act]) -> None:
    for each in kept:
        layout.line(submit.fate(each), err=each.state == "refused")
    for fault in paper.faults:
        layout.warn(f"NOT ENTERED: {fault.words}")
    told = sorted((each.answer or {})["n"] for each in kept if each.state == "registered")
    photo = next((each.data["paper"].get("photo") for each in acts if "paper" in each.data), None)
    digest = f", photo {photo['sha-256'][:16]}" if photo else ""
    if told:
        layout.line(f"Write on the sheet: entries {told[0]} to {told[-1]}{digest}.")
    runs = [each for each in kept if each.act in _WATCHED and each.state != "refused"]
    if runs:
        names = " ".join(str((each.answer or {}).get("n") or each.digest) for each in runs)
        layout.line(
            "The second person (line M) compares this with the sheet and signs with their own key: `bailee"
            f" witness {paper.form} {names} --count {len(paper.samples)}`. Until then CU-22 warns. Keep the"
            " sheet."
        )
