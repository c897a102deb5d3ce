"""Text as wide as the screen: wrapped between words, never inside a number, a time, a measure or a command.

The width is that of the terminal; where there is none (a file, a pipe) it is `WITHOUT_TERMINAL`, so that a
program reads the same text every day. COLUMNS in the environment overrides both. What does not fit side by
side is told one below the other: there is no width at which a number is broken.
"""

from __future__ import annotations

import os
import re
import sys
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

import click

from bailee.domain import numbers
from bailee.domain.visible_text import visible

WITHOUT_TERMINAL: Final = 100
_NARROWEST: Final = 40
_UNKNOWN: Final = 80
"""A terminal may say that it has no columns at all (a serial line)."""
_WIDEST_PROSE: Final = 100
_LAST_COLUMN: Final = 28
"""The last column of a table may be wrapped while this many characters of it fit on a line."""
_LONG: Final = 30
"""Longer than this, a cell stands on a line of its own when columns do not fit."""
_KEPT: Final = "\N{NO-BREAK SPACE}"
_WHOLE: Final = re.compile(
    r"\b[SMFEC][0-9A-Z]{3} [0-9A-Z]{4} [0-9A-Z]{4}\b"  # a number as printed on its label
    r"|\b(?:[A-Z][a-z]{2} )?[0-9]{1,2} [A-Z][a-z]{2} [0-9]{4}\b"  # Fri 27 Nov 2026
    # 10:30 (-06:00)
    r"|\b(?:[0-9]{4}-[0-9]{2}-[0-9]{2} )?[0-9]{2}:[0-9]{2}(?::[0-9]{2})? \(?[+-][0-9]{2}:[0-9]{2}\)?"
    r"|\b[0-9]{4}-[0-9]{2}-[0-9]{2} [0-9]{2}:[0-9]{2}\b"
    r"|--statement [\w-]+"
    r"|\b[0-9.]+ (?:h|min|s|L/min|L|m|%|\N{DEGREE SIGN}C|hPa|days?)(?![\w])",
)
_COMMAND: Final = re.compile(r"`[^`\n]+`")
_BARE: Final = re.compile(r"(?<![\w/-])[SMFEC][0-9A-Z]{11}(?![\w-])")


def width() -> int:
    """Characters of a line."""
    said = os.environ.get("COLUMNS", "")
    if said.isdecimal() and int(said):
        return max(int(said), _NARROWEST)
    if sys.stdout.isatty():
        return max(os.get_terminal_size().columns or _UNKNOWN, _NARROWEST)
    return WITHOUT_TERMINAL


def plain(text: object) -> str:
    """Text as one may print it: what a sender put into a name cannot move the cursor or change the colors."""
    return visible(str(text), keep="\n")


def name(number: object) -> str:
    """A number as printed on its label; anything else as it is."""
    text = str(number)
    known = (
        len(text) == numbers.LENGTH
        and set(text) <= set(numbers.ALPHABET)
        and numbers.kind_of(text)
        and numbers.check_character(text[:-1]) == text[-1]
    )
    return numbers.grouped(text) if known else text


def grouped(text: str) -> str:
    """A sentence with every number in it as printed on its label.

    A command keeps the form in which it can be typed.
    """
    commands = _COMMAND.findall(text)
    rest = [_BARE.sub(lambda found: name(found[0]), part) for part in _COMMAND.split(text)]
    return "".join(part for pair in zip(rest, [*commands, ""], strict=True) for part in pair)


def wrapped(text: str, first: str = "", rest: str | None = None) -> list[str]:
    """Lines of at most the width of the screen (and of a page that reads well), each after its indent.

    Only what is longer than a line by itself, such as an address, goes beyond it.
    """
    return _filled(grouped(plain(text)), plain(first), rest)


def _filled(text: str, first: str, rest: str | None = None) -> list[str]:
    rest = " " * len(first) if rest is None else rest
    room = min(width(), _WIDEST_PROSE)

    def kept(found: re.Match[str]) -> str:
        return found[0].replace(" ", _KEPT) if len(found[0]) <= room - len(rest) else found[0]

    lines: list[str] = []
    for paragraph in text.split("\n"):
        indent = rest if lines else first
        if paragraph.strip() and len(indent) + len(paragraph) <= room:
            lines.append(indent + paragraph.rstrip(" "))
            continue
        whole = _COMMAND.sub(kept, _WHOLE.sub(kept, paragraph))
        lines += textwrap.wrap(
            whole, room, initial_indent=indent, subsequent_indent=rest, break_long_words=False,
            break_on_hyphens=False,
        ) or [""]  # fmt: skip
    return [line.replace(_KEPT, " ") for line in lines]


def told(text: str) -> str:
    """A text of many lines, each wrapped below its own indent and two columns further in."""
    lines = ((line.lstrip(), line[: len(line) - len(line.lstrip())]) for line in text.splitlines())
    return "\n".join(part for line, indent in lines for part in wrapped(line, indent, f"{indent}  "))


def say(text: str, first: str = "", rest: str | None = None, *, style: str = "", err: bool = False) -> None:
    """Print a paragraph."""
    for line in wrapped(text, first, rest):
        click.echo(painted(line, style), err=err)


