"""How a person at a terminal is asked: one question at a time, choices by their number, a slip asked back.

Without a terminal nothing is ever asked. What is asked, and what is a slip, is decided below
(`bailee.asking`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING, NoReturn

import click

from bailee.errors import BaileeError, Malformed
from bailee_cli.device.session import Session
from bailee_cli.terminal import layout
from bailee_cli.terminal.options import at_a_terminal

if TYPE_CHECKING:
    from bailee.asking.slips import Slip

_YES = ("y", "yes")
_NO = ("n", "no")


def may_ask(session: Session) -> bool:
    """Whether somebody is there to be asked."""
    return at_a_terminal() and not session.json


def settle(
    session: Session,
    found: Callable[[], Iterable[Slip]],
    again: Mapping[str, Callable[[str], None]] | None = None,
) -> None:
    """Go on once nothing that is about to be signed is surely a slip: typed again, or said to be so.

    `found` tells the slips of what is said now; `again` takes another value of a member as typed. Raises
    `Malformed` ("slip") where nobody can be asked, with every slip in `facts["slips"]`.
    """
    stands: set[tuple[str, str, str]] = set()
    while rest := [each for each in found() if (each.code, each.field, each.said) not in stands]:
        if session.anyway:
            for each in rest:
                layout.warn(f"Signed all the same: {each.sentence}")
            return
        if not may_ask(session):
            told = " ".join(f"{each.sentence} {each.remedy}" for each in rest)
            raise Malformed(
                f"{told} Nothing was signed: mend it, or --anyway signs it all the same.",
                code="slip",
                slips=[each.as_data() for each in rest],
            )
        if _ask_back(rest[0], (again or {}).get(rest[0].field)):
            stands.add((rest[0].code, rest[0].field, rest[0].said))


def _ask_back(slip: Slip, again: Callable[[str], None] | None) -> bool:
    """Whether it is so as it was said; otherwise it was typed again. Ends the command with 1 for a no."""
    layout.warn(f"{slip.sentence} {slip.remedy}")
    like = f", like {slip.meant}" if slip.meant else ""
    question = f"Type it again{like}; or yes: it is so; or no" if again else "Is it so? (yes or no)"
    while True:
        answer = str(click.prompt(question, err=True)).strip()
        if answer.lower() in _YES:
            return True
        if answer.lower() in _NO:
            give_up()
        if again is None:
            continue
        try:
            again(answer)
        except BaileeError as error:
            layout.warn(error.sentence)
        else:
            return False


def give_up() -> NoReturn:
    """The person says no. Ends the command with 1."""
    layout.warn("Nothing was signed.")
    raise click.exceptions.Exit(1)
