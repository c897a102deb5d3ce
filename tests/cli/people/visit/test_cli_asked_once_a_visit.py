"""On a visit nothing is asked that was said on it, every line of the screen before the signature can be
changed, and what was answered outlasts a no and Ctrl-C.

Our own promise (the guides of the inspector and on typing); common practice, no source.
"""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from test_cli_asked_back import RAN, types

from bailee.domain import numbers
from field import FIRM, LAB
from terminal import CTRL_C, Terminal, served
from town import INDOOR, OPEN, OUTDOOR, Town, collect, last

SIGN = ("Sign: collected?", "y")


FLOW = INDOOR.index("--flow-after")
NO_FLOW = (*INDOOR[:FLOW], *INDOOR[FLOW + 2 :], "--serial", "K-1")
"""All but one answer."""


def line(shown: str, label: str) -> str:
    """The number of a line of the screen."""
    rows = [each.split(maxsplit=1) for each in shown.splitlines() if each.split()[:1]]
    return next(first for first, *rest in rows if rest and f"{rest[0]} ".startswith(f"{label} "))


@pytest.mark.slow
def test_the_area_of_a_room_is_asked_once_a_visit(settled: Town) -> None:
    """Three samples in one bedroom would be asked three times whose complaint it is, and one answered
    otherwise.
    """
    _, samples = settled.lot(3)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, samples[0], INDOOR)  # in the bedroom, where the complaint is
    settled.clock.advance(minutes=10)
    with served(settled):
        with Terminal(inspector, "collect", samples[1], columns=80) as screen:
            shown = types(screen, ("Where was it", "2 P2"), ("Serial", "K-2"), *RAN, ("Sign: collected?", ""))
            assert "area         complaint" in shown
            types(screen, ("number changes", line(shown, "where")), ("Where", "1 P2"), ("Area", "3"), SIGN)
            code, rest = screen.ends()
        assert code == 0, rest
        assert (last(settled)["room"], last(settled)["area"]) == ("living", "reference")
        settled.clock.advance(minutes=10)
        with Terminal(inspector, "collect", samples[2], columns=80) as screen:
            types(screen, ("Where was it", "1 P3"), ("Serial", "K-3"), *RAN, SIGN)
            code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled)["area"] == "reference"


@pytest.mark.slow
def test_the_label_is_a_line_that_can_be_scanned_again(settled: Town) -> None:
    """Who scanned the cassette that lay beside would answer all of it again, or sign for the wrong one."""
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    with served(settled), Terminal(inspector, "collect", samples[0], *NO_FLOW) as screen:
        shown = types(screen, ("Flow after", "14.9"), ("Sign: collected?", ""))
        assert numbers.grouped(samples[0]) in shown
        screen.sees("number changes")
        screen.sees(": ")
        screen.types(f"{line(shown, 'sample')}\n")
        types(screen, ("Number on the label: scan it", "X"), (": ", numbers.grouped(samples[1]).lower()))
        assert f"{numbers.grouped(samples[1])} (typed)" in types(screen, SIGN)
        code, rest = screen.ends()
    assert code == 0, rest
    assert (last(settled)["sample"], last(settled)["entered"]) == (samples[1], "typed")


