"""The office before a visit: the page that tells occupants how to prepare. The address stands on it and goes nowhere else."""

from __future__ import annotations

from pathlib import Path

import click

from bailee.documents import preparation_notice
from bailee.documents.preparation_notice import Notice
from bailee.domain.moments import Moment
from bailee.errors import Malformed, Unavailable
from bailee_cli import layout, profile, show, thresholds
from bailee_cli.options import json_option, moment
from bailee_cli.session import Session

_FILE = click.Path(dir_okay=False, path_type=Path)


@click.command("notice")
@click.option("--visit", required=True, help='On the clocks of the site: "2026-12-01 09:00".')
@click.option("--zone", required=True, help="Time zone of the site, like America/New_York.")
@click.option("--site", default="", help="Address, printed on the page; it is not sent anywhere.")
@click.option("--firm", default="", help="Your firm's name as occupants know it.")
@click.option("--contact", default="", help="Whom to ask, and how.")
@click.option("--pdf", type=_FILE, help="Write a page to print to this file.")
@click.option("--html", "html_file", type=_FILE, help="Write a page for a browser or a message to this file.")
@click.option("--offline", is_flag=True, help="Use the firm's thresholds as last seen, without a network.")
@json_option
@click.pass_obj
def notice_command(
    session: Session, visit: str, zone: str, site: str, firm: str, contact: str, pdf: Path | None, html_file: Path | None,
    offline: bool,
) -> None:  # fmt: skip
    """Write the page that asks occupants to prepare: windows, air cleaners, ventilation, cleaning, and from when.

    Without --pdf or --html it is printed as text. Give it in time, and keep a note of when you did: the form asks for it.
    """
    begins = moment(session, visit, zone)
    if begins.instant <= session.now:
        raise Malformed(
            f"{visit!r} is over: give the day and time of the visit to come.", code="visit-is-over"
        )
    limits = thresholds.known(session, offline=offline)
    page = Notice(begins, zone, limits.policy, firm, site, contact)
    written = {
        str(file): make
        for file, make in ((pdf, _pdf), (html_file, lambda page, _: preparation_notice.html_page(page).encode()))
        if file is not None
    }  # fmt: skip
    for name, make in written.items():
        profile.replace_file(Path(name), make(page, Moment.shown_in(session.now, zone)))
    _say(session, page, list(written), limits.whose)


def _pdf(page: Notice, at: Moment) -> bytes:
    try:
        return preparation_notice.pdf(page, at)
    except ImportError as error:
        raise Unavailable(
            "To make a PDF here, install bailee[server]; --html gives a page that prints as well.",
            code="no-pdf",
        ) from error


def _say(session: Session, page: Notice, written: list[str], whose: str) -> None:
    text = preparation_notice.text(page)
    if session.json:
        show.print_json(
            {
                "visit": page.visit.text(), "closed_from": page.closed_from.text(),
                "undisturbed_from": page.undisturbed_from.text(), "give_by": page.give_by.text(), "text": text, "written": written,
                "thresholds": whose,
            }
        )  # fmt: skip
    elif written:
        for name in written:
            click.echo(f"Written to {name}.")
    else:
        click.echo(show.plain(text), nl=False)
    give_by = preparation_notice.when(page.give_by)
    late = page.give_by.instant < session.now
    layout.warn(
        f"Too late for all of it: it should have been given by {give_by}. Give it now, and ask on arrival what could be done."
        if late
        else f"Give it by {give_by}, and keep a note of when you did."
    )
