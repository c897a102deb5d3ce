"""How far long work has come, on standard error: a bar with an estimate where somebody looks, else lines.

Work that is done within `AFTER_S` says nothing. What works tells `Steps` (`verify.authorship`), and knows
nothing of screens. The bar is drawn by `rich`, which clients and servers have; without it, and in a pipe,
there are lines. Standard output is never written to, since programs read it.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from rich.progress import Progress

AFTER_S: Final = 2.0
"""Longer than this, and people wonder."""
_EVERY_S: Final = 10.0
"""From one line to the next, where there is no bar."""
_REDRAWN_S: Final = 0.1
"""From one drawing of a bar to the next."""


@contextmanager
def shown(what: str, clock: Callable[[], float] = time.monotonic) -> Iterator[Progressing]:
    """Show the progress of `what`, like `Checking entries`, for as long as the block lasts."""
    told = Progressing(what, clock)
    try:
        yield told
    finally:
        told.end()


@contextmanager
def waiting(what: str, after_s: float | None = None) -> Iterator[None]:
    """Show that the service still works on `what`, like `Drawing labels`, for as long as the block lasts.

    A service answers in one piece: the time that has passed is known, an estimate would be made up.
    """
    seen = sys.stderr.isatty()
    bars: list[Progress | None] = []

    def begin() -> None:
        bars.append(_bar(what, measured=False) if seen else None)
        if bars[0] is None:
            _said(f"{what}: the service is still at it.")

    timer = threading.Timer(after_s if after_s is not None else AFTER_S if seen else _EVERY_S, begin)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        timer.join()
        for bar in filter(None, bars):
            bar.stop()


class Progressing:
    """Takes what `Steps` take. Nothing is imported before there is something to show."""

    def __init__(self, what: str, clock: Callable[[], float]) -> None:
        self._what = what
        self._clock = clock
        self._bar: Progress | None = None
        self._began = clock()
        self._next = self._began + (AFTER_S if sys.stderr.isatty() else _EVERY_S)

    def __call__(self, done: int, in_all: int) -> None:
        """So many steps are done, of so many."""
        now = self._clock()
        if now < self._next or done >= in_all:
            return
        if self._bar is None and sys.stderr.isatty():
            self._bar = _bar(self._what)
        self._next = now + (_REDRAWN_S if self._bar else _EVERY_S)
        if self._bar:
            self._bar.update(self._bar.task_ids[0], completed=done, total=in_all, refresh=True)
        else:
            self._line(done, in_all, (now - self._began) / max(done, 1) * (in_all - done))

    def end(self) -> None:
        """Take the bar away."""
        if self._bar:
            self._bar.stop()

    def _line(self, done: int, in_all: int, left_s: float) -> None:
        left = f"{left_s:.0f} s" if left_s < 100 else f"{left_s / 60:.0f} min"
        _said(f"{self._what}: {done:,} of {in_all:,}, about {left} to go.")


def _said(line: str) -> None:
    from bailee_cli.terminal import layout

    layout.warn(line)


def _bar(what: str, *, measured: bool = True) -> Progress | None:
    """A bar that has begun, with an estimate where steps are counted; None where `rich` is not installed."""
    try:
        from rich import progress as drawn
        from rich.console import Console
    except ModuleNotFoundError:
        return None
    columns: list[drawn.ProgressColumn] = [drawn.TextColumn("{task.description}"), drawn.BarColumn()]
    columns += (
        [drawn.MofNCompleteColumn(), drawn.TimeRemainingColumn()] if measured else [drawn.TimeElapsedColumn()]
    )
    bar = drawn.Progress(
        *columns, console=Console(stderr=True), transient=True, auto_refresh=not measured,
        redirect_stdout=sys.stdout.isatty(),
    )  # fmt: skip
    bar.add_task(what, total=100 if measured else None)
    bar.start()
    return bar
