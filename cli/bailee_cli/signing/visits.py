"""What a person sees of the visit they speak about, and of what they are about to sign, before they do."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Final

import click
from click.core import ParameterSource

from bailee.domain import measures, numbers
from bailee.domain.acts.form import Held, Opened
from bailee.domain.acts.table import name_of
from bailee.presentation import words
from bailee.rules.wording import day
from bailee.signing import disclosures, signed_statement
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing.acts import spoken
from bailee_cli.terminal import layout, prompts, show
from bailee_cli.terminal.command_kinds import AskingCommand, asking
from bailee_cli.terminal.parameters import param_of

if TYPE_CHECKING:
    from bailee.asking.question import Ask
    from bailee_cli.device.outbox import Kept
    from bailee_cli.signing.acts import Act


def say(session: Session, acts: Sequence[Act]) -> None:
    """Show what will be signed by somebody who typed all of it and is not asked."""
    _listed(session, acts)


def agree(session: Session, acts: Sequence[Act]) -> None:
    """Show what will be signed by somebody who was asked for a part of it; a number changes that line.

    Ends the command with 1 for a no. Raises `ChangeLine`.
    """
    lines = _listed(session, acts)
    what = ", ".join(dict.fromkeys(show.words(each.act) for each in acts))
    if chosen := prompts.sign_or_change(what, lines):
        ask, shown = chosen
        raise prompts.ChangeLine(ask.member, shown)


def _listed(session: Session, acts: Sequence[Act]) -> list[tuple[Ask, str]]:
    """What will be signed, on one screen, and the question and text of each line that can be changed."""
    told = [(each, list(_lines(session, each))) for each in acts]
    wide = max((len(label) for _, lines in told for _, label, _ in lines), default=0)
    asks: list[tuple[Ask, str]] = []
    before: set[tuple[str, str]] = set()
    for act, lines in told:
        kind, _, number = act.chain.partition("/")
        is_visit, seen = kind == "form", session.seen.get(number)
        about = visit_line(session, number, seen) if is_visit else spoken(act.chain)
        layout.say(f"{about[:1].upper()}{about[1:]}", style="bold", err=True)
        new = [each for each in lines if each[1:] not in before]  # what all of them say is told once
        before.update(each[1:] for each in new)
        asks += prompts.numbered(new, wide, len(asks))
    return asks


_HIDDEN: Final = ("jwk", "proof", "policy", "lab_policy", "forms", "findings", "edition")
"""Of machines, or shown already."""
_OPENED_UP: Final = ("dock", "courier")
"""Members whose own members are lines of their own."""


_OLD_AND_NEW: Final = ("old", "new")
"""Of a correction: shown also where it is a no."""


def _lines(session: Session, act: Act) -> Iterator[tuple[Ask | None, str, str]]:
    """Each fact, with the question it answers, if it was asked."""
    private = {name: value for name, value in act.private.items() if value}
    if act.act == name_of(Held) and not act.data.get("samples"):
        yield None, "samples", _all_held(session, act.chain)
    for name, value in [*act.data.items(), *private.items()]:
        if value is None or value == [] or name in _HIDDEN:
            continue
        if (value is False and not (name in session.asks or name in _OLD_AND_NEW or _was_typed(name))) or (
            name == "count" and _is_whole(act.data)
        ):
            continue
        if name in _OPENED_UP and isinstance(value, Mapping):
            for inner, each in value.items():
                if each not in (None, []):
                    yield _line(session, inner, each)
        elif name == "items":
            for item in value:
                member = f"condition/{numbers.grouped(item['sample'])}"
                ask, _, text = _line(session, member, item["condition"])
                yield ask, numbers.grouped(item["sample"]), text
        else:
            yield _line(session, name, value)


def _all_held(session: Session, chain: str) -> str:
    """What stands for no numbers: those that this person holds, once all of it is on the ledger."""
    told = session.seen.get(chain.removeprefix("form/"))
    waits = any(each.chain == chain for each in session.outbox.unsettled("waiting"))
    return shown(cache.held(session, told)) if told and not waits else "all of it that you hold"


def _was_typed(member: str) -> bool:
    """Whether a no was said: --not-across-opening is a fact, an option that was left out is none."""
    param = param_of(member)
    source = click.get_current_context().get_parameter_source(str(param.name)) if param else None
    return source is ParameterSource.COMMANDLINE


def _is_whole(data: Mapping[str, Any]) -> bool:
    """Whether the count of the whole envelope is a line already."""
    return "total" in data or "dock" in data


def _line(session: Session, member: str, value: Any) -> tuple[Ask | None, str, str]:
    """A line, with the question that was asked for it, or that its option is."""
    ask: Ask | None = session.asks.get(member)
    label, text = fact(member, value)
    if ask:
        return ask, ask.label, ask.shown(value) if ask.tells(value) else text
    return _typed(session, member), label, text


def _typed(session: Session, member: str) -> Ask | None:
    """The question of the option that says a member, where the command can run anew with another value."""
    context = click.get_current_context()
    runs_anew = isinstance(context.command, AskingCommand) and session.was_asked
    param = param_of(member) if runs_anew else None
    if param is None:
        return None
    name = str(param.name)
    if asked := session.asks.get(name):
        return asked  # type: ignore[no-any-return]
    is_own = name in (member, "at") or f"--{member.replace('_', '-')}" in param.opts
    # An option of another name that was not typed did not say it: the ledger reckoned it.
    return asking(param) if is_own or context.params[name] is not None else None


_UNITS: Final = {"c": "°C", "h": "h", "hpa": "hPa", "pct": "%", "s": "s"}
"""By the end of a member's name."""


