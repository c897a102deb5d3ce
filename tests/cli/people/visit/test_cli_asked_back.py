"""What a slip on site asks back at a terminal, what it asks for beside it, and when.

What is a slip: tests/asking/test_slips.py. The rest is our own promise; common practice, no source.
"""

from __future__ import annotations

import pytest

from bailee.domain import numbers
from terminal import Terminal, served
from town import INDOOR, OPEN, OUTDOOR, SEAL, Town, last

RAN = (
    ("How long it ran", "5:00"),
    ("Flow after the run", "14.9"),
    ("Are the covers back on?", "y"),
)


def types(screen: Terminal, *asked: tuple[str, str]) -> str:
    """Answer each question as it comes; all that was shown."""
    seen = ""
    for question, text in asked:
        seen += screen.sees(question)
        seen += "" if question.endswith(": ") else screen.sees(": ")
        screen.types(f"{text}\n")
    return seen


@pytest.mark.slow
def test_another_pump_typed_for_a_slip_asks_for_the_flow_that_was_not_read_on_it(settled: Town) -> None:
    """The flow taken over from one pump would be signed as that of another, or the one just read on it be
    lost.
    """
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    inspector.run("collect", samples[0], *INDOOR)
    words = ("--started", "08:53", "--height", "4 ft")
    with served(settled), Terminal(inspector, "collect", samples[1], *words, columns=80) as screen:
        types(screen, ("Where was it", "1"), ("Area", "1"), ("Serial", "K-2"), *RAN)
        assert "P-7 would have run for" in types(screen, ("or n: ", "1"), ("Pump again", "P-41"))
        seen = types(screen, ("Flow before the run, L/min: ", "15.3"), ("Sign: collected?", "y"))
        code, rest = screen.ends()
    assert code == 0, rest
    assert "P-41: as typed, flow after." in seen
    assert "15.3 L/min" in seen
    said = last(settled)
    assert (said["pump"], said["flow_before"], said["flow_after"]) == ("P-41", "15.3", "14.9")


@pytest.mark.slow
def test_a_visit_that_is_sealed_is_asked_about_before_the_first_question(
    visited: tuple[Town, list[str]],
) -> None:
    """Ten answers would be given for a cassette of another visit, and a yes would mean its opposite."""
    town, samples = visited
    town.person("clerk").run("seal", *samples[:3], "--counted", "3", *SEAL)
    town.clock.advance(minutes=10)
    with served(town):
        for answer in ("n", "y"):
            with Terminal(town.person("inspector"), "collect", columns=80) as screen:
                seen = types(screen, ("one more cassette to this visit all the same? [y/n]: ", answer))
                assert "Samples of this visit are closed up already: envelope E" in " ".join(seen.split())
                assert "scan" not in seen
                if answer == "n":
                    code, rest = screen.ends()
                    assert (code, "Nothing was signed." in rest) == (1, True)
                    continue
                types(screen, ("scan: ", samples[3]), ("Where was it", "1"), ("Area", "1"), ("Serial", "K-9"))
                assert "closed up" not in types(screen, *RAN, ("Sign: collected?", "y"))
                code, rest = screen.ends()
                assert code == 0, rest
    assert last(town)["sample"] == samples[3]


CHECK = ("check-pump", "P-7", "--meter", "M-3", "--through-cassette", "--when", "before")


@pytest.mark.parametrize(
    "words", [("--flow", "150"), ("--flow", "1.5"), ("--flow", "15", "--temperature-c", "68")]
)
def test_a_check_of_a_pump_ten_times_off_is_refused_in_a_script(
    settled: Town, words: tuple[str, ...]
) -> None:
    """Every cassette without readings of its own would take this flow, and a volume ten times off."""
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    told = inspector.answer(*CHECK, *words, code=2)
    assert (told["code"], len(told["slips"])) == ("slip", 1)
    assert len(inspector.outbox()) == 1
    assert "Signed all the same" in inspector.run(*CHECK, *words, "--anyway")


@pytest.mark.slow
def test_a_check_of_a_pump_asks_back_flow_and_time_alone(settled: Town) -> None:
    """A slip would be signed at once, and next year's date would cost all the other answers."""
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    words = ("--flow", "150", "--at", "2027-12-01 08:50")
    with served(settled), Terminal(inspector, *CHECK[:-2], *words, columns=80) as screen:
        types(screen, ("Before, between or after", "1"), ("like 15; or y", "15.0"))
        assert "is in the future" in types(screen, ("Type it again; or n: ", "2026-12-01 08:50"))
        seen = types(screen, ("a number changes that line: ", "y"))
        code, rest = screen.ends()
    assert code == 0, rest
    assert "15.0 L/min" in seen
    said = last(settled)
    assert (said["flow"], said["at"][:16]) == ("15.0", "2026-12-01T08:50")


