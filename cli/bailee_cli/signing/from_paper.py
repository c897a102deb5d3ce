"""What is typed from a pen form by somebody else than its inspector: which sheet and line it stands on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Any, Final, TypeVar

import click

from bailee.asking import pen_sheet
from bailee.domain import statements
from bailee.domain.acts.form import Held, Received, Relinquished
from bailee.domain.acts.table import done_at, name_of
from bailee_cli.device.session import Session
from bailee_cli.signing.acts import Act

F = TypeVar("F", bound=Callable[..., Any])

_LINES: Final = {name_of(Held): "K", name_of(Relinquished): "N", name_of(Received): "N"}


def option(function: F) -> F:
    """`--sheet`, for what the last lines of a pen form hold."""

    def keep(ctx: click.Context, _param: click.Parameter, value: str | None) -> None:
        if value:
            form, page = pen_sheet.named(value)
            ctx.obj.sheet = pen_sheet.name(form, page)

    return click.option(
        "--sheet",
        expose_value=False,
        callback=keep,
        help="Pen form on which you wrote it, at the time of --at; with -2 its second page.",
    )(function)


def told(session: Session, acts: Sequence[Act]) -> Iterator[Act]:
    """The acts, each with the sheet that it was typed from, where one was named."""
    for each in acts:
        done = done_at(statements.parse(each.chain, each.act, each.data)) if session.sheet else None
        if done is None or each.act not in _LINES:
            yield each
        else:
            paper = {"sheet": session.sheet, "line": _LINES[each.act], "written_at": done.text()}
            yield replace(each, data={**each.data, "paper": paper})
