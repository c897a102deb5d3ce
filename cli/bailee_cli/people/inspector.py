"""The inspector: open the form, collect cassette by cassette, void what was lost."""

from __future__ import annotations

import secrets
from datetime import date
from decimal import Decimal
from typing import Any, get_args

import click

from bailee.domain import cautions, measures, numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Collected, Opened, Voided
from bailee.domain.acts.table import name_of
from bailee.domain.facts import choices
from bailee.domain.fields import EDITION
from bailee.domain.lots import freshness
from bailee.domain.moments import Moment
from bailee.domain.policy import Policy
from bailee.errors import BaileeError, Malformed, Refused, Unavailable
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people import everyone, observations
from bailee_cli.signing import duplicates, lookups, submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, show
from bailee_cli.terminal.options import (
    Length,
    Number,
    Run,
    act_options,
    at_a_terminal,
    moment,
    present,
    yes_option,
)


@click.command("open")
@click.option("--lab", required=True, help="Short name of the laboratory.")
@click.option("--firm", help="Short name of the sampling firm.  [default: yours]")
@click.option("--zone", required=True, help="Time zone of the site, like America/New_York.")
@click.option("--visit", help="Day of the visit, like 2026-11-25.  [default: today at the site]")
@click.option("--form", "form", type=Number("form"), help="Use this form number.  [default: a new one]")
@click.option("--client", help="Who asked; kept out of the log.")
@click.option("--site", help="Address; kept out of the log.")
@click.option("--contact", help="Whom to call; kept out of the log.")
@click.option("--question", help="What the samples should answer; kept out of the log.")
@click.option("--note", help="Free text; kept out of the log.")
@click.option("--method")
@click.option("--project")
@click.option("--analysis")
@click.option("--turnaround")
@click.option(
    "--ventilation",
    type=click.Choice(["normal", "off", "fan_only", "none", "other"]),
    help="As found on arrival.",
)
@click.option("--windows-closed-h", help="Hours the windows were closed before the first sample.")
@click.option("--purifiers-off-h", help="Hours air purifiers were off; leave out if there are none.")
@click.option("--cleaned-h-ago", help="Hours since the last cleaning; leave out if not known to be recent.")
@observations.opening_options
@click.option("--quiet", is_flag=True, help="Do not print the cautions.")
@act_options
@click.pass_obj
def open_command(
    session: Session, /, lab: str, firm: str | None, zone: str, visit: str | None, form: str | None,
    quiet: bool, offline: bool, client: str | None, site: str | None, contact: str | None,
    question: str | None, note: str | None, method: str | None, project: str | None, analysis: str | None,
    turnaround: str | None, ventilation: str | None, windows_closed_h: str | None,
    purifiers_off_h: str | None, cleaned_h_ago: str | None, works_h_ago: str | None, **more: Any,
) -> None:  # fmt: skip
    """Open the form of a visit. Later `bailee collect` uses it until you open or name another."""
    if not quiet and not session.json:
        click.echo(layout.told(cautions.in_words()))
    for party in filter(None, (lab, firm)):
        lookups.require(session, party, offline=offline)
    number = form or numbers.issue("form", secrets.choice)
    hours = {
        "windows_closed_h": windows_closed_h,
        "purifiers_off_h": purifiers_off_h,
        "cleaned_h_ago": cleaned_h_ago,
        "works_h_ago": works_h_ago,
    }
    prepared = ventilation is not None or any(value is not None for value in hours.values())
    data = present(
        {
            "edition": EDITION,
            "parties": {"firm": firm or session.profile.org, "lab": lab},
            "visit": visit or Moment.shown_in(session.now, zone).local_date.isoformat(),
            "zone": zone,
            "method": method,
            "project": project,
            "analysis": analysis,
            "turnaround": turnaround,
            "preparation": hours | present({"ventilation": ventilation}) if prepared else None,
        }
    ) | observations.opening(session, zone, question, more)
    private = {"client": client, "site": site, "contact": contact, "question": question, "note": note}
    said = Act(f"form/{number}", name_of(Opened), data, private, fresh=form is None)
    kept = submit.perform(session, [said], offline=offline)
    number = kept[0].chain.removeprefix("form/")
    session.outbox.remember("form", number)
    session.outbox.remember(f"zone/{number}", zone)
    if not offline:
        try:
            cache.remember_lots(session)
        except BaileeError as error:
            click.echo(f"Lots could not be looked up: {error.sentence}", err=True)
    click.echo(f"Form {numbers.grouped(number)}", err=session.json)
    submit.report(session, kept)


