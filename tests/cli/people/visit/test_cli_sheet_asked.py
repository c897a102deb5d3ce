"""A pen form is typed at a terminal: every column in a sentence, and none that is known already.

That what was observed is recorded as it was written at the time: ISO/IEC 17025:2017 7.5.1.

The rest is our own promise.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import pytest

from bailee.domain import numbers
from bailee.signing import signed_statement
from terminal import CTRL_C, Terminal, served
from town import OPEN, Town

FORM = numbers.issue("form", lambda _: "3")
SHEET = f"{FORM}-1"
NO_AIR = (("I  Check of the pump before", ""), ("I  Check of the pump after", ""))
NO_AIR += (
    ("J  Air read indoors", ""),
    ("J  Air read outdoors", ""),
    ("J  Sky: 1 FAIR clear", ""),
    ("J  Wind", ""),
)
REST = (*NO_AIR, ("K  How is it secured", ""), ("L  Signed in ink on which day", "2026-12-01"))
REST += (("L  Signed in ink at", "11:20"), ("M  Samples counted", "1"))
REST += (("N  Relinquished at", ""),)


def answered(screen: Terminal, answers: Iterable[tuple[str, str]]) -> str:
    """Type what is asked for, in this order: what was seen on the way."""
    seen = ""
    for asked, text in answers:
        seen += screen.sees(asked)
        seen += screen.sees(": " if text != "y" else "line")
        screen.types(f"{text}\n")
    return seen


def runs(town: Town) -> list[Mapping[str, Any]]:
    """The cassettes that the inspector signed, the oldest first."""
    outbox = town.person("inspector").session().of("inspector", as_json=False).outbox
    found = [dict(signed_statement.read(kept.text).claims.data) for kept in outbox.newest(50)]
    outbox.close()
    return [each for each in reversed(found) if "run_s" in each]


def opened(town: Town) -> Mapping[str, Any]:
    """The visit that the inspector opened last."""
    outbox = town.person("inspector").session().of("inspector", as_json=False).outbox
    found = next(kept for kept in outbox.newest(50) if kept.act == "opened")
    outbox.close()
    return dict(signed_statement.read(found.text).claims.data)


@pytest.mark.slow
def test_a_sheet_is_asked_by_its_letters_and_goes_on_after_ctrl_c(settled: Town) -> None:
    """Forty answers typed off a wet sheet would be gone with one key, and a wrong one is met ten lines on."""
    _, samples = settled.lot(4)
    settled.clock.advance(hours=25)
    inspector = settled.person("inspector")
    inspector.run(*OPEN, "--visit", "2026-12-01", "--form", FORM)
    with served(settled):
        with Terminal(inspector, "enter-paper", FORM) as screen:
            screen.sees("Type what stands on the sheet; Enter where nothing stands.")
            answered(screen, (("I  Pump number", "P-7"), ("I  Flow meter number", "M-3")))
            screen.sees("before the runs, time like 9:12 (Enter: none): ")
            screen.types(CTRL_C)
            code, rest = screen.ends()
        assert code == 1
        assert f"Saved: sheet {SHEET}, 2 answered. `bailee enter-paper {SHEET}` goes on with it." in " ".join(
            rest.split()
        )
        with Terminal(inspector, "enter-paper", SHEET) as screen:
            screen.sees("2 answered")
            answered(screen, REST)
            answered(screen, (
                ("1  Number on the label", samples[0]), ("1  Serial number molded on the cassette", "K-1"),
                ("1  What it is (1 indoor, 2 outdoor, 3 blank)", "1"),
                ("1  In which room: 1 LIV living, 2 BED bedroom", "XY"), ("'XY' is none of", "BED"),
                ("1  Area: 1 COMP complaint", "COMP"), ("1  Start of the run", "10:70"),
                ("'10:70' is not a time", "10:00"),
                ("1  How long it ran: minutes", "5"), ("1  Inlet above the floor, like 4 ft", "4"),
                ("Write the length with its unit", "4 ft"),
                ("1  Flow before the run, L/min", "150"), ("1  Flow after the run", ""),
            ))  # fmt: skip
            screen.sees("1  Are the covers back on? [y/n]: ")
            screen.types("y\n")
            answered(screen, (("1  Point on the sketch", "P1"), ("1  Near the inlet", "0"), ("1  Photo", "")))
            answered(screen, (("1  Duplicate of which row", ""), ("Flow before again", "15.0")))
            # the second row: what stays is offered, what is seen is not
            answered(screen, (("2  Number on the label", samples[1]), ("2  Serial number", "")))
            seen = answered(
                screen, (("2  What it is", "1"), ("2  In which room (1 to 16, ? lists them)", "LIV"))
            )
            assert "[" not in seen.replace("[y/n]", "")
            answered(
                screen, (("2  Area", "2"), ("2  Start of the run", "10:15"), ("2  How long it ran", "5:00"))
            )
            screen.sees("2  Inlet above the floor, like 4 ft [4 ft]: ")
            screen.types("\n")
            screen.sees("2  Flow before the run, L/min [15.0]: ")
            screen.types("-\n")
            answered(screen, (("2  Flow after the run", ""),))
            screen.sees("2  Are the covers back on? [y/n]: ")
            screen.types("y\n")
            answered(
                screen,
                (
                    ("2  Point", "P1"),
                    ("2  Near the inlet (several with commas) (0 to 9, ? lists them)", "1"),
                    ("2  Photo", ""),
                ),
            )
            # two samples at one point: SL-08
            answered(
                screen,
                (
                    ("2  Duplicate", ""),
                    ("Which is wrong: 1 point on the sketch, 2 room", "1"),
                    ("Point on the sketch again", "P2"),
                    ("3  Number on the label", ""),
                ),
            )
            assert "1.22 m (4 ft)" in screen.sees("Sign: collected?")
            screen.types("y\n")
            code, rest = screen.ends()
        assert code == 0, rest
    assert "signs with their own key" in " ".join(rest.split())
    first, second = runs(settled)
    assert (first["room"], first["flow_before"], first["run_s"], first["near"]) == (
        "bedroom", "15.0", 300, ["none"],
    )  # fmt: skip
    assert (second["height_m"], second.get("flow_before"), second["area"]) == (
        "1.2192",
        None,
        "non_complaint",
    )


@pytest.mark.slow
def test_a_blank_sheet_asks_neither_for_the_own_firm_nor_for_the_one_laboratory(settled: Town) -> None:
    """Whoever types a wet sheet is asked for their own firm, and stopped at `MST` with no zone named."""
    settled.lot(4)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    settled.clock.advance(hours=25)
    with served(settled), Terminal(inspector, "enter-paper", FORM) as screen:
        answered(screen, (("A  Day of the visit", "2025-12-01"),))
        screen.sees("  1  America/New_York\n")
        answered(screen, (("A  Time zone of the site", "MST"),))
        screen.sees("  1  America/Denver\n  2  America/Phoenix\n")
        screen.types("1\n")
        seen = answered(
            screen, (("D  Name or number of the project", ""), ("E  Analysis wanted", "spore count"))
        )
        assert "firm" not in seen
        assert "aboratory" not in seen
        answered(screen, (("F  Turnaround wanted, like 2 days", ""), ("F  Last day for the result", "")))
        answered(
            screen, (("G  Number of your purchase order", ""), ("H  Ventilation as found (1 normal", "1"))
        )
        answered(screen, (("H  Windows and doors closed, hours", "12"), ("H  Air cleaners off, hours", "")))
        answered(screen, (("H  Fresh-air exchanger", "1"), ("H  Last cleaning, hours", "")))
        screen.sees("The visit would be on 2025-12-01, 366 days ago")
        screen.types("2026-12-01\n")
        answered(screen, (("I  Pump number", ""), ("I  Flow meter number", ""), *REST))
        answered(screen, (("1  Number on the label", ""),))
        screen.sees("Sign: opened")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    visit = opened(settled)
    assert (visit["visit"], visit["zone"]) == ("2026-12-01", "America/Denver")
    assert visit["parties"] == {"firm": "harrow-field", "lab": "quill-lab"}


def test_a_slip_in_the_head_of_a_sheet_keeps_a_file_out(settled: Town) -> None:
    """A year ahead, or the own firm as laboratory, would be entered because it stood on paper."""
    settled.lot(4)
    settled.clock.advance(hours=25)
    head = "A,2025-12-01,America/New_York\nC,harrow-field\nL,2026-12-01,11:20,-05:00\n"
    file = settled.folder / "sheet.csv"
    file.write_text(head)
    told = settled.person("inspector").answer("enter-paper", FORM, "--csv", str(file), code=2)
    assert [(each["line"], each["column"]) for each in told["faults"]] == [("C", "lab"), ("A", "visit")]
    assert "366 days ago" in " ".join(told["detail"].split()) or "365 days ago" in told["detail"]


@pytest.mark.slow
def test_who_leaves_the_signature_out_is_asked_nothing_more(settled: Town) -> None:
    """Two more lines would be typed off a sheet of which nothing can be entered."""
    inspector = settled.person("inspector")
    inspector.run(*OPEN, "--form", FORM)
    with served(settled), Terminal(inspector, "enter-paper", FORM) as screen:
        answered(screen, (("I  Pump number", ""), ("I  Flow meter number", ""), *NO_AIR))
        answered(screen, (("K  How is it secured", ""), ("L  Signed in ink on which day", "2026-12-01")))
        answered(
            screen,
            (
                ("L  Signed in ink at", "23:00"),
                ("time like 9:12 again (Enter: leave the whole sheet out)", ""),
            ),
        )
        code, rest = screen.ends()
    assert (code, "nothing of the sheet can be entered" in " ".join(rest.split())) == (2, True), rest


@pytest.mark.slow
def test_a_cassette_left_out_is_asked_for_when_the_sheet_is_gone_on_with(settled: Town) -> None:
    """Who pressed Enter too early could only sign without the cassettes, or type all of the sheet again."""
    settled.lot(4)
    settled.clock.advance(hours=25)
    inspector = settled.person("inspector")
    inspector.run(*OPEN, "--visit", "2026-12-01", "--form", FORM)
    pump = (("I  Pump number", "P-7"), ("I  Flow meter number", "M-3"))
    checked = (("before the runs, time", "9:40"), ("Flow read at the check", "15.0"), ("after the runs", ""))
    with served(settled):
        with Terminal(inspector, "enter-paper", FORM) as screen:
            answered(screen, (*pump, *checked))
            screen.sees("Was a cassette in the line at the check? [y/n]: ")
            screen.types("y\n")
            answered(screen, (*REST[2:], ("1  Number on the label", "")))
            screen.sees("1 counted by hand, and 0 named")
            screen.sees("Sign: pump checked?")
            screen.types("n\n")
            assert screen.ends()[0] == 1
        with Terminal(inspector, "enter-paper", FORM, "--anew") as screen:
            screen.sees("--anew forgets what was typed of sheet")
            screen.sees("Forget it? [y/n]: ")
            screen.types("n\n")
            answered(screen, (("M  Samples counted", "0"), ("1  Number on the label", "")))
            screen.sees("Sign: pump checked?")
            screen.types("n\n")
            assert screen.ends()[0] == 1
