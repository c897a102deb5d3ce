"""The inspector: one cassette, opened, run, covered."""

from __future__ import annotations

from contextlib import nullcontext
from typing import Any, get_args

import click

from bailee.asking import slips
from bailee.domain.acts import form as form_acts
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people.visit import carried_over, cassette_facts, interview, observations, run_told
from bailee_cli.people.visit.one_cassette import OneCassette
from bailee_cli.signing import expected_stops, scans, submit
from bailee_cli.signing.interrupted import Interrupted
from bailee_cli.terminal import layout, prompts
from bailee_cli.terminal.options import Number, Written, act_options, anyway_option, note_option
from bailee_cli.terminal.scanning import scan


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
@click.option(
    "--replaces", type=Number("sample"), help="The earlier sample in whose place this one is collected."
)
@click.option(
    "--replaces-form", type=Number("form"), help="Form of that.  [default: looked up by the number]"
)
@observations.cassette_options
@click.option("--typed", is_flag=True, help="The number was typed by hand.  [default: where it shows]")
@scans.anew_option
@note_option
@anyway_option
@act_options
@click.pass_obj
def collect_command(
    session: Session, /, sample: str | None, form: str | None, offline: bool, anew: bool, **said: Any
) -> None:
    """Record one cassette: opened, run, covered. The volume is computed from flow and time, never typed.

    At a terminal you are asked for what you leave out, and shown what will be signed. What you answered is
    kept until then: `bailee collect` with the same cassette goes on with it.
    """
    asks = prompts.may_ask(session) and not cassette_facts.is_told(sample, said)
    if not asks:
        prompts.require(sample=sample, kind=said["kind"], covers_on=said["covers_on"])
        said["run_s"] = said["run_s"] or 0  # a run that was not said is none, as ever
    form = cache.current_form(session, form)
    seen = cache.see(session, [form], offline=offline).get(form)
    said["replaces_form"] = cache.replaced_on(
        session, said["replaces"], said["replaces_form"], form, offline=offline
    )
    cassette = OneCassette(session, form, seen, said, offline=offline)
    if asks:
        cassette_facts.require(session, form, said)
        layout.say(cassette.title, style="bold", err=True)
        prompts.settle(session, lambda: slips.visit_closed(cassette.visit))
    sample = sample or next(scan("sample", ends=False))
    cassette.label(cassette.not_collected_yet(sample) if asks else sample)
    with scans.surviving(session, "collect", lambda: said["sample"]) if asks else nullcontext():
        if asks:
            begun = _begun(session, said, anew=anew)
            over = carried_over.on_visit(session, form, seen, cassette.visit.zone)
            interview.cassette(session, cassette, over, begun)
        else:
            cassette.settle()
            expected_stops.settle(session, lambda: cassette.expected()["stop"])
        kept = submit.perform(session, [cassette.act], offline=offline)
        if not session.json:
            day, is_recorded = cassette.start.local_date, kept[0].state == "registered"
            run_told.say(
                session, form, cassette.data, cassette.lot, day, is_recorded=is_recorded, offline=offline
            )
        submit.report(session, kept)


def _begun(session: Session, said: dict[str, Any], *, anew: bool) -> Interrupted:
    """What was answered about this cassette before, and is gone on with."""
    before = scans.of(session, "collect", said["sample"])
    if before and anew:
        scans.clear(session, "collect", before.about)
        before = None
    if before:
        scans.say(session, "collect", before)
    begun = Interrupted(session, "collect", said["sample"], before)
    said["ended"] = begun.ended
    return begun