@pytest.mark.slow
def test_a_start_that_is_still_to_come_is_asked_again_alone(settled: Town) -> None:
    """Next year's date would end the command after the yes, with all answers lost."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    words = ("collect", samples[0], *INDOOR, "--started", "2027-12-01 08:50")
    with served(settled), Terminal(inspector, *words, columns=80) as screen:
        assert "is in the future" in types(screen, ("Type it again; or n: ", "08:50"))
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled)["started"][:16] == "2026-12-01T08:50"


@pytest.mark.parametrize("where", [(), ("--offline",)])
def test_an_outdoor_control_that_is_there_is_not_ruled_out_in_a_script(
    settled: Town, where: tuple[str, ...]
) -> None:
    """The visit would hold an outdoor control and the reason why none was possible."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    inspector.run("collect", samples[0], *OUTDOOR, *where)
    words = ("rule-out-outdoor", "--reason", "storm", *where)
    told = inspector.answer(*words, code=2)
    assert [(each["code"], each["said"]) for each in told["slips"]] == [
        ("outdoor-there", numbers.grouped(samples[0]))
    ]
    assert "Signed all the same" in inspector.run(*words, "--anyway")


@pytest.mark.slow
def test_a_no_ends_the_question_about_a_start_still_to_come(settled: Town) -> None:
    """Whoever cannot tell the start is asked for a time until they press Ctrl-C."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    words = ("collect", samples[0], *INDOOR, "--started", "2027-12-01 08:50")
    with served(settled), Terminal(inspector, *words, columns=80) as screen:
        types(screen, ("Type it again; or n: ", "no"))
        code, rest = screen.ends()
    assert (code, "Nothing was signed." in rest) == (1, True)
    assert len(inspector.outbox()) == 1


@pytest.mark.slow
def test_without_a_visit_its_form_is_asked_for_first(settled: Town) -> None:
    """Five answers would be given before it shows that this device knows of no visit."""
    settled.person("inspector").run(*OPEN)
    form = settled.person("inspector").outbox()[-1]["chain"].removeprefix("form/")
    with served(settled), Terminal(settled.person("second"), "check-pump", columns=80) as screen:
        seen = types(
            screen, ("Form of the visit: ", "F7K3"), ("Form of the visit: ", form), ("Pump number: ", "P-7")
        )
        assert "Flow" not in seen
        types(
            screen,
            ("Flow meter number", "M-3"),
            ("Flow as read, L/min", "15"),
            ("Before, between or after", "1"),
        )
        types(screen, ("Was a cassette in the line", "y"), ("a number changes that line: ", "y"))
        code, rest = screen.ends()
    assert code == 0, rest


@pytest.mark.slow
def test_a_run_without_a_unit_that_may_be_either_is_asked_back(settled: Town) -> None:
    """Who answers 30 would sign half an hour, and who answers 55 would sign 55 seconds."""
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    run = INDOOR.index("--run")
    asked = (*INDOOR[:run], *INDOOR[run + 2 :])
    with served(settled):
        with Terminal(inspector, "collect", samples[0], *asked, columns=80) as screen:
            types(screen, ("Serial", "K-1"), ("How long it ran", "55"))
            seen = types(screen, ("How long it ran", "55 min"), ("Sign: collected?", "y"))
            assert "55 minutes or 55 seconds? Type 55 min or 55 s." in seen
            code, rest = screen.ends()
        assert code == 0, rest
        assert last(settled)["run_s"] == 3300
        settled.clock.advance(minutes=60)
        words = (*INDOOR[: run + 1], "55", *INDOOR[run + 2 :], "--point", "P2")
        with Terminal(inspector, "collect", samples[1], *words, columns=80) as screen:
            seen = types(screen, ("or n: ", "55"), ("or n: ", "55 s"))
            assert seen.count("55 minutes or 55 seconds?") == 2
            code, rest = screen.ends()
        assert code == 0, rest
    assert last(settled)["run_s"] == 55


def test_a_run_that_is_not_over_is_refused_in_a_script(settled: Town) -> None:
    """A flow after the run, and covers that are back on, would be signed while the pump still runs."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    words = ("collect", samples[0], *INDOOR, "--started")
    told = inspector.answer(*words, "08:59", code=2)
    assert [(each["code"], each["field"]) for each in told["slips"]] == [("run-not-over", "started")]
    assert "would end at 09:04, which is later than now, 09:00." in told["detail"]
    assert len(inspector.outbox()) == 1
    inspector.run(*words, "08:56")  # read to the minute


@pytest.mark.slow
def test_a_cassette_scanned_twice_gives_way_to_another(settled: Town) -> None:
    """The inspector who took up the wrong cassette would begin anew, told of a start that was corrected."""
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    settled.clock.advance(minutes=20)
    inspector.run("collect", samples[0], *INDOOR, "--started", "09:00")
    inspector.run("correct", samples[0], "started=09:07", "--reason", "misread")
    settled.clock.advance(minutes=10)
    with served(settled), Terminal(inspector, "collect", samples[0], columns=80) as screen:
        seen = types(screen, ("Scan another; or y: it is so; or n: ", samples[1]))
        assert "its run started at 09:07." in " ".join(seen.split())
        types(screen, ("Where was it", "1"), ("Area", "1"), ("Serial", "K-2"), *RAN)
        types(screen, ("Sign: collected?", "y"))
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled)["sample"] == samples[1]


