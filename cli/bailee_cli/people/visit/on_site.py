"""The inspector on site, beside the cassettes: the flow of a pump checked for several runs, the air as it was
read, a building that changed, and why no outdoor control was possible.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from bailee.asking import run_slips, visit_slips, visit_steps, written
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import (
    BuildingChanged,
    Collected,
    ConditionsRead,
    OutdoorRuledOut,
    PumpChecked,
)
from bailee.domain.acts.table import name_of
from bailee.domain.facts import choices
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import earlier_runs, pictures, submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import prompts
from bailee_cli.terminal.command_kinds import OnVisitCommand
from bailee_cli.terminal.done_times import done
from bailee_cli.terminal.options import (
    Number,
    Written,
    act_options,
    anyway_option,
    note_option,
    present,
    time_options,
)


class _CheckPumpCommand(OnVisitCommand):
    """Where a flow was read on the visit already, Enter is the meter of then."""

    def usual(self, ctx: click.Context, param: click.Parameter) -> str | None:
        """The flow meter used last."""
        if param.name != "meter" or not isinstance(ctx.obj, Session):
            return super().usual(ctx, param)
        form = ctx.obj.outbox.recall("form")
        read = [
            (each.get("at") or each["started"], each["meter"])
            for act in (PumpChecked, Collected)
            for each in earlier_runs.signed(ctx.obj, name_of(act))
            if each["form"] == form and each.get("meter")
        ]
        return str(max(read)[1]) if read else None


@click.command("check-pump", cls=_CheckPumpCommand)
@click.argument("pump")
@click.option("--meter", required=True, help="Flow meter number.")
@click.option("--flow", type=Written("flow"), required=True, help="Flow as read, L/min.")
@click.option(
    "--when",
    type=click.Choice(choices(form_acts.PumpChecked, "when")),
    required=True,
    help="Before, between or after the runs of the day.",
)
@click.option(
    "--through-cassette/--without-cassette",
    default=None,
    required=True,
    help="Was a cassette in the line?",
)
@click.option("--adjusted", is_flag=True, help="The pump was set for this reading.")
@click.option(
    "--temperature-c", type=Written("degrees_celsius"), help="Temperature at the check, degrees Celsius."
)
@click.option("--pressure-hpa", type=Written("hectopascals"), help="Air pressure at the check, hPa.")
@click.option("--flow-corrected", is_flag=True, help="The flow is corrected for temperature and pressure.")
@click.option("--timer", "timer_s", type=Written("run"), help="What the pump's own timer took, like 5:00.")
@click.option("--watch", "watch_s", type=Written("run"), help="The same by a watch.")
@click.option(
    "--form",
    "forms",
    multiple=True,
    type=Number("form"),
    help="Form of the visit. May be repeated, for all of the day.  [default: the form you worked on last]",
)
@note_option
@anyway_option
@time_options
@act_options
@click.pass_obj
def check_pump_command(
    session: Session, /, pump: str, forms: tuple[str, ...], note: str | None, at: str | None,
    zone: str | None, offline: bool, **said: Any,
) -> None:  # fmt: skip
    """Record the flow of PUMP, checked once for several runs.

    Cassettes collected without readings of their own take those of the nearest checks before and after them.
    """
    named = forms or (cache.current_form(session, None),)
    seen = cache.see(session, named, offline=offline)
    runs = [
        each
        for form in named
        for each in earlier_runs.known(session, form, seen.get(form))
        if each["form"] == form
    ]
    said = {"pump": pump, **said}
    again = prompts.typed_again(
        said,
        flow=written.flow,
        temperature_c=written.degrees_celsius,
        pressure_hpa=written.hectopascals,
        meter=str.strip,
        pump=str.strip,
    )
    prompts.settle(
        session, lambda: (*run_slips.pump_checked(said), *visit_slips.of_instruments(said, runs)), again
    )
    facts = said | {"adjusted": said["adjusted"] or None, "flow_corrected": said["flow_corrected"] or None}
    acts = []
    for number in named:
        when = done(session, name_of(PumpChecked), at, zone or cache.zone_of(session, number)).text()
        data = present({"pump": facts["pump"], "at": when, **facts})
        acts.append(Act(f"form/{number}", name_of(PumpChecked), data, {"note": note}))
    submit.act(session, *acts, offline=offline)


@click.command("read-conditions", cls=OnVisitCommand)
@click.argument("form", type=Number("form"), required=False)
@click.option(
    "--where",
    required=True,
    type=click.Choice(choices(form_acts.ConditionsRead, "where")),
    help="Indoors or outdoors.",
)
@click.option("--unit", help="Flat or building, where there are several.")
@click.option("--temperature-c", type=Written("degrees_celsius"), help="Degrees Celsius, or 68 F.")
@click.option("--humidity-pct", type=Written("decimal"), help="Relative humidity, %.")
@click.option("--pressure-hpa", type=Written("hectopascals"), help="Air pressure, hPa.")
@click.option("--rain-ended-h", type=Written("decimal"), help="Hours since rain ended, outdoors.")
@click.option("--instrument", help="Number of the instrument.")
@note_option
@anyway_option
@time_options
@act_options
@click.pass_obj
def read_conditions_command(
    session: Session, /, form: str | None, note: str | None, at: str | None, zone: str | None, offline: bool,
    **said: Any,
) -> None:  # fmt: skip
    """Record the air of FORM as you read it on site, by default that of the form you worked on last.

    Once indoors and once outdoors will do for a visit; again where it changed.
    """
    number = cache.current_form(session, form)
    cache.see(session, [number], offline=offline)
    asks = visit_steps.conditions(said["where"])
    if prompts.may_ask(session) and all(said[ask.member] is None for ask in asks):
        session.was_asked = True
        said |= {ask.member: prompts.answer(session, ask) for ask in asks}
    prompts.settle(
        session,
        lambda: run_slips.of_the_air(said),
        prompts.typed_again(said, temperature_c=written.degrees_celsius, pressure_hpa=written.hectopascals),
    )
    when = done(session, name_of(ConditionsRead), at, zone or cache.zone_of(session, number)).text()
    data = present({"at": when, **said})
    submit.act(session, Act(f"form/{number}", name_of(ConditionsRead), data, {"note": note}), offline=offline)


class _What(click.Choice[str]):
    """What changed; a former code is read as what is written now."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        return super().convert(form_acts.FORMERLY.get(value, value), param, ctx)


