"""Numbers from a scanner that types and presses Enter, one after the other, and what ends them."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Collection, Iterator
from typing import TYPE_CHECKING, Any, Final

import click

from bailee.errors import BaileeError, Malformed
from bailee_cli.terminal import yes_no
from bailee_cli.terminal.options import ReadNumber, at_a_terminal

if TYPE_CHECKING:
    from bailee.asking.question import Ask
    from bailee.domain.numbers import Kind


class ScansEnd:
    """What ends the scans at a terminal, where an empty line may be a scanner's second Enter: the number
    counted by hand, which `count` asks for, or an empty line after as many as were `expected`; without one an
    empty line, which is asked back after one scan, or after fewer. Elsewhere an empty line ends them.
    """

    def __init__(self, count: Ask | None = None, expected: int | None = None) -> None:
        self._count, self._expected = count, expected
        self.question = ""
        self.is_counted, self.counted = False, None
        self.how = "then type how many you counted" if count else "an empty line ends"
        self.how += ", or an empty line for those counted before" if count and expected is not None else ""

    def comes(self, line: str, scanned: int) -> bool | None:
        """Whether this line ends so many scans; None where it is one more. What is asked instead of a scan is
        the `question`. Raises `Malformed` for an answer that is none.
        """
        if self._count and (_SHORTER if self.question else _COUNT).fullmatch(line):
            self.counted = self._count.read(line)
            self.is_counted = True
            return True
        if line and self.question:
            said = yes_no.means(line)
            self.question = "" if said is False else self.question
            return said
        if line:
            return None
        self.question = self.question or self._asks(scanned)
        return not self.question

    def _asks(self, scanned: int) -> str:
        """What is asked after an empty line; empty when that is the end."""
        if self._count and scanned and scanned != self._expected:
            return f"{self._count.question}: "
        few = scanned == 1 if self._expected is None else 0 < scanned < self._expected
        of = "" if self._expected is None else f" of {self._expected}"
        return f"End of the scans? {scanned} scanned{of} {yes_no.MAY}: " if few else ""


def is_scan(text: str, already: Collection[str]) -> str | None:
    """The number of one sample more, where a count was asked for; None for what may be a count. Raises
    `Malformed` for a label that cannot be read, and for one that was scanned `already`.
    """
    from bailee.domain import numbers

    if _SHORTER.fullmatch(text.strip()):
        return None
    number = numbers.read(text, "sample")
    if number in already:
        raise Malformed(f"{numbers.grouped(number)} was scanned already.", code="scanned-already")
    return number


_COUNT: Final = re.compile("[0-9]{1,3}")
"""A count, and no number on a label."""
_SHORTER: Final = re.compile(".{0,5}")
"""No number on a label is so short."""


def scan(
    kind: Kind, already: tuple[str, ...] = (), *, repeats: bool = False, ends: bool = True,
    end: ScansEnd | None = None, fits: Callable[[str], Any] | None = None,
) -> Iterator[str]:  # fmt: skip
    """Numbers from a scanner that types and presses Enter, until the `end`; `ends` says that there is one.

    A bad scan is said and costs nothing; so does one that does not fit, where somebody can be asked: `fits`
    raises for it.

    A number scanned again is said as well; it comes once more only where `repeats` are asked for.
    """
    from bailee.domain import numbers

    found, end = set(already), end or ScansEnd()
    if at_a_terminal() and kind == "sample" and ends:
        click.echo(f"Scan one sample after the other; {end.how}.", err=True)
    for line, number in _read(kind, found, end if ends else None, fits):
        end.question = ""
        if number in found:
            click.echo(f"{numbers.grouped(number)} was scanned already.", err=True)
            if repeats:
                yield number
            continue
        found.add(number)
        yield number if ends else ReadNumber.of(number, line)


def _read(
    kind: Kind, found: Collection[str], end: ScansEnd | None, fits: Callable[[str], Any] | None
) -> Iterator[tuple[str, str]]:
    """Each line that is a number beside those `found`, with it; without an `end` until nothing more comes."""
    from bailee.domain import numbers
    from bailee_cli.terminal import layout

    scanned, waiting = "scan: " if kind == "sample" else f"scan the {kind}: ", ""
    while True:
        asks = at_a_terminal()
        typed, waiting = waiting or _line(end.question or scanned if end else scanned), ""
        line = typed.strip()
        if not typed or (end and not (line or asks)):
            return
        try:
            is_end = end.comes(line, len(found)) if end and asks else None if line else False
            if is_end:
                return
            if is_end is False:
                continue
            number = numbers.read(line, kind)
            if asks and fits:
                fits(number)
        except BaileeError as error:
            layout.warn(error.sentence)
            continue
        if number not in found:
            waiting = _sent_together()
            click.echo(f"{len(found) + 1}: {numbers.grouped(number)}", err=True)
        yield line, number


def _line(question: str) -> str:
    """The next line, asked for at a terminal; what a program sent is shown as it would look."""
    if at_a_terminal():
        click.echo(question, nl=False, err=True)
        return sys.stdin.readline()
    line = sys.stdin.readline()
    if line.strip():
        click.echo(question, nl=False, err=True)
    return line


_TOGETHER_S: Final = 0.03
"""A scanner that ends with two Enters sends them together; a finger takes longer (common practice, no
source).
"""


def _sent_together() -> str:
    """The line that a scanner sent with the one before; empty when none came, or one without anything in it,
    which ends nothing.
    """
    import select

    if not (at_a_terminal() and select.select([sys.stdin], [], [], _TOGETHER_S)[0]):
        return ""
    line = sys.stdin.readline()
    return line if line.strip() else ""
