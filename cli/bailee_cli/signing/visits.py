"""What a person sees of the visit they speak about, and of what they are about to sign, before they do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

import click

from bailee.domain import numbers
from bailee.domain.acts.form import Opened
from bailee.domain.acts.table import name_of
from bailee.errors import BaileeError
from bailee.rules.wording import day
from bailee.signing import disclosures, signed_statement
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing.acts import spoken
from bailee_cli.terminal import layout, prompts, show

if TYPE_CHECKING:
    from bailee_cli.signing.acts import Act


def agree(session: Session, acts: Sequence[Act]) -> None:
    """Show what will be signed by somebody who was asked for a part of it.

    Ends the command with 1 for a no.
    """
    for each in acts:
        kind, _, number = each.chain.partition("/")
        about = visit_line(session, number, None) if kind == "form" else spoken(each.chain).capitalize()
        layout.say(about, style="bold", err=True)
        told = [(name, value) for name, value in each.data.items() if value is not None]
        told += [(name, value) for name, value in each.private.items() if value]
        wide = max((len(show.words(name)) for name, _ in told), default=0)
        for name, value in told:
            layout.say(_shown(value), f"  {show.words(name):<{wide}}  ", " " * (wide + 4), err=True)
    what = ", ".join(dict.fromkeys(show.words(each.act) for each in acts))
    if not click.confirm(f"Sign: {what}?", default=None, err=True):
        prompts.give_up()


def _shown(value: Any) -> str:
    """A fact as people read it."""
    if isinstance(value, Mapping):
        return "; ".join(f"{show.words(name)} {_shown(each)}" for name, each in value.items())
    if isinstance(value, list | tuple):
        return ", ".join(map(_shown, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = str(value)
    return show.when(text) if len(text) > len("2026-12-01T09") and text[10:11] == "T" else show.name(text)


def say_visits(session: Session, groups: Mapping[str, Sequence[str]]) -> None:
    """Of which visits these samples are, form by form: site, day, and each number."""
    for form, samples in groups.items():
        try:
            told = cache.form(session, form)
        except BaileeError:
            told = None
        layout.say(visit_line(session, form, told), style="bold", err=True)
        for sample in samples:
            layout.say(numbers.grouped(sample), "   ", err=True)


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
            claims = signed_statement.read(kept.text).claims
            return disclosures.reveal(kept.disclosures, claims.private, claims.data).get("site")
    return None
