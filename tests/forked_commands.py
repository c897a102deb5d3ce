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
import gc
import importlib
import json
import os
import resource
import select
import signal
import subprocess
import sys
import time
import traceback
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any, NoReturn, Self


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
    """The process that has read the program; with `everything`, also what waits for its first use."""

    def __init__(self, *, everything: bool = False) -> None:
        words = [sys.executable, __file__, *(["everything"] if everything else [])]
        self._reader = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def run(self, words: list[str], said: Path) -> Running:
        """Start `bailee WORDS`; what it says is added to a file."""
        return Running(self, int(self.ask({"words": words, "said": str(said)})))

    def at(self, terminal: str, words: list[str], *, full: bool, **around: Any) -> Running:
        """Start `bailee WORDS` in a session of its own at a terminal, with a home, a time (`now`) and an
        environment that it is given; `full`: on a device where no file can grow any more.
        """
        asked = {"terminal": terminal, "words": words, "full": full, "folder": str(Path.cwd()), **around}
        return Running(self, int(self.ask(asked)))

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


def _serve(main: Callable[[], None]) -> None:
    """Do what each line says."""
    alive: set[int] = set()
    gc.freeze()  # nobody looks through what all share: what is looked through is copied
    for line in sys.stdin:
        asked = json.loads(line)
        if "ended" in asked:
            _, status = os.waitpid(asked["ended"], 0)
            alive.discard(asked["ended"])
            _answer(1, os.waitstatus_to_exitcode(status))
            continue
        pid = os.fork()
        if not pid:
            _run(main, asked)
        alive.add(pid)
    for each in alive:
        with contextlib.suppress(ProcessLookupError):
            os.kill(each, signal.SIGKILL)


def _run(main: Callable[[], None], asked: dict[str, Any]) -> NoReturn:
    """In the fork, which answers as soon as the files of the command are its own."""
    answers = os.dup(1)
    code = 1
    try:
        sys.argv[:] = ["bailee", *asked["words"]]
        program = _at_terminal(asked) if "terminal" in asked else _in_background(asked, main)
        _answer(answers, os.getpid())
        os.close(answers)
        code = code_of(program)
    finally:
        os._exit(code)


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
    import bailee_cli.people.operating.repairing
    import bailee_cli.people.operating.running
    from bailee_cli.main import main

    del alembic, httpx2, psycopg, sqlalchemy, bailee, bailee_cli
    return main


def read_everything() -> Callable[[], None]:
    """The same, with every command, what papers are made with and all that a first request brings in."""
    import fpdf
    import httpx2
    import PIL.ImageFont

    from bailee_cli.main import VERBS

    main = read_program()
    del fpdf, PIL
    httpx2.Client().close()
    for module in {module for verbs in VERBS.values() for module, _ in verbs.values()}:
        importlib.import_module(f"bailee_cli.{module}")
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


def _answer(where: int, number: int) -> None:
    os.write(where, f"{number}\n".encode())


def _in_background(asked: dict[str, Any], main: Callable[[], None]) -> Callable[[], None]:
    """A command in the background: it reads nothing, and everything it says goes into its file."""
    for target, path, how in (
        (0, os.devnull, os.O_RDONLY),
        (1, asked["said"], os.O_WRONLY | os.O_APPEND | os.O_CREAT),
    ):
        _open(target, path, how)
    os.dup2(1, 2)
    return main


def _at_terminal(asked: dict[str, Any]) -> Callable[[], None]:
    """The first terminal that a session opens is the one that Ctrl-C comes from."""
    from bailee_cli.device.session import Session
    from bailee_cli.main import bailee

    os.setsid()
    for target in range(3):
        _open(target, asked["terminal"], os.O_RDWR)
    sys.stdin = os.fdopen(0, "r", closefd=False)
    sys.stdout = os.fdopen(1, "w", closefd=False)
    sys.stderr = os.fdopen(2, "w", closefd=False, errors="backslashreplace")
    os.chdir(asked["folder"])
    os.environ.clear()
    os.environ.update(asked["environment"])
    time.tzset()
    # Whoever runs the tests in the background ignores Ctrl-C, and so would this.
    signal.signal(signal.SIGINT, signal.default_int_handler)
    if asked["full"]:  # writing fails as on a full disk (setrlimit(2): EFBIG, which stands in for ENOSPC)
        resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
    home, now = Path(asked["home"]), datetime.fromisoformat(asked["now"])
    return lambda: bailee(obj=Session(home=home, clock=lambda: now))


def _open(target: int, path: str, how: int) -> None:
    opened = os.open(path, how, 0o644)
    os.dup2(opened, target)
    os.close(opened)


if __name__ == "__main__":
    _serve(read_everything() if sys.argv[1:] else read_program())
