"""A visit with five slips of the finger at a terminal of 80 columns, each caught before it is signed; and a
visit answered wholly at the terminal, which leaves nothing unsaid.

What is a slip: tests/asking/test_slips.py. That what is not said is found: ISO/IEC 17025:2017 7.3.3. The rest
is our own promise; common practice, no source.
"""

from __future__ import annotations

from typing import Any

import pytest

from field import FIRM, LAB
from terminal import Terminal, served
from town import INDOOR, OPEN, Town

pytestmark = pytest.mark.slow
VISIT = (
    ("Time zone of the site", "America/New_York"),
    ("Address of the site", "12 Invented Lane"),
    ("Client", "Perpetua Example"),
    ("What should the samples answer", "musty odor"),
    ("Ventilation as found", "1"),
    ("Windows and doors closed", "26"),
    ("Air cleaners off", ""),
    ("Last cleaning", "48"),
    ("Fresh-air exchanger", "1"),
    ("Analysis wanted", "spore count"),
    ("Turnaround wanted", "2 days"),
)


def types(town: Town, verb: str, *asked: tuple[str, str]) -> str:
    """Answer each question as it comes; all that was shown."""
    with Terminal(town.person("inspector"), *verb.split(), columns=80) as screen:
        seen = ""
        for question, text in asked:
            seen += screen.sees(question)
            if not question.endswith(": "):
                seen += screen.sees(": ")
            screen.types(f"{text}\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert max(map(len, (seen + rest).split("\n"))) <= 80, seen + rest
    return seen + rest


def signed(town: Town) -> list[dict[str, Any]]:
    """What the inspector signed."""
    person = town.person("inspector")
    return [person.answer("outbox", "--show", str(each["seq"]))["data"] for each in person.outbox()]


def test_five_slips_of_the_finger_are_caught_before_anything_is_signed(settled: Town) -> None:
    """If this fails, a laboratory nobody knows, a run of five seconds, a flow ten times off, an inlet at the
    ceiling of a church or a cassette too many stands for ever.
    """
    _, samples = settled.lot(1)
    with served(settled):
        types(
            settled, "open --quiet", ("Laboratory (short name): ", "quil-lab"),
            ("Laboratory again, like quill-lab", LAB), *VISIT, ("Sign: the visit begins?", "y"),
        )  # fmt: skip
        settled.clock.advance(minutes=10)
        types(
            settled, f"collect {samples[0]}", ("Where was it", "2 P1"), ("Area", "1"), ("Serial", "K-1"),
            ("Pump number", "P-7"), ("Flow meter", "M-3"), ("Inlet above", "48 ft"), ("Flow before", "15"),
            ("How long it ran", "5 s"), ("Flow after", "1.49"), ("covers back on", "y"),
            ("Run again, like 5 min", "5"), ("Flow after again, like 14.9", "14.9"),
            ("Height again", "48 in"), ("Sign: collected?", "y"),
        )  # fmt: skip
        types(
            settled, f"give {samples[0]} --to {FIRM}", ("Purpose: ", "2"), ("counted (Enter", "2"),
            ("Count again", "1"), ("Sign: relinquished?", "y"),
        )  # fmt: skip
    opened, collected, given = signed(settled)
    assert opened["parties"]["lab"] == LAB
    assert (collected["run_s"], collected["flow_after"], collected["height_m"]) == (300, "14.9", "1.2192")
    assert given["count"] == 1


def test_hours_that_cannot_be_are_refused_where_they_are_typed(settled: Town) -> None:
    """If this fails, eleven answers are lost after the signature for one typed below nothing."""
    with served(settled):
        types(
            settled, "open --quiet", ("Laboratory (short name): ", LAB), *VISIT[:7], ("Last cleaning", "-3"),
            ("'-3' will not do: write a number of at least 0.", "48"), *VISIT[8:],
            ("Sign: the visit begins?", "y"),
        )  # fmt: skip
    assert signed(settled)[0]["preparation"]["cleaned_h_ago"] == "48"


def test_an_option_that_cannot_be_is_refused_before_anything_is_asked(settled: Town) -> None:
    """If this fails, whoever typed the hours as an option answers all the rest for nothing."""
    words = ("open", "--quiet", "--lab", LAB, "--cleaned-h-ago", "-3")
    with served(settled), Terminal(settled.person("inspector"), *words) as screen:
        screen.sees("Time zone of the site")
        screen.sees(": ")
        screen.types("America/New_York\n")
        code, rest = screen.ends()
    assert (code, "Address of the site" in rest) == (2, False), rest
    assert "'-3' will not do: write a number of at least 0." in rest


def test_what_is_typed_in_the_place_of_a_slip_can_be_signed(settled: Town) -> None:
    """If this fails, a second slip of the finger ends the command with every answer lost."""
    _, samples = settled.lot(1)
    settled.person("inspector").run(*OPEN)
    with served(settled):
        words = ["1.49" if each == "14.9" else each for each in INDOOR]
        with Terminal(settled.person("inspector"), "collect", samples[0], *words) as screen:
            screen.sees("Flow after again, like 14.9; or y: it is so; or n: ")
            screen.types("-14.9\n")
            screen.sees("'-14.9' will not do: write a number of at least 0.")
            screen.sees("Flow after again, like 14.9; or y: it is so; or n: ")
            screen.types("14.9\n")
            code, rest = screen.ends()
    assert code == 0, rest


def test_a_visit_answered_at_the_terminal_leaves_nothing_unsaid(settled: Town) -> None:
    """If this fails, who answered every question is told afterwards that something is not on record."""
    _, samples = settled.lot(4)
    kept = (("Pump number", "P-7"), ("Flow meter", "M-3"), ("Inlet above", "4 ft"), ("Flow before", "15"))
    ran = (
        ("How long it ran", "5"),
        ("Flow after", "14.9"),
        ("covers back on", "y"),
        ("Sign: collected?", "y"),
    )
    outside = (("Distance", "12 ft"), ("Near: ", "0"), ("Sky", "1"), ("Wind", "2"))
    with served(settled):
        types(
            settled, "open --quiet", ("Laboratory (short name): ", LAB), *VISIT,
            ("Sign: the visit begins?", "y"),
        )  # fmt: skip
        for number, (sample, where, place) in enumerate(
            zip(
                samples, ("2 P1", "1 P2", "11 P3", "o P4"),
                ((("Area", "1"),), (("Area", "3"),), (("Area", "1"), ("Why there: ", "1")), outside),
                strict=True,
            )
        ):  # fmt: skip
            settled.clock.advance(minutes=10)
            types(
                settled, f"collect {sample}", ("Where was it", where), *place, ("Serial", f"K-{number}"),
                *(() if number else kept), *ran,
            )  # fmt: skip
        types(
            settled, "secure", ("How the samples are secured", "3"), ("Where (", "2"), ("Sign: held?", "2"),
            ("Where (", "3"), ("Sign: held?", "y"),
        )  # fmt: skip
    inspector = settled.person("inspector")
    assert signed(settled)[-1]["where"] == "office", "a line was changed by its number"
    air = ("read-conditions", "--temperature-c", "21", "--where")
    for where in ("indoors", "outdoors"):
        inspector.run(*air, where)
    form = inspector.answer("show")["forms"][0]["form"]
    assert inspector.answer("check", form)["findings"] == []


def test_a_cassette_scanned_again_is_asked_back_before_its_eight_answers(settled: Town) -> None:
    """Who scans the last cassette instead of the next would answer all of it, and hear it at the end."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    inspector.run("collect", samples[0], *INDOOR)
    with served(settled):
        for answer, code in (("no", 1), ("yes", 0)):
            with Terminal(inspector, "collect", columns=80) as screen:
                screen.sees("scan: ")
                screen.types(f"{samples[0]}\n")
                assert "was collected already" in screen.sees("or y: it is so; or n: ")
                screen.types(f"{answer}\n")
                for asked, text in AGAIN if code == 0 else ():
                    screen.sees(asked)
                    screen.sees(": ")
                    screen.types(f"{text}\n")
                ended, rest = screen.ends()
            assert ended == code, rest
    assert len(signed(settled)) == 3


AGAIN = (
    ("Where was it", "1"),
    ("Area", "3"),
    ("Serial number", "K-3302"),
    ("How long it ran", "5:00"),
    ("Flow after the run", "14.8"),
    ("Are the covers back on?", "y"),
    ("Sign: collected?", "y"),
)


def test_a_wrong_label_is_answered_in_whole_words(settled: Town) -> None:
    """The sentence that says which label to scan would be cut in the middle of a word."""
    lot, samples = settled.lot(1)
    settled.person("inspector").run(*OPEN)
    with served(settled), Terminal(settled.person("inspector"), "collect", columns=80) as screen:
        screen.sees("scan: ")
        screen.types(f"{lot}\n")
        said = screen.sees("scan: ")
        screen.types(f"{samples[0]}\n")
        screen.sees("Where: ")
    assert "is a lot number" in said
    assert max(map(len, said.splitlines())) <= 80
