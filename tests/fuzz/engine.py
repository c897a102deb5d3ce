"""One parser's fuzzing: a case is drawn, run under a budget, and kept when it walks where none walked before.

Which lines are walked is seen by Python's own tracer, in one case of three, since it slows what it watches. A
case is what its number makes of the seeds and of what was kept, so that a run of a fixed number of cases is
the same everywhere.
"""

from __future__ import annotations

import hashlib
import signal
import sys
import traceback
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from types import CodeType, FrameType
from typing import Any, Final

from bailee.errors import BaileeError
from fuzz.mutate import mutate
from fuzz.parsers import CORPUS, PARSERS

BUDGET_S: Final = 20
"""Seconds of processor time for one case, which takes some thousandths: more is a hang."""

_OURS: Final = ("/bailee/", "/bailee_cli/")
_TRACED: Final = 3
_MOST_KEPT: Final = 400


class Hang(BaseException):
    """A case used up its time. No exception that a reader could catch."""


@dataclass
class Crash:
    """What went wrong, at which line of ours, and with what."""

    parser: str
    what: str
    where: str
    case: bytes
    told: str

    @property
    def name(self) -> str:
        """The same for the same fault."""
        return f"{self.parser}-{hashlib.sha256(f'{self.what}{self.where}'.encode()).hexdigest()[:10]}"


@dataclass
class Fuzzer:
    """One parser, its corpus, the lines it has walked."""

    name: str
    kept: list[bytes] = field(default_factory=list)
    executions: int = 0
    _walked: dict[CodeType, set[int]] = field(default_factory=dict)
    _open: dict[CodeType, set[int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.parser = PARSERS[self.name]
        self.kept = [*self.parser.seeds(), *stored(self.name)]

    def replay(self) -> Iterator[Crash]:
        """Seeds and corpus as they are."""
        for case in list(self.kept):
            self._new = False
            yield from self.run(case, traced=True)

    def step(self, number: int) -> Iterator[Crash]:
        """The case of this number."""
        random = Random(f"{self.name}/{number}")
        begin = random.choice(self.kept[-40:] if random.random() < 0.3 else self.kept)
        case = mutate(begin, random, self.kept)
        self._new = False
        yield from self.run(case, traced=number % _TRACED == 0)
        if self._new and len(case) < 60_000:
            self.kept.append(case)
            if len(self.kept) > _MOST_KEPT:
                del self.kept[random.randrange(len(self.kept) // 2)]

    def run(self, case: bytes, *, traced: bool = False) -> Iterator[Crash]:
        """Run one case; what went wrong."""
        self.executions += 1
        try:
            with _budget(), warnings.catch_warnings():
                warnings.simplefilter("ignore")  # of libraries, about what they will refuse one day
                if traced:
                    sys.settrace(self._call)
                try:
                    self.parser.read(case)
                finally:
                    sys.settrace(None)
        except BaileeError:
            pass
        except KeyboardInterrupt:
            raise
        except BaseException as error:  # noqa: BLE001 - anything else is what is looked for
            yield Crash(
                self.name,
                type(error).__name__,
                _where(error),
                case,
                "".join(traceback.format_exception(error))[-6000:],
            )

    def _call(self, frame: FrameType, event: str, argument: Any) -> Callable[..., Any] | None:
        del event, argument
        code = frame.f_code
        left = self._open.get(code)
        if left is None:
            ours = any(part in code.co_filename for part in _OURS) and "/tests/" not in code.co_filename
            left = {line for *_, line in code.co_lines() if line} if ours else set()
            self._open[code] = left
        return self._line if left else None

    def _line(self, frame: FrameType, event: str, argument: Any) -> Callable[..., Any]:
        del event, argument
        left = self._open[frame.f_code]
        if frame.f_lineno in left:
            left.discard(frame.f_lineno)
            self._new = True
        return self._line

    _new: bool = False


def stored(name: str) -> list[bytes]:
    """What `corpus/` keeps for a parser."""
    return [path.read_bytes() for path in sorted((CORPUS / name).glob("*"))]


def _where(error: BaseException) -> str:
    """The deepest lines of ours on the way to it."""
    frames = [
        f"{Path(frame.filename).name}:{frame.name}:{frame.lineno}"
        for frame in traceback.extract_tb(error.__traceback__)
        if any(part in frame.filename for part in _OURS) and "/tests/" not in frame.filename
    ]
    return " < ".join(reversed(frames[-2:]))


@contextmanager
def _budget() -> Iterator[None]:
    if not hasattr(signal, "setitimer"):
        yield
        return

    def stop(*_: object) -> None:
        raise Hang

    before = signal.signal(signal.SIGVTALRM, stop)
    signal.setitimer(signal.ITIMER_VIRTUAL, BUDGET_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        signal.signal(signal.SIGVTALRM, before)
