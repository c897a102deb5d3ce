"""What stands on a sheet: asked column by column and kept until it is signed, or read from a file."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

from bailee.asking import pen_asked, pen_sheet
from bailee.asking.pen_sheet import Cell
from bailee.errors import Malformed
from bailee_cli.device.session import Session
from bailee_cli.signing import scans
from bailee_cli.terminal import layout, prompts, yes_no


class SheetAnswers:
    """The answers of one sheet, as they stand on paper. Raises `Malformed` for a file with other lines."""

    def __init__(self, session: Session, sheet: str, file: Path | None, *, anew: bool) -> None:
        self._session, self.sheet, self.is_file = session, sheet, file is not None
        self.numbers = pen_sheet.numbers_of(pen_sheet.named(sheet)[1])
        self.known: dict[str, Callable[[], str]] = {}
        self._said: dict[str, dict[str, str]] = {}
        self._listed: set[str] = set()
        if file:
            self._said = _read_file(file, pen_sheet.order(pen_sheet.named(sheet)[1]))
            return
        before = scans.of(session, "enter-paper", sheet)
        if before and anew and self._forgets(before):
            scans.clear(session, "enter-paper", sheet)
        elif before:
            scans.say(session, "enter-paper", before)
            for name, text in before.besides.items():
                line, _, column = name.removeprefix(scans.ANSWERED).partition("/")
                self._said.setdefault(line, {})[column] = text
            self._open_end()

    def _forgets(self, before: scans.Begun) -> bool:
        """Whether what was answered is to be forgotten; where nobody can be asked it is."""
        told = f"--anew forgets what was typed of sheet {self.sheet}: {before.told}. Forget it?"
        return not prompts.may_ask(self._session) or yes_no.asked(told)

    def _open_end(self) -> None:
        """That there are no more cassettes is asked again of a sheet that is gone on with, and so is a count
        that was not theirs.
        """
        ends = [line for line, said in self._said.items() if line in self.numbers and not said.get("sample")]
        for line in ends:
            del self._said[line]
        counted = self._said.get("M", {})
        if ends and counted.get("count", "").strip() != str(len(self.cassettes())):
            counted.pop("count", None)

    @staticmethod
    def example(page: int) -> str:
        """A file with the columns of every line of a page, in which what stands on the sheet is typed."""
        first = pen_sheet.numbers_of(page)[0]
        told = [
            "# One row for each line of the sheet: its letter or number, then its columns in their order.",
            *(
                f"# {line},{','.join(cell.column for cell in pen_sheet.cells(line))}"
                for line in (*pen_sheet.HEAD, first, *pen_sheet.FOOT)
            ),
            *(f"{line}{',' * len(pen_sheet.cells(line))}" for line in pen_sheet.order(page)),
        ]
        return "\n".join(told)

    def filled(self) -> list[str]:
        """The lines on which something stands."""
        return [line for line, said in self._said.items() if any(text.strip() for text in said.values())]

    def cassettes(self) -> list[str]:
        """Those of them that are cassettes."""
        return [line for line in self.filled() if line in self.numbers]

    def sample_numbers(self) -> dict[str, str]:
        """What stands as sample number on each of them, by line."""
        return {line: self._said[line].get("sample", "") for line in self.cassettes()}

    def standing(self, line: str) -> Mapping[str, str]:
        """What stands on a line, as far as it is known."""
        return self._said.get(line, {})

    def begins(self, line: str) -> bool:
        """Whether there is such a cassette; asked by its number, and after an empty one there is none."""
        if self.is_file:
            return line in self.filled()
        earlier = [each for each in self.numbers if int(each) < int(line) and each in self._said]
        if earlier and not self._said[earlier[-1]].get("sample"):
            return False
        return bool(self._ask(line, pen_sheet.TABLE[0], more=" (Enter: no more cassettes)"))

    def to(self, line: str) -> Mapping[str, str]:
        """A line, with every column of it that is not known yet asked for."""
        cells = {cell.column: cell for cell in pen_sheet.cells(line)}
        while column := self._next(line):
            self._ask(line, cells[column])
        return self.standing(line)

    def _next(self, line: str) -> str | None:
        said = self.standing(line)
        wanted = [] if self.is_file else pen_asked.columns(line, said)
        return next((each for each in wanted if each not in said), None)

    def _ask(self, line: str, cell: Cell, *, more: str = "") -> str:
        said = self._said.setdefault(line, {})
        if cell.column not in said and not self.is_file:
            known = self.known.get(cell.column)
            self.put(line, cell.column, known() if known else self._typed(line, cell, more))
        return said.get(cell.column, "").strip()

    def again(self, line: str, column: str, *, out: str) -> bool:
        """Have a column typed once more; False for Enter, which leaves `out` what it says."""
        cell = next((each for each in pen_sheet.cells(line) if each.column == column), None)
        if cell is None:
            return False
        text = self._typed(line, cell, f" again (Enter: leave {out} out)")
        if text.strip():
            self.put(line, column, text)
        return bool(text.strip())

    def put(self, line: str, column: str, text: str) -> None:
        """Keep what was answered, now or once more."""
        self._said.setdefault(line, {})[column] = text
        besides = {
            f"{scans.ANSWERED}{letter}/{name}": each
            for letter, said in self._said.items()
            for name, each in said.items()
        }
        scans.keep(self._session, "enter-paper", self.sheet, (), besides)

    def _above(self, line: str) -> list[Mapping[str, str]]:
        """The rows of cassettes above a line that is one."""
        rows = self.numbers[: self.numbers.index(line)] if line in self.numbers else ()
        return [self.standing(each) for each in rows]

    def _typed(self, line: str, cell: Cell, more: str) -> str:
        ask = pen_asked.question(line, cell)
        ask = replace(ask, question=f"{ask.question}{more}")
        usual = None if more else pen_asked.usual(cell.column, self._above(line))
        if not self._listed:
            layout.warn(pen_asked.HOW)
        is_known = cell.column in self._listed
        self._listed.add(cell.column)
        take = partial(pen_asked.taken, cell)
        return str(prompts.one(ask, usual, keeps=usual is not None, is_known=is_known, take=take))


def _read_file(file: Path, lines: Sequence[str]) -> dict[str, dict[str, str]]:
    """The lines of a file. Raises `Malformed` ("bad-sheet-file")."""
    found: dict[str, dict[str, str]] = {}
    for row, cells in _rows(file):
        line, values = cells[0].strip().upper(), cells[1:]
        columns = [cell.column for cell in pen_sheet.cells(line)]
        if line not in lines:
            raise Malformed(
                f"Row {row} of {file}: this page has no line {line}, its lines are {', '.join(lines)}."
                " Nothing was signed.",
                code="bad-sheet-file",
                row=row,
            )
        if line in found or len(values) > len(columns):
            why = "stands there twice" if line in found else f"has at most {len(columns)} columns"
            raise Malformed(
                f"Row {row} of {file}: line {line} {why}. Nothing was signed.", code="bad-sheet-file", row=row
            )
        found[line] = dict(zip(columns, values, strict=False))
    return found


def _rows(file: Path) -> Iterator[tuple[int, list[str]]]:
    try:
        text = file.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise Malformed(
            f"{file} is no text in UTF-8: save it again as one.", code="bad-sheet-file"
        ) from error
    try:
        for row, cells in enumerate(csv.reader(io.StringIO(text)), 1):
            if cells and cells[0].strip() and not cells[0].startswith("#"):
                yield row, cells
    except csv.Error as error:
        raise Malformed(
            f"{file} cannot be read as a table ({error}): print one with --example and fill that in.",
            code="bad-sheet-file",
        ) from error
