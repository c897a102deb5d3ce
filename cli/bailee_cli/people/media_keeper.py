"""The media keeper: lots of cassettes and their numbers."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import click

from bailee.asking import hand_over_steps, office_slips, written, written_times
from bailee.domain import numbers
from bailee.domain.acts import lot as lot_acts
from bailee.domain.acts.lot import (
    MOST_AT_ONCE,
    OF_SURFACES,
    Counted,
    ExpiryCorrected,
    Issued,
    LotReceived,
    Recalled,
    Released,
)
from bailee.domain.acts.table import name_of
from bailee.domain.facts import choices
from bailee.errors import Forged, Malformed, Unavailable, Unknown
from bailee.presentation import words
from bailee.presentation.words import Heading
from bailee_cli.device import profile
from bailee_cli.device.outbox import Kept
from bailee_cli.device.session import Session
from bailee_cli.people.looking import of_lots
from bailee_cli.signing import lookups, submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, prompts, show, yes_no
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.options import (
    Number,
    Whole,
    Written,
    act_options,
    anyway_option,
    at_a_terminal,
    json_option,
    moment,
    note_option,
    present,
)

_LOT = click.argument("lot", type=Number("lot"))
_COLDEST = click.option(
    "--coldest-c", type=Written("degrees_celsius"), help="Lowest storage temperature, degrees Celsius."
)
_WARMEST = click.option(
    "--warmest-c", type=Written("degrees_celsius"), help="Highest storage temperature, degrees Celsius."
)
_STORED: Final = {"coldest_c": written.degrees_celsius, "warmest_c": written.degrees_celsius}
_NUMBERS: Final = click.option(
    "--numbers",
    "numbers_file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the sample numbers to this file as well, one a line.",
)


@click.group("lot")
def lot_command() -> None:
    """Receive, issue, recall, release, count, correct and show lots of cassettes."""


@lot_command.command("receive", cls=AskingCommand)
@click.option("--maker-lot", required=True, help="Lot number the maker printed.")
@click.option(
    "--cassette",
    required=True,
    type=click.Choice(choices(LotReceived, "cassette")),
    help="Kind of cassette, or medium for surfaces.",
)
@click.option(
    "--expiry", type=Written("last_day"), help="As printed: 2027-03-31, or 2027-03 for the end of that month."
)
@click.option("--no-expiry", is_flag=True, help="No expiration date is printed on the box.")
@click.option("--count", required=True, type=Whole(0), help="Cassettes received.")
@click.option("--nominal-flow", type=Written("flow"), help="Flow the maker states, L/min; for surfaces none.")
@click.option(
    "--run", "run_s", type=Written("run"), default="5:00", show_default=True, help="Run the maker states."
)
@click.option("--stored", help="Shelf.")
@_COLDEST
@_WARMEST
@click.option("--number", type=Number("lot"), help="Use this lot number.  [default: a new one]")
@click.option("--issue", "how_many", type=Whole(1, 10_000), help="Issue so many sample numbers at once.")
@_NUMBERS
@anyway_option
@act_options
@click.pass_obj
def receive(
    session: Session, maker_lot: str, cassette: str, expiry: str | None, no_expiry: bool, count: int,
    nominal_flow: str | None, run_s: int, stored: str | None, coldest_c: str | None, warmest_c: str | None,
    number: str | None, how_many: int | None, numbers_file: Path | None, offline: bool,
) -> None:  # fmt: skip
    """Record a lot that arrived, and give it a number.

    With --issue its cassettes get theirs, as `bailee lot issue` gives them.
    """
    if (expiry is None) != no_expiry:
        raise Malformed("Enter the --expiry printed on the box, or --no-expiry.", code="no-expiry")
    if nominal_flow is None:
        nominal_flow = "0" if cassette in OF_SURFACES else _flow(session)
    fresh = number is None
    number = number or numbers.issue("lot", secrets.choice)
    data = {
        "maker_lot": maker_lot,
        "cassette": cassette,
        "expiry": expiry,
        "count": count,
        "nominal_flow": nominal_flow,
        "run_s": run_s,
    } | present({"stored": stored, "coldest_c": coldest_c, "warmest_c": warmest_c})
    today = moment(session, None, None).local_date
    prompts.settle(
        session,
        lambda: office_slips.lot_received(data, today),
        prompts.typed_again(data, nominal_flow=written.flow, expiry=written_times.last_day, **_STORED),
    )
    kept = submit.perform(
        session, [Act(f"lot/{number}", name_of(LotReceived), data, fresh=fresh)], offline=offline
    )
    number = kept[0].chain.removeprefix("lot/")
    session.outbox.remember("lot", number)
    click.echo(f"Lot {numbers.grouped(number)}", err=session.json)
    if how_many is None or kept[0].state == "refused":
        submit.report(session, kept)
        return
    if not session.json:
        submit.report(session, kept)
        kept = []
    kept += _issue(
        session, number, {"count": how_many}, numbers_file, anyway=False, offline=offline,
        otherwise="The box is recorded; no numbers were issued.",
    )  # fmt: skip
    submit.report(session, kept)


def _flow(session: Session) -> str:
    """The flow of a cassette, asked for where it was not typed."""
    if not prompts.may_ask(session):
        prompts.require(nominal_flow=None)
    session.was_asked = True
    return str(prompts.answer(session, hand_over_steps.NOMINAL_FLOW))


@lot_command.command("issue", cls=AskingCommand)
@_LOT
@click.option("--count", required=True, type=Whole(1, 10_000), help="How many sample numbers.")
@click.option("--to", "to", help="Who gets them: their name, or key ID.")
@click.option("--visit", type=Written("day"), help="Day of the visit they are for, like 2026-11-25.")
@click.option("--anyway", is_flag=True, help="Issue them although something warns (ML-04, ML-09).")
@_NUMBERS
@act_options
@click.pass_obj
def issue(
    session: Session, lot: str, count: int, to: str | None, visit: str | None, anyway: bool,
    numbers_file: Path | None, offline: bool,
) -> None:  # fmt: skip
    """Issue new sample numbers for cassettes of LOT. Print them with `bailee label sheet LOT`.

    Nothing is signed when the lot is expired (ML-02), has no expiration date (ML-03) or is recalled (ML-06).
    What only warns, a visit after its expiration date (ML-04) or more numbers than cassettes (ML-09), is
    asked about, or answered with --anyway.
    """
    to = lookups.key_id(session, to, offline=offline) if to else None
    asked = present({"count": count, "to": to, "visit": visit})
    if prompts.may_ask(session) and not anyway:
        today = session.now.astimezone().date()
        prompts.settle(
            session,
            lambda: office_slips.planned_day(asked.get("visit"), today),
            prompts.typed_again(asked, visit=written_times.day),
        )
    submit.report(session, _issue(session, lot, asked, numbers_file, anyway=anyway, offline=offline))


def _issue(
    session: Session, lot: str, asked: Mapping[str, Any], file: Path | None, *, anyway: bool, offline: bool,
    otherwise: str = show.UNSIGNED,
) -> list[Kept]:  # fmt: skip
    """Sign new numbers and tell them.

    `asked`: how many (`count`), and where it was said to whom (`to`) and for which day (`visit`).
    `otherwise`: what is so where the rules stop it.
    """
    looked_at = {name: asked.get(name) for name in ("count", "visit")}
    _look_before_issuing(session, lot, looked_at, anyway=anyway, offline=offline, otherwise=otherwise)
    fresh = list(dict.fromkeys(numbers.issue("sample", secrets.choice) for _ in range(asked["count"])))
    if not offline:
        submit.learn_heads(session, [f"lot/{lot}"])
    said = {name: value for name, value in asked.items() if name != "count"}
    acts = [
        Act(f"lot/{lot}", name_of(Issued), {"samples": fresh[start : start + MOST_AT_ONCE], **said})
        for start in range(0, len(fresh), MOST_AT_ONCE)
    ]
    kept = submit.perform(session, acts, offline=offline)
    if not session.json:
        for each in fresh:
            click.echo(numbers.grouped(each))
    if file:
        profile.replace_file(file, "".join(f"{each}\n" for each in fresh).encode())
    return kept


@lot_command.command("recall", cls=AskingCommand)
@_LOT
@click.option(
    "--reason",
    required=True,
    type=click.Choice(choices(lot_acts.Recalled, "reason")),
)
@note_option
@act_options
@click.pass_obj
def recall(session: Session, lot: str, reason: str, note: str | None, offline: bool) -> None:
    """Stop the use of LOT; samples already collected with it are flagged everywhere."""
    _say(session, lot, name_of(Recalled), {"reason": reason}, note, offline)


@lot_command.command("release", cls=AskingCommand)
@_LOT
@click.option(
    "--reason",
    required=True,
    type=click.Choice(choices(lot_acts.Released, "reason")),
)
@note_option
@act_options
@click.pass_obj
def release(session: Session, lot: str, reason: str, note: str | None, offline: bool) -> None:
    """Lift the recall of LOT. The recall stays visible."""
    _say(session, lot, name_of(Released), {"reason": reason}, note, offline)


@lot_command.command("count", cls=AskingCommand)
@_LOT
@click.option("--remaining", required=True, type=Whole(0), help="Cassettes on the shelf.")
@click.option("--voided", default=0, show_default=True, type=Whole(0), help="Thrown away unused.")
@_COLDEST
@_WARMEST
@anyway_option
@act_options
@click.pass_obj
def count_lot(
    session: Session, lot: str, remaining: int, voided: int, coldest_c: str | None, warmest_c: str | None,
    offline: bool,
) -> None:  # fmt: skip
    """Record what is left of LOT on the shelf, and its storage temperatures since the last count."""
    data = {"remaining": remaining, "voided": voided} | present(
        {"coldest_c": coldest_c, "warmest_c": warmest_c}
    )
    received = None if offline else _received(session, lot)
    prompts.settle(
        session,
        lambda: office_slips.lot_counted(data, received),
        prompts.typed_again(data, remaining=written.whole, **_STORED),
    )
    _say(session, lot, name_of(Counted), data, None, offline)


def _received(session: Session, lot: str) -> int | None:
    """How many cassettes of a lot came in, where the ledger can be asked."""
    try:
        count: int = session.service.get(f"/lots/{lot}")["count"]
    except (Unavailable, Unknown, Forged):
        return None
    return count


@lot_command.command("expiry", cls=AskingCommand)
@_LOT
@click.argument("new", type=Written("last_day"))
@click.option(
    "--reason",
    required=True,
    type=click.Choice(choices(lot_acts.ExpiryCorrected, "reason")),
)
@note_option
@anyway_option
@act_options
@click.pass_obj
def expiry_of_lot(session: Session, lot: str, new: str, reason: str, note: str | None, offline: bool) -> None:
    """Correct the expiration date of LOT to NEW, as printed on the box; the old one stays visible."""
    if offline:
        raise Malformed(
            "The value in the ledger must be known: correct an expiration date with a connection.",
            code="needs-service",
        )
    data = {"old": session.service.get(f"/lots/{lot}")["expiry"], "new": new, "reason": reason}
    today = moment(session, None, None).local_date
    prompts.settle(
        session,
        lambda: office_slips.expiry(data["new"], today, "new"),
        prompts.typed_again(data, new=written_times.last_day),
    )
    _say(session, lot, name_of(ExpiryCorrected), data, note, offline)


@lot_command.command("show", cls=AskingCommand)
@click.argument("lot", type=Number("lot"), required=False)
@json_option
@click.pass_obj
def show_lot(session: Session, lot: str | None) -> None:
    """Show LOT, or all lots."""
    told = session.service.get(f"/lots/{lot}" if lot else "/lots")
    if session.json:
        show.print_json(told)
    elif lot:
        of_lots.lot(told)
    else:
        rows = [
            (
                each["lot"],
                each["maker_lot"],
                words.expiration(each["expires"]),
                each["count"],
                len(each["issued"]),
                "recalled" if each["recalled"] else "",
            )
            for each in told["lots"]
        ]
        columns = [
            Heading.LOT,
            Heading.MAKER_LOT,
            Heading.EXPIRATION,
            Heading.LOT_RECEIVED,
            Heading.ISSUED,
            "",
        ]
        show.table("Lots", [each.lower() for each in columns], rows)


@lot_command.command("uses", cls=AskingCommand)
@_LOT
@json_option
@click.pass_obj
def uses(session: Session, lot: str) -> None:
    """Every sample, form, envelope and laboratory that LOT went to: whom to notify when it is recalled."""
    told = session.service.get(f"/lots/{lot}/uses")
    if session.json:
        show.print_json(told)
        return
    rows = [
        (
            u["sample"],
            u["form"],
            ", ".join(map(show.name, u["envelopes"])),
            ", ".join(u["laboratories"]),
            u["child"],
        )
        for u in told["uses"]
    ]
    recalled = ", RECALLED" if told["recalled"] else ""
    where = f"{show.counted(len(rows), 'sample')} on {show.counted(len(told['forms']), 'form')}"
    show.table(
        f"Lot {show.name(told['lot'])}{recalled}: {where}",
        ["sample", "form", "envelope", "laboratory", "forwarded as"],
        rows,
    )
    for name in ("forms", "envelopes", "laboratories"):
        show.say(f"{name.capitalize()}: {', '.join(map(show.name, told[name])) or 'none'}", "", "  ")


def _look_before_issuing(
    session: Session, lot: str, asked: Mapping[str, Any], *, anyway: bool, offline: bool, otherwise: str
) -> None:
    """End with 1 when the rules stop it, or warn of it and nobody says to go on.

    Where nobody can be asked, say so and go on.
    """
    not_checked = f"Not checked: expiration date, recall and count of lot {numbers.grouped(lot)}."
    if offline:
        layout.warn(not_checked)
        return
    try:
        told = session.service.get(f"/lots/{lot}/issuing", **asked, at=moment(session, None, None).text())
    except (Unavailable, Unknown, Forged) as error:
        layout.warn(f"{not_checked} {error.sentence}")
        return
    warns = any(each["severity"] == "warn" for each in told["findings"])
    ready = told["ready"] and (anyway or not warns)
    if ready:
        for each in told["findings"]:
            layout.warn(f"{each['rule']}: {each['sentence']}")
        return
    if session.json:
        show.print_json({**told, "ready": False})
    else:
        show.readiness(
            {**told, "ready": False},
            f"{show.counted(asked['count'], 'number')} of lot {show.name(lot)}",
            otherwise=otherwise,
        )
    if told["ready"] and at_a_terminal() and not session.json and yes_no.asked("Issue them all the same?"):
        return
    if told["ready"]:
        layout.warn("There are warnings and no stop: --anyway issues them.")
    raise click.exceptions.Exit(1)


def _say(
    session: Session, lot: str, act: str, data: Mapping[str, Any], note: str | None, offline: bool
) -> None:
    if not offline:
        submit.learn_heads(session, [f"lot/{lot}"])
    submit.act(session, Act(f"lot/{lot}", act, data, {"note": note}), offline=offline)