@click.command("report-change", cls=OnVisitCommand)
@click.argument("form", type=Number("form"), required=False)
@click.option("--what", required=True, type=_What(tuple(form_acts.BUILDING_STATES)), help="What changed.")
@click.option("--was", type=click.Choice(choices(form_acts.BuildingChanged, "was")), help="Before, if known.")
@click.option(
    "--now",
    type=click.Choice(choices(form_acts.BuildingChanged, "now")),
    help="From then on.  [default: asked]",
)
@click.option("--place", help="Where exactly, in words; kept out of the log.")
@note_option
@time_options
@act_options
@click.pass_obj
def report_change_command(
    session: Session, /, form: str | None, what: str, was: str | None, now: str | None, place: str | None,
    note: str | None, at: str | None, zone: str | None, offline: bool,
) -> None:  # fmt: skip
    """Record what changed in the building while you collected on FORM, by default the one you worked on last.

    Ventilation that was switched, windows that were opened, people who came: between a sample and its outdoor
    control it weakens the comparison (OC-18).
    """
    number = cache.current_form(session, form)
    cache.see(session, [number], offline=offline)
    if now is None:
        if was is None and prompts.may_ask(session):
            was = prompts.answer(session, visit_steps.building("was", what))
        now = prompts.answer(session, visit_steps.building("now", what))
    when = done(session, name_of(BuildingChanged), at, zone or cache.zone_of(session, number)).text()
    data = present({"at": when, "what": what, "was": was, "now": now})
    private = {"place": place, "note": note}
    submit.act(session, Act(f"form/{number}", name_of(BuildingChanged), data, private), offline=offline)


@click.command("rule-out-outdoor", cls=OnVisitCommand)
@click.argument("form", type=Number("form"), required=False)
@click.option(
    "--reason", required=True, type=click.Choice(choices(form_acts.OutdoorRuledOut, "reason")), help="Why."
)
@click.option(
    "--photo",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Bind this picture by its digest; keep the file.",
)
@click.option("--place", help="Where exactly, in words; kept out of the log.")
@note_option
@anyway_option
@time_options
@act_options
@click.pass_obj
def rule_out_outdoor_command(
    session: Session, /, form: str | None, reason: str, photo: Path | None, place: str | None,
    note: str | None, at: str | None, zone: str | None, offline: bool,
) -> None:  # fmt: skip
    """Record on site why no outdoor control can be collected for FORM, by default the one you worked on last.

    A second person then allows it with `bailee except OC-01`. Never go outdoors into lightning or a storm for
    a sample.
    """
    number = cache.current_form(session, form)
    seen = cache.see(session, [number], offline=offline).get(number)
    runs = [each for each in earlier_runs.known(session, number, seen) if each["form"] == number]
    prompts.settle(session, lambda: run_slips.outdoor_there(runs))
    data = {
        "at": done(session, name_of(OutdoorRuledOut), at, zone or cache.zone_of(session, number)).text(),
        "reason": reason,
        "photo": pictures.digest(photo) if photo else None,
    }
    private = {"place": place, "note": note}
    submit.act(
        session, Act(f"form/{number}", name_of(OutdoorRuledOut), present(data), private), offline=offline
    )
