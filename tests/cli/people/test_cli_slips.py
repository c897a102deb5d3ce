"""A slip of the finger is asked back before it is signed, and refused where nobody can be asked.

What is a slip: tests/asking/test_slips.py. That nothing is asked without a terminal, and how a program goes
on all the same, is our own promise (README, "Exit codes"); no outside source.
"""

from __future__ import annotations

import pytest

from bailee.domain import numbers
from field import FIRM, LAB
from terminal import CTRL_C, Terminal, served
from town import ENVELOPE, INDOOR, INTACT, OPEN, SEAL, Town, collect, last


def but(words: tuple[str, ...], option: str, value: str) -> tuple[str, ...]:
    """The same command with another value of one option."""
    at = words.index(option) + 1
    return (*words[:at], value, *words[at + 1 :])


@pytest.fixture
def at_work(settled: Town) -> tuple[Town, list[str]]:
    """A visit begun, and three cassettes."""
    _, samples = settled.lot(3)
    settled.person("inspector").run(*OPEN)
    return settled, samples


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (but(INDOOR, "--run", "5"), "run-of-seconds"),
        (but(INDOOR, "--run", "55"), "run-without-unit"),
        (but(INDOOR, "--flow-after", "1.49"), "flow-far-off"),
        ((*INDOOR, "--temperature-c", "68"), "fahrenheit"),
        ((*INDOOR, "--started", "2026-11-30 09:00"), "another-day"),
        ((*INDOOR, "--zone", "America/Denver"), "other-zone"),
    ],
)
def test_a_slip_in_a_script_is_refused_and_signed_with_anyway(
    at_work: tuple[Town, list[str]], words: tuple[str, ...], code: str
) -> None:
    """Five seconds where five minutes were meant would stand for ever, with a volume of 1.25 L."""
    town, samples = at_work
    inspector = town.person("inspector")
    told = inspector.answer("collect", samples[0], *words, code=2)
    assert told["code"] == "slip"
    assert code in [each["code"] for each in told["slips"]]
    assert all(each.keys() >= {"field", "sentence", "remedy"} for each in told["slips"])
    assert len(inspector.outbox()) == 1
    assert "Signed all the same" in inspector.run("collect", samples[0], *words, "--anyway")
    assert len(inspector.outbox()) == 2


def test_a_cassette_for_a_visit_that_is_sealed_is_refused_in_a_script(
    visited: tuple[Town, list[str]],
) -> None:
    """Today's cassette would go onto yesterday's form, because that was the one worked on last."""
    town, samples = visited
    town.person("clerk").run("seal", *samples[:3], "--counted", "3", *SEAL)
    inspector = town.person("inspector")
    town.clock.advance(minutes=10)
    told = inspector.answer("collect", samples[3], *INDOOR, code=2)
    assert [each["code"] for each in told["slips"]] == ["visit-closed"]
    inspector.run("collect", samples[3], *INDOOR, "--anyway")


def test_a_form_to_oneself_or_of_another_year_is_refused_in_a_script(settled: Town) -> None:
    """A form would be addressed to the firm that sends it, or lie a year away from its samples."""
    inspector = settled.person("inspector")
    for words, code in (
        (but(OPEN, "--lab", FIRM), "own-firm-as-laboratory"),
        ((*OPEN, "--visit", "2027-12-01"), "far-day"),
    ):
        told = inspector.answer(*words, code=2)
        assert [each["code"] for each in told["slips"]] == [code]
    assert inspector.outbox() == []
    inspector.run(*but(OPEN, "--lab", "quil-lab"), "--anyway")


def test_the_dock_and_the_shipper_are_asked_about_degrees(shipped: tuple[Town, list[str]]) -> None:
    """A mild 68 °F inside the envelope would be recorded as heat that ruins every trace in it."""
    town, samples = shipped
    worker = town.person("dock")
    words = ("receive", *arrived(samples), "--temperature", "68", "--yes")
    told = worker.answer(*words, code=2)
    assert [each["code"] for each in told["slips"]] == ["fahrenheit"]
    worker.run(*but(words, "--temperature", "68 F"))
    assert last(town, "dock")["dock"]["temperature_c"] == "20.0"


