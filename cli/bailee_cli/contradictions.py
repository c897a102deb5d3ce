"""What was signed with the organisation's keys and refused because it contradicts them: what a second copy of a key leaves behind."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import click

from bailee.signing import signed_statement
from bailee_cli import clocks, show
from bailee_cli.options import json_option
from bailee_cli.session import Session

_ALL: Final = 500
_BEFORE: Final = (
    "Ask the holder whether the device was set back or copied. When it was not, somebody else has the key: end it with "
    "`bailee revoke {kid}`."
)
_AFTER: Final = "Nothing. The key had ended by then: no file, finding or verdict tells of this."


@click.command("contradictions")
@json_option
@click.pass_obj
def contradictions_command(session: Session) -> None:
    """Refused statements of your organisation's keys that contradict what the same key had said: somebody may have a copy of the key.

    Ends with 1 when a key that may still sign is among them, with 0 otherwise: a scheduler may call it.
    """
    found = session.service.get("/contradictions", limit=_ALL)["contradictions"]
    standing = [each for each in found if not each["after_end"]]
    if session.json:
        show.print_json({"contradictions": found})
    elif not found:
        show.say("No statement of your organisation's keys contradicts another.")
    else:
        show.say(
            f"{show.counted(len(found), 'contradiction', 'contradictions')}.",
            style="bold red" if standing else "bold",
        )
        for each in found:
            _say(session, each)
    if standing:
        raise click.exceptions.Exit(1)


def _say(session: Session, each: Mapping[str, Any]) -> None:
    act = signed_statement.read(each["statement"]).claims.act
    number = each["chain"].partition("/")[2]
    show.say(f"{each['person']}, statement {each['seq']}: {act}, {show.thing(number)}")
    show.say(show.when(each["recorded"], clocks.of_number(session, number) or "UTC"), "  refused  ")
    show.say(each["kid"], "  key      ")
    show.say(_AFTER if each["after_end"] else _BEFORE.format(kid=each["kid"]), "  do       ")