@pytest.mark.slow
@pytest.mark.parametrize("leaves", ["n\n", CTRL_C])
def test_what_was_answered_outlasts_a_no_and_ctrl_c(settled: Town, leaves: str) -> None:
    """Eight answers given on a stairway would be gone with one key, and the start of the run with them."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    where = (
        ("Where was it", "2 P1"),
        ("Area", "1"),
        ("Serial", "K-1"),
        ("Pump", "P-7"),
        ("Flow meter", "M-3"),
    )
    with served(settled):
        with Terminal(inspector, "collect", samples[0], columns=80) as screen:
            types(screen, *where, ("Inlet", "4 ft"), ("Flow before", "15"), *RAN)
            screen.sees("Sign: collected?")
            screen.sees("line: ")
            screen.types(leaves)
            code, rest = screen.ends()
        told = " ".join(rest.split())
        assert code == 1
        assert f"Saved: {numbers.grouped(samples[0])}, 10 answered. `bailee collect {samples[0]}`" in told
        settled.clock.advance(minutes=30)
        with Terminal(inspector, "collect", samples[0], columns=80) as screen:
            shown = types(screen, ("Sign: collected?", ""))
            assert "10 answered" in shown
            types(screen, ("number changes", line(shown, "serial")), ("Serial", "K-2"), SIGN)
            code, rest = screen.ends()
    assert code == 0, rest
    said = last(settled)
    assert (said["serial"], said["started"][:16]) == ("K-2", "2026-12-01T08:55"), "the run had ended by then"
    assert "10 answered" not in inspector.run("collect", samples[0], code=2)


@pytest.mark.slow
def test_a_visit_that_was_left_goes_on_where_it_was(settled: Town) -> None:
    """Whoever is called away at the tenth question would begin with the first again."""
    inspector = settled.person("inspector")
    asked = (
        ("Time zone of the site", "America/New_York"),
        ("Address of the site", "12 Invented Lane"),
        ("Client", ""),
    )
    with served(settled):
        with Terminal(inspector, "open", "--quiet", "--lab", LAB, columns=80) as screen:
            types(screen, *asked)
            screen.sees("What should the samples answer")
            screen.sees(": ")
            screen.types(CTRL_C)
            code, rest = screen.ends()
        assert (code, "4 answered. `bailee open` goes on" in " ".join(rest.split())) == (1, True), rest
        with Terminal(inspector, "open", "--quiet", columns=80) as screen:
            types(screen, ("Go on with it? (n begins with the first question again.) [y/n]: ", "y"))
            screen.sees("What should the samples answer")
            screen.types(CTRL_C)
        with Terminal(inspector, "open", "--quiet", "--anew", columns=80) as screen:
            screen.sees("Laboratory (short name): ")
            screen.types(CTRL_C)
            code, rest = screen.ends()
    assert (code, "Saved" in rest) == (1, False), rest


@pytest.mark.slow
def test_what_nobody_knows_is_said_so(settled: Town) -> None:
    """An hour that nobody knows would be made up, since the question takes nothing else."""
    inspector = settled.person("inspector")
    at = OPEN.index("--windows-closed-h")
    words = [*OPEN[:at], *OPEN[at + 2 :]]
    for gone in ("--lab", "--turnaround", "--fresh-air"):
        del words[words.index(gone) : words.index(gone) + 2]
    with served(settled), Terminal(inspector, *words, "--quiet", columns=80) as screen:
        shown = types(
            screen, ("Laboratory", LAB), ("Windows and doors closed", "not known"), ("Fresh-air", "u"),
            ("Turnaround wanted, like 2 days (u not known): ", "u"), ("Sign: the visit begins?", "y"),
        )  # fmt: skip
        code, rest = screen.ends()
    assert code == 0, rest
    assert shown[shown.index("Visit of") :].count(" not known\n") == 3, shown
    said = last(settled)
    assert (said["preparation"]["windows_closed_h"], "turnaround" in said) == (None, False)


@pytest.mark.slow
def test_a_warning_about_a_distance_is_shown_before_the_signature(settled: Town) -> None:
    """A control collected beside the wall would be warned of when the pump is packed (OC-04)."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    at = OUTDOOR.index("--distance")
    words = (*OUTDOOR[:at], *OUTDOOR[at + 2 :], "--serial", "K-1")
    flow = words.index("--flow-after")
    words = (*words[:flow], *words[flow + 2 :])
    asked = (("Distance from the building", "1 ft"), ("Flow after", "14.9"), ("Sign: collected?", ""))
    with served(settled), Terminal(inspector, "collect", samples[0], *words) as screen:
        shown = types(screen, *asked)
        assert "This will be warned of (OC-04)" in shown
        shown = types(screen, ("number changes", line(shown, "distance")), ("Distance", "20 ft"), SIGN)
        code, rest = screen.ends()
    assert (code, "OC-04" in shown) == (0, False), rest


