"""The inspector: one sample of a surface, by tape, swab, plate, cut out or vacuumed up; no air is drawn."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import click

from bailee.asking import run_slips, slips, surface_steps, written
from bailee.asking.slip import Slip
from bailee.domain import cautions, numbers
from bailee.domain.acts import surface as surface_acts
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.acts.table import name_of
from bailee.domain.facts import choices
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people.visit import run_told
from bailee_cli.people.visit.one_cassette import so_far
from bailee_cli.signing import earlier_runs, expected_stops, pictures, submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, prompts
from bailee_cli.terminal.command_kinds import OnVisitCommand
from bailee_cli.terminal.done_times import done
from bailee_cli.terminal.options import (
    Number,
    ReadNumber,
    Written,
    act_options,
    anyway_option,
    note_option,
    present,
    time_options,
)


def _choice(member: str) -> click.Choice[str]:
    return click.Choice(choices(surface_acts.SurfaceCollected, member))


@click.command("collect-surface", cls=OnVisitCommand)
@click.argument("sample", type=Number("sample", shows_hand=True))
@click.option("--form", "form", type=Number("form"), help="[default: the form you worked on last]")
@click.option("--medium", type=_choice("medium"), required=True, help="What it was taken with, or as.")
@click.option("--lot", type=Number("lot"), help="Lot of the tape, swab or plate.  [default: by its number]")
@click.option("--room", type=_choice("room"), help="Room.")
@click.option("--point", help="Point on the sketch, like P3.")
@click.option("--unit", help="Flat or building, where there are several.")
@click.option("--place", help="Where exactly, in words; never in the log.")
@click.option("--area", type=_choice("area"), help="Complaint area or not.")
@click.option("--material", type=_choice("material"), help="Of which material.")
@click.option("--surface", type=_choice("surface"), help="How the surface looked.")
@click.option("--area-cm2", type=Written("decimal"), help="Area lifted, wiped or vacuumed, square cm.")
@click.option("--mass-g", type=Written("decimal"), help="Mass cut out or vacuumed up, g.")
@click.option("--quantified/--presence", default=None, help="Is a count or mass asked for, or presence?")
@click.option("--wetted", type=_choice("wetted"), help="With what a swab was wetted.")
@click.option("--moisture-pct", type=Written("decimal"), help="Moisture of the material as read there, %.")
@click.option("--culture/--no-culture", default=None, help="Is it to be grown?")
@click.option("--label-on", type=_choice("label_on"), help="Where the label sticks.")
@click.option(
    "--photo",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Bind this picture by its digest; keep the file.",
)
@click.option(
    "--replaces", type=Number("sample"), help="The earlier sample in whose place this one is collected."
)
@click.option(
    "--replaces-form", type=Number("form"), help="Form of that.  [default: looked up by the number]"
)
@click.option("--typed", is_flag=True, help="The number was typed by hand.  [default: where it shows]")
@note_option
@anyway_option
@time_options
@act_options
@click.pass_obj
def collect_surface_command(
    session: Session, /, sample: str, form: str | None, lot: str | None, place: str | None, note: str | None,
    photo: Path | None, typed: bool, at: str | None, zone: str | None, offline: bool, **said: Any,
) -> None:  # fmt: skip
    """Record SAMPLE, taken from a surface: tape lift, swab, bulk material, contact plate or dust.

    At a terminal you are asked for what you leave out. No pump, volume or outdoor control is asked of it; the
    rest of its custody is that of a cassette. Local codes and your license come first: do not disturb growth
    to get a number.
    """
    form = cache.current_form(session, form)
    seen = cache.see(session, [form], offline=offline).get(form)
    said["replaces_form"] = cache.replaced_on(
        session, said["replaces"], said["replaces_form"], form, offline=offline
    )
    visit = so_far(session, form, seen)
    prompts.settle(session, lambda: slips.visit_closed(visit))
    sample, known = _label(session, sample, lot, offline=offline)
    if prompts.may_ask(session):
        _ask(session, said)
        runs = earlier_runs.known(session, form, seen)
        prompts.settle(
            session,
            lambda: run_slips.at_one_point({**said, "sample": sample}, form, runs),
            prompts.typed_again(said, point=written.point, room=surface_steps.SURFACE_ROOM.read),
        )
    by_hand = typed or getattr(sample, "by_hand", False)
    data = present(
        {
            "sample": str(sample),
            "lot": known["lot"] if known else None,
            "at": done(session, name_of(SurfaceCollected), at, zone or cache.zone_of(session, form)).text(),
            "entered": "typed" if by_hand else "scan",
            "photo": pictures.digest(photo) if photo else None,
            **{name: _told(said[name]) for name in said},
        }
    )
    if seen:
        expected_stops.settle(
            session, lambda: expected_stops.of(session, name_of(SurfaceCollected), form, data)["stop"]
        )
    private = {"place": place, "note": note}
    act = Act(f"form/{form}", name_of(SurfaceCollected), data, private)
    kept = submit.perform(session, [act], offline=offline)
    if kept[0].state == "registered" and not session.json:
        run_told.say_of_surface(session, form, str(sample))
    submit.report(session, kept)


def _label(
    session: Session, sample: str, lot: str | None, *, offline: bool
) -> tuple[str, Mapping[str, Any] | None]:
    """The label and its lot, if that is known; one of a box of cassettes is asked back before all else."""
    scanned = {"sample": sample}

    def known() -> Mapping[str, Any] | None:
        return {"lot": lot} if lot else cache.lot_of(session, str(scanned["sample"]), offline=offline)

    def found() -> Iterator[Slip]:
        flow = (known() or {}).get("nominal_flow")
        yield from slips.lot_of_another_kind(str(scanned["sample"]), flow, surface=True)

    def again(text: str) -> None:
        scanned["sample"] = click.get_current_context().params["sample"] = ReadNumber.of(
            numbers.read(text, "sample"), text
        )

    prompts.settle(session, found, {"sample": again})
    return scanned["sample"], known()


def _ask(session: Session, said: dict[str, Any]) -> None:
    """What is missing, one question at a time; before the first of them what to be careful of."""
    asks = [ask for ask in surface_steps.surface(said["medium"]) if said[ask.member] is None]
    if asks and not session.answered:
        click.echo(layout.told(cautions.in_words("Before you take it", cautions.SURFACE)), err=True)
    session.was_asked = session.was_asked or bool(asks)
    for ask in asks:
        said[ask.member] = prompts.answer(session, ask)


def _told(value: Any) -> Any:
    """An answer as the act says it: yes is true, and no is left out."""
    return {"yes": True, "no": None, False: None}.get(value, value)
