"""What the firm asks the laboratory for: of all samples of a visit, or of some."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import click

from bailee.asking import office_slips, visit_steps, written_times
from bailee.domain import numbers as written_numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Requested
from bailee.domain.acts.table import name_of
from bailee.domain.facts import choices
from bailee.domain.moments import Moment
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import prompts
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.options import (
    Number,
    Written,
    act_options,
    anyway_option,
    note_option,
    one_form_option,
    present,
)


@click.command("request", cls=AskingCommand)
@click.argument("numbers", nargs=-1, type=Number())
@click.option("--analysis", help="What is to be done, like spore count.")
@click.option("--turnaround", help="How soon, like 2 days.")
@click.option("--due", type=Written("day"), help="Last day for the result, like 2026-12-07.")
@click.option("--purchase", help="Number of your purchase order.")
@click.option("--cost-center", help="Who pays for it in your firm.")
@click.option("--priority", type=click.Choice(choices(form_acts.Requested, "priority")))
@click.option("--bill-to", help="Who gets the bill; kept out of the log.")
@one_form_option
@note_option
@anyway_option
@act_options
@click.pass_obj
def request_command(
    session: Session, /, numbers: tuple[str, ...], form: str | None, bill_to: str | None, note: str | None,
    offline: bool, **said: Any,
) -> None:  # fmt: skip
    """Request an analysis of the laboratory, by when, and on whose account.

    NUMBERS are samples, an envelope (all in it) or a form: all of it, also what is collected later. Without
    any, the form you worked on last. What you leave out stays as it was requested before; the last word
    counts.
    """
    groups = _meant(session, numbers, form)
    cache.see(session, groups, offline=offline)
    if prompts.may_ask(session) and all(each is None for each in said.values()):
        session.was_asked = True
        said |= {ask.member: prompts.answer(session, ask) for ask in visit_steps.REQUEST}
    zone = cache.zone_of(session, next(iter(groups))) or "UTC"
    today = Moment.shown_in(session.now, zone).local_date
    again = prompts.typed_again(said, due=written_times.day)
    prompts.settle(session, lambda: office_slips.request_due(said["due"], today), again)
    private = {"bill_to": bill_to, "note": note}
    acts = [
        Act(f"form/{each}", name_of(Requested), present({"samples": list(samples) or None, **said}), private)
        for each, samples in groups.items()
    ]
    submit.act(session, *acts, offline=offline)


def _meant(session: Session, given: Sequence[str], form: str | None) -> dict[str, Sequence[str]]:
    """By form the samples that are meant; none: all of it."""
    if not given:
        return {cache.current_form(session, form): ()}
    whole = [each for each in given if written_numbers.kind_of(each) == "form"]
    named = [each for each in given if each not in whole]
    some = cache.by_form(session, named, form) if named else {}
    return {
        **{each: samples for each, samples in some.items() if each not in whole},
        **dict.fromkeys(whole, ()),
    }
