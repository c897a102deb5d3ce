"""The inspector: one cassette, opened, run, covered."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from datetime import date
from decimal import Decimal
from functools import partial
from typing import Any, Final, get_args

import click

from bailee.asking import run_slips, slips, steps, written
from bailee.asking.slips import Slip, VisitSoFar
from bailee.asking.steps import MINUTES_TO
from bailee.domain import measures, numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Collected, Sealed, Shipped
from bailee.domain.acts.table import name_of
from bailee.domain.lots import freshness
from bailee.domain.moments import Moment
from bailee.domain.policy import Policy
from bailee.errors import Malformed, Unavailable
from bailee.presentation import words
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people import everyone
from bailee_cli.people.visit import interview, observations, pump_readings
from bailee_cli.signing import earlier_runs, expected_stops, lookups, submit, visits
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, prompts, show
from bailee_cli.terminal.done_times import done
from bailee_cli.terminal.options import (
    Number,
    ReadNumber,
    Written,
    act_options,
    anyway_option,
    moment,
    note_option,
    present,
    scan,
)


@click.command("collect")
@click.argument("sample", type=Number("sample", shows_hand=True), required=False)
@click.option("--form", "form", type=Number("form"), help="[default: the form you worked on last]")
@click.option("--kind", type=click.Choice(get_args(form_acts.SampleKind)))
@click.option("--lot", type=Number("lot"), help="From the box.  [default: looked up by the label's number]")
@click.option("--room", type=click.Choice(get_args(form_acts.Room)))
@click.option("--point", help="Point on the sketch, like P3.")
@click.option("--place", help="Where exactly, in words; never in the log.")
@click.option(
    "--height", "height_m", type=Written("length"), help='Inlet above the floor, like "4 ft" or "1.2 m".'
)
@click.option(
    "--distance", "distance_m", type=Written("length"), help="Outdoors: distance from the building."
)
@click.option("--pump", help="Pump number.")
@click.option("--meter", help="Flow meter number.")
@click.option("--flow-before", type=Written("flow"), help="Flow read before the run, L/min.")
@click.option("--flow-after", type=Written("flow"), help="Flow read after the run, L/min.")
@click.option("--started", help="Start of the run on the clocks of the site.  [default: the run ended now]")
@click.option("--zone", type=Written("zone"), help="[default: the zone of the visit]")
@click.option(
    "--run", "run_s", type=Written("run_as_typed"), metavar="RUN", help="Actual run time, like 5:00 or 300."
)
@click.option("--planned", "planned_s", type=Written("run_as_typed"), metavar="RUN", help="Planned run time.")
@click.option("--covers/--no-covers", "covers_on", default=None, help="Are the covers back on?")
@click.option("--sky", type=click.Choice(["clear", "cloudy", "overcast", "rain", "fog", "snow"]))
@click.option("--wind", type=click.Choice(["calm", "light", "strong"]))
@click.option("--snow-cover/--no-snow-cover", default=None, help="Is there snow on the ground?")
@click.option("--mowing/--no-mowing", default=None, help="Is grass being mowed nearby?")
@click.option("--near", multiple=True, type=click.Choice(get_args(form_acts.Nearby)), help="Near the inlet.")
@click.option("--serial", help="Maker's serial on the body of the cassette.")
@click.option("--area", type=click.Choice(get_args(form_acts.Area)))
@click.option("--space", type=click.Choice(get_args(form_acts.Space)))
@click.option(
    "--space-reason", type=click.Choice(["complaint_there", "source_there", "client_request", "other"])
)
@click.option("--duplicate-of", type=Number("sample"))
@observations.cassette_options
@click.option("--typed", is_flag=True, help="The number was typed by hand.  [default: where it shows]")
@note_option
@anyway_option
@act_options
@click.pass_obj
def collect_command(
    session: Session, /, sample: str | None, form: str | None, offline: bool, **said: Any
) -> None:
    """Record one cassette: opened, run, covered. The volume is computed from flow and time, never typed.

    At a terminal you are asked for what you leave out, and shown what will be signed.
    """
    asks = prompts.may_ask(session) and not _is_told(sample, said)
    if not asks:
        prompts.require(sample=sample, kind=said["kind"], covers_on=said["covers_on"])
        said["run_s"] = said["run_s"] or 0  # a run that was not said is none, as ever
    form = cache.current_form(session, form)
    seen = cache.see(session, [form], offline=offline).get(form)
    visit = so_far(session, form, seen)
    if asks:
        _say_visit(session, form, seen)
        prompts.settle(session, lambda: slips.visit_closed(visit))
    sample = sample or next(scan("sample", ends=False))
    if asks:
        sample = _not_collected_yet(session, form, sample, seen)
    said["typed"] = said["typed"] or getattr(sample, "by_hand", False)
    sample = str(sample)
    lot = _lot(session, sample, said["lot"], offline=offline)
    flow, others = lot.get("nominal_flow"), earlier_runs.known(session, form, seen)

    def data() -> dict[str, Any]:
        started = _started(session, form, said)
        zone = said["zone"] or cache.zone_of(session, form)
        return _collected(sample, lot["lot"], started, said) | observations.cassette(session, zone, said)

    def found() -> Iterator[Slip]:
        yield from slips.collected(data(), visit, Decimal(flow) if flow else None)
        yield from run_slips.beside(data(), form, others)
        yield from run_slips.not_over(data(), session.clock())

    again = {name: partial(_again, said, name) for name in _READERS}

    def settle() -> None:
        prompts.settle(session, found, again)

    def stops() -> list[str]:
        return expected_stops.of_cassette(session, form, data()) if seen else []

    if asks:
        title = [visits.visit_line(session, form, seen)]
        readings = pump_readings.of_visit(session, form, seen)
        interview.cassette(
            session,
            said,
            sample,
            title,
            lambda asked: _facts(session, form, said, data(), asked),
            settle,
            readings,
            lambda pump: pump_readings.before(readings, _started(session, form, said), visit.zone, pump),
            stops,
        )
    else:
        settle()
        expected_stops.settle(session, stops)
    private = {"place": said["place"], "note": said["note"]}
    kept = submit.perform(
        session,
        [Act(f"form/{form}", name_of(Collected), written.as_signed(data()), private)],
        offline=offline,
    )
    if not session.json:
        day = _started(session, form, said).local_date
        _say_lot(session, lot, day, offline=offline)
        _say_volume(data())
        _say_what_rules_find(session, form, sample, online=kept[0].state == "registered")
    submit.report(session, kept)


def _is_told(sample: str | None, said: Mapping[str, Any]) -> bool:
    """Whether what no cassette can do without was typed: then nothing is asked, and it stands as typed."""
    ran = said["kind"] == "blank" or (said["run_s"] is not None and said["flow_after"] is not None)
    place = said["kind"] == "blank" or said["room"] or said["point"]
    return bool(sample and said["kind"] and said["covers_on"] is not None and ran and place)


def _lot(session: Session, sample: str, given: str | None, *, offline: bool) -> dict[str, Any]:
    """The lot of a cassette: from the box, or by its label. Raises `Malformed` when nobody knows it."""
    lot = {"lot": given} if given else cache.lot_of(session, sample, offline=offline)
    if lot is None:
        raise Malformed(
            f"No lot is on record for {numbers.grouped(sample)}: enter the lot from the box with --lot.",
            code="no-lot",
        )
    return lot


def _say_visit(session: Session, form: str, seen: Mapping[str, Any] | None) -> None:
    """Which visit it is for, before anything is asked."""
    layout.say(visits.visit_line(session, form, seen), style="bold", err=True)


def _facts(
    session: Session, form: str, said: Mapping[str, Any], data: Mapping[str, Any], asked: Collection[str]
) -> list[tuple[str, str, str]]:
    """What follows from the answers, and what was typed and not asked, for the screen before signing."""
    zone = cache.zone_of(session, form)
    told = [("started", "started", show.when(data["started"], zone))]
    volume = _volume(data)
    told += [("", "volume", f"{volume} L")] if volume is not None else []
    private = {name: said[name] for name in ("place", "note") if said[name]}
    rest = {**data, **data.get("weather", {}), **private}
    beside = [name for name in rest if name not in asked and name not in _ON_THE_SCREEN]
    return told + [(name, *visits.fact(name, rest[name])) for name in beside]


_ON_THE_SCREEN: Final = {"sample", "lot", "entered", "kind", "room", "point", "started", "weather"}
"""Members that stand there in other words, or are looked up."""


_READERS: Final[Mapping[str, Callable[[str], Any]]] = {
    "run_s": partial(written.run, bare_minutes_to=MINUTES_TO),
    "planned_s": partial(written.run, bare_minutes_to=MINUTES_TO),
    "flow_before": written.flow,
    "flow_after": written.flow,
    "temperature_c": written.degrees_celsius,
    "height_m": written.length,
    "started": str,
    "pump": str.strip,
    "meter": str.strip,
    "serial": str.strip,
}
"""What can be typed again, and how it is read."""


def _again(said: dict[str, Any], member: str, text: str) -> None:
    value = _READERS[member](text)
    if member != "started":  # a time of the site's clocks, read with the rest
        steps.require_fact(name_of(Collected), member, text, value)
    said[member] = value
    if member == "started":
        said["zone"] = None


def _not_collected_yet(session: Session, form: str, sample: str, seen: Mapping[str, Any] | None) -> str:
    """The number of the cassette. One that this device has collected is asked back before anything else is
    asked: another one is scanned, or a yes is `--both`.
    """
    signed = [
        submit.data_of(each)
        for each in session.outbox.of_chains([f"form/{form}"])
        if each.act == name_of(Collected) and each.state in ("waiting", "registered")
    ]
    before = {each["sample"]: each for each in signed}
    before |= {
        each["sample"]: each
        for each in earlier_runs.known(session, form, seen)
        if each["form"] == form and each["sample"] in before
    }
    scanned = {"sample": sample}

    def found() -> Iterator[Slip]:
        if scanned["sample"] in before:
            yield from run_slips.collected_already(before[scanned["sample"]])

    def again(text: str) -> None:
        scanned["sample"] = ReadNumber.of(numbers.read(text, "sample"), text)

    prompts.settle(session, found, {"sample": again})
    if scanned["sample"] in before:
        session.both = True
    return scanned["sample"]


def so_far(session: Session, form: str, seen: Mapping[str, Any] | None) -> VisitSoFar:
    """What is known of the visit: from the ledger, else from this device."""
    day = cache.visit_of(session, form)
    closed = (
        {s["envelope"]: words.status(s["status"], None) for s in seen["samples"] if s["envelope"]}
        if seen
        else {
            submit.data_of(each)["envelope"]: show.words(each.act)
            for each in session.outbox.of_chains([f"form/{form}"])
            if each.act in (name_of(Sealed), name_of(Shipped)) and each.state in ("waiting", "registered")
        }
    )
    return VisitSoFar(date.fromisoformat(day) if day else None, cache.zone_of(session, form), closed)


def _started(session: Session, form: str, said: dict[str, Any]) -> Moment:
    zone = said["zone"] or cache.zone_of(session, form)
    if said["started"]:
        return done(session, name_of(Collected), said["started"], zone)
    now = moment(session, None, zone)
    return Moment.of(now.epoch_seconds - (said["run_s"] or 0), now.text()[-6:])


def _collected(sample: str, lot: str, started: Moment, said: dict[str, Any]) -> dict[str, Any]:
    weather = present({name: said[name] for name in ("sky", "wind", "snow_cover", "mowing")})
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
    dated = f"{name}: {words.Heading.EXPIRATION.lower()} {expires}"
    last = date.fromisoformat(expires) if expires else None
    then = freshness(last, day, Policy())
    if then and not then.in_date:  # only then does it matter what grace the firm gives
        then = freshness(last, day, lookups.known(session, offline=offline).policy)
    if lot.get("recalled"):
        click.echo(f"{name} IS RECALLED: do not use the rest of it.")
    elif then and then.in_date:
        click.echo(f"{dated}.")
    elif then and then.may_be_used:
        click.echo(f"{dated} has passed; your firm's limits let it be used until {then.usable_to}.")
    elif then:
        click.echo(f"{dated} HAS PASSED. Collect with another cassette as well, if you can.")


def _say_volume(data: dict[str, Any]) -> None:
    flow, volume = _mean(data), _volume(data)
    if data["kind"] == "blank":
        click.echo("Field blank: no air drawn.")
    elif flow is not None:
        click.echo(f"Volume {volume} L ({measures.rounded(flow, 2)} L/min for {data['run_s']} s).")
    else:
        click.echo("Volume unknown: no flow was read.")


def _mean(data: Mapping[str, Any]) -> Decimal | None:
    flows = [Decimal(data[name]) for name in ("flow_before", "flow_after") if name in data]
    return measures.mean_flow(flows[0], flows[-1]) if flows else None


def _volume(data: Mapping[str, Any]) -> Decimal | None:
    flow = _mean(data)
    return None if flow is None else measures.rounded(measures.volume_liters(flow, Decimal(data["run_s"])), 2)


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
    name = numbers.grouped(sample)
    named = [f for f in told["findings"] if f["severity"] in ("warn", "note") and name in f["sentence"]]
    show.findings([f for f in told["findings"] if f["about"] == sample or f in named])
