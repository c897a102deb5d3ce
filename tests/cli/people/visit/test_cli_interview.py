"""At a terminal an inspector is asked for what is missing, and shown in one screen what will be signed.

Our own promise (the guide of the inspector); common practice, no source. That what is observed has no
default: ISO/IEC 17025:2017 7.4.3 by analogy.
"""

from __future__ import annotations

import pytest

from bailee.domain import numbers
from field import LAB
from terminal import CTRL_C, Terminal, served
from town import ENVELOPE, INDOOR, OPEN, Town, collect, last

pytestmark = pytest.mark.slow
FIRST = (
    ("Where was it", "2"),
    ("Area", "1"),
    ("Serial number", "K-3301"),
    ("Pump number: ", "P-7"),
    ("Flow meter number: ", "M-3"),
    ("Inlet above the floor", "4 ft"),
    ("Flow before the run, L/min: ", "15,0"),
    ("How long it ran", "5"),
    ("Flow after the run, L/min: ", "14.9"),
    ("Are the covers back on?", "y"),
)
USUAL = (
    ("scan", ""),
    ("Where was it", "1"),
    ("Area", "3"),
    ("Serial number", "K-3302"),
    ("How long it ran", "5:00"),
    ("Flow after the run, L/min: ", "14.8"),
    ("Are the covers back on?", "y"),
    ("Sign: collected?", "y"),
)


def answer(screen: Terminal, asked: str, text: str) -> str:
    """See a question, answer it; what stood before it."""
    seen = screen.sees(asked)
    if not asked.endswith(": "):
        seen += screen.sees(": ")
    screen.types(f"{text}\n")
    return seen


def test_a_usual_cassette_takes_eight_answers(settled: Town) -> None:
    """Fifty options would be typed in a basement, or left out."""
    _, samples = settled.lot(2)
    settled.person("inspector").run(*OPEN)
    with served(settled):
        with Terminal(settled.person("inspector"), "collect", samples[0]) as screen:
            assert "Visit of 2026-12-01, 12 Invented Lane (form F" in screen.sees("\n")
            for asked, text in FIRST:
                answer(screen, asked, text)
            shown = answer(screen, "Sign: collected?", "y")
            code, rest = screen.ends()
        assert code == 0, rest
        for line in (
            "bedroom",
            "complaint",
            "P-7",
            "1.22 m (4 ft)",
            "5:00 (300 s)",
            "74.75 L",
            "America/New_York",
        ):
            assert line in shown, shown
        assert "Recorded: collected" in rest
        assert "about 1 sample: S" in rest
        assert "signed by Inspector Person, inspector of harrow-field." in rest
        assert "Next: The next cassette; then enter how they are secured." in rest
        assert "`bailee secure …`" in rest
        assert len(USUAL) <= 8
        settled.clock.advance(minutes=10)
        with Terminal(settled.person("inspector"), "collect") as screen:
            for asked, text in USUAL:
                answer(screen, asked, text or samples[1])
            code, rest = screen.ends()
        assert code == 0, rest
    said = last(settled, "inspector")
    asked = {
        "kind": "indoor", "room": "living", "pump": "P-7", "meter": "M-3", "height_m": "1.2192",
        "flow_before": "15.0", "run_s": 300,
    }  # fmt: skip
    assert asked.items() <= said.items()
    assert (said["covers_on"], said["serial"]) == (True, "K-3302")


def test_enter_answers_nothing_that_was_seen_and_a_line_can_be_changed(settled: Town) -> None:
    """Whoever leans on Enter would have seen the covers on; whoever sees a slip on the screen would begin
    again.
    """
    _, samples = settled.lot(1)
    settled.person("inspector").run(*OPEN)
    with served(settled), Terminal(settled.person("inspector"), "collect", samples[0]) as screen:
        for asked, text in FIRST[:-1]:
            answer(screen, asked, text)
        answer(screen, "Are the covers back on?", "")
        assert "there is no usual one" in answer(screen, "Are the covers back on?", "y")
        shown = answer(screen, "Sign: collected?", "")
        line = next(each.split()[0] for each in shown.splitlines() if " flow after" in each)
        answer(screen, "Sign: collected?", line)
        assert "Enter keeps what is in brackets" in answer(screen, "L/min [14.9 L/min]: ", "1.48")
        assert "made for 15 L/min" in answer(screen, "or n: ", "14.8")
        assert "14.8 L/min" in answer(screen, "Sign: collected?", "n")
        code, rest = screen.ends()
    assert (code, "Nothing was signed." in rest) == (1, True)
    assert len(settled.person("inspector").outbox()) == 1


