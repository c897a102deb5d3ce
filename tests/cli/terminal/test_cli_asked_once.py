"""What was typed instead of a slip stands for the whole command: it is asked for once, and what is signed is
what was shown.

Our own promise; no outside source.
"""

from __future__ import annotations

import pytest

from terminal import Terminal, served
from town import ENVELOPE, INDOOR, INTACT, OPEN, Town, collect, last

pytestmark = pytest.mark.slow


def test_a_time_that_is_none_is_asked_for_once(settled: Town) -> None:
    """The inspector would be asked for the start of one run before the screen that is signed and three times
    after it, and could sign another time than the one shown.
    """
    _, samples = settled.lot(1)
    settled.person("inspector").run(*OPEN)
    words = INDOOR[: INDOOR.index("--run")] + INDOOR[INDOOR.index("--run") + 2 :]
    with (
        served(settled),
        Terminal(
            settled.person("inspector"),
            "collect",
            samples[0],
            *words,
            "--serial",
            "K-1",
            "--started",
            "early",
        ) as screen,
    ):
        screen.sees("'early' is not a time")
        screen.types("8:12\n")
        screen.sees("How long it ran")
        screen.types("5:00\n")
        assert "2026-12-01 08:12" in screen.sees("Sign: collected?")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert "not a time" not in rest
    assert last(settled, "inspector")["started"].startswith("2026-12-01T08:12")


def test_a_flow_that_is_none_is_asked_for_once(settled: Town) -> None:
    """The media keeper types the flow again, and is asked for it again as if they had not."""
    words = ("--maker-lot", "41-0093", "--cassette", "slit", "--count", "4", "--expiry", "2039-06")
    with served(settled), Terminal(settled.person("keeper"), "lot", "receive", *words) as screen:
        screen.sees("Flow the maker states")
        screen.types("abc\n")
        screen.sees("'abc' is not a flow")
        screen.types("15\n")
        assert "is not a flow" not in screen.sees("Sign: lot received?")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest


def test_a_temperature_typed_again_stands_when_another_line_is_changed(
    shipped: tuple[Town, list[str]],
) -> None:
    """The dock mends 72 °C, changes the seal, and the next number it types is taken for the temperature."""
    town, samples = shipped
    worker = town.person("dock")
    words = ("receive", ENVELOPE, *samples[:3], *INTACT, "--package", "sound", "--record-enclosed")
    with served(town), Terminal(worker, *words) as screen:
        screen.sees("(Enter: not measured): ")
        screen.types("72\n")
        screen.sees("or n: ")
        screen.types("22 C\n")
        screen.sees("Samples counted by hand: ")
        screen.types("3\n")
        seen = screen.sees("Sign: received?")
        number = next(line.split()[0] for line in seen.splitlines() if "count by hand" in line)
        screen.types(f"{number}\n")
        screen.sees("[3]: ")
        screen.types("3\n")
        seen = screen.sees("Sign: received?")
        assert "72 °C" not in seen
        assert "22 °C" in seen
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(town, "dock")["dock"]["temperature_c"] == "22"


def test_what_is_so_is_said_once(settled: Town) -> None:
    """A run that was short would have to be confirmed again for every other line that is changed."""
    _, samples = settled.lot(1)
    settled.person("inspector").run(*OPEN)
    words = INDOOR[: INDOOR.index("--flow-after")] + INDOOR[INDOOR.index("--flow-after") + 2 :]
    with (
        served(settled),
        Terminal(settled.person("inspector"), "collect", samples[0], *words, "--serial", "K-1") as screen,
    ):
        screen.sees("Flow after the run")
        screen.types("1.49\n")
        screen.sees("or n: ")
        screen.types("yes\n")
        seen = screen.sees("Sign: collected?")
        number = next(line.split()[0] for line in seen.splitlines() if "pump" in line)
        screen.types(f"{number}\n")
        screen.sees("Pump number")
        screen.types("P-9\n")
        screen.sees("Flow before the run, L/min: ")
        screen.types("15.0\n")
        screen.sees("Flow after the run, L/min: ")
        screen.types("1.49\n")
        assert "or n: " not in screen.sees("Sign: collected?")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled, "inspector")["pump"] == "P-9"


@pytest.mark.parametrize(
    ("verb", "answers", "slip", "changed", "signed"),
    [
        (
            ("read-conditions", "--where", "indoors"),
            ("70", "45", "1013"),
            (("is hotter than air gets", "70 F"),),
            ("humidity", "55"),
            {"temperature_c": "21.1", "humidity_pct": "55", "pressure_hpa": "1013"},
        ),
        (
            ("read-conditions", "--where", "indoors"),
            ("21", "45", "29.9"),
            (("is thinner than any air", "1012.5"),),
            ("temperature", "22 C"),
            {"temperature_c": "22", "humidity_pct": "45", "pressure_hpa": "1012.5"},
        ),
        (
            ("read-conditions", "--where", "indoors"),
            ("70", "45", "1013"),
            (("is hotter than air gets", "70 F"),),
            ("temperature", "22 C"),
            {"temperature_c": "22", "humidity_pct": "45", "pressure_hpa": "1013"},
        ),
        (
            ("request",),
            ("spore count", "2 days", "2025-12-07", "2", "PO-7", ""),
            (("would be due on 2025-12-07", "2026-12-07"),),
            ("purchase order", "PO-8"),
            {"analysis": "spore count", "due": "2026-12-07", "turnaround": "2 days", "purchase": "PO-8"},
        ),
    ],
)
def test_a_slip_typed_again_keeps_every_other_answer_when_a_line_is_changed(
    settled: Town, verb: tuple[str, ...], answers: tuple[str, ...], slip: tuple[tuple[str, str], ...],
    changed: tuple[str, str], signed: dict[str, str],
) -> None:  # fmt: skip
    """Who mends a slip and then another line signs without a word that the rest was never read."""
    _, (sample,) = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, sample, INDOOR)
    with served(settled), Terminal(inspector, *verb) as screen:
        for answer in answers:
            screen.sees(": ")
            screen.types(f"{answer}\n")
        for found, meant in slip:
            screen.sees(found)
            screen.sees("or n: ")
            screen.types(f"{meant}\n")
        seen = screen.sees("Sign: ")
        label, text = changed
        number = next(line.split()[0] for line in seen.splitlines() if f" {label} " in f"{line} ")
        screen.sees(": ")
        screen.types(f"{number}\n")
        screen.sees("]: ")
        screen.types(f"{text}\n")
        screen.sees("Sign: ")
        screen.sees(": ")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    said = last(settled)
    assert {name: said.get(name) for name in signed} == signed