def arrived(samples: list[str]) -> tuple[str, ...]:
    """What the dock types of an envelope in order."""
    return (
        ENVELOPE, *samples[:3], *INTACT, "--package", "sound",
        "--counted", "3", "--record-enclosed",
    )  # fmt: skip


def test_a_pump_that_runs_elsewhere_is_refused_in_a_script(settled: Town) -> None:
    """The stop of PV-10 would be told when the pump is packed and the site is far away, and only a correction
    would lift it.
    """
    _, samples = settled.lot(3)
    inspector, second = settled.person("inspector"), settled.person("second")
    inspector.run(*OPEN)
    form = inspector.outbox()[-1]["chain"].removeprefix("form/")
    inspector.run("collect", samples[0], *INDOOR, "--started", "08:40")
    for person, words in (
        (inspector, ("--started", "08:44")),
        (second, ("--form", form, "--started", "08:36")),
        (inspector, ("--started", "08:42", "--offline")),
    ):
        before = len(person.outbox())
        told = person.answer("collect", samples[1], *INDOOR, *words, code=2)
        assert [(each["code"], each["field"]) for each in told["slips"]] == [("pump-in-two-places", "pump")]
        assert "(08:40, 300 s)" in told["detail"]
        assert len(person.outbox()) == before
    inspector.run(*OPEN)
    assert "pump-in-two-places" in str(
        inspector.answer("collect", samples[1], *INDOOR, "--started", "08:44", code=2)
    )
    inspector.run("collect", samples[1], *INDOOR, "--started", "08:45")
    assert "Signed all the same" in inspector.run(
        "collect", samples[2], *INDOOR, "--started", "08:44", "--anyway"
    )


def test_a_run_that_was_corrected_or_is_void_holds_no_pump(settled: Town) -> None:
    """A start typed wrongly and corrected would be asked back at every cassette that follows."""
    _, samples = settled.lot(3)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    inspector.run("collect", samples[0], *INDOOR, "--started", "08:40")
    inspector.run("correct", samples[0], "pump=P-8", "--reason", "misread")
    inspector.run("collect", samples[1], *INDOOR, "--started", "08:41")
    inspector.run("void", samples[1], "--reason", "other", "--yes")
    inspector.run("collect", samples[2], *INDOOR, "--started", "08:42", "--offline")


def test_a_serial_collected_before_is_refused_in_a_script(settled: Town) -> None:
    """One cassette would be on record under two numbers (CL-04), and nobody at the office can read which."""
    _, samples = settled.lot(2)
    _, (other,) = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, samples[0], INDOOR)
    serial = f"K-{samples[0][-6:]}"
    settled.clock.advance(minutes=10)
    told = inspector.answer("collect", samples[1], *INDOOR, "--serial", serial, code=2)
    assert [(each["code"], each["field"]) for each in told["slips"]] == [("serial-twice", "serial")]
    inspector.run(*OPEN)
    assert "serial-twice" in str(inspector.answer("collect", samples[1], *INDOOR, "--serial", serial, code=2))
    inspector.run("collect", other, *INDOOR, "--serial", serial)  # of another maker's box


def test_what_does_not_fit_the_visit_is_refused_in_a_script(settled: Town) -> None:
    """A flow would rest on the certificate of a pump, or a control stand half a day from its samples."""
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    settled.clock.advance(hours=6)
    inspector.run("collect", samples[0], *INDOOR, "--started", "14:39")
    for words, code in (
        (("--started", "2:50"), "half-a-day-off"),
        (("--started", "14:50", "--pump", "P-8", "--meter", "P-7"), "pump-as-meter"),
        (("--started", "14:50", "--pump", "M-3", "--meter", "M-4"), "meter-as-pump"),
        (("--started", "14:50", "--serial", "M-3"), "equipment-as-serial"),
    ):
        told = inspector.answer("collect", samples[1], *INDOOR, *words, code=2)
        assert [each["code"] for each in told["slips"]] == [code]
    check = ("--meter", "P-7", "--flow", "15.0", "--when", "after", "--through-cassette")
    told = inspector.answer("check-pump", "P-8", *check, code=2)
    assert [each["code"] for each in told["slips"]] == ["pump-as-meter"]
    assert len(inspector.outbox()) == 2
    assert "Signed all the same" in inspector.run(
        "collect", samples[1], *INDOOR, "--started", "2:50", "--anyway"
    )


