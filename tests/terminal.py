"""A real terminal for tests of the command line: a process of its own, a keyboard, a screen, and the town's
service on a port.

with served(town), Terminal(town.person("clerk"), "seal") as screen:
    screen.sees("scan: ")
    screen.types(CTRL_C)
    code, rest = screen.ends()
"""

from __future__ import annotations

import atexit
import os
import pty
import select
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from types import TracebackType
from typing import Self

from forked_commands import ForkedCommands
from hosts.listening import listening
from town import ADDRESS, Person, Town

CTRL_C = "\x03"
PATIENCE_S = 240


@cache
def commands() -> ForkedCommands:
    """The program, read once for all terminals and services of a process, until that ends."""
    found = ForkedCommands(everything=True)
    atexit.register(found.close)
    return found


@contextmanager
def served(town: Town) -> Iterator[str]:
    """The town's service on a port of this machine, and everybody's profile pointing there: its address."""
    with listening(town.app) as address:
        move(town, ADDRESS, address)
        try:
            yield address
        finally:
            move(town, address, ADDRESS)


def move(town: Town, before: str, after: str) -> None:
    """Let everybody look for the service elsewhere."""
    for person in town.people.values():
        profile = person.folder / "profile.toml"
        profile.write_text(profile.read_text().replace(before, after))


class Terminal:
    """One command at a terminal; with `full`, on a device where no file can grow any more."""

    def __init__(self, person: Person, *words: str, columns: int = 100, full: bool = False) -> None:
        self._keyboard, theirs = pty.openpty()
        self._screen = b""
        self._process = commands().at(
            os.ttyname(theirs),
            ["--as", person.name, *words],
            full=full,
            home=str(person.town.folder / "homes"),
            now=person.town.clock.now.isoformat(),
            environment={**os.environ, "TERM": "dumb", "COLUMNS": str(columns)},
        )
        os.close(theirs)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._process.send_signal(signal.SIGKILL)
        self._process.wait()
        os.close(self._keyboard)

    def types(self, text: str) -> None:
        """Press keys, once the process waits for them: a Ctrl-C between its prompt and its reading is seen
        only at the next key (POSIX read).
        """
        until = time.monotonic() + PATIENCE_S
        while not self._waits() and time.monotonic() < until:
            time.sleep(0.01)
        os.write(self._keyboard, text.encode())

    def _waits(self) -> bool:
        """Whether the process sleeps (proc(5): the state behind the name in brackets) or has ended.

        Elsewhere than on Linux, always.
        """
        try:
            stat = Path(f"/proc/{self._process.pid}/stat").read_text()
        except FileNotFoundError:
            return True
        return stat.rpartition(")")[2].split()[0] in "SZ"

    def sees(self, text: str) -> str:
        """Wait for this text, and give back everything up to its end; the rest is still to be seen."""
        until, awaited = time.monotonic() + PATIENCE_S, text.encode()
        while awaited not in self._screen:
            more = self._read(until)
            assert more, f"{text!r} never came; the screen shows:\n{self._shown()}"
            self._show(more)
        end = self._screen.index(awaited) + len(awaited)
        seen, self._screen = self._screen[:end], self._screen[end:]
        return seen.decode(errors="replace")

    def ends(self) -> tuple[int, str]:
        """Wait for the end: the exit code, and what was still to be seen."""
        until = time.monotonic() + PATIENCE_S
        while more := self._read(until):
            self._show(more)
        assert not self._asks(), f"it has not ended and waits for a key; the screen shows:\n{self._shown()}"
        return self._process.wait(), self._shown()

    def _show(self, more: bytes) -> None:
        """What comes may end within a line's end or a letter: it is read together with what comes next."""
        self._screen = (self._screen + more).replace(b"\r\n", b"\n")

    def _shown(self) -> str:
        return self._screen.decode(errors="replace")

    def _read(self, until: float) -> bytes:
        """What comes next; nothing at the end, when patience ends, and when nothing can come before a key."""
        while not select.select([self._keyboard], [], [], 0.25)[0]:
            if time.monotonic() > until or (
                self._asks() and not select.select([self._keyboard], [], [], 0)[0]
            ):
                return b""
        try:
            return os.read(self._keyboard, 65_536)
        except OSError:  # Linux: EIO when the other side has closed
            return b""

    def _asks(self) -> bool:
        """Whether the process sleeps in a read(2) of its keyboard (proc(5): number and first argument of the
        call). Elsewhere than on Linux, never.
        """
        try:
            call = Path(f"/proc/{self._process.pid}/syscall").read_text().split()
        except OSError:
            return False
        return call[:2] in (["0", "0x0"], ["63", "0x0"])  # of x86-64, of arm64
