"""What the rules find on a tidy visit after each step, on visits on which less usual acts are signed, and in
each test of the hard scenarios; and of those visits what is printed: as text.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from pprint import pformat
from typing import Any, Final

import pytest

from bailee.domain.acts.table import ROWS
from bailee.presentation.form_view import form_view
from bailee.rules.registry import Finding, evaluate
from bailee.rules.verdicts import Verdict, verdicts
from bailee.verify.report_text import render_text

ROOT: Final = Path(__file__).resolve().parents[2]
SCENARIOS: Final = ROOT / "tests" / "journeys" / "test_hard_scenarios.py"
_LATE: Final = "2026-12-08T16:30:00-06:00"
_PEN: Final = "2026-12-01T09:18:00-05:00"
_GONE: Final = "2026-12-09T09:00:00-06:00"
LESS_USUAL: Final[Sequence[tuple[str, Any, Sequence[tuple[str, Sequence[Any], Mapping[str, Any]]]]]] = (
    ("surfaces", "collected", [
        ("surface_collected", (), {}), ("surface_collected", ("swab",), {"area_cm2": ...}),
    ]),
    ("a cavity", "opened", [
        ("collected", (0,), {"cavity": {"tube": "new", "opening": "drilled"}, "height_m": ...}),
    ]),
    ("a request", "accepted", [
        ("requested", (), {"due": "2026-12-07", "priority": "rush", "said": "2026-12-03T09:00:00-05:00"}),
    ]),
    ("from paper", "opened", [
        ("collected", (0,), {"said": _LATE, "paper": {"sheet": "1", "line": "1", "written_at": _PEN}}),
    ]),
    ("a store", "accepted", [
        ("stored", (), {"keep_until": "2027-01-15"}), ("withdrawn", (), {"at": _LATE, "said": _LATE}),
        ("disposed", (), {"how": "destroyed", "at": _GONE, "said": _GONE}),
    ]),
    ("collected again", "collected", [("voided", (0,), {}), ("again", (), {})]),
    ("air and building", "collected", [
        ("conditions_read", (), {}), ("conditions_read", ("outdoors",), {}), ("building_changed", (), {}),
    ]),
)  # fmt: skip
"""By name: the step of a tidy visit, and what is signed after it."""
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
    yield from _less_usual()
    heard = Heard()
    if pytest.main([*OPTIONS, str(SCENARIOS)], plugins=[heard]):
        raise SystemExit("The hard scenarios fail: mend them first.")
    yield from ((name, "\n\n".join(said)) for name, said in heard.by_test.items() if said)


def _less_usual() -> Iterator[tuple[str, str]]:
    """Each story, with those of its acts that this version knows."""
    from builders import Story, visit

    for name, step, told in LESS_USUAL:
        story = visit(step)
        for act, given, said in told:
            if act == "again":
                story.lot(samples=1)
                story.collected(story.samples[-1], replaces=story.samples[0])
            elif act in ROWS and hasattr(Story, act):
                getattr(story, act)(*([story.samples[:2]] if act == "disposed" else given), **said)
        case = story.case(at="2026-12-20T12:00:00-06:00")
        found, form = evaluate(case), case.forms[story.form]
        judged = of(verdicts(case, found, records_state="complete"))
        shown = pformat(form_view(form, case), width=110)
        yield f"less usual, {name}", "\n\n".join((of(found), judged, shown))


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
