"""A pump that was checked on the visit is not read once more at a terminal before its run; the screen says
where the flow is from.

Which check speaks for a run: tests/domain/test_day_checks.py (common practice, no source).
"""

from __future__ import annotations

import pytest
from test_cli_asked_back import RAN, types

from terminal import Terminal, served
from town import OPEN, Town, last

CHECK = ("check-pump", "P-7", "--meter", "M-3", "--through-cassette")
WHERE = (("Where was it", "1"), ("Area", "1"), ("Serial", "K-2"))
BEFORE = ("Flow before the run, L/min: ", "14.6")
SIGN = ("Sign: collected?", "y")


@pytest.mark.slow
def test_the_flow_of_the_check_is_not_asked_once_more(settled: Town) -> None:
    """Whoever has just read a pump and recorded it would be asked for it again, and type something from
    memory.
    """
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    inspector.run(*CHECK, "--when", "before", "--flow", "14.8")
    settled.clock.advance(minutes=10)
    with served(settled), Terminal(inspector, "collect", samples[0], columns=80) as screen:
        seen = types(screen, *WHERE, ("Inlet", "4 ft"), *RAN, SIGN)
        code, rest = screen.ends()
    assert code == 0, rest
    assert "Flow before the run" not in seen
    assert "14.8 L/min (check of the pump at 09:" in seen
    said = last(settled)
    assert (said["pump"], said["meter"], said["flow_before"]) == ("P-7", "M-3", "14.8")
    settled.clock.advance(minutes=10)
    inspector.run(*CHECK, "--when", "between", "--flow", "14.4", "--adjusted")
    settled.clock.advance(minutes=10)
    with served(settled), Terminal(inspector, "collect", samples[1], columns=80) as screen:
        serial = ("Serial", "K-3")
        assert "14.4 L/min (check" in types(screen, (WHERE[0][0], f"{WHERE[0][1]} P2"), serial, *RAN, SIGN)
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled)["flow_before"] == "14.4"
    settled.clock.advance(minutes=10)
    check = ("check-pump", "P-7", "--when", "after", "--flow", "14.5", "--through-cassette")
    with served(settled), Terminal(inspector, *check, columns=80) as screen:
        types(screen, ("Flow meter number [M-3]: ", ""), ("Sign: pump checked?", "y"))
        code, rest = screen.ends()
    assert code == 0, rest


@pytest.mark.slow
def test_a_check_that_another_person_recorded_counts_as_well(settled: Town) -> None:
    """The keeper of the pumps checks them in the morning, and every inspector would read them again."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    form = str(inspector.outbox()[0]["chain"]).removeprefix("form/")
    settled.person("keeper").run(*CHECK, "--when", "before", "--flow", "14.8", "--form", form)
    settled.clock.advance(minutes=10)
    with served(settled), Terminal(inspector, "collect", samples[0], columns=80) as screen:
        types(screen, *WHERE, ("Inlet", "4 ft"), *RAN, SIGN)
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled)["flow_before"] == "14.8"


@pytest.mark.slow
@pytest.mark.parametrize(
    "words",
    [
        ("--flow-corrected",),
        ("--at", "2026-11-30 17:00"),
        ("--at", "2026-12-01 09:07"),  # while it ran
    ],
)
def test_a_check_that_does_not_speak_for_the_run_is_no_reading_of_it(
    settled: Town, words: tuple[str, ...]
) -> None:
    """Yesterday's flow, or one read after the pump was started, would be signed as read before the run."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    settled.clock.advance(minutes=10)
    inspector.run(*CHECK, "--when", "before", "--flow", "14.8", *words)
    with served(settled), Terminal(inspector, "collect", samples[0], columns=80) as screen:
        is_while_it_ran = "09:07" in words[-1]
        asked = (*RAN[:1], BEFORE, *RAN[1:]) if is_while_it_ran else (BEFORE, *RAN)
        types(screen, *WHERE, ("Inlet", "4 ft"), *asked, SIGN)
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled)["flow_before"] == "14.6"
