"""What may be corrected and by whom, and whether a correction would count and leave a whole entry."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from bailee.asking import written
from bailee.domain import corrections, numbers, statements
from bailee.errors import BadStatement, Refused
from bailee_cli.device.session import Session
from bailee_cli.signing.choosing import Stated
from bailee_cli.terminal import show


def require_counts(stated: Stated, data: Mapping[str, Any], field: str) -> None:
    """Raise `Refused` when this person's correction would not be followed, or would change nothing."""
    fact = stated.fact(field)
    if fact.why_not:
        raise Refused(
            f"This correction of {field} ({stated.words}) would not count: {fact.why_not}. It needs"
            f" {fact.who}. Nothing was signed.",
            code="would-not-count",
            who=fact.who,
        )
    outer = field.partition(".")[0]
    if stated.data.get(outer) == data.get(outer):
        said = as_text(corrections.value(data, field))
        raise Refused(
            f"{field} ({stated.words}) has {said} already. Nothing was signed.", code="said-already"
        )


def require_whole(number: str, stated: Stated, data: Mapping[str, Any]) -> None:
    """Raise `BadStatement` when the statement could not stand like this.

    What else must be said of the same thing is named.
    """
    try:
        statements.parse(stated.chain, stated.act, written.as_signed(data))
    except BadStatement as error:
        at = [
            fault["at"].removeprefix("/data/").replace("/", ".")
            for fault in error.facts["errors"]
            if fault["says"] == "is missing"
        ]
        if not at:
            raise
        missing = " ".join(f"{name}=…" for name in at)
        raise BadStatement(
            f"{', '.join(at)} must be entered with it: add {missing} to the same `bailee correct {number}`."
            " Nothing was signed.",
            **error.facts,
        ) from error


def say_all(session: Session, number: str, found: Sequence[Stated]) -> None:
    """What may be corrected, statement by statement."""
    if session.json:
        show.print_json([each.as_json() for each in found])
        return
    if not found:
        show.say(f"No entry about {numbers.grouped(number)} was found that may be corrected.")
    for each in found:
        said = [fact for fact in each.facts if fact.value is not None]
        rows = [(fact.field, as_text(fact.value), fact.whom) for fact in said]
        show.table(
            f"{each.words[:1].upper()}{each.words[1:]}, --statement {each.mark}",
            ["fact", "in force", "may be corrected by"],
            rows,
        )
        for whom in dict.fromkeys(fact.whom for fact in each.facts if fact.value is None):
            names = [fact.field for fact in each.facts if fact.value is None and fact.whom == whom]
            show.say(f"Not entered, may be supplied by {whom}: {', '.join(names)}.", "  ")
    if numbers.kind_of(number) == "form":
        show.say("Facts of one cassette: give its number. Facts of an envelope alone: give the envelope's.")
    show.say(
        f"Correct one with `bailee correct {number} FACT=VALUE --reason …`; --act chooses the entry where"
        " several have it."
    )


def as_text(value: Any) -> str:
    """A value as it is written on a command line."""
    return json.dumps(value, ensure_ascii=False)