@pytest.mark.slow
def test_one_point_for_two_places_is_asked_back(settled: Town) -> None:
    """Two samples would stand at one point of the sketch, and nobody could say which is which (SL-08)."""
    _, samples = settled.lot(3)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, samples[0], (*INDOOR, "--point", "P1"))
    settled.clock.advance(minutes=10)
    point = last(settled)["point"]
    where = ("Where was it", f"2 {point}")
    with served(settled), Terminal(inspector, "collect", samples[1], columns=80) as screen:
        shown = types(
            screen,
            where,
            ("Serial", "K-2"),
            *RAN,
            ("Point on the sketch again; or y: it is so; or n: ", "P2"),
            SIGN,
        )
        assert f"was collected at {point} in the bedroom already" in " ".join(shown.split())
        assert "bedroom, point P2" in shown
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled)["point"] == "P2"
    settled.clock.advance(minutes=10)
    inspector.run("collect", samples[2], *INDOOR, "--point", "P2")


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--flow-before", "-3"), "'-3' will not do"),
        (("--kind", "blank", "--flow-before", "15"), "a field blank draws no air"),
        (("--pump", "P" * 1000), "will not do"),
    ],
)
@pytest.mark.slow
def test_an_option_that_cannot_be_is_refused_before_the_label_is_scanned(
    settled: Town, words: tuple[str, ...], why: str
) -> None:
    """Whoever typed it would answer all the rest for nothing."""
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    with served(settled), Terminal(inspector, "collect", *words, columns=80) as screen:
        code, rest = screen.ends()
    assert (code, why in " ".join(rest.split()), "scan" in rest) == (2, True, False), rest


@pytest.mark.slow
def test_a_run_without_its_colon_is_asked_back(settled: Town) -> None:
    """149 typed for 1:49 would be signed as two and a half minutes, and the volume with it."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    run = INDOOR.index("--run")
    words = (*INDOOR[:run], *INDOOR[run + 2 :], "--serial", "K-1")
    with served(settled), Terminal(inspector, "collect", samples[0], *words, columns=80) as screen:
        shown = types(screen, ("How long it ran", "149"), ("like 1:49; or y: it is so; or n: ", "1:49"), SIGN)
        code, rest = screen.ends()
    assert "149 seconds are 2:29. Or was it 1:49?" in shown
    assert code == 0, rest
    assert last(settled)["run_s"] == 109


@pytest.mark.slow
def test_the_only_laboratory_is_not_asked_for_and_can_be_changed(settled: Town) -> None:
    """A firm with one laboratory would type its name at every door, or have no say where there is another."""
    settled.person("inspector").run(*OPEN)
    second = settled.person("second-inspector")
    settled.enroll("second-inspector", FIRM, "inspector")
    words = [*OPEN]
    for gone in ("--lab", "--zone"):
        del words[words.index(gone) : words.index(gone) + 2]
    with served(settled), Terminal(second, *words, "--quiet", columns=80) as screen:
        shown = types(screen, ("Time zone of the site", "America/New_York"), ("Sign: the visit begins?", ""))
        assert "Laboratory" not in shown
        assert LAB in next(each for each in shown.splitlines() if " laboratory " in each)
        types(screen, ("number changes", line(shown, "laboratory")), ("Laboratory (short name)", FIRM))
        types(screen, ("or n: ", LAB), ("Sign: the visit begins?", "y"))
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled, "second-inspector")["parties"]["lab"] == LAB


@pytest.mark.slow
def test_the_one_laboratory_that_the_firm_endorsed_is_not_asked_for_on_its_first_visit(settled: Town) -> None:
    """On the first visit of all, the inspector would type from memory the name that the office has signed."""
    lab = settled.person("lab-root").answer("key", "show")["kid"]
    settled.person("firm-root").run("endorse", LAB, lab)
    inspector = settled.person("inspector")
    words = [*OPEN]
    for gone in ("--lab", "--zone"):
        del words[words.index(gone) : words.index(gone) + 2]
    with served(settled), Terminal(inspector, *words, "--quiet", columns=80) as screen:
        shown = types(screen, ("Time zone of the site", "America/New_York"), ("Sign: the visit begins?", ""))
        assert "Laboratory" not in shown
        types(screen, ("number changes", "y"))
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled)["parties"]["lab"] == LAB


@pytest.mark.slow
def test_samples_go_to_a_colleague_with_an_enter(settled: Town) -> None:
    """The inspector would type the name of their own firm at every transfer to the clerk."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, samples[0], INDOOR)
    with served(settled), Terminal(inspector, "give", samples[0], columns=80) as screen:
        types(
            screen, (f"Short name of the organization that receives them [{FIRM}]: ", ""), ("Purpose: ", "2")
        )
        shown = types(screen, ("counted (Enter", "1"), ("Sign: relinquished?", "y"))
        code, rest = screen.ends()
    assert (code, f"to       {FIRM}" in shown) == (0, True), shown + rest
    assert last(settled)["to"] == FIRM


