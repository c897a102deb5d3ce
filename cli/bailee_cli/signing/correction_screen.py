"""A correction before it is signed: what is surely a slip of the act that it corrects is asked back, and what
stood there and what will stand are shown on one screen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from functools import cache as cache_once
from functools import partial
from typing import Any

from bailee.asking import run_slips, visit_slips, written
from bailee.asking.question import MINUTES_TO, Ask
from bailee.asking.slip import Slip, VisitSoFar
from bailee.domain import corrections
from bailee.domain.acts.form import Collected, Corrected
from bailee.domain.acts.table import name_of
from bailee.presentation import words
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import earlier_runs, visits
from bailee_cli.signing.choosing import Stated
from bailee_cli.terminal import prompts
from bailee_cli.terminal.command_kinds import asking
from bailee_cli.terminal.parameters import param_of

Change = tuple[Stated, Mapping[str, Any], Sequence[str]]
"""A statement, its facts as they would stand, and the names of those that are corrected."""
Take = Callable[[str, str], None]
"""Puts another text in the place of what was typed for a fact."""

_RUNS = ("run_s", "planned_s")


def settle(session: Session, changes: Callable[[], Sequence[Change]], take: Take, *, offline: bool) -> None:
    """Go on once no corrected fact is surely a slip. Raises `Malformed` ("slip") as `prompts.settle` does."""

    @cache_once
    def made_for(sample: str) -> Decimal | None:
        flow = (cache.lot_of(session, sample, offline=offline) or {}).get("nominal_flow")
        return Decimal(flow) if flow else None

    def found() -> Iterator[Slip]:
        for stated, data, fields in changes():
            form = stated.chain.removeprefix("form/")
            day = cache.visit_of(session, form)
            visit = VisitSoFar(date.fromisoformat(day) if day else None, cache.zone_of(session, form))
            reads_flow = stated.act == name_of(Collected) and any("flow" in each for each in fields)
            flow = made_for(data["sample"]) if reads_flow else None
            yield from run_slips.corrected(stated.act, data, fields, visit, flow, now=session.clock())
            if stated.act == name_of(Collected):
                others = earlier_runs.known(session, form, session.seen.get(form))
                yield from run_slips.corrected_beside(data, fields, form, others)
                yield from (each for each in visit_slips.among(data, form, others) if each.field in fields)

    names = {each for _, _, fields in changes() for each in fields}
    prompts.settle(session, found, {each: partial(_typed, take, each) for each in names})


def agree(
    session: Session, changes: Callable[[], Sequence[Change]], take: Take, settled: Callable[[], None],
    reason: str,
) -> str:  # fmt: skip
    """Show what stood and what will stand, and go on once it is signed for; the reason as it is then.

    Ends the command with 1 for a no.
    """
    ask_why, said = _why(), {"reason": reason}

    def title() -> list[str]:
        told = dict.fromkeys((each.chain.removeprefix("form/"), each.words) for each, _, _ in changes())
        return [f"{visits.visit_line(session, form, session.seen.get(form))}: {what}" for form, what in told]

    def rows() -> list[tuple[Ask | None, str, str]]:
        listed: list[tuple[Ask | None, str, str]] = []
        for stated, data, fields in changes():
            for field in fields:
                old, new = (_shown(field, corrections.value(each, field)) for each in (stated.data, data))
                ask = Ask(field, f"{field}, corrected", field)
                listed.append((ask, field, f"{old} becomes {new}"))
        return [*listed, (ask_why, ask_why.label, ask_why.shown(said["reason"]))]

    def again(ask: Ask, _shown: str) -> None:
        if ask == ask_why:
            said["reason"] = prompts.change(ask, said["reason"])
        else:
            prompts.typed_over(f"{ask.question}: ", partial(_typed, take, ask.member))

    prompts.review(title, rows, name_of(Corrected), again, settled)
    session.was_shown = True
    return said["reason"]


def why() -> str:
    """The reason of a correction, asked for."""
    reason: str = prompts.one(_why())
    return reason


def _why() -> Ask:
    param = param_of("reason")
    assert param is not None
    return asking(param)


def _typed(take: Take, field: str, text: str) -> None:
    """What is typed at the terminal for a fact; a run in minutes, as it is asked for on site."""
    take(field, f"{written.run(text, bare_minutes_to=MINUTES_TO)} s" if field in _RUNS else text)


def _shown(field: str, value: Any) -> str:
    return words.NOT_RECORDED if value is None else visits.fact(field.rpartition(".")[2], value)[1]
