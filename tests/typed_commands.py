"""`bailee` as people type it into a shell, in a test that types hundreds of commands: it is read once.

    with TypedCommands(folder) as typed:
        done = typed.sh("bailee key new | tee key.txt", cwd, {"BAILEE_HOME": home})

The `bailee` on the path of these shells is a few lines that hand their words, folder, environment and open
files to a process that has read the program. That forks, and the fork is the command: what a shell sees of it
(output, exit code, signals) is what it would see of the real one.
"""

from __future__ import annotations

import ast
import contextlib
import gc
import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path
from typing import NoReturn, Self

from forked_commands import code_of, read_everything

SHIM = """#!{python} -ISE
import _signal, _socket, posix, sys
way = _socket.socket(_socket.AF_UNIX)
way.connect({address!r})
around = b"\\0".join(b"=".join(each) for each in posix.environ.items())
what = b"\\0\\0".join([repr(sys.argv[1:]).encode(), posix.getcwdb(), around])
files = b"".join(each.to_bytes(4, sys.byteorder) for each in range(3))
way.sendmsg([len(what).to_bytes(8, "big")], [(_socket.SOL_SOCKET, _socket.SCM_RIGHTS, files)])
way.sendall(what)
pid = int.from_bytes(way.recv(8), "big")
_signal.signal(_signal.SIGTERM, lambda *_: posix.kill(pid, _signal.SIGTERM))
posix._exit(int.from_bytes(way.recv(8) or b"\\1", "big"))
"""
"""Of modules that are part of the interpreter: to begin it with those of the library took twice as long."""


class TypedCommands:
    """Shells whose `bailee` begins at once. What was started in them and still runs ends with it."""

    def __init__(self, folder: Path) -> None:
        address = folder / "commands"
        shim = folder / "bin" / "bailee"
        shim.parent.mkdir()
        shim.write_text(SHIM.format(python=sys.executable, address=str(address)))
        shim.chmod(0o755)
        known = {name: value for name, value in os.environ.items() if not name.startswith("BAILEE_")}
        self._environment = known | {"PATH": f"{shim.parent}:{known['PATH']}"}
        self._reader = subprocess.Popen([sys.executable, __file__, address], stdout=subprocess.PIPE)
        assert self._reader.stdout
        self._reader.stdout.readline()  # it has read the program
        self._running: list[subprocess.Popen[str]] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for each in self._running:
            self.end(each)
        self._reader.kill()
        self._reader.communicate()

    def sh(
        self, script: str, folder: Path, more: dict[str, str], typed: str = ""
    ) -> subprocess.CompletedProcess[str]:
        """A script of a POSIX shell that ends at the first command that fails; what it says, in order."""
        return subprocess.run(
            ["sh", "-euc", script], cwd=folder, env=self._environment | more, input=typed, text=True,
            check=False, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        )  # fmt: skip

    def leave_open(self, script: str, folder: Path, more: dict[str, str]) -> subprocess.Popen[str]:
        """The same in a window of its own, until `end`."""
        with (folder / "window.txt").open("a") as said:
            window = subprocess.Popen(
                ["sh", "-euc", f"exec {script}"], cwd=folder, env=self._environment | more, text=True,
                stdin=subprocess.DEVNULL, stdout=said, stderr=subprocess.STDOUT,
            )  # fmt: skip
        self._running.append(window)
        return window

    @staticmethod
    def end(window: subprocess.Popen[str]) -> int:
        """As Ctrl-C or a service manager ends it: its exit code."""
        window.terminate()
        return window.wait()


def _serve(address: str) -> NoReturn:
    main = read_everything()
    gc.freeze()  # nobody looks through what all share: what is looked through is copied
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # nobody asks for the ends of forks: each tells its own
    door = socket.socket(socket.AF_UNIX)
    door.bind(address)
    door.listen(64)
    sys.stdout.write("ready\n")
    sys.stdout.flush()
    while True:
        way, _ = door.accept()
        size, files, _, _ = socket.recv_fds(way, 8, 3)
        with way.makefile("rb") as told:
            words, folder, around = told.read(int.from_bytes(size, "big")).split(b"\0\0", 2)
        if os.fork():
            way.close()
            for each in files:
                os.close(each)
            continue
        door.close()
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        for target, each in enumerate(files):
            os.dup2(each, target)
            os.close(each)
        os.chdir(folder)
        os.environ.clear()
        os.environb.update(each.split(b"=", 1) for each in around.split(b"\0"))  # type: ignore[misc]
        time.tzset()
        way.sendall(os.getpid().to_bytes(8, "big"))
        sys.argv[:] = ["bailee", *ast.literal_eval(words.decode())]
        code = code_of(main)
        with contextlib.suppress(OSError):
            way.sendall(code.to_bytes(8, "big"))
        os._exit(code)


if __name__ == "__main__":
    _serve(sys.argv[1])