@pytest.mark.slow
def test_pump_and_meter_of_the_kit_are_offered_on_its_day_alone(settled: Town) -> None:
    """Who scanned the pump at the shelf would type its number at the door, or sign that of another day."""
    _, samples = settled.lot(4)
    inspector = settled.person("inspector")
    valid = ("--pump-valid-to", "2027-01-31", "--meter-valid-to", "2027-01-31")
    inspector.run("kit", "--visit", "2026-12-01", *samples, "--pump", "P-9", "--meter", "M-4", *valid)
    inspector.run(*OPEN)
    with served(settled), Terminal(inspector, "collect", samples[0], columns=80) as screen:
        types(screen, ("Where was it", "1"), ("Area", "1"), ("Serial", "K-1"))
        screen.sees("In brackets: as in the kit, or on the last visit. Enter takes it.")
        screen.sees("Pump number [P-9]: ")
        screen.types("\n")
        screen.sees("Flow meter number [M-4]: ")
        screen.types(CTRL_C)
        screen.ends()
    settled.clock.advance(hours=24)
    inspector.run(*OPEN)
    with served(settled), Terminal(inspector, "collect", samples[1], columns=80) as screen:
        types(screen, ("Where was it", "1"), ("Area", "1"), ("Serial", "K-1"))
        screen.sees("Pump number: ")


@pytest.mark.slow
def test_which_of_two_numbers_is_wrong_is_chosen_first(settled: Town) -> None:
    """Who mends the pump would put its number in the place of the meter, and both are wrong on record."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    words = [*INDOOR, "--serial", "K-1", "--point", "P1"]
    words[words.index("--pump") + 1] = words[words.index("--meter") + 1] = "M-3"
    with served(settled), Terminal(inspector, "collect", samples[0], *words, columns=80) as screen:
        screen.sees("M-3 is entered as the pump and as the flow meter.")
        screen.sees("Which is wrong: 1 flow meter, 2 pump; or y: it is so; or n: ")
        screen.types("P-6\n")  # no number of a field: it is asked again, and nothing is changed
        screen.sees("Which is wrong: 1 flow meter, 2 pump; or y: it is so; or n: ")
        screen.types("2\n")
        screen.sees("Pump again; or y: it is so; or n: ")
        screen.types("P-6\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert (last(settled)["pump"], last(settled)["meter"]) == ("P-6", "M-3")


@pytest.mark.slow
def test_a_time_typed_for_a_pump_in_two_places_is_the_start(settled: Town) -> None:
    """The time that was mended would stand on record as the number of the pump (PV-10)."""
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, samples[0], (*INDOOR, "--point", "P1"))
    started = last(settled)["started"][11:16]
    settled.clock.advance(minutes=30)
    words = (*INDOOR, "--serial", "K-2", "--point", "P2", "--started", started)
    with served(settled), Terminal(inspector, "collect", samples[1], *words, columns=80) as screen:
        screen.sees("Which is wrong: 1 pump, 2 start; or y: it is so; or n: ")
        screen.types("2\n")
        screen.sees("Start again; or y: it is so; or n: ")
        later = settled.clock.now.timestamp() - 900
        screen.types(f"{datetime.fromtimestamp(later, ZoneInfo('America/New_York')):%H:%M}\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert (last(settled)["pump"], last(settled)["started"][11:16] != started) == ("P-7", True)


@pytest.mark.slow
def test_a_point_is_typed_again_without_its_room(settled: Town) -> None:
    """The point would be called `2 P2` on record, beside the room that was answered before."""
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, samples[0], INDOOR)
    point = last(settled)["point"]
    settled.clock.advance(minutes=10)
    words = (*INDOOR, "--serial", "K-2", "--point", point)
    with served(settled), Terminal(inspector, "collect", samples[1], *words, columns=80) as screen:
        screen.sees("Point on the sketch again; or y: it is so; or n: ")
        screen.types("2 P77\n")
        screen.sees("'2 P77' is not a point: write it alone, like P2.")
        screen.types("P77\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(settled)["point"] == "P77"
