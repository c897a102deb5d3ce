"""Paper for a visit on which nothing else works: sheets to be filled in by pen, and entered later."""

from __future__ import annotations

import secrets
from dataclasses import replace
from pathlib import Path
from typing import Final

import click

from bailee.asking.question import Ask
from bailee.domain import numbers
from bailee.errors import Malformed
from bailee_cli.device import cache, profile
from bailee_cli.device.session import Session
from bailee_cli.people.printing import prints
from bailee_cli.terminal import layout, prompts, show
from bailee_cli.terminal.command_kinds import AskingCommand, asked_for
from bailee_cli.terminal.options import Number, Whole, json_option
from bailee_cli.terminal.progress import waiting

_MOST = 100
"""Sheets in one request."""

_FORM: Final = Ask(
    "form",
    "Form of the visit (Enter: blank sheets, for a visit not opened yet)",
    "form",
    reader="form_number",
    optional=True,
)
_ANOTHER: Final = replace(
    _FORM, question="Form of the visit (- prints blank sheets, for a visit not opened yet)"
)


def _under_way(session: Session) -> str | None:
    """The form that this device works on, while the day of its visit is not over."""
    form: str | None = session.outbox.recall("form")
    visit = cache.visit_of(session, form) if form else None
    return form if visit and visit >= session.now.astimezone().date().isoformat() else None


def _blank() -> click.Parameter:
    """The option of how many."""
    params = click.get_current_context().command.params
    return next(each for each in params if each.name == "blank")


@click.command("paper", cls=AskingCommand)
@click.argument("form", type=Number("form"), required=False)
@click.option(
    "--blank", type=Whole(1, _MOST), help="How many blank sheets, each with a form number of its own."
)
@click.option("--pages", type=Whole(1, 20), help="Pages of FORM, six cassettes each.  [default: 1]")
@click.option(
    "-o", "--output", required=True, type=click.Path(dir_okay=False, path_type=Path),
    help="Write to this PDF file.",
)  # fmt: skip
@json_option
@click.pass_obj
def paper_command(
    session: Session, form: str | None, blank: int | None, pages: int | None, output: Path
) -> None:
    """Print the pen form of a visit: of FORM, or blank ones for the car, each with a new form number.

    A number is printed once and stands for one visit; each sheet has a front and a back. `bailee enter-paper`
    enters what was written.
    """
    if form is None and blank is None and prompts.may_ask(session):
        current = _under_way(session)
        form = prompts.one(_ANOTHER, current, keeps=True) if current else prompts.one(_FORM)
        blank = None if form else int(asked_for(_blank()))
    if (form is None) == (blank is None) or (blank and pages):
        raise Malformed(
            "Name a form, with --pages if it has more than 6 cassettes, or enter how many with --blank.",
            code="no-form",
        )
    if form:
        issued, count = [form], str(pages or 1)
        prints.save(session, f"/forms/{form}/pen-form.pdf", output, f"pen-form/{form}", pages=count)
    else:
        issued = [numbers.issue("form", secrets.choice) for _ in range(blank or 0)]
        with waiting("Drawing the pen form"):
            content = session.service.get_bytes("/pen-forms.pdf", prints.PDF, forms=",".join(issued))
        profile.replace_file(output, content)
    if session.json:
        show.print_json({"forms": issued, "written": [str(output)]})
        return
    click.echo(layout.listed("Pen form of " if form else "Pen forms ", map(numbers.grouped, issued)))
    click.echo(
        f"Written to {output}. Print it at 100 %, on both sides, on Letter or A4; copy no sheet: a number is"
        " used once."
    )
