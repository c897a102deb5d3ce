"""What people see: tables and short lines, in the words of the trade. Other people's text is stripped of control characters."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from bailee.domain import numbers

_GRAVE: Final = {"block": "stops", "flag": "flag", "warn": "warning", "note": "note", "refuse": "refused"}
_STYLE: Final = {"block": "bold red", "refuse": "bold red", "flag": "red", "warn": "yellow", "note": ""}


def plain(text: object) -> str:
    """Text as one may print it: what a sender put into a name cannot move the cursor or change the colours."""
    return "".join(c if c.isprintable() or c == "\n" else "\N{REPLACEMENT CHARACTER}" for c in str(text))


def print_json(value: Any) -> None:
    """For programs: one JSON value, UTF-8."""
    sys.stdout.write(json.dumps(value, ensure_ascii=False, indent=2, default=str) + "\n")


def table(
    title: str, columns: Sequence[str], rows: Iterable[Sequence[object]], styles: Sequence[str] = ()
) -> None:
    """A table; `None` is shown as nothing."""
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

    grid = Table(header_style="bold")
    for column in columns:
        grid.add_column(column, overflow="fold")
    for number, row in enumerate(rows):
        style = styles[number] if number < len(styles) else ""
        grid.add_row(*[Text("" if cell is None else plain(cell), style=style) for cell in row])
    console = Console(file=sys.stdout, highlight=False)
    if not console.is_terminal:
        console.width = 140  # a file or a pipe has no edge to wrap at
    console.print(Text(plain(title), style="bold"), soft_wrap=True)
    console.print(grid)


def findings(found: Sequence[Mapping[str, Any]]) -> None:
    """What the rules found, the gravest first, each with what to do now."""
    if not found:
        sys.stdout.write("The rules found nothing to remark.\n")
        return
    rows = [
        (_GRAVE.get(f["severity"], f["severity"]), f["rule"], name(f["about"]), _found(f), f["remedy"])
        for f in found
    ]
    styles = [_STYLE.get(f["severity"], "") for f in found]
    table("Findings", ["", "rule", "about", "what was found", "what to do now"], rows, styles)


def verdicts(told: Sequence[Mapping[str, Any]]) -> None:
    """The four verdicts, each with what it does not cover."""
    rows = [(v["area"], v["state"], v["sentence"], " ".join(v["not_checked"])) for v in told]
    table("Verdicts", ["", "state", "", "not checked"], rows)


def name(number: object) -> str:
    """A number as printed on its label; anything else as it is."""
    text = str(number)
    known = (
        len(text) == numbers.LENGTH
        and numbers.kind_of(text)
        and numbers.check_character(text[:-1]) == text[-1]
    )
    return numbers.grouped(text) if known and set(text) <= set(numbers.ALPHABET) else text


def when(moment: object) -> str:
    """RFC 3339 text as people read it, with the offset of the clock: `2026-12-01 09:05 -05:00`."""
    text = "" if moment is None else str(moment)
    day, _, clock = text.partition("T")
    return f"{day} {clock[:5]} {clock[-6:]}" if clock else text


def words(value: object) -> str:
    """A member of a fixed list as words: `crawl_space` → `crawl space`."""
    return "" if value is None else str(value).replace("_", " ")


def _found(finding: Mapping[str, Any]) -> str:
    return (
        f"{finding['sentence']} ({finding['excepted']})"
        if finding.get("excepted")
        else str(finding["sentence"])
    )
