"""The inspector before the visit: where to sample, why, and how many cassettes to carry. Nothing is sent or signed."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import asdict, replace
from decimal import Decimal
from pathlib import Path
from typing import Any, Final, get_args

import click

from bailee.domain import cautions, flow
from bailee.domain.acts.form import Space
from bailee.domain.policy import COMMON_PRACTICE
from bailee.errors import Malformed
from bailee.planning import sampling_plan
from bailee.planning.sampling_plan import Place, Plan, Wishes
from bailee_cli import layout, show, thresholds
from bailee_cli.options import Whole, json_option
from bailee_cli.session import Session

_SIGNS: Final = {
    "g": "visible_growth",
    "l": "active_leak",
    "w": "past_moisture",
    "c": "complaint",
    "o": "musty_odour",
}
_HELP: Final = "g growth, l leak now, w wet before, c complaint, o musty odour; Enter for none"
_DO: Final = {"in question": "SAMPLE", "reference": "SAMPLE as reference", "not now": "not now", "left out": "leave out"}  # fmt: skip


@click.command("plan")
@click.argument("file", required=False, type=click.Path(dir_okay=False, allow_dash=True, path_type=Path))
@click.option("--indoor", type=Whole(1, 100), help="At most so many places indoors.")
@click.option("--visit-h", help="Hours the visit will take.")
@click.option("--blanks", type=Whole(0, 100), help="Field blanks, if more than your firm wants.")
@click.option("--duplicates", type=Whole(0, 100), help="Duplicates.")
@click.option("--offline", is_flag=True, help="Use the firm's thresholds as last seen, without a network.")
@json_option
@click.pass_obj
def plan_command(
    session: Session, file: Path | None, indoor: int | None, visit_h: str | None, blanks: int | None, duplicates: int | None,
    offline: bool,
) -> None:  # fmt: skip
    """Where to sample first and why, and how many cassettes to carry.

    FILE is a TOML or JSON list of places (- reads it from standard input); without one you are asked place by place. The list
    stays on this device. Ends with 1 when the list lacks something, such as a reference area.
    """
    places, wishes = sampling_plan.read(text_of(file)) if file else (list(_asked()), Wishes())
    given: dict[str, Any] = {"indoor": indoor, "blanks": blanks, "duplicates": duplicates}
    if visit_h is not None:
        given["visit_h"] = flow.decimal(visit_h, "length of the visit in hours", "4.5")
    wishes = replace(wishes, **{name: value for name, value in given.items() if value is not None})
    limits = thresholds.known(session, offline=offline)
    found = sampling_plan.plan(places, limits.policy, wishes)
    if session.json:
        count = asdict(found.cassettes) | {"total": found.cassettes.total}
        show.print_json(
            asdict(found)
            | {"cassettes": count, "thresholds": limits.whose, "cautions": [each.says for each in cautions.ON_SITE]}
        )  # fmt: skip
    else:
        _say(found, limits.whose)
    if found.lacking:
        raise click.exceptions.Exit(1)


def text_of(file: Path) -> str:
    """A file somebody wrote, or standard input for `-`. Raises `Malformed` when it is no text."""
    try:
        return sys.stdin.read() if str(file) == "-" else file.read_text("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise Malformed(f"{file} cannot be read as text.", code="no-file") from error


def _asked() -> Iterator[Place]:
    """Place by place, until a place without a name."""
    layout.warn(f"Signs of a place: {_HELP}.")
    while name := click.prompt("Place (Enter when done)", default="", show_default=False, err=True).strip():
        signs = click.prompt("  signs", default="", show_default=False, err=True, value_proc=_signs)
        hours = click.prompt("  hours a day people are there", default="0", err=True, value_proc=_hours)
        space = click.prompt("  space", default="conditioned", type=click.Choice(get_args(Space)), err=True)
        reason = None
        if space != "conditioned":
            choices = click.Choice(["none", *get_args(sampling_plan.Reason)])
            said = click.prompt("  reason to sample there all the same", default="none", type=choices, err=True)  # fmt: skip
            reason = None if said == "none" else said
        yield Place(name, **dict.fromkeys(signs, True), hours_a_day=hours, space=space, reason=reason)


def _signs(text: str) -> list[str]:
    unknown = sorted(set(text.lower()) - set(_SIGNS) - set(" ,"))
    if unknown:
        raise click.BadParameter(f"{unknown[0]!r} is no sign: {_HELP}.")
    return [_SIGNS[letter] for letter in text.lower() if letter in _SIGNS]


def _hours(text: str) -> Decimal:
    try:
        found = flow.decimal(text, "hours", "8")
    except Malformed as error:
        raise click.BadParameter(error.sentence) from error
    if not 0 <= found <= 24:
        raise click.BadParameter("A day has 24 hours.")
    return found


def _say(found: Plan, whose: str) -> None:
    rows = [(each.number, each.place, _DO[each.role], "\n".join(each.says)) for each in found.advice]
    show.table("Where to sample, in this order", ["", "place", "what to do", "why"], rows)
    for sentence in found.lacking:
        show.say(sentence, "MISSING: ", "  ")
    for note in found.notes:
        show.say(note, "", "  ")
    carry = found.cassettes
    parts = {
        "indoor": carry.indoor, "outdoor": carry.outdoor, "blank": carry.blanks, "duplicate": carry.duplicates,
        "spare": carry.spare,
    }  # fmt: skip
    listed = ", ".join(f"{count} {what}" for what, count in parts.items() if count)
    show.say(f"Carry {carry.total} cassettes: {listed}.")
    click.echo()
    click.echo(layout.told(cautions.in_words()))
    show.say(
        f"This order is {COMMON_PRACTICE}; complaint, non-complaint and outdoor sites: NIOSH Method 0800."
    )
    show.say(f"Thresholds: {whose}.")