def test_a_visit_is_asked_for_question_by_question(settled: Town) -> None:
    """The visit would be opened without what the rules ask about, because nobody knows thirty options."""
    inspector = settled.person("inspector")
    with served(settled), Terminal(inspector, "open", "--quiet") as screen:
        for asked, text in (
            ("Laboratory (short name): ", LAB),
            ("Time zone of the site", "Denver"),
            ("Which, or type it again; or n: ", "1"),
            ("Address of the site", "12 Invented Lane"),
            ("Client", ""),
            ("What should the samples answer", "musty odor"),
            ("Ventilation as found", "1"),
            ("Windows and doors closed", "26"),
            ("Air cleaners off", ""),
            ("Last cleaning", "48"),
            ("Fresh-air exchanger", "2"),
            ("Off for how many hours", "30"),
            ("Analysis wanted", "spore count"),
            ("Turnaround wanted", "2 days"),
        ):
            answer(screen, asked, text)
        shown = answer(screen, "Sign: the visit begins?", "y")
        code, rest = screen.ends()
    assert code == 0, rest
    assert "Visit of 2026-12-01" in shown
    assert "07:00 there now" in shown
    said = last(settled, "inspector")
    assert said["zone"] == "America/Denver"
    assert said["preparation"]["windows_closed_h"] == "26"
    assert said["preparation"]["purifiers_off_h"] is None


def test_a_license_is_asked_for_where_one_is_needed(settled: Town) -> None:
    """The envelope would be stopped at the desk for a license (VP-06) that lay in the inspector's pocket."""
    settled.person("quality").run("licensing", "US-NY", "US-TX")
    inspector = settled.person("inspector")
    at = OPEN.index("--lab")
    words = ("open", *OPEN[1:at], *OPEN[at + 2 :], "--quiet")
    with served(settled), Terminal(inspector, *words) as screen:
        answer(screen, "Laboratory (short name): ", LAB)
        answer(screen, "a license is needed in US-NY, US-TX (Enter: not known): ", "us-ny")
        answer(screen, "Number of your license there (Enter: none; VP-06 will stop it): ", "NY-4711")
        answer(screen, "Its expiration date, like 2027-06-30 (Enter: none on it): ", "2027-06-30")
        shown = answer(screen, "Sign: the visit begins?", "y")
        code, rest = screen.ends()
    assert code == 0, rest
    assert "NY-4711" in shown
    license = {"jurisdiction": "US-NY", "number": "NY-4711", "valid_to": "2027-06-30"}
    assert last(settled, "inspector")["license"] == license


def test_an_answer_of_another_jurisdiction_is_not_signed(settled: Town) -> None:
    """A license of one state would stand on record for a site in the next."""
    settled.person("quality").run("licensing", "US-NY")
    at = OPEN.index("--lab")
    words = ("open", *OPEN[1:at], *OPEN[at + 2 :], "--quiet")
    with served(settled), Terminal(settled.person("inspector"), *words) as screen:
        answer(screen, "Laboratory (short name): ", LAB)
        answer(screen, "Whose law applies at the site", "US-NY")
        answer(screen, "Number of your license there", "NY-4711")
        answer(screen, "Its expiration date", "2027-06-30")
        shown = answer(screen, "Sign: the visit begins?", "")
        line = next(each.split()[0] for each in shown.splitlines() if " jurisdiction " in each)
        answer(screen, "Sign: the visit begins?", line)
        answer(screen, "Whose law applies at the site", "US-VT")
        assert "NY-4711" not in answer(screen, "Sign: the visit begins?", "y")
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled, "inspector")["license"] == {"jurisdiction": "US-VT"}


def test_who_receives_is_asked_for_the_purpose(visited: tuple[Town, list[str]]) -> None:
    """Where the other person left it out the transfer has none (CU-17), and both have driven on."""
    town, samples = visited
    kid = town.person("second").answer("key", "show")["kid"]
    town.person("clerk").run("give", *samples[:3], "--to", "harrow-field", "--to-key", kid)
    words = ("take", *samples[:3], "--condition", "intact", "--count", "3")
    with served(town), Terminal(town.person("second"), *words) as screen:
        answer(screen, "Purpose of the transfer (Enter: as the other person entered it): ", "3")
        answer(screen, "Sign: received?", "y")
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(town, "second")["purpose"] == "storage"