@pytest.mark.slow
def test_at_a_terminal_pump_and_serial_are_typed_again(at_work: tuple[Town, list[str]]) -> None:
    """The inspector, with both cassettes in hand, would sign what only a correction makes good."""
    town, samples = at_work
    inspector = town.person("inspector")
    inspector.run("collect", samples[0], *INDOOR, "--serial", "K-1")
    with (
        served(town),
        Terminal(
            inspector,
            "collect",
            samples[1],
            *but(INDOOR, "--room", "kitchen"),
            "--started",
            "08:53",
            "--serial",
            "K-1",
        ) as screen,
    ):
        assert "P-7 would have run for" in screen.sees("or n: ")
        screen.types("P-8\n")
        assert "Type 1, 2, y or n." in screen.sees("or n: ")
        screen.types("1\n")
        assert "Pump again" in screen.sees("or n: ")
        screen.types("P-8\n")
        assert "with serial K-1 was collected as" in screen.sees("or n: ")
        screen.types("p-7\n")
        assert "p-7 is entered as the serial, and is the number of a pump." in screen.sees("or n: ")
        screen.types("K-2\n")
        code, rest = screen.ends()
    assert code == 0, rest
    said = last(town, "inspector")
    assert (said["pump"], said["serial"]) == ("P-8", "K-2")


@pytest.mark.slow
def test_at_a_terminal_a_slip_is_typed_again(at_work: tuple[Town, list[str]]) -> None:
    """The inspector in the room, who knows that it ran five minutes, would be sent away with an error."""
    town, samples = at_work
    words = but(but(INDOOR, "--run", "5"), "--flow-after", "1.49")
    with served(town), Terminal(town.person("inspector"), "collect", samples[0], *words) as screen:
        assert "would have run 5 s. 5 minutes are written" in screen.sees("or n: ")
        screen.types("\n")
        screen.types("five\n")
        screen.sees("not a run time")
        screen.types("5 min\n")
        assert "would be 1.49 L/min" in screen.sees("like 14.9; or y: it is so; or n: ")
        screen.types("14,9\n")
        code, rest = screen.ends()
    assert code == 0, rest
    said = last(town, "inspector")
    assert (said["run_s"], said["flow_after"]) == (300, "14.9")


@pytest.mark.slow
def test_at_a_terminal_it_may_be_so_and_no_signs_nothing(at_work: tuple[Town, list[str]]) -> None:
    """What is true and odd could not be recorded, or an Enter would sign what nobody meant."""
    town, samples = at_work
    with served(town):
        with Terminal(town.person("inspector"), "collect", samples[0], *but(INDOOR, "--run", "20")) as screen:
            screen.sees("or n: ")
            screen.types("no\n")
            code, rest = screen.ends()
        assert (code, "Nothing was signed." in rest) == (1, True)
        with Terminal(town.person("inspector"), "collect", samples[0], *but(INDOOR, "--run", "20")) as screen:
            screen.sees("or n: ")
            screen.types("yes\n")
            code, rest = screen.ends()
        assert code == 0, rest
        assert last(town, "inspector")["run_s"] == 20
        with Terminal(town.person("inspector"), *but(OPEN, "--lab", "quil-lab")) as screen:
            assert LAB in screen.sees("or n: ")
            screen.types(f"{LAB}\n")
            code, rest = screen.ends()
        assert code == 0, rest
        assert last(town, "inspector")["parties"]["lab"] == LAB


def test_another_count_than_the_number_named_is_refused_in_a_script(
    visited: tuple[Town, list[str]],
) -> None:
    """A script that scans four and counts three would sign for a cassette that nobody has in hand."""
    town, samples = visited
    clerk = town.person("clerk")
    kid = town.person("second").answer("key", "show")["kid"]
    give = ("give", *samples[:3], "--to", FIRM, "--to-key", kid)
    told = clerk.answer(*give, "--count", "4", code=2)
    assert (told["code"], [each["code"] for each in told["slips"]]) == ("slip", ["count-differs"])
    clerk.run(*give, "--count", "3")
    second = town.person("second")
    take = ("take", *samples[:3], "--condition", "intact", "--purpose", "storage", "--count", "2")
    assert "2 counted by hand, and 3 named." in second.run(*take, code=2)
    assert second.outbox() == []
    assert "Signed all the same" in second.run(*take, "--anyway")
    assert last(town, "second")["count"] == 2


