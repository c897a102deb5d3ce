"""Correcting one fact of what was signed: which entry is meant, what will count.

The value that stands there now comes from the ledger, and so does who may. Without a network only what this
device itself signed can be corrected, as it knows it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final

import click

from bailee.asking import written
from bailee.domain import corrections, numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Collected, Corrected
from bailee.domain.acts.table import ON_CHAIN, name_of
from bailee.domain.facts import choices
from bailee.domain.moments import Moment, offset_text
from bailee.errors import BaileeError, Malformed
from bailee.signing import signed_statement
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.people.amending.what_counts import as_text, require_counts, require_whole, say_all
from bailee_cli.signing import choosing, corrected_values, correction_screen, submit
from bailee_cli.signing.choosing import Stated
from bailee_cli.signing.correction_screen import Change
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, prompts, show, yes_no
from bailee_cli.terminal.command_kinds import NamingCommand
from bailee_cli.terminal.options import (
    Number,
    act_options,
    anyway_option,
    note_option,
)

_ACTS: Final = [act for act, row in ON_CHAIN["form"].items() if not row.fixed]
"""No time of day: nobody is asked on whose clocks it was read."""


@click.command("correct", cls=NamingCommand)
@click.argument("number", type=Number())
@click.argument("assignments", metavar="[FIELD=VALUE]...", nargs=-1)
@click.option(
    "--field", help="Fact to correct, like flow_after or weather.sky; the same as FIELD=VALUE with --new."
)
@click.option("--new", help="The corrected value; null for nothing.")
@click.option(
    "--reason", type=click.Choice(choices(form_acts.Corrected, "reason")), help="Why it is corrected."
)
@click.option(
    "--act",
    "act",
    type=click.Choice(_ACTS),
    help="Which entry about NUMBER. [default: the one that has the fact]",
)
@click.option("--statement", help="Which of several such entries: its entry number, or the start of its id.")
@note_option
@anyway_option
@act_options
@click.pass_obj
def correct_command(
    session: Session, number: str, assignments: tuple[str, ...], field: str | None, new: str | None,
    reason: str | None, act: str | None, statement: str | None, note: str | None, offline: bool,
) -> None:  # fmt: skip
    """Correct a fact of an earlier entry about NUMBER, a sample, form or envelope.

    The old value stays visible.

    Without FIELD=VALUE it lists what may be corrected, the values in force, and who may. Inner facts have
    dotted names, like preparation.windows_closed_h=12; several may be given at once.
    """
    if numbers.kind_of(number) == "lot":
        raise Malformed(
            "A lot's expiration date is corrected with `bailee lot expiry`; nothing else of a lot is.",
            code="is-a-lot",
        )
    wanted = _wanted(assignments, field, new)
    found = choosing.known(session, number, offline=offline)
    if not wanted:
        say_all(session, number, [each for each in found if act in (None, each.act)])
        return
    if reason is None and not prompts.may_ask(session):
        raise Malformed(
            f"Enter why, with --reason: {', '.join(choices(form_acts.Corrected, 'reason'))}. Nothing was"
            " signed.",
            code="no-reason",
        )

    def changes() -> list[Change]:
        return [
            made
            for chain in dict.fromkeys(each.chain for each in found) or ("",)
            for made in _changes(
                session, number, [e for e in found if e.chain == chain], wanted, act, statement
            )
        ]

    def take(field: str, text: str) -> None:
        before = list(wanted)
        wanted[:] = [(name, text if f".{field}".endswith(f".{name}") else was) for name, was in before]
        try:
            changes()
        except BaileeError:
            wanted[:] = before
            raise

    def settled() -> None:
        correction_screen.settle(session, changes, take, offline=offline)

    cache.see(session, [each.chain.removeprefix("form/") for each, _, _ in changes()], offline=offline)
    settled()
    wanted += _reckoned(session, number, found, wanted)
    settled()
    reason = reason or correction_screen.why()
    if prompts.may_ask(session):
        reason = correction_screen.agree(session, changes, take, settled, reason)
    else:
        _tell(session, changes())
    acts = [
        Act(stated.chain, name_of(Corrected), {**data, "reason": reason}, {"note": note})
        for change in changes()
        for stated, data in _corrections(change)
    ]
    submit.act(session, *acts, offline=offline)


def _wanted(assignments: Iterable[str], field: str | None, new: str | None) -> list[tuple[str, str]]:
    """Names and what they should have said, as typed."""
    if (field is None) != (new is None):
        raise Malformed("--field and --new go together: the fact, and its corrected value.", code="no-value")
    wanted = [] if field is None or new is None else [(field, new)]
    for each in assignments:
        name, is_given, text = each.partition("=")
        if not is_given:
            raise Malformed(
                f"Write the fact and its value as {name}=VALUE. Nothing was signed.", code="no-value"
            )
        wanted.append((name, text))
    return wanted


def _reckoned(
    session: Session, number: str, found: Sequence[Stated], wanted: Sequence[tuple[str, str]]
) -> list[tuple[str, str]]:
    """The start that goes with a corrected run, where it was reckoned back from it: asked at a terminal,
    elsewhere said.
    """
    runs = [text for name, text in wanted if name == "run_s"]
    if not runs or any(name == "started" for name, _ in wanted):
        return []
    own = {each.digest: each for each in session.outbox.newest(1000) if each.act == name_of(Collected)}
    stated = next((each for each in found if each.digest in own and number in each.names), None)
    if stated is None:
        return []
    try:
        run = written.run(runs[0])
    except BaileeError:
        return []  # it is refused below, with the name of the fact
    start = Moment.parse(stated.data["started"])
    signed = signed_statement.read(own[stated.digest].text).claims.iat
    if start.epoch_seconds + stated.data["run_s"] != signed or run == stated.data["run_s"]:
        return []
    meant = Moment.of(signed - run, offset_text(start.offset_minutes)).text()
    layout.warn(
        f"The start, {show.when(start.text())}, was computed back from a run that had just ended. With {run}"
        f" s it was {show.when(meant)}."
    )
    if prompts.may_ask(session):
        return [("started", meant)] if yes_no.asked("Correct the start too?") else []
    layout.warn(f"Not corrected with it: add started={meant} if that is so.")
    return []


def _changes(
    session: Session, number: str, found: Sequence[Stated], wanted: Sequence[tuple[str, str]],
    act: str | None, which: str | None,
) -> list[Change]:  # fmt: skip
    """What would stand on one form with the values of all that was typed."""
    changed: dict[str, tuple[Stated, dict[str, Any], list[str]]] = {}
    for name, text in wanted:
        stated, field = choosing.choose(number, found, name, act, which)
        value = corrected_values.meant(session, stated, field, text)
        _, data, fields = changed.get(stated.digest, (stated, dict(stated.data), []))
        changed[stated.digest] = (stated, corrections.with_value(data, field, value), [*fields, field])
    for stated, data, fields in changed.values():
        for field in fields:
            require_counts(stated, data, field)
        require_whole(number, stated, data)
    return list(changed.values())


def _tell(session: Session, changes: Iterable[Change]) -> None:
    """Say what becomes of what, where nobody is asked."""
    for stated, data, fields in changes:
        for field in fields:
            before, after = corrections.value(stated.data, field), corrections.value(data, field)
            click.echo(show.plain(f"{field}: {as_text(before)} becomes {as_text(after)}"), err=session.json)


def _corrections(change: Change) -> Iterator[tuple[Stated, dict[str, Any]]]:
    """What to sign of a change: one correction for each outermost fact."""
    stated, typed, fields = change
    data = written.as_signed(typed)
    for outer in dict.fromkeys(field.partition(".")[0] for field in fields):
        old, new = stated.data.get(outer), data.get(outer)
        yield stated, {"statement": stated.digest, "field": outer, "old": old, "new": new}
