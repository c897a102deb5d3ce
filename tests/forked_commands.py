"""`bailee` commands as processes of their own that need not read the program again: forks of one process that
has read it.

    with ForkedCommands() as commands:
        running = commands.run(["serve", "--home", home, "--listen", where], said=file)
        running.send_signal(signal.SIGKILL)
        assert running.wait() == -signal.SIGKILL

To read the program takes seconds of computing, and a drill that kills a host thirty times would wait for
little else. Everything that a drill spoils is the process's own: memory, files, connections, signals. What
was started here ends with it.
"""

from __future__ import annotations

import contextlib
import json
import os
import select
import signal
import subprocess
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any, Self


class Running:
    """One command that was started."""

    def __init__(self, commands: ForkedCommands, pid: int) -> None:
        self.pid = pid
        self._commands = commands
        self._end = os.pidfd_open(pid)  # readable when the process has ended (pidfd_open(2))
        self._code: int | None = None

    @property
    def has_ended(self) -> bool:
        """Whether it has."""
        return self._code is not None or self._wait(0)

    def send_signal(self, which: signal.Signals) -> None:
        """Nothing when it has ended."""
        if not self.has_ended:
            signal.pidfd_send_signal(self._end, which)

    def wait(self) -> int:
        """Until it has ended: its exit code, or the signal that ended it, negative."""
        if self._code is None:
            self._wait(None)
            os.close(self._end)
            self._code = int(self._commands.ask({"ended": self.pid}))
        return self._code

    def _wait(self, milliseconds: int | None) -> bool:
        end = select.poll()
        end.register(self._end, select.POLLIN)
        return bool(end.poll(milliseconds))


class ForkedCommands:
    """The process that has read the program."""

    def __init__(self) -> None:
        self._reader = subprocess.Popen(
            [sys.executable, __file__], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def run(self, words: list[str], said: Path) -> Running:
        """Start `bailee WORDS`; what it says is added to a file."""
        return Running(self, int(self.ask({"words": words, "said": str(said)})))

    def ask(self, what: dict[str, Any]) -> str:
        """One line of JSON there, one line back."""
        assert self._reader.stdin
        assert self._reader.stdout
        self._reader.stdin.write(json.dumps(what) + "\n")
        self._reader.stdin.flush()
        return self._reader.stdout.readline()

    def close(self) -> None:
        """End it, and with it whatever it started."""
        self._reader.communicate()


def _serve() -> None:
    """Read the program, then do what each line says."""
    main = read_program()
    alive: set[int] = set()
    for line in sys.stdin:
        asked = json.loads(line)
        if "ended" in asked:
            _, status = os.waitpid(asked["ended"], 0)
            alive.discard(asked["ended"])
            _answer(os.waitstatus_to_exitcode(status))
            continue
        pid = os.fork()
        if not pid:
            _become(asked["said"])
            sys.argv[1:] = asked["words"]
            os._exit(code_of(main))
        alive.add(pid)
        _answer(pid)
    for each in alive:
        with contextlib.suppress(ProcessLookupError):
            os.kill(each, signal.SIGKILL)


def read_program() -> Callable[[], None]:
    """What every command needs, and what only some do: read now, it is read once."""
    import alembic.command
    import alembic.script
    import httpx2
    import psycopg
    import sqlalchemy.dialects.postgresql.psycopg

    import bailee.app
    import bailee.operations.repair
    import bailee.serving.connections
    import bailee_cli.people.operator
    import bailee_cli.people.repairing
    from bailee_cli.main import main

    del alembic, httpx2, psycopg, sqlalchemy, bailee, bailee_cli
    return main


def code_of(main: Callable[[], None]) -> int:
    """Run the command: its exit code. `os._exit` leaves out tidying up what this process only shares."""
    try:
        main()
        code = 0
    except SystemExit as ended:
        code = ended.code if isinstance(ended.code, int) else int(ended.code is not None)
    except BaseException:  # noqa: BLE001 — as the interpreter does
        traceback.print_exc()
        code = 1
    sys.stdout.flush()
    return code


def _answer(number: int) -> None:
    sys.stdout.write(f"{number}\n")
    sys.stdout.flush()


def _become(said: str) -> None:
    """A command in the background: it reads nothing, and everything it says goes into its file."""
    for target, path, how in (
        (0, os.devnull, os.O_RDONLY),
        (1, said, os.O_WRONLY | os.O_APPEND | os.O_CREAT),
    ):
        opened = os.open(path, how, 0o644)
        os.dup2(opened, target)
        os.close(opened)
    os.dup2(1, 2)


if __name__ == "__main__":
    _serve()
