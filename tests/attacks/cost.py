"""What an answer costs, counted and not timed: lines of our program, and steps of SQLite's machine."""

from __future__ import annotations

import sqlite3
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import Any, Final

from sqlalchemy import event

import bailee
from field import Field

_OURS: Final = str(Path(bailee.__file__).parent)
_STEPS: Final = 20
"""SQLite's instructions from one count to the next (sqlite3_progress_handler)."""


@dataclass
class Cost:
    """Lines of our program, questions to the database, instructions of SQLite's machine (to the next
    `_STEPS`).
    """

    lines: int = 0
    questions: int = 0
    steps: int = 0


def of(field: Field, ask: Callable[[], Any]) -> Cost:
    """What the second of two equal questions costs, when everything that is kept in memory is there."""
    ask()
    found = Cost()
    with _database(field, found), _program(found):
        ask()
    return found


@contextmanager
def _program(found: Cost) -> Iterator[None]:
    def line(_: FrameType, what: str, __: object) -> Any:
        found.lines += what == "line"
        return line

    def call(frame: FrameType, _: str, __: object) -> Any:
        return line if frame.f_code.co_filename.startswith(_OURS) else None

    before = sys.gettrace()
    sys.settrace(call)
    try:
        yield
    finally:
        sys.settrace(before)


@contextmanager
def _database(field: Field, found: Cost) -> Iterator[None]:
    def step() -> int:
        found.steps += _STEPS
        return 0

    met: set[sqlite3.Connection] = set()

    def asked(_: Any, cursor: sqlite3.Cursor, *__: Any) -> None:
        found.questions += 1
        met.add(cursor.connection)
        cursor.connection.set_progress_handler(step, _STEPS)

    engine = field.ledger.database.engine
    event.listen(engine, "before_cursor_execute", asked)
    try:
        yield
    finally:
        event.remove(engine, "before_cursor_execute", asked)
        for each in met:
            each.set_progress_handler(None, 0)