def test_a_purpose_that_the_other_person_named_is_not_asked_for(visited: tuple[Town, list[str]]) -> None:
    """Both would be asked for what one of them has signed, and two purposes stand for one transfer."""
    town, samples = visited
    kid = town.person("second").answer("key", "show")["kid"]
    to = ("--to", "harrow-field", "--to-key", kid)
    town.person("clerk").run("give", *samples[:3], *to, "--purpose", "storage")
    words = ("take", *samples[:3], "--condition", "intact")
    with served(town), Terminal(town.person("second"), *words) as screen:
        answer(screen, "counted (Enter: not counted): ", "3")
        assert "Purpose" not in answer(screen, "Sign: received?", "y")
        code, rest = screen.ends()
    assert code == 0, rest
    assert "purpose" not in last(town, "second")
    assert "CU-17" not in town.person("second").run("show", samples[0])


def test_how_a_number_was_entered_is_not_asked_where_it_shows(settled: Town) -> None:
    """Whoever reads a number off a torn label would have to know of an option for it (CL-07)."""
    _, samples = settled.lot(3)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    for typed, meant in (
        (numbers.grouped(samples[0]), "typed"),
        (samples[1].lower(), "typed"),
        (samples[2], "scan"),
    ):
        settled.clock.advance(minutes=10)
        inspector.run("collect", typed, *INDOOR)
        assert last(settled, "inspector")["entered"] == meant


def test_ctrl_c_in_an_interview_signs_nothing(settled: Town) -> None:
    """Whoever breaks off would leave half a cassette on record."""
    _, samples = settled.lot(1)
    settled.person("inspector").run(*OPEN)
    with served(settled), Terminal(settled.person("inspector"), "collect", samples[0]) as screen:
        answer(screen, "Where was it", "2")
        screen.sees("Area")
        screen.sees(": ")
        screen.types(CTRL_C)
        code, rest = screen.ends()
    assert (code, "Aborted: nothing was signed." in rest) == (1, True), rest
    assert len(settled.person("inspector").outbox()) == 1


def test_every_verb_asks_for_what_is_missing(settled: Town) -> None:
    """Whoever leaves out one option would look it up, while a cassette lies in the sun."""
    _, samples = settled.lot(1)
    settled.person("inspector").run(*OPEN)
    collect(settled, samples[0], INDOOR)
    with served(settled):
        with Terminal(settled.person("inspector"), "secure") as screen:
            answer(screen, "How the samples are secured (1 possession, 2 view, 3 locked", "kept")
            screen.sees("'kept' is none of: 1 possession")
            answer(screen, "How the samples are secured", "3")
            answer(screen, "Where (", "2")
            shown = screen.sees("Sign: held? y signs, n signs nothing, a number changes that line: ")
            assert "Visit of 2026-12-01, 12 Invented Lane" in shown
            assert "locked" in shown
            assert "vehicle" in shown
            assert f"1: {numbers.grouped(samples[0])}" in shown
            screen.types("y\n")
            screen.ends()
        assert (last(settled, "inspector")["secured"], last(settled, "inspector")["where"]) == (
            "locked",
            "vehicle",
        )
        with Terminal(settled.person("inspector"), "--json", "void", samples[0]) as screen:
            code, rest = screen.ends()
        assert (code, "--reason is missing" in rest) == (2, True)


def test_an_envelope_takes_six_answers_apart_from_scans(visited: tuple[Town, list[str]]) -> None:
    """A clerk at half past four would leave out what takes longest."""
    town, samples = visited
    with served(town), Terminal(town.person("clerk"), "seal", "--envelope", ENVELOPE) as screen:
        for sample in (*samples[:3], ""):
            answer(screen, "scan: ", sample)
        asked = (
            ("Samples counted by hand: ", "3"),
            ("Number on the custody seal: ", "hf-1"),
            ("across the opening? [y/n]: ", "y"),
            ("record in the envelope? [y/n]: ", "y"),
            ("Bags or boxes, from outside", "1"),
            ("Sign: sealed?", "y"),
        )
        assert len(asked) <= 6
        for question, text in asked:
            shown = answer(screen, question, text)
        assert "Visit of 2026-12-01, 12 Invented Lane" in shown
        code, rest = screen.ends()
    assert code == 0, rest
    assert "signed by Clerk Person, clerk of harrow-field." in rest
    assert f"`bailee ship {ENVELOPE} …`" in rest


