"""What the rules find on a tidy visit after each step, and in each test of the hard scenarios, as text."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, Final

import pytest

from bailee.rules.registry import Finding, evaluate
from bailee.rules.verdicts import Verdict, verdicts
from bailee.verify.report_text import render_text

ROOT: Final = Path(__file__).resolve().parents[2]
SCENARIOS: Final = ROOT / "tests" / "journeys" / "test_hard_scenarios.py"
OPTIONS: Final = (
    "-qq",
    "--assert=plain",
    "-p",
    "no:randomly",
    "-p",
    "no:cacheprovider",
    "-c",
    str(ROOT / "pyproject.toml"),
)


def everywhere() -> Iterator[tuple[str, str]]:
    """By the name of a step or of a test, what was found."""
    sys.path.append(str(ROOT / "tests"))
    from builders import STEPS, visit

    for step in STEPS:
        case = visit(step).case()
        found = evaluate(case)
        yield f"tidy, {step}", f"{of(found)}\n{of(verdicts(case, found, records_state='complete'))}"
    heard = Heard()
    if pytest.main([*OPTIONS, str(SCENARIOS)], plugins=[heard]):
        raise SystemExit("The hard scenarios fail: mend them first.")
    yield from ((name, "\n\n".join(said)) for name, said in heard.by_test.items() if said)


def of(answer: Sequence[Finding | Verdict]) -> str:
    """Each finding with its remedy, each verdict with what was not checked."""
    return "\n".join(
        f"{each.severity} {each.rule} ({each.area}) {each.sentence}\n    {each.remedy}"
        if isinstance(each, Finding)
        else "\n    not checked: ".join((f"{each.area}: {each.state}. {each.sentence}", *each.not_checked))
        for each in answer
    )


class Heard:
    """What rules and verifier answer each test that asks them; a test that asks over HTTP hears nothing."""

    def __init__(self) -> None:
        self.by_test: dict[str, list[str]] = {}

    def pytest_collection_finish(self, session: pytest.Session) -> None:
        """Whatever a test asks is noted on the way back."""
        for module in {item.module for item in session.items}:  # type: ignore[attr-defined]
            for name, words in (("evaluate", of), ("verdicts", of), ("verify", render_text)):
                setattr(module, name, self._noted(getattr(module, name), words))

    def pytest_runtest_setup(self, item: pytest.Item) -> None:
        """The next test begins."""
        self.by_test[item.name.removeprefix("test_")] = []

    def _noted(self, asked: Callable[..., Any], words: Callable[[Any], str]) -> Callable[..., Any]:
        def noted(*told: Any, **more: Any) -> Any:
            answer = asked(*told, **more)
            self.by_test[next(reversed(self.by_test))].append(words(answer))
            return answer

        return noted