@click.command("collect")
@click.argument("sample", type=Number("sample"))
@click.option("--form", "form", type=Number("form"), help="[default: the form you worked on last]")
@click.option("--kind", type=click.Choice(get_args(form_acts.SampleKind)), required=True)
@click.option("--lot", type=Number("lot"), help="From the box.  [default: looked up by the label's number]")
@click.option("--room", type=click.Choice(get_args(form_acts.Room)))
@click.option("--point", help="Point on the sketch, like P3.")
@click.option("--place", help="Where exactly, in words; kept out of the log.")
@click.option("--height", "height_m", type=Length(), help='Inlet above the floor, like "4 ft" or "1.2 m".')
@click.option("--distance", "distance_m", type=Length(), help="Outdoors: distance from the building.")
@click.option("--pump", help="Pump number.")
@click.option("--meter", help="Flow meter number.")
@click.option("--flow-before", help="Flow read before the run, L/min.")
@click.option("--flow-after", help="Flow read after the run, L/min.")
@click.option("--started", help="Start of the run on the clocks of the site.  [default: the run ended now]")
@click.option("--zone", help="[default: the zone of the visit]")
@click.option(
    "--run", "run_s", type=Run(), default="0", help="How long the pump really ran, like 5:00 or 300."
)
@click.option("--planned", "planned_s", type=Run(), help="How long it should have run.")
@click.option("--covers/--no-covers", "covers_on", required=True, help="Are the covers back on?")
@click.option("--sky", type=click.Choice(["clear", "cloudy", "overcast", "rain", "fog", "snow"]))
@click.option("--wind", type=click.Choice(["calm", "light", "strong"]))
@click.option("--snow-cover", is_flag=True)
@click.option("--mowing", is_flag=True)
@click.option(
    "--near", multiple=True, type=click.Choice(get_args(form_acts.Nearby)), help="Within reach of the inlet."
)
@click.option("--serial", help="Number molded on the glass or cassette.")
@click.option("--area", type=click.Choice(get_args(form_acts.Area)))
@click.option("--space", type=click.Choice(get_args(form_acts.Space)))
@click.option(
    "--space-reason", type=click.Choice(["complaint_there", "source_there", "client_request", "other"])
)
@click.option("--duplicate-of", type=Number("sample"))
@observations.cassette_options
@click.option("--typed", is_flag=True, help="The number was typed by hand, not scanned.")
@click.option("--note", help="Free text; kept out of the log.")
@act_options
@click.pass_obj
def collect_command(session: Session, /, sample: str, form: str | None, offline: bool, **said: Any) -> None:
    """Record one cassette: opened, run, covered. The volume is computed from flow and time, never typed."""
    form = cache.current_form(session, form)
    lot = {"lot": said["lot"]} if said["lot"] else cache.lot_of(session, sample, offline=offline)
    if lot is None:
        raise Malformed(
            f"No lot is known for {numbers.grouped(sample)}: give the lot from the box with --lot.",
            code="no-lot",
        )
    started = _started(session, form, said)
    zone = said["zone"] or cache.zone_of(session, form)
    data = _collected(sample, lot["lot"], started, said) | observations.cassette(session, zone, said)
    cache.see(session, [form], offline=offline)
    kept = submit.perform(
        session,
        [Act(f"form/{form}", name_of(Collected), data, {"place": said["place"], "note": said["note"]})],
        offline=offline,
    )
    if not session.json:
        _say_lot(session, lot, started.local_date, offline=offline)
        _say_volume(data)
        _say_what_rules_find(session, form, sample, online=kept[0].state == "registered")
    submit.report(session, kept)


@click.command("void")
@click.argument("sample", type=Number("sample"))
@click.option("--reason", required=True, type=click.Choice(choices(form_acts.Voided, "reason")))
@click.option("--form", "form", type=Number("form"), help="[default: looked up by the number]")
@click.option("--note", help="Free text; kept out of the log.")
@yes_option
@act_options
@click.pass_obj
def void_command(
    session: Session,
    /,
    sample: str,
    reason: str,
    form: str | None,
    note: str | None,
    yes: bool,
    offline: bool,
) -> None:
    """Record that a sample will not be analyzed, and why. Nothing about it is deleted.

    What the ledger would remark is said before, and you are asked; where nobody can be asked nothing is
    signed without --yes.
    """
    said = {"sample": sample, "reason": reason}
    if not offline and submit.finish(
        session, name_of(Voided), [sample], lambda data: data["reason"] == reason
    ):
        return
    if form is None:
        form = cache.current_form(session, None) if offline else cache.form_of(session, sample)
    cache.see(session, [form], offline=offline)
    if not offline:
        duplicates.refuse_void(session, form, sample)
        _agree_to_void(session, form, said, yes=yes)
    submit.act(session, Act(f"form/{form}", name_of(Voided), said, {"note": note}), offline=offline)