def warn(text: str) -> None:
    """Say it beside the answer, on standard error."""
    line(text, err=True)


def line(text: str, *, err: bool = False) -> None:
    """Print one sentence or two: wrapped where somebody reads it, on one line where it goes into a file."""
    if (sys.stderr if err else sys.stdout).isatty() or "COLUMNS" in os.environ:
        say(text, err=err)
    else:
        click.echo(grouped(plain(text)), err=err)


def asked(question: str) -> str:
    """A question as wide as the screen, with room for what is typed after it."""
    return "\n".join(_filled(grouped(plain(question)) + _KEPT * len(" [y/N]: "), "")).rstrip()


def listed(first: str, parts: Iterable[str], last: str = "", *, room: int = 0) -> str:
    """Parts with commas between, after and before a text, as wide as the screen: no part is broken, and there
    is `room` for what is typed after it.
    """
    whole = ", ".join(plain(each).replace(" ", _KEPT) for each in parts)
    return "\n".join(_filled(f"{plain(first)}{whole}{plain(last)}{_KEPT * room}", "")).rstrip()


def painted(text: str, style: str) -> str:
    """Text in a style such as `bold red`, where colors are wanted.

    What is no terminal gets none from click.
    """
    if not style or "NO_COLOR" in os.environ:
        return text
    words = style.split()
    return click.style(text, bold="bold" in words or None, fg=next((w for w in words if w != "bold"), None))


def table(
    title: str, columns: Sequence[str], rows: Iterable[Sequence[object]], styles: Sequence[str] = ()
) -> None:
    """Rows side by side in columns when the screen is wide enough, otherwise one below the other.

    Columns without a cell are left out.
    """
    cells = [["" if each is None else name(plain(each)) for each in row] for row in rows]
    used = [n for n, _ in enumerate(columns) if not cells or any(row[n] for row in cells)]
    heads = [columns[n] for n in used]
    shown = [[row[n] for n in used] for row in cells]
    if title:
        say(title, style="bold")
    lines = _columns(heads, shown) if fits(heads, shown) else _blocks(heads, shown)
    for number, part in enumerate(lines):
        style = styles[number] if number < len(styles) else ""
        for line in part:
            click.echo(painted(line, style))


def facts(title: str, told: Iterable[tuple[str, object]]) -> None:
    """What is known of one thing: name and value, line by line; without a value, nothing."""
    pairs = [(label, "" if value is None else name(plain(value))) for label, value in told]
    wide = max((len(label) for label, value in pairs if value), default=0)
    say(title, style="bold")
    for label, value in pairs:
        if value:
            say(value, f"  {label:<{wide}}  ", " " * (wide + 4))


def _widths(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> list[int]:
    texts = [[head, *(row[n] for row in rows)] for n, head in enumerate(heads)]
    return [max(len(line) for text in column for line in text.split("\n")) for column in texts]


def fits(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> bool:
    """Whether these columns stand side by side on the screen."""
    *others, last = _widths(heads, rows) or [0]
    return sum(others) + 2 * (len(others) + 1) + min(last, _LAST_COLUMN) <= width()


def _columns(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[list[str]]:
    *others, last = _widths(heads, rows) or [0]
    start = 2 + sum(others) + 2 * len(others)
    if any(heads):
        line = "".join(f"{head:<{wide}}  " for head, wide in zip(heads, [*others, last], strict=True))
        click.echo(painted(f"  {line}".rstrip(), "bold"))
    for row in rows:
        lines = [cell.split("\n") for cell in row[:-1]]
        lines.append([line.strip() for line in wrapped(row[-1], " " * start)] if row and row[-1] else [""])
        yield [
            "  " + "  ".join(f"{cell[at] if at < len(cell) else '':<{wide}}"
                             for cell, wide in zip(lines, [*others, last], strict=True)).rstrip()
            for at in range(max(map(len, lines)))
        ]  # fmt: skip


def _blocks(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[list[str]]:
    """The first cell with all that stand before the first named one as a heading, short cells in a paragraph,
    long ones each in its own.
    """
    named = next((n for n, head in enumerate(heads) if head), 0)
    for row in rows:
        block = wrapped("  ".join(filter(None, row[: named + 1])), "  ")
        rest = [(head, cell) for head, cell in zip(heads, row, strict=True)][named + 1 :]
        short = [
            _labeled(head, cell).replace(" ", _KEPT)
            for head, cell in rest
            if cell and len(cell) <= _LONG and "\n" not in cell
        ]
        if short:
            block += _filled("; ".join(short), "    ")
        for head, cell in rest:
            if len(cell) > _LONG or "\n" in cell:
                block += wrapped(_labeled(head, cell), "    ", "      ")
        yield block


def _labeled(head: str, cell: str) -> str:
    return f"{head}: {cell}" if head else cell


def counted(number: int, one: str, many: str = "") -> str:
    """`1 warning`, `2 warnings`; `many` where an s is not enough."""
    return f"{number} {one if number == 1 else many or one + 's'}"
