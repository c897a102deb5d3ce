"""How a run shares its tests out among processes; common practice, no source."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

from whole_run.whole_files import WholeFiles

COLLECTED = [
    "tests/api/test_a.py::test_one[sqlite]",
    "tests/api/test_a.py::test_one[postgresql]",
    "tests/page/test_agrees.py::test_one",
    "tests/store/test_b.py::test_two[postgresql-1]",
    "tests/rules/test_c.py::test_one",
    "tests/rules/test_c.py::test_two",
    "tests/verify/test_cases.py::test_one[a]",
    "tests/rules/test_d.py::test_one",
]


@dataclass
class Process:
    """One that does at once what it is sent."""

    scheduler: WholeFiles
    shutting_down: bool = False
    sent: list[str] = field(default_factory=list)
    waiting: list[int] = field(default_factory=list)
    gateway: Any = field(default_factory=lambda: SimpleNamespace(id="one of them"))

    def __hash__(self) -> int:
        return id(self)

    def send_runtest_some(self, numbers: list[int]) -> None:
        """Numbers of tests in the order in which they were collected."""
        self.sent += [COLLECTED[number] for number in numbers]
        self.waiting += numbers

    def shutdown(self) -> None:
        """There is nothing left."""
        self.shutting_down = True


def shared_out(processes: int) -> list[list[str]]:
    """Which tests each of so many ran."""
    values: dict[str, Any] = {"tx": ["popen"] * processes, "maxprocesses": None, "dist": "loadfile"}
    config: Any = SimpleNamespace(
        getvalue=values.get, option=SimpleNamespace(loadscopereorder=True, **values), getini=lambda _: []
    )
    scheduler = WholeFiles(config, SimpleNamespace(loadscopesched=lambda *_: None))
    scheduler.log = lambda *_: None  # type: ignore[assignment]
    made = [Process(scheduler) for _ in range(processes)]
    for each in made:
        scheduler.add_node(each)  # type: ignore[arg-type]
    for each in made:
        scheduler.add_node_collection(each, COLLECTED)  # type: ignore[arg-type]
    scheduler.schedule()
    while any(each.waiting for each in made):
        for each in made:
            if each.waiting:
                scheduler.mark_test_complete(each, each.waiting.pop(0))  # type: ignore[arg-type]
    return [each.sent for each in made]


def test_every_test_is_run_once() -> None:
    """A test that is sent to nobody would be green for ever."""
    for processes in (1, 2, 3):
        assert sorted(each for sent in shared_out(processes) for each in sent) == sorted(COLLECTED)


def test_a_file_and_what_begins_with_the_same_things_stay_together() -> None:
    """Each process would start a database server, make the bad files and judge them all, and a run take
    minutes longer.
    """
    where = {each: number for number, sent in enumerate(shared_out(3)) for each in sent}
    for alike in ("tests/api/test_a.py", "tests/rules/test_c.py"):
        assert len({number for each, number in where.items() if each.startswith(alike)}) == 1
    assert where[COLLECTED[0]] == where[COLLECTED[3]]
    assert where[COLLECTED[2]] == where[COLLECTED[6]]
    assert len(set(where.values())) == 3
