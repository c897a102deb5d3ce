"""What the inspector reads on site beside the cassettes: typed, asked for, and told again everywhere."""

from __future__ import annotations

from terminal import Terminal, served
from town import INDOOR, OPEN, Town, collect, last, told_everywhere

READ = ("read-conditions", "--where", "outdoors", "--temperature-c", "48 F", "--humidity-pct", "70")


def test_the_air_that_was_read_stands_on_every_paper(settled: Town) -> None:
    """What was typed on site would be looked for in vain on the record, the page or the auditor's report."""
    _, (sample,) = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, sample, INDOOR)
    more = ("--rain-ended-h", "30", "--pressure-hpa", "1010", "--instrument", "T-1", "--unit", "North wing")
    assert "Recorded: conditions read" in inspector.run(*READ, *more)
    change = (
        "report-change",
        "--what",
        "ventilation",
        "--was",
        "normal",
        "--now",
        "fan_only",
        "--place",
        "attic",
    )
    assert "Recorded: building changed" in inspector.run(*change)
    form = inspector.answer("show")["forms"][0]["form"]
    said = inspector.answer("show", form)["conditions"][0]
    assert {name: said[name] for name in ("where", "temperature_c", "rain_ended_h", "unit")} == {
        "where": "outdoors",
        "temperature_c": "8.9",
        "rain_ended_h": "30",
        "unit": "North wing",
    }
    for where, told in told_everywhere(settled, form).items():
        assert "Outdoors, North wing, 2026-12-01" in told, where
        assert "8.9 °C (48 °F), 70 % relative humidity, 1010 hPa (29.83 inHg), rain ended 30 h" in told, where
        assert "before, by T-1" in told, where
        assert "Ventilation went from normal to fan only, 2026-12-01" in told, where


def test_the_air_is_asked_for_at_a_terminal(settled: Town) -> None:
    """Who does not know the options leaves it out; and rain is no question indoors."""
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    with served(settled):
        with Terminal(inspector, "read-conditions") as screen:
            screen.sees("Indoors or outdoors")
            screen.types("outdoors\n")
            for asked, text in (
                ("Temperature of the air", "85"),
                ("Relative humidity, %", "45"),
                ("Air pressure, like 1013 hPa", ""),
                ("Hours since rain ended", "2.5"),
                ("85 °F is 29.4 °C", "85 F"),
                ("Sign: conditions read?", "y"),
            ):
                screen.sees(asked)
                screen.sees(": ")
                screen.types(f"{text}\n")
            code, rest = screen.ends()
        assert code == 0, rest
        with Terminal(inspector, "read-conditions", "--where", "indoors") as screen:
            for _ in range(3):
                screen.sees(": ")
                screen.types("\n")
            code, rest = screen.ends()
        assert (code, "write what was read" in rest) == (2, True), rest
    said = last(settled)
    assert (said["temperature_c"], said["humidity_pct"], said["rain_ended_h"]) == ("29.4", "45", "2.5")


def test_what_changed_is_asked_for_in_its_own_words(settled: Town) -> None:
    """Who is asked whether the windows are fan only answers anything at all."""
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    with served(settled), Terminal(inspector, "report-change") as screen:
        screen.sees("What changed")
        screen.sees(": ")
        screen.types("windows\n")
        screen.sees("Windows before")
        screen.sees(": ")
        screen.types("\n")
        asked = screen.sees("Windows now")
        asked += screen.sees(": ")
        screen.types("1\n")
        screen.sees("Sign: building changed?")
        screen.types("y\n")
        code, rest = screen.ends()
    assert (code, "fan only" in asked) == (0, False), rest
    said = last(settled)
    assert {name: said.get(name) for name in ("what", "was", "now")} == {
        "what": "windows",
        "was": None,
        "now": "open",
    }
    assert "is one of: open, closed" in inspector.run(
        "report-change", "--what", "windows", "--now", "off", code=2
    )


def test_a_script_with_the_former_word_goes_on(settled: Town) -> None:
    """A script that says works would stop on the day of the update, or sign two words for one thing."""
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    inspector.run("report-change", "--what", "works", "--was", "none", "--now", "running")
    assert last(settled)["what"] == "renovation"
    assert "works" not in inspector.run("report-change", "--help")