@pytest.mark.slow
def test_four_counted_of_three_named_is_asked_back(at_work: tuple[Town, list[str]]) -> None:
    """The fourth cassette would be missed at the dock, two days and one state further on."""
    town, samples = at_work
    for sample in samples:
        collect(town, sample, INDOOR)
    with (
        served(town),
        Terminal(
            town.person("inspector"), "give", *samples, "--to", FIRM, "--count", "4", "--purpose", "shipping"
        ) as screen,
    ):
        assert "4 counted by hand, and 3 named" in screen.sees("or n: ")
        screen.types("3\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(town, "inspector")["count"] == 3


@pytest.mark.slow
def test_three_counted_of_four_taken_is_asked_back(visited: tuple[Town, list[str]]) -> None:
    """Whoever receives would sign for a cassette that still lies in the other person's kit."""
    town, samples = visited
    kid = town.person("second").answer("key", "show")["kid"]
    town.person("clerk").run("give", *samples[:3], "--to", FIRM, "--to-key", kid)
    words = (*samples[:3], "--condition", "intact", "--purpose", "storage", "--count", "2")
    with served(town), Terminal(town.person("second"), "take", *words) as screen:
        assert "2 counted by hand, and 3 named" in screen.sees("or n: ")
        screen.types("no\n")
        code, rest = screen.ends()
    assert (code, "Nothing was signed." in rest) == (1, True)
    assert town.person("second").outbox() == []


def test_a_cassette_given_and_not_taken_is_refused_in_a_script(collected: tuple[Town, list[str]]) -> None:
    """Whoever receives would sign for two of three, and the third lies in a kit that drives away."""
    town, samples = collected
    inspector, clerk, second = (town.person(each) for each in ("inspector", "clerk", "second"))
    kid = clerk.answer("key", "show")["kid"]
    inspector.run("give", *samples[:3], "--to", FIRM, "--to-key", kid)
    take = ("take", *samples[:2], "--condition", "intact", "--purpose", "shipping")
    told = clerk.answer(*take, code=2)
    assert [each["code"] for each in told["slips"]] == ["given-not-taken"]
    assert f"Inspector Person relinquished {numbers.grouped(samples[2])} to you as well" in told["detail"]
    assert clerk.outbox() == []
    assert "Signed all the same" in clerk.run(*take, "--anyway")
    clerk.run("take", samples[2], "--condition", "intact", "--purpose", "shipping")
    clerk.run("give", *samples[:3], "--to", FIRM)
    assert "given-not-taken" in str(second.answer(*take, code=2))
    clerk.run("take", *samples[:3], "--condition", "intact", "--both", "--offline")


def test_what_was_given_to_another_person_is_nothing_to_look_for(
    collected: tuple[Town, list[str]],
) -> None:
    """The clerk would be asked for cassettes that the inspector gave to somebody else."""
    town, samples = collected
    clerk, second = town.person("clerk"), town.person("second")
    for person, given in ((clerk, samples[:1]), (second, samples[1:3])):
        kid = person.answer("key", "show")["kid"]
        town.person("inspector").run("give", *given, "--to", FIRM, "--to-key", kid)
    clerk.run("take", samples[0], "--condition", "intact", "--purpose", "shipping")


def test_a_cassette_of_another_visit_given_and_not_taken_is_refused_in_a_script(
    collected: tuple[Town, list[str]],
) -> None:
    """Of two visits handed over at one door the clerk would sign for one, and nobody has the other."""
    town, samples = collected
    inspector, clerk = town.person("inspector"), town.person("clerk")
    kid = clerk.answer("key", "show")["kid"]
    inspector.run(*OPEN)
    collect(town, samples[3], INDOOR)
    take = ("take", *samples[:3], "--condition", "intact", "--purpose", "shipping")
    inspector.run("give", *samples[:3], "--to", FIRM, "--to-key", kid)
    inspector.run("give", samples[3], "--to", FIRM, "--to-key", kid)
    told = clerk.answer(*take, code=2)
    assert [(each["code"], each["said"]) for each in told["slips"]] == [
        ("given-not-taken", numbers.grouped(samples[3]))
    ]
    clerk.run(*take, samples[3])


@pytest.mark.slow
def test_a_cassette_given_and_not_taken_is_asked_about(collected: tuple[Town, list[str]]) -> None:
    """Nobody tells the clerk at the door that one is missing from what the inspector signed away."""
    town, samples = collected
    clerk = town.person("clerk")
    town.person("inspector").run(
        "give", *samples[:3], "--to", FIRM, "--to-key", clerk.answer("key", "show")["kid"]
    )
    words = ("take", *samples[:2], "--condition", "intact", "--purpose", "shipping", "--count", "2")
    for answer, ends in (("no", 1), ("yes", 0)):
        with served(town), Terminal(clerk, *words) as screen:
            assert "relinquished" in screen.sees("Is it so? [y/n]: ")
            screen.types(f"{answer}\n")
            code, rest = screen.ends()
        assert code == ends, rest
        assert len(clerk.outbox()) == 1 - ends


def test_a_label_scanned_as_the_seal_is_refused_in_a_script(shipped: tuple[Town, list[str]]) -> None:
    """The envelope would be on record with a seal that nobody laid across it, and as broken into."""
    town, samples = shipped
    clerk, worker = town.person("clerk"), town.person("dock")
    received = but(("receive", *arrived(samples), "--yes"), "--seal", samples[0])
    take_in = (
        "take-in", ENVELOPE, "--seal", ENVELOPE, "--seal-state", "intact", "--package", "sound", "--how",
        "locked", "--where", "laboratory",
    )  # fmt: skip
    for person, words, label in (
        (worker, received, "a cassette label"),
        (worker, take_in, "an envelope label"),
        (clerk, ("unseal", ENVELOPE, "--reason", "wrong_seal", "--seal", samples[0]), "a cassette label"),
    ):
        before = len(person.outbox())
        told = person.answer(*words, code=2)
        assert [each["code"] for each in told["slips"]] == ["label-as-seal"]
        assert label in told["detail"]
        assert len(person.outbox()) == before
    worker.run(*received, "--anyway")
    assert last(town, "dock")["dock"]["seal"] == samples[0]


def test_a_seal_of_one_digit_is_refused_in_a_script(shipped: tuple[Town, list[str]]) -> None:
    """The number of a choice typed for the seal would be a seal that does not match, and no one broke it."""
    town, samples = shipped
    worker = town.person("dock")
    for read in ("3", "4 "):
        words = but(("receive", *arrived(samples), "--yes"), "--seal", read)
        told = worker.answer(*words, code=2)
        assert [(each["code"], each["said"]) for each in told["slips"]] == [("short-seal", read.strip())]
    cut = but(("receive", *arrived(samples), "--yes"), "--seal", "C-47")
    worker.run(*cut)  # a script reads what is left of a seal, and it is judged
    assert last(town, "dock")["dock"]["seal"] == "C-47"


@pytest.mark.slow
def test_seal_and_warmth_are_asked_back_before_anything_is_scanned(
    shipped: tuple[Town, list[str]],
) -> None:
    """Who typed a 3 for the seal and 68 for the warmth would hear of it forty scans later."""
    town, _ = shipped
    with served(town), Terminal(town.person("dock"), "receive", ENVELOPE, columns=80) as screen:
        seen = ""
        for question, text in (
            ("6 not looked at): ", "1"),
            ("Number as read on the seal", "3"),
            ("or n: ", "C-47"),
            ("or n: ", "C-4711"),
            ("Seal", "1"),
            ("record inside?", "y"),
            ("Temperature inside", "68"),
            ("or n: ", "68 F"),
            ("scan: ", ""),
        ):
            seen += screen.sees(question)
            seen += "" if question.endswith(": ") else screen.sees(": ")
            screen.types(f"{text}\n")
        assert "3 is no number of a seal" in seen
        assert "C-47 has fewer characters than the number on record." in seen
        assert "C-4711" not in seen.replace("C-4711\n", "")


@pytest.mark.slow
def test_a_label_scanned_at_the_question_for_the_seal_is_asked_again(
    shipped: tuple[Town, list[str]],
) -> None:
    """Who scans the cassette that lies nearest to hand would have read a seal that does not match."""
    town, samples = shipped
    worker = town.person("dock")
    words = ("receive", ENVELOPE, *samples[:3], "--package", "sound", "--all-intact", "--record-enclosed")
    with served(town), Terminal(worker, *words, "--counted", "3", "--seal-state", "intact") as screen:
        screen.sees("Number as read on the seal")
        screen.sees(": ")
        screen.types(f"{samples[0]}\n")
        assert "is the number of a cassette label, not of a seal." in screen.sees("or n: ")
        screen.types("c-4711\n")
        screen.sees("(Enter: not measured): ")
        screen.types("\n")
        screen.sees("Sign: received?")
        screen.sees(": ")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(town, "dock")["dock"]["seal"] == "C-4711"


@pytest.mark.slow
@pytest.mark.parametrize(("typed", "kept"), [("41 F", "5.0"), ("41 C", "41"), ("yes", "41")])
def test_a_count_and_a_temperature_at_the_dock_are_asked_back(
    shipped: tuple[Town, list[str]], typed: str, kept: str
) -> None:
    """The cool envelope is on record as one from the sun, and the cassettes as miscounted: nobody asked."""
    town, samples = shipped
    words = ("receive", ENVELOPE, *samples[:3], *INTACT, "--package", "sound", "--record-enclosed")
    with served(town), Terminal(town.person("dock"), *words, columns=80) as screen:
        screen.sees("(Enter: not measured): ")
        screen.types("41\n")
        screen.sees("41 C or 41 F? 41 \N{DEGREE SIGN}F is 5.0 \N{DEGREE SIGN}C.")
        screen.sees("or n: ")
        screen.types(f"{typed}\n")
        screen.sees("Samples counted by hand: ")
        screen.types("1\n")
        screen.sees("1 counted by hand, and 3 named.")
        screen.sees("or n: ")
        screen.types("3\n")
        screen.sees("Sign: received?")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    dock = last(town, "dock")["dock"]
    assert (dock["temperature_c"], dock["total"]) == (kept, 3)


@pytest.mark.slow
def test_what_was_never_given_or_is_given_already_is_asked_back(collected: tuple[Town, list[str]]) -> None:
    """The wrong cassette is taken from the shelf or given twice, and custody shows it only at the audit."""
    town, samples = collected
    inspector, clerk = town.person("inspector"), town.person("clerk")
    to_clerk = ("--to", FIRM, "--to-key", clerk.answer("key", "show")["kid"], "--purpose", "storage")
    take = ("take", samples[0], "--condition", "intact", "--count", "1", "--purpose", "storage")
    give = ("give", samples[0], *to_clerk, "--count", "1")
    with served(town):
        with Terminal(clerk, *take, columns=80) as screen:
            assert "No relinquishing entry of sample" in screen.sees("Is it so? [y/n]: ")
            screen.types("no\n")
            assert screen.ends()[0] == 1
        inspector.run(*give)
        with Terminal(
            inspector, *but(give, "--to-key", town.person("second").answer("key", "show")["kid"]), columns=80
        ) as screen:
            shown = " ".join(screen.sees("Is it so? [y/n]: ").split())
            assert "relinquished already by Inspector Person to harrow-field, and not received since" in shown
            screen.types("no\n")
            assert screen.ends()[0] == 1
        with Terminal(clerk, *take, columns=80) as screen:
            code, rest = screen.ends()
    assert code == 0, rest
    assert "Is it so?" not in rest
    assert [each["act"] for each in clerk.outbox()] == ["received"]


@pytest.mark.slow
def test_several_taken_are_asked_about_once(collected: tuple[Town, list[str]]) -> None:
    """Who takes forty answers forty questions alike, and no longer looks; Enter is no answer."""
    town, samples = collected
    clerk = town.person("clerk")
    to_clerk = ("--to", FIRM, "--to-key", clerk.answer("key", "show")["kid"])
    town.person("inspector").run("give", *samples[:3], *to_clerk)
    words = ("take", *samples[:3], "--purpose", "shipping", "--count", "3")
    question = "3 samples: was each looked at, and is each intact? [y/n]: "
    with served(town):
        with Terminal(clerk, *words, columns=80) as screen:
            screen.sees(question)
            screen.types("\n")
            screen.sees(question)
            screen.types("n\n")
            screen.sees(f"{numbers.grouped(samples[0])} condition")
            screen.types(CTRL_C)
            screen.ends()
        with Terminal(clerk, *words, columns=80) as screen:
            screen.sees(question)
            screen.types("y\n")
            screen.sees("Sign: received?")
            screen.types("y\n")
            code, rest = screen.ends()
    assert code == 0, rest
    assert [each["condition"] for each in last(town, "clerk")["items"]] == [["intact"]] * 3


@pytest.mark.slow
def test_a_label_scanned_as_the_new_seal_is_asked_again(visited: tuple[Town, list[str]]) -> None:
    """The custody record would go out with the number of a cassette where the seal's belongs."""
    town, samples = visited
    words = ("seal", *samples[:3], "--counted", "3", "--across-opening", "--record-enclosed", "--yes")
    with served(town), Terminal(town.person("clerk"), *words) as screen:
        screen.sees("Number on the custody seal: ")
        screen.types(f"{samples[0]}\n")
        said = screen.sees("Number on the custody seal: ")
        assert "is the number of a cassette label, not of a seal: scan the seal." in said
        screen.types("C-4711\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(town, "clerk")["seal"] == "C-4711"


@pytest.mark.slow
def test_a_label_scanned_as_the_tracking_number_is_asked_back(visited: tuple[Town, list[str]]) -> None:
    """The envelope's own number would be on record as the carrier's, and nobody finds it on the way."""
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", *samples[:3], "--counted", "3", "--envelope", ENVELOPE, *SEAL)
    words = ("--carrier", "acorn-freight", "--service", "next day", "--service-days", "1")
    told = clerk.answer("ship", ENVELOPE, *words, "--tracking", "C-4711", "--yes", code=2)
    assert [each["code"] for each in told["slips"]] == ["seal-as-tracking"]
    with served(town), Terminal(clerk, "ship", ENVELOPE, *words) as screen:
        screen.sees("Tracking number")
        screen.sees(": ")
        screen.types(f"{ENVELOPE}\n")
        assert "an envelope label, not of the carrier." in screen.sees("or n: ")
        screen.types("c-4711\n")
        assert "c-4711 is the number of the seal on this envelope" in screen.sees("or n: ")
        screen.types("AF-1\n")
        screen.sees("Transport class")
        screen.sees(": ")
        screen.types("1\n")
        screen.sees("Sign: shipped?")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(town, "clerk")["tracking"] == "AF-1"


@pytest.mark.slow
def test_an_organization_that_nobody_knows_is_asked_back(collected: tuple[Town, list[str]]) -> None:
    """Who mistypes the firm would be sent away, and type all of it again."""
    town, samples = collected
    words = ("give", samples[0], "--to", "harow-field", "--count", "1", "--purpose", "shipping")
    with served(town), Terminal(town.person("inspector"), *words) as screen:
        assert f"1  {FIRM}" in screen.sees("Which, or type it again; or n: ")
        screen.types("1\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(town, "inspector")["to"] == FIRM


@pytest.mark.slow
def test_an_envelope_that_was_never_shipped_is_asked_back_at_the_dock(
    visited: tuple[Town, list[str]],
) -> None:
    """The dock would sign for an envelope that lies in the firm's office, under the label of the one on the
    bench.
    """
    town, samples = visited
    town.person("clerk").run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    worker = town.person("dock")
    before = len(worker.outbox())
    with served(town), Terminal(worker, "receive", ENVELOPE) as screen:
        asked = " ".join(screen.sees("Is it this envelope? [y/n]: ").split())
        screen.types("n\n")
        code, rest = screen.ends()
    assert "was not shipped as far as the ledger shows." in asked
    assert (code, "Nothing was signed." in rest) == (1, True)
    assert len(worker.outbox()) == before
    said = worker.run("receive", *arrived(samples), "--yes")
    assert "was not shipped as far as the ledger shows." in " ".join(said.split())