def fact(member: str, value: Any) -> tuple[str, str]:
    """A member and its value as people read them: `temperature_c` is in °C, `flow` in L/min."""
    name, _, end = member.rpartition("_")
    if name and end == "m" and isinstance(value, str):
        return show.words(name), measures.length_text(Decimal(value))
    if name and end in _UNITS and isinstance(value, str | int):
        return show.words(name), f"{value} {_UNITS[end]}"
    if "flow" in member.split("_") and isinstance(value, str):
        return show.words(member), f"{value} L/min"
    return show.words(member), shown(value)


def shown(value: Any) -> str:
    """A fact as people read it."""
    if value is None:
        return words.NOT_RECORDED
    if isinstance(value, Mapping):
        return "; ".join(f"{show.words(name)} {shown(each)}" for name, each in value.items())
    if isinstance(value, list | tuple):
        listed = ", ".join(map(shown, value))
        return f"{len(value)}: {listed}" if value and show.name(value[0]) != value[0] else listed
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = show.words(value) if re.fullmatch("[a-z_]+", str(value)) else str(value)
    return show.when(text) if len(text) > len("2026-12-01T09") and text[10:11] == "T" else show.name(text)


def visit_line(session: Session, form: str, seen: Mapping[str, Any] | None) -> str:
    """`Visit of Tue 1 Dec 2026, 12 Invented Lane (form F7K3 M9Q2 XF4P)`, as far as it is known."""
    known = cache.visit_of(session, form)
    site = (seen or {}).get("private", {}).get("site") or _site(session, form)
    of = f"Visit of {day(date.fromisoformat(known))}" if known else "Visit"
    return f"{of}{f', {site}' if site else ''} (form {numbers.grouped(form)})"


def _site(session: Session, form: str) -> str | None:
    """The address that this device said itself."""
    for kept in session.outbox.of_chains([f"form/{form}"]):
        if kept.act == name_of(Opened):
            return _private(kept).get("site")
    return None


def named_before(session: Session, member: str) -> list[str]:
    """What the visits that this device opened named of what is kept out of the log: `client` or `site`."""
    opened = [each for each in session.outbox.newest(_LAST) if each.act == name_of(Opened)]
    return [told for each in opened if (told := _private(each).get(member))]


_LAST: Final = 200
"""So many statements back."""


def _private(kept: Kept) -> Mapping[str, Any]:
    claims = signed_statement.read(kept.text).claims
    return disclosures.reveal(kept.disclosures, claims.private, claims.data)
