"""The shipping window: of a clerk's next hand-over as the ledger knows it, or of cases in a file, without any
ledger.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import click

from bailee.domain.moments import Moment
from bailee.errors import Malformed
from bailee.presentation import words
from bailee.rules.wording import weekday, weekday_clock
from bailee_cli.device.session import Session
from bailee_cli.signing import lookups
from bailee_cli.terminal import show
from bailee_cli.terminal.layout import counted
from bailee_cli.terminal.options import Number, Whole, Written, json_option, moment

_WANTED: Final = {"--lab": "whose dock", "--zone": "on which clock", "--carrier": "the carrier"}


@click.command("window")
@click.argument(
    "file", required=False, type=click.Path(exists=True, dir_okay=False, allow_dash=True, path_type=Path)
)
@click.option(
    "--for",
    "number",
    type=Number(),
    help="A form or sealed envelope: its laboratory, its zone, its oldest run.",
)
@click.option("--lab", help="Short name of the laboratory, without --for.")
@click.option("--carrier", help="Carrier.")
@click.option(
    "--service-days",
    default=1,
    show_default=True,
    type=Whole(0, 30),
    help="Working days in transit.",
)
@click.option("--saturday", is_flag=True, help="With Saturday delivery.")
@click.option("--at", help='When it would be shipped: "2026-11-25 16:30". [default: now]')
@click.option(
    "--zone", type=Written("zone"), help="Time zone of the place it is shipped from, without --for."
)
@click.option("--collected", help='Start of the oldest run: "2026-11-24 09:12".  [default: that of --for]')
@click.option("--carried", help="When a person who carries it instead would be at the dock.")
@json_option
@click.pass_obj
def window_command(
    session: Session, file: Path | None, number: str | None, lab: str | None, carrier: str | None,
    service_days: int, saturday: bool, at: str | None, zone: str | None, collected: str | None,
    carried: str | None,
) -> None:  # fmt: skip
    """When an envelope would reach the laboratory's open dock, by when to ship it, and what else could be
    done.

    With --json and neither --for nor --lab, or with FILE, no question is asked: one case or a list of cases
    is read as JSON from FILE or from standard input and answered. Ends with 2 when a case cannot be read,
    with 1 when something stops one, with 0 otherwise.

    \b
    {"handed_over": "2026-11-25T16:30", "origin_zone": "America/New_York",
     "service_days": 1, "saturday_delivery": false, "cutoff": "17:00",
     "delivery_time": "10:30", "carrier_closed": ["us-federal"],
     "lab_zone": "America/Chicago", "lab_hours": {"mon": ["08:00-17:00"]},
     "lab_closed": ["us-federal", "2026-11-27"]}
    """  # noqa: D301 - click's mark for lines that stay as they are
    if file is not None or (session.json and lab is None and number is None):
        _answer_cases(session, file)
        return
    wanted = {"--carrier": carrier} if number else {"--lab": lab, "--zone": zone, "--carrier": carrier}
    missing = [f"{name} ({_WANTED[name]})" for name, given in wanted.items() if not given]
    if missing:
        known = [] if carrier else lookups.carriers(session)
        on_record = f" Carriers on record: {', '.join(known)}." if known else ""
        raise Malformed(f"Enter {', '.join(missing)}.{on_record}", code="missing", carriers=known)
    if lab and not number:
        lookups.require(session, lab)
    told = session.service.get(
        "/window",
        number=number,
        lab=lab,
        carrier=carrier,
        service_days=service_days,
        saturday=saturday,
        handed_over=moment(session, at, zone).text(),
        zone=zone,
        collected=moment(session, collected, zone).text() if collected else None,
        carried=moment(session, carried, zone).text() if carried else None,
    )
    if session.json:
        show.print_json(told)
        return
    leaves = moment(session, at, zone or told["zone"])
    transit = counted(service_days, "working day", "working days")
    show.say(f"If shipped {_there(leaves, told['zone'])} with {show.plain(carrier)}, {transit} in transit:")
    say(told["window"], leaves, zone=told["zone"])
    for note in told["notes"]:
        show.say(note, "Note: ")
    _say_alternatives(told["alternatives"], told["zone"])


def say(
    window: Mapping[str, Any],
    at: Moment | None = None,
    *,
    zone: str | None = None,
    lead: str = "",
    by_hand: bool = False,
) -> None:
    """A window in two sentences; `at` is the hand-over planned, which may already be later than the latest
    one, `zone` that of the place it is shipped from.
    """
    if not window.get("received") and by_hand:
        return  # when it arrives only whoever carries it can tell
    if not window.get("received"):
        show.say(f"{lead}Arrival: cannot be computed from the calendars entered.")
        return
    delivered, received = Moment.parse(window["delivered"]), Moment.parse(window["received"])
    receipt = f"{words.Heading.EXPECTED.lower()} {weekday_clock(received)}"
    show.say(f"{lead}Expected delivery {weekday_clock(delivered)}; {receipt}.")
    if window.get("latest_hand_over"):
        latest = Moment.parse(window["latest_hand_over"])
        must = "Ship it by" if at is None or at <= latest else "It had to be shipped by"
        show.say(
            f"{must} {_there(latest, zone)} to keep within the limit from collection to receipt (SH-02)."
        )


def _there(at: Moment, zone: str | None) -> str:
    """`Wed 2026-12-02 17:00 America/New_York`, on the clocks of the zone; with the offset without one."""
    if zone is None:
        return weekday_clock(at)
    shown = Moment.shown_in(at.instant, zone)
    return f"{weekday(shown.local_date)} {shown.local:%H:%M} {zone}"


def _say_alternatives(told: Sequence[Mapping[str, Any]], zone: str) -> None:
    if not told:
        return
    show.say("What could be done, the best first", style="bold")
    for each in told:
        there = Moment.parse(each["hand_over"])
        at = weekday_clock(there) if each["by_hand"] else _there(there, zone)
        received = weekday_clock(Moment.parse(each["received"]))
        first = f"at the dock {at}" if each["by_hand"] else f"ship by {at}"
        show.say(
            f"{each['how']}: {first}; {words.Heading.EXPECTED.lower()} {received}",
            "  ",
            "    ",
            style="" if each["fits"] else "yellow",
        )
        show.say("; ".join(each["reasons"]), "    ")


def _answer_cases(session: Session, file: Path | None) -> None:
    from bailee.planning import window_case

    cases = _read(file)
    answers = [window_case.told(each) for each in (cases if isinstance(cases, list) else [cases])]
    if session.json:
        show.print_json(answers if isinstance(cases, list) else answers[0])
    else:
        for number, each in enumerate(answers, start=1):
            _say_case(number, each)
    if any("errors" in each for each in answers):
        raise click.exceptions.Exit(2)
    if any(found["severity"] == "block" for each in answers for found in each["findings"]):
        raise click.exceptions.Exit(1)


def _read(file: Path | None) -> Any:
    name = "standard input" if file is None or str(file) == "-" else str(file)
    try:
        text = sys.stdin.buffer.read() if name == "standard input" or file is None else file.read_bytes()
        return json.loads(text)
    except (ValueError, RecursionError) as error:
        raise Malformed(f"What came from {name} is no JSON: {error}.", code="bad-file") from error


def _say_case(number: int, told: Mapping[str, Any]) -> None:
    name = f"Case {told.get('id', number)}"
    if "errors" in told:
        show.say(f"{name} cannot be read:")
        for fault in told["errors"]:
            show.say(f"{fault['at']}: {fault['says']}", "  ", "    ")
        return
    say(told, lead=f"{name}: day 0 is {told['day0']}. ")
    for found in told["findings"]:
        show.say(f"{found['rule']} ({found['severity']}): {found['sentence']}", "  ", "    ")
