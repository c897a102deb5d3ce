"""The guides, typed: every block of `sh`, by the person it is for, in one invented firm and laboratory.

A block is typed as it stands. What a person reads elsewhere and types after `read -r NAME` (a label, a key
told on the telephone) is taken from the screen on which it stood. Only the port is another one, chosen by
the machine.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import urllib.request
from collections import defaultdict
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Final

from typed_commands import TypedCommands

FOLDER: Final = resources.files("bailee") / "guides"
ADDRESS: Final = "http://127.0.0.1:8765"
_PARTS: Final = re.compile(
    r"^## (?P<heading>[^\n]+)$|^```sh(?: ends with (?P<code>\d))?\n(?P<typed>.*?)^```$",
    re.MULTILINE | re.DOTALL,
)
_READING: Final = re.compile(r"(?<=\n)(?=read -r )")
_READ: Final = re.compile(r"\bread -r (\w+)")


@dataclass(frozen=True)
class Block:
    """What is typed in one go, under which heading of which guide, and how it ends."""

    guide: str
    heading: str
    number: int
    typed: str
    ends_with: int


def blocks(guide: str) -> list[Block]:
    """All of a guide, in order."""
    heading, found = "", []
    for each in _PARTS.finditer((FOLDER / f"{guide}.md").read_text("utf-8")):
        if each["heading"]:
            heading = each["heading"]
            continue
        for typed in _READING.split(
            each["typed"]
        ):  # what is read stands on the screen only after what comes before it
            found.append(Block(guide, heading, len(found), typed, int(each["code"] or 0)))
    return found


@dataclass
class Journey:
    """People at their devices: a folder each, and all that their screens have said."""

    typed: TypedCommands
    folder: Path
    port: int
    done: set[Block] = field(default_factory=set)
    known: dict[str, str] = field(default_factory=dict)
    said: dict[str, str] = field(default_factory=lambda: defaultdict(str))
    service: subprocess.Popen[str] | None = None

    def types(self, who: str, guide: str, heading: str, which: slice = slice(None)) -> str:
        """Somebody types what stands under a heading: what the screen said."""
        under = [each for each in blocks(guide) if each.heading == heading][which]
        assert under, f"{guide}.md has nothing to type under {heading!r}"
        return "".join(self._types(who, each) for each in under)

    def carries(self, file: str, who: str, to: str, name: str) -> None:
        """One person hands another a file."""
        shutil.copy(self.folder / who / file, self.folder / to / name)

    def reads(self, name: str, who: str, pattern: str, which: int = 0) -> str:
        """From now on `read -r NAME` is answered with what stood on somebody's screen."""
        found = re.findall(pattern, self.said[who], re.MULTILINE)
        assert found, f"{pattern!r} is not on the screen of {who}:\n{self.said[who]}"
        self.known[name] = found[which]
        return self.known[name]

    def shown(self, who: str, pattern: str, lines: int = 1) -> str:
        """What somebody reads aloud from `bailee key show` on their device; several lines as one."""
        said = self.typed.sh("bailee key show", self._own(who), self._device(who)).stdout
        found = re.findall(pattern, said, re.MULTILINE)[:lines]
        assert len(found) == lines, said
        return " ".join(found)

    def _own(self, who: str) -> Path:
        return self.folder / who

    def _device(self, who: str) -> dict[str, str]:
        own = self._own(who)
        return {"BAILEE_HOME": str(own / "device"), "HOME": str(own)}

    def _types(self, who: str, block: Block) -> str:
        own = self._own(who)
        own.mkdir(exist_ok=True)
        script = block.typed.replace(ADDRESS, f"http://127.0.0.1:{self.port}")
        home = self._device(who)
        self.done.add(block)
        if script.startswith("bailee serve"):
            self._serves(script, own, home)
            return ""
        answers = "".join(f"{self.known[name]}\n" for name in _READ.findall(script))
        kept = f".typed-{who}"
        keeping = f"set -a\ntouch {kept}\n. ./{kept}\n{script}export -p > {kept}\n"
        done = self.typed.sh(keeping, own, home, answers)
        self.said[who] += done.stdout
        assert done.returncode == block.ends_with, (
            f"{who} in {block.guide}.md, {block.heading!r}:\n{script}\n{done.stdout}"
        )
        return done.stdout

    def _serves(self, script: str, folder: Path, home: dict[str, str]) -> None:
        self.stops()
        self.service = self.typed.leave_open(script.strip(), folder, home)
        while not self._answers():
            assert self.service.poll() is None, (folder / "window.txt").read_text()

    def stops(self) -> None:
        """The operator ends the service."""
        if self.service:
            self.typed.end(self.service)
            self.service = None

    def _answers(self) -> bool:
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/health") as answer:
                return bool(answer.status == 200)
        except OSError:
            return False