def _agree_to_void(session: Session, form: str, said: dict[str, Any], *, yes: bool) -> None:
    """Say before it is signed what the ledger would remark afterwards.

    Without an answer from the service nothing is remarked.

    Raises `Refused` ("warned") when something is and nobody can be asked.
    """
    try:
        asked = {"act": name_of(Voided), "data": said, "form": form}
        found = session.service.post("/readiness", asked)["findings"]
    except BaileeError:
        return
    if not found:
        return
    if not session.json:
        show.findings(found)
    if yes:
        return
    if session.json or not at_a_terminal():
        raise Refused(
            f"{numbers.grouped(said['sample'])} would be voided with {show.counted(len(found), 'remark')}."
            " Nothing was signed: --yes signs it all the same.",
            code="warned",
            findings=found,
        )
    click.confirm("Record it all the same?", abort=True, err=True)


def _started(session: Session, form: str, said: dict[str, Any]) -> Moment:
    zone = said["zone"] or cache.zone_of(session, form)
    if said["started"]:
        return moment(session, said["started"], zone)
    now = moment(session, None, zone)
    return Moment.of(now.epoch_seconds - said["run_s"], now.text()[-6:])


def _collected(sample: str, lot: str, started: Moment, said: dict[str, Any]) -> dict[str, Any]:
    weather = present({"sky": said["sky"], "wind": said["wind"]})
    weather |= {name: True for name in ("snow_cover", "mowing") if said[name]}
    copied = (
        "kind",
        "run_s",
        "planned_s",
        "covers_on",
        "serial",
        "duplicate_of",
        "point",
        "room",
        "space",
        "space_reason",
        "area",
        "height_m",
        "distance_m",
        "pump",
        "meter",
        "flow_before",
        "flow_after",
    )
    data = {
        "sample": sample,
        "lot": lot,
        "started": started.text(),
        "entered": "typed" if said["typed"] else "scan",
        "near": list(said["near"]) or None,
        "weather": weather or None,
        **{name: said[name] for name in copied},
    }
    return present(data)


def _say_lot(session: Session, lot: dict[str, Any], day: date, *, offline: bool) -> None:
    name, expires = f"Lot {show.name(lot['lot'])}", lot.get("expires")
    last = date.fromisoformat(expires) if expires else None
    then = freshness(last, day, Policy())
    if then and not then.in_date:  # only then does it matter what grace the firm gives
        then = freshness(last, day, lookups.known(session, offline=offline).policy)
    if lot.get("recalled"):
        click.echo(f"{name} IS RECALLED: do not use what is left of it.")
    elif then and then.in_date:
        click.echo(f"{name} is in date until {expires}.")
    elif then and then.may_be_used:
        click.echo(f"{name} was in date until {expires}; your thresholds let it be used to {then.usable_to}.")
    elif then:
        click.echo(f"{name} EXPIRED on {expires}. Take another cassette as well, if you can.")


def _say_volume(data: dict[str, Any]) -> None:
    flows = [Decimal(data[name]) for name in ("flow_before", "flow_after") if name in data]
    if data["kind"] == "blank":
        click.echo("Field blank: no air drawn.")
    elif flows:
        flow = measures.mean_flow(flows[0], flows[-1])
        volume = measures.volume_liters(flow, Decimal(data["run_s"]))
        click.echo(
            f"Volume {measures.rounded(volume, 2)} L ({measures.rounded(flow, 2)} L/min for"
            f" {data['run_s']} s)."
        )
    else:
        click.echo("Volume unknown: no flow was read.")


def _say_what_rules_find(session: Session, form: str, sample: str, *, online: bool) -> None:
    """At once, while the pump is still here: what is wrong with this sample, and whether an outdoor control
    is missing.
    """
    try:
        told = cache.form(session, form) if online else None
    except Unavailable:
        told = None
    if told is None:
        mine = [k for k in session.outbox.of_chains([f"form/{form}"]) if k.act == name_of(Collected)]
        if not any(submit.data_of(k)["kind"] == "outdoor" for k in mine):
            click.echo("No outdoor control yet from this device.")
        return
    if not any(s["kind"] == "outdoor" and not s["void"] for s in told["samples"]):
        click.echo("No outdoor control yet.")
    everyone.samples([s for s in told["samples"] if s["sample"] == sample], told["zone"])
    show.findings([f for f in told["findings"] if f["about"] == sample])
