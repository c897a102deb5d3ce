"""What an inspector may add to a visit or a cassette beyond the least: options, and the facts they become."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final, TypeVar

import click

from bailee.domain.acts import form as form_acts
from bailee.domain.facts import Facts, choices
from bailee.errors import Malformed
from bailee_cli.device.session import Session
from bailee_cli.signing import pictures
from bailee_cli.terminal.options import Whole, Written, moment, present

F = TypeVar("F", bound=Callable[..., Any])

_COPIED: Final = (
    "pump_stop",
    "timer_stop",
    "short_run",
    "temperature_c",
    "pressure_hpa",
    "label_on",
    "label_prints",
    "label_reprinted",
    "gps_distance_m",
    "near_m",
    "dust",
    "duplicate",
    "unit",
)


CAVITY: Final = ("opening", "tube", "tube_m", "tube_mm", "purge_s", "side")


def _choices(act: type[Facts], member: str) -> click.Choice[str]:
    """The codes a member may have, its `None` left out."""
    return click.Choice(choices(act, member))


def opening_options(function: F) -> F:
    """What `bailee open` may say about the preparation of the visit."""
    for option in reversed(_OPENING):
        function = option(function)
    return function


def cassette_options(function: F) -> F:
    """What `bailee collect` may say about label, place, pump and duplicates."""
    for option in reversed(_CASSETTE):
        function = option(function)
    return function


def opening(session: Session, zone: str, question: str | None, said: Mapping[str, Any]) -> dict[str, Any]:
    """Members of `opened` from these options."""
    license = present(
        {
            "jurisdiction": said["jurisdiction"],
            "number": said["license"],
            "valid_to": said["license_valid_to"],
        }
    )
    kit = present(
        {
            "cassettes": said["cassettes"],
            "indoor": said["indoor"],
            "outdoor": said["outdoor"],
            "blanks": said["blanks"],
        }
    )
    if license and "jurisdiction" not in license:
        raise Malformed("Enter where the license is valid, with --jurisdiction.", code="no-jurisdiction")
    if kit and not {"cassettes", "indoor"} <= kit.keys():
        raise Malformed("Enter what is carried and planned, with --cassettes and --indoor.", code="no-kit")
    return present(
        {
            "license": license or None,
            "kit": kit or None,
            "remediator": said["remediator"],
            "plan": said["plan"],
            "question_given": True if question else None,
            "visible_growth": said["visible_growth"],
            "growth_reason": said["growth_reason"],
            "notice_sent": moment(session, said["notice_sent"], zone).text() if said["notice_sent"] else None,
        }
    )


def cassette(session: Session, zone: str | None, said: Mapping[str, Any]) -> dict[str, Any]:
    """Members of `collected` from these options."""
    return present(
        {
            **{name: said[name] for name in _COPIED}, "serves": list(said["serves"]) or None,
            "flow_corrected": said["flow_corrected"] or None, "aggressive": said["aggressive"] or None,
            "photo": pictures.digest(said["photo"]) if said["photo"] else None,
            "cavity": present({name: said[name] for name in CAVITY}) or None,
            "stopped": moment(session, said["stopped"], zone).text() if said["stopped"] else None,
        }
    )  # fmt: skip


_OPENING: Final = (
    click.option(
        "--works-h-ago",
        type=Written("decimal"),
        help="Hours since painting, demolition or construction; leave out if none, or if it is not known.",
    ),
    click.option("--jurisdiction", help="Whose law applies at the site, like US-NY."),
    click.option("--license", help="Number of the license to sample there."),
    click.option("--license-valid-to", type=Written("day"), help="Its expiration date, like 2027-06-30."),
    click.option("--remediator/--no-remediator", default=None, help="Is your firm also the remediator here?"),
    click.option("--plan", help="Number of the sampling plan."),
    click.option("--cassettes", type=Whole(0), help="Cassettes in the kit."),
    click.option("--indoor", type=Whole(0), help="Planned indoors."),
    click.option("--outdoor", type=Whole(0), help="Planned outdoors.  [default: 1]"),
    click.option("--blanks", type=Whole(0), help="Planned as field blanks.  [default: 0]"),
    click.option("--notice-sent", help="When the preparation notice was sent, on the clocks of the site."),
    click.option("--visible-growth/--no-visible-growth", default=None, help="Is mold growth visible?"),
    click.option(
        "--growth-reason",
        type=_choices(form_acts.Opened, "growth_reason"),
        help="Why air is sampled all the same.",
    ),
)

_CASSETTE: Final = (
    click.option("--stopped", help="A scan at the end of the run, on the clocks of the site."),
    click.option(
        "--pump-stop", type=_choices(form_acts.Collected, "pump_stop"), help="Why the pump stopped by itself."
    ),
    click.option(
        "--timer-stop/--no-timer-stop",
        default=None,
        help="Did the pump's own timer end the run?",
    ),
    click.option(
        "--short-run", type=_choices(form_acts.Collected, "short_run"), help="Why the run was short."
    ),
    click.option(
        "--temperature-c",
        type=Written("degrees_celsius"),
        help="Temperature at the flow check, degrees Celsius.",
    ),
    click.option("--pressure-hpa", type=Written("hectopascals"), help="Air pressure at the flow check, hPa."),
    click.option(
        "--flow-corrected", is_flag=True, help="The flows are corrected for temperature and pressure."
    ),
    click.option(
        "--label-on", type=_choices(form_acts.Collected, "label_on"), help="Where the label sticks."
    ),
    click.option("--label-prints", type=Whole(0), help="How often this label was printed."),
    click.option(
        "--label-reprinted",
        type=_choices(form_acts.Collected, "label_reprinted"),
        help="Why it was printed again.",
    ),
    click.option(
        "--photo",
        type=click.Path(exists=True, dir_okay=False, path_type=Path),
        help="Record this picture by its digest; save the file.",
    ),
    click.option(
        "--gps-distance-m", type=Written("decimal"), help="Meters from the site, if the device measured it."
    ),
    click.option(
        "--near-distance", "near_m", type=Written("length"), help="Distance to the nearest thing in --near."
    ),
    click.option("--dust", type=_choices(form_acts.Collected, "dust")),
    click.option("--aggressive", is_flag=True, help="Surfaces were disturbed while it ran."),
    click.option(
        "--duplicate",
        type=_choices(form_acts.Collected, "duplicate"),
        help="How it duplicates --duplicate-of.",
    ),
    click.option("--unit", help="Apartment or building, like B or 2-4."),
    click.option(
        "--opening", type=_choices(form_acts.Cavity, "opening"), help="Cavity: how the tube got in."
    ),
    click.option(
        "--tube", type=_choices(form_acts.Cavity, "tube"), help="Cavity: the tube was new, cleaned, used."
    ),
    click.option("--tube-m", type=Written("length"), help="Cavity: length of the tube, like 0.6 m."),
    click.option("--tube-mm", type=Written("decimal"), help="Cavity: inner diameter of the tube, mm."),
    click.option(
        "--purge", "purge_s", type=Written("run"), help="Cavity: drawn before the cassette was on, like 10 s."
    ),
    click.option(
        "--side", type=_choices(form_acts.Cavity, "side"), help="Cavity: interior or exterior wall."
    ),
    click.option("--serves", multiple=True, help="Outdoors: a unit this control serves."),
)
