"""The shipping clerk: what is missing, seal, hand over.

A gesture signs one statement per form, prepared by the service. Before signing, each is compared with what the clerk scanned and
typed: the service cannot make a device say anything else.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, get_args

import click

from bailee.domain import form_acts, numbers
from bailee.domain.facts import choices
from bailee.errors import Broken, Malformed
from bailee_cli import acting, desk, observed, profile, reading, show, standing, windows
from bailee_cli.acting import Act
from bailee_cli.options import Number, act_options, at_a_terminal, moment, present, scan, time_options
from bailee_cli.session import Session

_YES = click.option("--yes", is_flag=True, help="Sign without asking once more; warnings are acknowledged.")


@click.command("seal")
@click.argument("samples", nargs=-1, type=Number("sample"))
@click.option(
    "--envelope", type=Number("envelope"), help="Number on the envelope's label.  [default: a new one]"
)
@click.option("--seal", "seal", help="Number printed on the custody seal.  [default: asked]")
@click.option("--counted", type=click.IntRange(0), help="Cassettes counted by hand.  [default: asked]")
@click.option(
    "--across-opening/--not-across-opening", default=None, help="Does the seal lie across the opening?"
)
@click.option(
    "--record-enclosed/--no-record-enclosed", default=None, help="Is the custody record in the envelope?"
)
@click.option(
    "--plain-tape", is_flag=True, help="There is only tape, no numbered seal that shows an opening."
)
@click.option("--record-pages", type=click.IntRange(0), help="Pages of the custody record put in.")
@click.option(
    "--photo",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Bind this picture of the closed envelope by its digest; keep the file.",
)
@click.option("--anew", is_flag=True, help="Forget what was scanned before and not sealed.")
@_YES
@time_options
@act_options
@click.pass_obj
def seal_command(
    session: Session, samples: tuple[str, ...], envelope: str | None, seal: str | None, counted: int | None,
    across_opening: bool | None, record_enclosed: bool | None, plain_tape: bool, yes: bool, at: str | None, zone: str | None,
    offline: bool, record_pages: int | None, photo: Path | None, anew: bool,
) -> None:  # fmt: skip
    """Scan SAMPLES into an envelope, see what is missing or wrong, then seal it. None given: you are asked to scan.

    Not ready: nothing is signed, and the command ends with 1. An envelope is ready only if what it needs was seen.
    """
    if offline:
        raise Malformed("Readiness needs the ledger: seal when there is a network.", code="needs-network")
    envelope, scanned = _scanned(session, envelope, samples, anew=anew)
    if not scanned:
        raise Malformed("Nothing was scanned.", code="nothing-scanned")
    if counted is None:
        counted = click.prompt("Cassettes counted by hand", type=click.IntRange(0), err=True)
    seal = numbers.read_seal(seal or click.prompt("Number on the custody seal", err=True))
    asked = {
        "envelope": envelope, "samples": scanned, "counted": counted, "seal": seal,
        "at": moment(session, at, zone).text(),
        "across_opening": _ask(across_opening, "Does the seal lie across the opening?"),
        "record_enclosed": _ask(record_enclosed, "Is the custody record in the envelope?"),
        "plain_tape": plain_tape,
    }  # fmt: skip
    asked |= present({"record_pages": record_pages, "photo": observed.photo(photo) if photo else None})
    told = session.service.post("/readiness", {"sealing": asked})
    _require_ready(session, told, f"envelope {numbers.grouped(envelope)}")
    acts = [_as_sealed(each, asked) for each in told["statements"]]
    if sorted(s for each in acts for s in each.data["samples"]) != sorted(scanned):
        raise _prepared_otherwise()
    _agree(
        told,
        yes,
        f"Seal {len(scanned)} cassettes into {numbers.grouped(envelope)} with seal {show.name(seal)}?",
    )
    _sign(session, acts)
    desk.clear(session)
    _manifest(session, asked, acts)


@click.command("unseal")
@click.argument("envelope", type=Number("envelope"))
@click.option(
    "--reason",
    required=True,
    type=click.Choice(choices(form_acts.Unsealed, "reason")),
)
@click.option("--seal", "seal", help="Number read on the seal.  [default: asked]")
@click.option("--form", "form", type=Number("form"), help="The form in it (needed with --offline).")
@click.option("--note", help="Free text; kept out of the log.")
@time_options
@act_options
@click.pass_obj
def unseal_command(
    session: Session, envelope: str, reason: str, seal: str | None, form: str | None, note: str | None,
    at: str | None, zone: str | None, offline: bool,
) -> None:  # fmt: skip
    """Record that a sealed ENVELOPE was opened again, and why. Sealing it again needs a new seal number."""
    forms = [form] if form else session.service.get(f"/envelopes/{envelope}")["forms"]
    seal = seal or click.prompt("Number read on the seal", err=True)
    reading.see(session, forms, offline=offline)
    data = {
        "envelope": envelope,
        "seal": str(seal).strip().upper(),
        "reason": reason,
        "at": moment(session, at, zone).text(),
    }
    acting.act(
        session, *[Act(f"form/{each}", "unsealed", data, {"note": note}) for each in forms], offline=offline
    )


@click.command("ship")
@click.argument("envelope", type=Number("envelope"))
@click.option("--carrier", help="Who takes it.  [default: asked; with --by-hand, by hand]")
@click.option(
    "--service", "service_name", help="The carrier's service.  [default: asked; with --by-hand, by hand]"
)
@click.option(
    "--service-days",
    default=1,
    show_default=True,
    type=click.IntRange(0, 30),
    help="Working days in transit.",
)
@click.option("--saturday", is_flag=True, help="With Saturday delivery.")
@click.option("--by-hand", is_flag=True, help="Carried by a person of yours.")
@click.option("--tracking", help="Number on the airbill.  [default: asked, unless carried by hand]")
@click.option(
    "--classified",
    type=click.Choice(get_args(form_acts.Transport)),
    help="Transport class, as the shipper decided it.",
)
@click.option("--forecast-low", "forecast_low_c", help="Coldest air forecast on the way, degrees Celsius.")
@click.option("--forecast-high", "forecast_high_c", help="Hottest air forecast on the way, degrees Celsius.")
@_YES
@time_options
@act_options
@click.pass_obj
def ship_command(
    session: Session, /, envelope: str, carrier: str | None, service_name: str | None, service_days: int, saturday: bool, by_hand: bool,
    tracking: str | None, yes: bool, at: str | None, zone: str | None, offline: bool, **said: Any,
) -> None:  # fmt: skip
    """Check when ENVELOPE would arrive, then record that it was handed over."""
    if offline:
        raise Malformed(
            "Readiness needs the ledger: record the hand-over when there is a network.", code="needs-network"
        )
    standing.refuse_shipped(session, envelope)
    carrier = carrier or ("by hand" if by_hand else click.prompt("Carrier", err=True))
    service_name = service_name or ("by hand" if by_hand else click.prompt("Service", err=True))
    tracking = tracking or (
        None if by_hand or not at_a_terminal() else click.prompt("Tracking number", err=True)
    )
    for other in standing.others_with_tracking(session, envelope, tracking):
        click.echo(
            f"Tracking number {show.plain(str(tracking))} was given to envelope {show.name(other)} as well: is it one parcel?",
            err=True,
        )
    handed_over = moment(session, at, zone)
    asked = {
        "envelope": envelope, "carrier": carrier, "service": service_name, "service_days": service_days, "saturday": saturday,
        "by_hand": by_hand, "tracking": tracking, "handed_over": handed_over.text(), **present(said),
    }  # fmt: skip
    told = session.service.post("/readiness", {"shipping": asked})
    if not session.json:
        windows.say(told["window"] or {}, zone)
    _require_ready(session, told, f"envelope {numbers.grouped(envelope)}")
    acts = [_as_asked(each, "shipped", asked) for each in told["statements"]]
    _agree(told, yes, f"Hand {numbers.grouped(envelope)} to {carrier}, {service_name}?")
    _sign(session, acts)


@click.command("record")
@click.argument("form", type=Number("form"))
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write to this PDF file.",
)
@click.pass_obj
def record_command(session: Session, form: str, output: Path) -> None:
    """Get the custody record of FORM as a PDF: the paper that goes into the envelope."""
    profile.replace_file(output, session.service.get_bytes(f"/forms/{form}/record.pdf", "application/pdf"))
    click.echo(f"Custody record of {numbers.grouped(form)}: {output}")


def _scanned(
    session: Session, envelope: str | None, samples: Sequence[str], *, anew: bool
) -> tuple[str, list[str]]:
    """The envelope and what lies in it: as named, or scanned now on top of what was scanned before. Kept with every scan."""
    before = None if anew else desk.begun(session)
    if before and envelope not in (None, before[0]):
        before = None
    envelope = envelope or (before[0] if before else numbers.issue("envelope", secrets.choice))
    found = list(dict.fromkeys(samples)) if samples or not before else before[1]
    if found and not samples:
        desk.say(envelope, found)
    desk.keep(session, envelope, found)
    for number in () if samples else scan("sample", tuple(found)):
        found.append(number)
        desk.keep(session, envelope, found)
    return envelope, found


def _ask(said: bool | None, question: str) -> bool:
    return click.confirm(question, err=True) if said is None else said


def _require_ready(session: Session, told: Mapping[str, Any], what: str) -> None:
    """Show what was found; end with 1 when it is not ready."""
    if session.json and not told["ready"]:
        show.print_json(told)
    if not session.json:
        show.findings(told["findings"])
    if not told["ready"]:
        click.echo(f"NOT READY: {what}. Nothing was signed.", err=True)
        raise click.exceptions.Exit(1)


def _agree(told: Mapping[str, Any], yes: bool, question: str) -> None:
    warnings = sum(f["severity"] == "warn" for f in told["findings"])
    if warnings:
        click.echo(f"{warnings} warnings are acknowledged by signing and printed on the record.", err=True)
    if not yes:
        click.confirm(question, abort=True, err=True)


def _as_sealed(told: Mapping[str, Any], asked: Mapping[str, Any]) -> Act:
    names = ("envelope", "seal", "at", "across_opening", "record_enclosed", "record_pages", "photo")
    same = {name: asked[name] for name in names if name in asked}
    same |= {"plain_tape": True} if asked["plain_tape"] else {}
    return _as_asked(told, "sealed", same | {"total": len(asked["samples"])})


def _as_asked(told: Mapping[str, Any], act: str, same: Mapping[str, Any]) -> Act:
    data = told["data"]
    if (
        told["act"] != act
        or not told["sub"].startswith("form/")
        or any(data.get(n) != v for n, v in same.items())
    ):
        raise _prepared_otherwise()
    return Act(told["sub"], act, data)


def _prepared_otherwise() -> Broken:
    return Broken(
        "The service prepared something other than what you scanned and typed. Nothing was signed: tell your administrator.",
        code="prepared-otherwise",
    )


def _sign(session: Session, acts: Sequence[Act]) -> None:
    acting.learn_heads(session, [each.chain for each in acts])
    acting.act(session, *acts)


def _manifest(session: Session, asked: Mapping[str, Any], acts: Sequence[Act]) -> None:
    if session.json:
        return
    rows = [
        (show.name(each.chain.removeprefix("form/")), show.name(s))
        for each in acts
        for s in each.data["samples"]
    ]
    show.table(
        f"Envelope {show.name(asked['envelope'])}, seal {show.name(asked['seal'])}: {len(rows)} cassettes",
        ["form", "sample"],
        rows,
    )
