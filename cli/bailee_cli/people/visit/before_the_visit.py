"""The inspector before the visit: where to sample, why, and how many cassettes to carry.

Nothing is sent or signed.

The office before a visit: the page that tells occupants how to prepare. The address stands on it and goes
nowhere else.

The inspector's arithmetic: what one run of the pump amounts to. Needs no service and signs nothing.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import asdict, replace
from decimal import Decimal
from pathlib import Path
from typing import Any, Final, get_args

import click

from bailee.asking import written
from bailee.documents import preparation_notice
from bailee.documents.preparation_notice import Notice
from bailee.domain import cautions, flow
from bailee.domain.acts.form import Space
from bailee.domain.moments import Moment
from bailee.domain.policy import COMMON_PRACTICE
from bailee.errors import Malformed, Unavailable
from bailee.planning import sampling_plan
from bailee.planning.sampling_plan import Place, Plan, Wishes
from bailee.presentation.words import Heading
from bailee_cli.device import profile
from bailee_cli.device.session import Session
from bailee_cli.signing import lookups
from bailee_cli.terminal import layout, show
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.options import Whole, Written, at_a_terminal, json_option, moment
from bailee_cli.terminal.parameters import lacking

_SIGNS: Final = {
    "g": "visible_growth",
    "l": "active_leak",
    "w": "past_moisture",
    "c": "complaint",
    "o": "musty_odor",
    "r": "asked_for",
}
_HELP: Final = (
    "g growth, l leak now, w wet before, c complaint, o musty odor, r requested by the client; Enter for none"
)
_DO: Final = {
    "in question": "SAMPLE",
    "reference": "SAMPLE as reference",
    "not now": "not now",
    "left out": "leave out",
}


@click.command("plan", cls=AskingCommand)
@click.argument("file", required=False, type=click.Path(dir_okay=False, allow_dash=True, path_type=Path))
@click.option("--indoor", type=Whole(1, 100), help="Maximum number of places indoors.")
@click.option("--visit-h", type=Written("decimal"), help="Hours the visit will last.")
@click.option("--blanks", type=Whole(0, 100), help="Field blanks, if more than your firm wants.")
@click.option("--duplicates", type=Whole(0, 100), help="Duplicates.")
@click.option("--on-the-day", type=Whole(0, 100), help="More to spare, for what looks worth it on the day.")
@click.option("--offline", is_flag=True, help="Use the firm's thresholds as last seen, without a network.")
@json_option
@click.pass_obj
def plan_command(
    session: Session, file: Path | None, indoor: int | None, visit_h: str | None, blanks: int | None,
    duplicates: int | None, on_the_day: int | None, offline: bool,
) -> None:  # fmt: skip
    """Where to sample first and why, and how many cassettes to carry.

    FILE is a TOML or JSON list of places (- reads it from standard input); without one you are asked place by
    place. The list stays on this device. Ends with 1 when the list lacks something, such as a reference area.
    """
    if session.json and not file:
        raise click.UsageError("FILE is missing: with --json no question is asked; - reads standard input.")
    places, wishes = sampling_plan.read(text_of(file)) if file else (list(_asked()), Wishes())
    given: dict[str, Any] = {
        "indoor": indoor, "blanks": blanks, "duplicates": duplicates, "on_the_day": on_the_day,
    }  # fmt: skip
    if visit_h is not None:
        given["visit_h"] = Decimal(visit_h)
    wishes = replace(wishes, **{name: value for name, value in given.items() if value is not None})
    limits = lookups.known(session, offline=offline)
    found = sampling_plan.plan(places, limits.policy, wishes)
    if session.json:
        count = asdict(found.cassettes) | {"total": found.cassettes.total}
        show.print_json(
            asdict(found)
            | {
                "cassettes": count,
                "thresholds": limits.whose,
                "cautions": [each.says for each in cautions.ON_SITE],
            }
        )
    else:
        _show_plan(found, limits.whose)
    if found.lacking:
        raise click.exceptions.Exit(1)


def text_of(file: Path) -> str:
    """A file somebody wrote, or standard input for `-`. Raises `Malformed` when it is no text."""
    try:
        return sys.stdin.read() if str(file) == "-" else file.read_text("utf-8")
    except FileNotFoundError as error:
        raise Malformed(
            f"There is no file {file}: check its name, and the folder you are in.", code="no-file"
        ) from error
    except (OSError, UnicodeDecodeError) as error:
        raise Malformed(f"{file} cannot be read as text.", code="no-file") from error


def _asked() -> Iterator[Place]:
    """Place by place, until a place without a name."""
    first = True
    if at_a_terminal():
        layout.warn(f"Signs of a place: {_HELP}.")
    while name := _place(first=first):
        first = False
        signs = click.prompt("  signs", default="", show_default=False, err=True, value_proc=_signs)
        hours = click.prompt("  hours a day people are there", default="0", err=True, value_proc=_hours)
        space = click.prompt("  space", default="conditioned", type=click.Choice(get_args(Space)), err=True)
        reason = None
        if space != "conditioned":
            choices = click.Choice(["none", *get_args(sampling_plan.Reason)])
            said = click.prompt(
                "  reason to sample there all the same", default="none", type=choices, err=True
            )
            reason = None if said == "none" else said
        yield Place(name=name, **dict.fromkeys(signs, True), hours_a_day=hours, space=space, reason=reason)


def _place(*, first: bool) -> str:
    """The name of the next place; empty after the last. Without a terminal a list comes from a program."""
    if at_a_terminal():
        return str(click.prompt("Place (Enter when done)", default="", show_default=False, err=True)).strip()
    line = sys.stdin.readline()
    if first and not line:
        raise lacking("file")
    return line.strip()


def _signs(text: str) -> list[str]:
    unknown = sorted(set(text.lower()) - set(_SIGNS) - set(" ,"))
    if unknown:
        raise click.BadParameter(f"{unknown[0]!r} is no sign: {_HELP}.")
    return [_SIGNS[letter] for letter in text.lower() if letter in _SIGNS]


def _hours(text: str) -> Decimal:
    try:
        found = Decimal(written.decimal(text, "number of hours", "8"))
    except Malformed as error:
        raise click.BadParameter(error.sentence) from error
    if not 0 <= found <= 24:
        raise click.BadParameter("A day has 24 hours.")
    return found


def _show_plan(found: Plan, whose: str) -> None:
    rows = [(each.number, each.place, _DO[each.role], "\n".join(each.says)) for each in found.advice]
    show.table("Where to sample, in this order", ["", "place", "what to do", "why"], rows)
    for sentence in found.lacking:
        show.say(sentence, "MISSING: ", "  ")
    for note in found.notes:
        show.say(note, "", "  ")
    carry = found.cassettes
    parts = {
        "indoor": carry.indoor,
        "outdoor": carry.outdoor,
        "blank": carry.blanks,
        "duplicate": carry.duplicates,
        "spare": carry.spare,
    }
    listed = ", ".join(f"{count} {what}" for what, count in parts.items() if count)
    show.say(f"Carry {carry.total} cassettes: {listed}.")
    click.echo()
    click.echo(layout.told(cautions.in_words()))
    show.say(
        f"This order is {COMMON_PRACTICE}; complaint, non-complaint and outdoor sites: NIOSH Method 0800, by"
        " analogy."
    )
    show.say(f"Thresholds: {whose}.")


_FILE = click.Path(dir_okay=False, path_type=Path)


@click.command("notice", cls=AskingCommand)
@click.option("--visit", required=True, help='On the clocks of the site: "2026-12-01 09:00".')
@click.option(
    "--zone", type=Written("zone"), required=True, help="Time zone of the site, like America/New_York."
)
@click.option("--site", default="", help="Address, printed on the page; it is not sent anywhere.")
@click.option("--firm", default="", help="Your firm's name as occupants know it.  [default: as founded]")
@click.option("--contact", default="", help="Whom to ask, and how.")
@click.option("--pdf", type=_FILE, help="Write a page to print to this file.")
@click.option("--html", "html_file", type=_FILE, help="Write a page for a browser or a message to this file.")
@click.option("--offline", is_flag=True, help="Use the firm's thresholds as last seen, without a network.")
@json_option
@click.pass_obj
def notice_command(
    session: Session, visit: str, zone: str, site: str, firm: str, contact: str, pdf: Path | None,
    html_file: Path | None, offline: bool,
) -> None:  # fmt: skip
    """Write the page that asks occupants to prepare: windows, air cleaners, ventilation, cleaning, and from
    when.

    Without --pdf or --html it is printed as text. Give it in time, and keep a note of when you did: the form
    asks for it.
    """
    begins = moment(session, visit, zone)
    if begins.instant <= session.now:
        raise Malformed(f"{visit!r} is over: enter the day and time of the next visit.", code="visit-is-over")
    limits = lookups.known(session, offline=offline)
    page = Notice(begins, zone, limits.policy, firm or limits.firm, site, contact)
    drawn = {
        str(file): make
        for file, make in (
            (pdf, _pdf),
            (html_file, lambda page, _: preparation_notice.html_page(page).encode()),
        )
        if file is not None
    }
    for name, make in drawn.items():
        profile.replace_file(Path(name), make(page, Moment.shown_in(session.now, zone)))
    _show_notice(session, page, list(drawn), limits.whose)


def _pdf(page: Notice, at: Moment) -> bytes:
    try:
        return preparation_notice.pdf(page, at)
    except ImportError as error:
        raise Unavailable(
            "To make a PDF here, in the checkout: pip install '.[server]'; --html gives a page that"
            " prints as well.",
            code="no-pdf",
        ) from error


def _show_notice(session: Session, page: Notice, written: list[str], whose: str) -> None:
    text = preparation_notice.text(page)
    if session.json:
        show.print_json(
            {
                "visit": page.visit.text(),
                "closed_from": page.closed_from.text(),
                "undisturbed_from": page.undisturbed_from.text(),
                "give_by": page.give_by.text(),
                "text": text,
                "written": written,
                "thresholds": whose,
            }
        )
    elif written:
        for name in written:
            click.echo(f"Written to {name}.")
    else:
        click.echo(show.plain(text), nl=False)
    give_by = preparation_notice.when(page.give_by, page.zone)
    late = page.give_by.instant < session.now
    layout.warn(
        f"Too late for all of it: due by {give_by}. Send it now, and ask on arrival what could be done."
        if late
        else f"Send it by {give_by}, and note when you did."
    )


@click.command("flow", cls=AskingCommand)
@click.option("--before", type=Written("flow"), help="Flow read before the run, L/min.")
@click.option("--after", type=Written("flow"), help="Flow read after the run, L/min.")
@click.option(
    "--run",
    "run_s",
    type=Written("run"),
    default="5:00",
    show_default=True,
    help="Actual run time.",
)
@click.option("--nominal", type=Written("flow"), help="Flow the cassette is made for, L/min.  [default: 15]")
@click.option("--fraction", multiple=True, help="Part of the trace read, like 0.25 or 25 %; may be repeated.")
@click.option("--blank", is_flag=True, help="A field blank: no air was drawn.")
@click.option("--offline", is_flag=True, help="Use the firm's thresholds as last seen, without a network.")
@json_option
@click.pass_obj
def flow_command(
    session: Session, before: str | None, after: str | None, run_s: int, nominal: str | None,
    fraction: tuple[str, ...], blank: bool, offline: bool,
) -> None:  # fmt: skip
    """Volume, mean flow, drift and detection limit of one run, and what the rules would find.

    Nothing is recorded.

    Ends with 1 when a rule would stop the sample.
    """
    from bailee.rules.checks import flow as rules

    if blank == (before is not None or after is not None):
        raise Malformed(
            "Enter the flow read --before and --after the run, or --blank for a field blank.",
            code="no-flow",
        )
    run = flow.read(before, after, 0 if blank else run_s, nominal)
    told = rules.told(run, [flow.read_fraction(each) for each in fraction] or flow.FRACTIONS)
    limits = lookups.known(session, offline=offline)
    found = [asdict(each) for each in rules.findings(run, limits.policy)]
    if session.json:
        show.print_json(asdict(told) | {"findings": found, "thresholds": limits.whose})
    else:
        _show_flow(asdict(told), run.run_s)
        show.findings(found)
        click.echo(show.plain(f"Thresholds: {limits.whose}."))
    if any(each["severity"] == "block" for each in found):
        raise click.exceptions.Exit(1)


def _show_flow(told: dict[str, Any], run_s: int) -> None:
    for note in told["notes"]:
        click.echo(note)
    if told["volume_l"] is None:
        return
    drift = f", drift {told['drift_pct']} %" if told["drift_pct"] is not None else ""
    click.echo(f"{Heading.FLOW} {told['mean_l_min']} L/min ({told['mean_cfm']} cfm){drift}.")
    click.echo(f"Volume {told['volume_l']} L ({told['volume_ft3']} cu ft) in {run_s} s.")
    rows = [
        (each["fraction"], each["reported"] or "none", each["fs_m3"] or "none") for each in told["limits"]
    ]
    show.table(
        "Detection limit: what one counted structure represents",
        ["part of the trace read", "fs/m\N{SUPERSCRIPT THREE}", "to two decimals"],
        rows,
    )