@pytest.mark.slow
def test_one_point_in_two_rooms_is_asked_back(settled: Town) -> None:
    """The kitchen's count would stand at the bedroom's point, and nobody can tell which room it was."""
    _, samples = settled.lot(3)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    inspector.run("collect", samples[0], *INDOOR, "--point", "P1")
    words = tuple("kitchen" if each == "bedroom" else each for each in INDOOR)
    with served(settled):
        settled.clock.advance(minutes=10)
        with Terminal(inspector, "collect", samples[1], *words, "--point", "P1", columns=80) as screen:
            seen = " ".join(types(screen, ("or n: ", "P2")).split())
            assert "P1 would be in the kitchen, and" in seen
            assert "was collected there in the bedroom" in seen
            code, rest = screen.ends()
        assert code == 0, rest
        assert last(settled)["point"] == "P2"
    settled.clock.advance(minutes=10)
    inspector.run("collect", samples[2], *words, "--point", "P1")
    assert last(settled)["point"] == "P1", "where nobody can be asked it is signed"


@pytest.mark.slow
def test_a_second_bedroom_without_a_point_is_asked_for_one(settled: Town) -> None:
    """Two rooms of one kind would be one on the report, and the counts of both stand for neither."""
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    inspector.run("collect", samples[0], *INDOOR)
    settled.clock.advance(minutes=10)
    with served(settled), Terminal(inspector, "collect", samples[1], *INDOOR, columns=80) as screen:
        assert "neither has a point" in " ".join(types(screen, ("or n: ", "P2")).split())
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled)["point"] == "P2"


@pytest.mark.slow
def test_a_visit_weeks_ago_and_a_client_for_an_address_are_asked_back(settled: Town) -> None:
    """The form would lie weeks back, and the notice go to a house."""
    inspector = settled.person("inspector")
    named = ("--client", "Ms. Alder", "--site", "Old Mill House")
    inspector.run(*OPEN, *named)
    swapped = ("--client", "Old Mill House", "--site", "Ms. Alder", "--visit", "2026-11-13")
    with served(settled), Terminal(inspector, *OPEN, *swapped, columns=80) as screen:
        seen = " ".join(types(screen, ("or n: ", "2026-12-01"), ("or n: ", "s")).split())
        assert "The visit would be on 2026-11-13, 18 days ago" in seen
        assert "Client and address seem to be swapped: Ms. Alder was the client" in seen
        code, rest = screen.ends()
    assert code == 0, rest
    form = rest.split("Form ")[1].splitlines()[0].replace(" ", "")
    private = inspector.answer("show", form)["private"]
    assert (private["client"], private["site"]) == ("Ms. Alder", "Old Mill House")
    inspector.run(*OPEN, *swapped)  # in a script it is so


@pytest.mark.slow
def test_a_kit_and_labels_for_a_day_that_is_over_are_asked_back(settled: Town) -> None:
    """Numbers would be issued for last month's visit, and judged by that day."""
    lot, samples = settled.lot(2)
    with served(settled):
        words = ("lot", "issue", lot, "--count", "1", "--visit", "2026-11-12")
        with Terminal(settled.person("keeper"), *words, columns=80) as screen:
            seen = types(screen, ("or n: ", "2026-12-02"))
            assert "The visit would be on 2026-11-12, and today is 2026-12-01" in " ".join(seen.split())
            types(screen, ("Issue them all the same? [y/n]: ", "y"))
            code, rest = screen.ends()
        assert code == 0, rest
        words = ("kit", samples[0], "--visit", "2026-11-12")
        with Terminal(settled.person("inspector"), *words, columns=80) as screen:
            types(screen, ("or n: ", "n"))
            code, _ = screen.ends()
        assert code == 1


@pytest.mark.slow
def test_a_label_of_a_box_of_another_kind_is_asked_back_at_the_scan(settled: Town) -> None:
    """Twelve answers would be given for a label that is not of this cassette, and be gone with a no."""
    _, samples = settled.lot(1)
    _, (tape,) = settled.lot(1, cassette="tape")
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    with served(settled):
        with Terminal(inspector, "collect", columns=80) as screen:
            seen = types(screen, ("scan: ", tape), ("Scan another; or y: it is so; or n: ", samples[0]))
            assert "Where was it" not in seen
            types(
                screen, ("Where was it", "b"), ("Serial", "K-1"), ("covers", "y"), ("Sign: collected?", "y")
            )
            code, rest = screen.ends()
        assert code == 0, rest
        assert last(settled)["sample"] == samples[0]
        with Terminal(inspector, "collect-surface", samples[0], "--medium", "tape", columns=80) as screen:
            seen = types(screen, ("Scan another; or y: it is so; or n: ", tape), ("Room", "1"))
            assert "Where was it" not in seen
