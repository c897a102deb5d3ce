"""The thresholds of the rules: an example, those in force, and setting one's own.

Opening hours and closed days: of the laboratory's dock, of a carrier, of the own office.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from bailee.domain import policy_file
from bailee.domain.acts.organization import CalendarSet, PolicySet
from bailee.domain.acts.table import name_of
from bailee.domain.opening_hours import calendar_file
from bailee.domain.opening_hours.calendar_file import Which
from bailee.domain.policy import Policy, meanings
from bailee.domain.policy_file import Change
from bailee.errors import Malformed, Unavailable, Unknown
from bailee_cli.device.session import Session
from bailee_cli.signing import submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import show
from bailee_cli.terminal.options import act_options


@click.command("policy")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path), required=False)
@click.option("--org", help="Show this organization's thresholds instead of your own.")
@click.option(
    "--example", is_flag=True, help="Print a file with every threshold, its default, meaning and source."
)
@click.option("--check", is_flag=True, help="Only show what is wrong with FILE and what it would change.")
@act_options
@click.pass_obj
def policy_command(
    session: Session, file: Path | None, org: str | None, example: bool, check: bool, offline: bool
) -> None:
    """Set the thresholds of the rules from a TOML file; without one, print those in force as TOML.

    A laboratory publishes its limits in the same way: forms addressed to it are judged by both policies, and
    of each threshold the stricter one counts, as far as the laboratory's file names it.
    """
    if example:
        click.echo(policy_file.write(), nl=False)
        return
    if file is None:
        _show_policy(session, org or session.profile.org)
        return
    policy = policy_file.read(_text(file))
    before = None if offline else _in_force(session)
    changes = list(policy_file.changes(before or Policy(), policy))
    if before is not None and not session.json:
        _say(changes, policy)
    if check:
        if session.json:
            show.print_json([_as_json(each) for each in changes])
        return
    if before is not None and before.stated == policy.stated:
        if session.json:
            show.print_json([])
        click.echo("These thresholds are in force already. Nothing was signed.", err=session.json)
        return
    said = Act(f"org/{session.profile.org}", name_of(PolicySet), {"policy": policy.stated})
    submit.act(session, said, offline=offline)


def _show_policy(session: Session, org: str) -> None:
    told = session.service.get(f"/organizations/{org}")
    if told["stated"] is None:
        raise Unknown(
            f"{org} publishes no limits: its own thresholds are read by itself, and by those on whose forms"
            " it has signed.",
            organization=org,
        )
    if session.json:
        wanted = {
            "policy": "policy",
            "digest": "policy_digest",
            "stated": "stated",
        }
        show.print_json({name: told[member] for name, member in wanted.items()})
        return
    click.echo(
        f"# Thresholds of {org} now, {len(told['stated']) - 1} of them stated. Digest:"
        f" {told['policy_digest']}\n#"
    )
    click.echo(policy_file.write(Policy.from_data(told["stated"])), nl=False)


def _in_force(session: Session) -> Policy | None:
    """The thresholds of the own organization now; None when nobody can be asked."""
    try:
        return Policy.from_data(session.service.get(f"/organizations/{session.profile.org}")["stated"])
    except Unavailable:
        return None


def _say(changes: Sequence[Change], policy: Policy) -> None:
    rows = [(each.name, each.before, each.after, each.direction) for each in changes]
    if rows:
        show.table("What changes", ["threshold", "now", "then", ""], rows)
    else:
        click.echo("No threshold changes its value.")
    stated, known = len(policy.stated) - 1, len(meanings())  # the edition is none
    if stated == known:
        click.echo(f"The file states all {known} thresholds: no default of the rule book counts any more.")
        return
    left = "the other" if known - stated == 1 else f"the other {known - stated}"
    click.echo(
        f"The file states {stated} of {known} thresholds; for {left} the default of edition {policy.edition}"
        " of the rule book counts."
    )


def _as_json(change: Change) -> dict[str, Any]:
    return {
        "name": change.name,
        "before": change.before,
        "after": change.after,
        "direction": change.direction,
    }


def _text(file: Path) -> str:
    try:
        return file.read_text("utf-8")
    except UnicodeDecodeError as error:
        raise Malformed(f"{file} is no text in UTF-8.", code="bad-file") from error


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
        _show_calendar(session, which, carrier)
        return
    submit.act(
        session,
        Act(
            f"org/{session.profile.org}",
            name_of(CalendarSet),
            data | ({"carrier": carrier} if carrier else {}),
        ),
        offline=offline,
    )
    for year in calendar_file.unlisted(data["calendar"], session.now.year):
        click.echo(
            f"Its closed days are not marked as complete for {year}: the rules will warn (SH-12).", err=True
        )


def _carrier(which: Which, said: str | None, written: str | None) -> str | None:
    if which != "carrier":
        return None
    if said and written and said != written:
        raise Malformed(f"The file is of {written}, and you entered {said}.", code="other-carrier")
    if not (said or written):
        raise Malformed("Enter which carrier, with --carrier or in the file.", code="no-carrier")
    return said or written


def _show_calendar(session: Session, which: Which, carrier: str | None) -> None:
    name = f"carrier/{carrier}" if carrier else which
    told = session.service.get(f"/organizations/{session.profile.org}")
    if name not in told["calendars"]:
        click.echo(f"{session.profile.org} has set no calendar {name}.", err=True)
        raise click.exceptions.Exit(1)
    calendar: dict[str, Any] = told["calendars"][name]
    times: dict[str, str | None] = told["carrier_times"].get(name) or {}
    if session.json:
        show.print_json({**calendar, **times})
        return
    click.echo(calendar_file.write(which, calendar, {"carrier": carrier, **times}), nl=False)
