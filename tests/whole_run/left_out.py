"""What a run left out, and why, in the last line before pytest counts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Generator
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from _pytest.terminal import TerminalReporter


def sentence(skipped: list[tuple[str, str]]) -> str:
    """Reasons with the files they concern; `skipped` has the node and the reason of each."""
    if not skipped:
        return "Left out on this machine: nothing."
    by_reason: dict[str, list[str]] = defaultdict(list)
    for node, reason in skipped:
        by_reason[reason.removeprefix("Skipped: ")].append(node.partition("::")[0])
    told = (
        f"{len(files)} for {reason} ({', '.join(sorted(set(files)))})"
        for reason, files in sorted(by_reason.items())
    )
    return f"Left out on this machine: {'; '.join(told)}."


@pytest.hookimpl(wrapper=True, tryfirst=True)
def pytest_terminal_summary(terminalreporter: TerminalReporter) -> Generator[None]:
    """After everything else that pytest lists."""
    yield
    reports = terminalreporter.stats.get("skipped", [])
    # Skipped by a mark or by `pytest.skip`: file, line and reason. A test that is expected to fail has no
    # such three.
    said = [(each.nodeid, each.longrepr[2]) for each in reports if isinstance(each.longrepr, tuple)]
    terminalreporter.write_line(sentence(said))