def test_a_flow_that_was_read_on_another_pump_or_visit_is_read_anew(settled: Town) -> None:
    """A reading that nobody took would be signed for a pump, because another one had been checked before."""
    _, samples = settled.lot(3)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, samples[0], INDOOR)
    settled.clock.advance(minutes=10)
    with served(settled):
        with Terminal(inspector, "collect", samples[1], "--temperature-c", "22") as screen:
            for asked, text in USUAL[1:-1]:
                answer(screen, asked, text)
            shown = screen.sees("Sign: collected?")
            number = next(line.split()[0] for line in shown.splitlines() if "pump" in line)
            screen.types(f"{number}\n")
            answer(screen, "Pump number", "P-9")
            answer(screen, "Flow before the run, L/min: ", "14.7")
            answer(screen, "Flow after the run, L/min: ", "14.6")
            shown = answer(screen, "Sign: collected?", "y")
            code, rest = screen.ends()
        assert code == 0, rest
        assert "22 °C" in shown, "the air is that of the place"
        said = last(settled, "inspector")
        read = ("pump", "flow_before", "flow_after", "temperature_c")
        assert [said[name] for name in read] == ["P-9", "14.7", "14.6", "22"]
        settled.clock.advance(minutes=10)
        inspector.run(*OPEN)
        with Terminal(inspector, "collect", samples[2]) as screen:
            for asked, text in (
                *USUAL[1:3],
                ("Serial number", "K-3303"),
                ("Pump number [P-9]: ", ""),
                ("Flow meter number [M-3]: ", "M-4"),
                ("Inlet above the floor, like 4 ft [1.22 m (4 ft)]: ", ""),
                ("Flow before the run, L/min: ", "14.6"),
                *USUAL[4:],
            ):
                answer(screen, asked, text)
            code, rest = screen.ends()
        assert code == 0, rest
    said = last(settled, "inspector")
    assert (said["pump"], said["meter"], said["height_m"]) == ("P-9", "M-4", "1.2192")
    assert said["flow_before"] == "14.6"


def test_another_pump_is_asked_for_its_own_flow_with_the_reason(settled: Town) -> None:
    """Who changes the pump on the last screen would think that the flow just typed was lost."""
    _, samples = settled.lot(1)
    settled.person("inspector").run(*OPEN)
    with served(settled), Terminal(settled.person("inspector"), "collect", samples[0]) as screen:
        for asked, text in FIRST:
            answer(screen, asked, text)
        shown = answer(screen, "Sign: collected?", "")
        line = next(each.split()[0] for each in shown.splitlines() if " pump " in each)
        answer(screen, "Sign: collected?", line)
        answer(screen, "Pump number [P-7]: ", "P-8")
        assert "P-8: its own flow before and after the run." in answer(screen, "Flow before", "15")
        answer(screen, "Flow after", "15.1")
        shown = answer(screen, "Sign: collected?", line)
        assert "15.1 L/min" in shown
        answer(screen, "Pump number [P-8]: ", "P-7")
        assert "15.1 L/min" not in answer(screen, "Sign: collected?", "n"), "and nothing is asked twice"
        assert screen.ends()[0] == 1


def test_an_outdoor_control_is_asked_for_its_point_where_others_have_one(settled: Town) -> None:
    """SL-09 would find after the signature what one question asks before it."""
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, samples[0], (*INDOOR, "--point", "P1"))
    settled.clock.advance(minutes=10)
    typed = ("--pump", "P-7", "--meter", "M-3", "--height", "4 ft", "--serial", "K-2", "--flow-before", "15")
    with served(settled), Terminal(inspector, "collect", samples[1], *typed) as screen:
        for asked, text in (
            ("Where was it", "o"),
            ("Point on the sketch, like P3: ", "P2"),
            ("Distance from the building", "12 ft"),
            ("Near the inlet", "0"),
            ("Sky", "1"),
            ("Wind", "1"),
            ("How long it ran", "5"),
            ("Flow after the run, L/min: ", "14.9"),
            ("Are the covers back on?", "y"),
        ):
            answer(screen, asked, text)
        answer(screen, "Sign: collected?", "y")
        code, rest = screen.ends()
    assert code == 0, rest
    assert (last(settled, "inspector")["kind"], last(settled, "inspector")["point"]) == ("outdoor", "P2")
