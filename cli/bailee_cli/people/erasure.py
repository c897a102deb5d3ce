"""Private fields: erase them for good, or keep them from being erased."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

import click

from bailee.domain import numbers
from bailee.domain.acts.privacy import RetentionHeld, RetentionReleased
from bailee.domain.acts.table import ERASING, name_of
from bailee.domain.facts import choices
from bailee.domain.statements import split_chain
from bailee.errors import Malformed
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import permission_asked, submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import piped
from bailee_cli.terminal.command_kinds import AskingCommand, NamingCommand
from bailee_cli.terminal.options import Number, act_options, note_option

_STATEMENT: Final = re.compile(r"[A-Za-z0-9_-]{43}")
"""The id of an entry: it may begin like a number, and is longer than any."""


@click.command("erase", cls=NamingCommand)
@click.argument("what", metavar="ENTRY_ID_OR_FORM")
@click.option(
    "--field",
    "fields",
    multiple=True,
    help="Only this private field, like client. Once for each.  [default: all]",
)
@click.option("--yes", is_flag=True, help="Erase without asking once more.")
@act_options
@click.pass_obj
def erase_command(session: Session, what: str, fields: tuple[str, ...], yes: bool, offline: bool) -> None:
    """Erase private fields that your organization wrote: of one entry, by its entry id (`bailee outbox`
    lists it), or of all its entries on a FORM.

    What is erased can never be shown or proven again; everything else still verifies. Backups keep it until
    they are replaced.
    """
    if offline:
        raise Malformed("What is to be erased must be looked up first: erase with a network.", code="offline")
    acts = []
    there: set[str] = set()
    for statement in _statements(session, what):
        told = session.service.get(f"/statements/{statement}")
        if told["organization"] != session.profile.org:
            continue
        there.update(told["private"])
        names = [name for name in told["private"] if not fields or name in fields]
        if names:
            data = {"statement": statement, "count": len(names)}
            acts.append(
                Act(
                    told["chain"],
                    ERASING[split_chain(told["chain"])[0]].name,
                    data,
                    {"fields": " ".join(names)},
                )
            )
            click.echo(f"{submit.spoken(told['chain'])}, entry {told['n']}: {', '.join(names)}", err=True)
    if there and not there.issuperset(fields):
        unknown, known = (", ".join(sorted(names)) for names in (set(fields) - there, there))
        raise Malformed(
            f"Nothing was erased: no private field {unknown} of yours is there, only {known}.",
            code="unknown-field",
            fields=sorted(there),
        )
    if not acts:
        click.echo("Nothing private of yours is there any more.", err=True)
        return
    for each in {each.chain: each for each in acts}.values():
        permission_asked.require(session, each.chain, each.act, each.data, offline=False)
    if not yes:
        piped.agree("Erase this for good?")
    submit.learn_heads(session, list(dict.fromkeys(each.chain for each in acts)))
    submit.act(session, *acts)


@click.command("retain", cls=AskingCommand)
@click.argument("form", type=Number("form"))
@click.option(
    "--reason", required=True,
    type=click.Choice([
        *choices(RetentionHeld, "reason"),
        *choices(RetentionReleased, "reason")[:-1],
    ]),
)  # fmt: skip
@click.option("--release", is_flag=True, help="It need not stay any longer, for your organization's sake.")
@note_option
@act_options
@click.pass_obj
def retain_command(
    session: Session, form: str, reason: str, release: bool, note: str | None, offline: bool
) -> None:
    """Keep the private fields of FORM from being erased, until your organization releases them.

    With them stay the names of who signed on it or on the lots of its samples, and to whom it was given.
    """
    cache.see(session, [form], offline=offline)
    act = name_of(RetentionReleased) if release else name_of(RetentionHeld)
    submit.act(session, Act(f"form/{form}", act, {"reason": reason}, {"note": note}), offline=offline)


def _statements(session: Session, what: str) -> Iterator[str]:
    """Ids of the statements meant."""
    if _STATEMENT.fullmatch(what):
        yield what
        return
    from bailee.ledger import entry as entries
    from bailee.signing import signed_statement

    form = numbers.read(what, "form")
    for each in session.service.get(f"/forms/{form}/bundle")["entries"]:
        entry = entries.read(each["entry"])
        if entry.chain == f"form/{form}":
            yield signed_statement.digest(entry.stmt)
