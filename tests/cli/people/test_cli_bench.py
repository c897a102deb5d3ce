"""Hands that are full: what is added, given, scanned twice, broken off, and many envelopes on one bench.

What is read before it is shown: ISO/IEC 17025:2017 7.4.3 and 49 CFR 40.199, by analogy; the rest is our own
promise (guides/typing.md); common practice, no source.
"""

from __future__ import annotations

import pytest

from bailee.domain import numbers
from bailee.errors import Malformed
from bailee_cli.people.deciding import following
from field import FIRM
from terminal import CTRL_C, Terminal, served
from town import ENVELOPE, INDOOR, INTACT, OPEN, SEAL, Town, collect, dock, last


def form_of(town: Town) -> str:
    """The form of the visit."""
    return str(town.person("inspector").answer("show")["forms"][0]["form"])


def test_what_is_named_is_added_to_an_envelope_begun(visited: tuple[Town, list[str]]) -> None:
    """The last cassette, found in a pocket, would throw the first two out of the envelope again."""
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", *samples[:2], "--envelope", ENVELOPE, "--counted", "2", *SEAL, code=1)
    said = clerk.run("seal", samples[2], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    assert "Added to 2 scanned before" in said
    assert sorted(last(town, "clerk")["samples"]) == sorted(samples[:3])


def test_a_form_stands_for_what_its_giver_holds(collected: tuple[Town, list[str]]) -> None:
    """A colleague's cassette would be given away by who never had it, and the count be signed as true."""
    town, samples = collected
    kid = town.person("second").answer("key", "show")["kid"]
    town.person("inspector").run("give", samples[2], "--to", FIRM, "--to-key", kid, "--count", "1")
    town.person("second").run("take", samples[2], "--condition", "intact", "--count", "1")
    said = town.person("inspector").run("give", form_of(town), "--to", FIRM, "--count", "2")
    assert "Left out: 1 with Second Person." in said
    assert sorted(last(town, "inspector")["samples"]) == sorted(samples[:2])
    told = town.person("clerk").answer("give", form_of(town), "--to", FIRM, code=2)
    assert told["code"] == "holds-nothing"


def test_who_holds_nothing_has_nothing_to_secure(settled: Town) -> None:
    """A statement about nothing would be on record, and the cassettes be secured by nobody."""
    settled.person("inspector").run(*OPEN)
    told = settled.person("inspector").answer("secure", "--how", "locked", "--where", "vehicle", code=1)
    assert told["code"] == "holds-nothing"
    assert len(settled.person("inspector").outbox()) == 1


def test_a_corrected_run_says_what_was_reckoned_from_it(collected: tuple[Town, list[str]]) -> None:
    """The run would be five minutes long, and have begun when it ended."""
    town, samples = collected
    inspector = town.person("inspector")
    before = last(town, "inspector")["started"]
    words = ("correct", samples[2], "run_s=10:00", "--reason", "misread")
    assert "add started=2026-12-01T09:20:00-05:00 if that is so" in inspector.run(*words)
    assert before == "2026-12-01T09:25:00-05:00"
    assert last(town, "inspector")["field"] == "run_s"


@pytest.mark.slow
def test_at_a_terminal_the_start_is_corrected_with_its_run(collected: tuple[Town, list[str]]) -> None:
    """Whoever mends the one would forget the other."""
    town, samples = collected
    with (
        served(town),
        Terminal(
            town.person("inspector"), "correct", samples[2], "run_s=10 min", "--reason", "misread"
        ) as screen,
    ):
        screen.sees("Correct the start too? [y/n]: ")
        screen.types("y\n")
        assert "becomes" in screen.sees("Sign: corrected?")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert {each["act"] for each in town.person("inspector").outbox()[-2:]} == {"corrected"}
    assert last(town, "inspector")["new"] == "2026-12-01T09:20:00-05:00"


@pytest.mark.slow
def test_giving_a_form_lists_what_is_given_and_asks(collected: tuple[Town, list[str]]) -> None:
    """Twelve cassettes would be given by one number, unseen."""
    town, samples = collected
    with (
        served(town),
        Terminal(town.person("inspector"), "give", form_of(town), "--to", FIRM, "--count", "3") as screen,
    ):
        answers(screen, [], "Purpose of the transfer")
        screen.sees("Purpose: ")
        screen.types("2\n")
        shown = screen.sees("Sign: relinquished?")
        screen.sees(": ")
        assert all(numbers.grouped(each) in shown for each in samples[:3])
        assert "Visit of 2026-12-01, 12 Invented Lane" in shown
        screen.types("\nn\n")
        code, rest = screen.ends()
    assert (code, "Nothing was signed." in rest) == (1, True)
    with served(town), Terminal(town.person("inspector"), "give", form_of(town), "--count", "3") as screen:
        screen.sees("Short name of the organization that receives them [harrow-field]: ")
        screen.types(f"{FIRM}\n")
        screen.sees("Purpose: ")
        screen.types("2\n")
        screen.sees("Sign: relinquished?")
        screen.sees(": ")
        screen.types("y\n")
        code, rest = screen.ends()
    assert (code, "Sign:" in rest) == (0, False), "and nothing is asked twice"


@pytest.mark.slow
def test_a_scanner_that_sends_enter_twice_loses_nothing(collected: tuple[Town, list[str]]) -> None:
    """The first cassette would end the scanning, and the envelope be closed over the others; a spare would be
    named only when all is scanned and counted.
    """
    town, samples = collected
    with served(town), Terminal(town.person("inspector"), "give", "--to", FIRM) as screen:
        screen.sees("scan: ")
        screen.types(f"{samples[0]}\n\n")
        screen.sees("scan: ")
        screen.types("\n")  # the second Enter came late
        screen.sees("Samples counted (Enter: not counted): ")
        screen.types(f"{samples[1]}\n")
        screen.sees(f"2: {numbers.grouped(samples[1])}")
        screen.sees("scan: ")
        screen.types(f"{samples[3]}\n")
        assert "was issued and not collected" in screen.sees("scan: ")
        screen.types(f"{samples[2]}\n")
        screen.sees(f"3: {numbers.grouped(samples[2])}")
        screen.sees("scan: ")
        screen.types("3\n")
        screen.sees("Purpose: ")
        screen.types("2\n")
        screen.sees("Sign: relinquished?")
        screen.sees(": ")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(town, "inspector")["samples"] == samples[:3]


@pytest.mark.slow
def test_one_count_of_two_visits_is_not_asked_for_each(collected: tuple[Town, list[str]]) -> None:
    """Who has counted all that is on the table would be asked for the same cassettes twice more."""
    town, samples = collected
    inspector = town.person("inspector")
    inspector.run(*OPEN)
    collect(town, samples[3], INDOOR)
    with served(town), Terminal(inspector, "give", "--to", FIRM, "--purpose", "shipping") as screen:
        for text in (samples[0], samples[1], samples[3], "3"):
            screen.sees("scan: ")
            screen.types(f"{text}\n")
        screen.sees("Sign: relinquished?")
        screen.sees(": ")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert (last(town, "inspector")["samples"], last(town, "inspector")["count"]) == ([samples[3]], 1)


@pytest.mark.slow
def test_the_dock_reads_before_it_is_shown_and_breaks_off_without_loss(
    shipped: tuple[Town, list[str]],
) -> None:
    """The seal would be confirmed instead of read, the list counted instead of the cassettes, and an answer
    given before a telephone call be asked for again.
    """
    town, samples = shipped
    worker = town.person("dock")
    with served(town):
        with Terminal(worker, "receive") as screen:
            assert "Expected: 1 envelope." in screen.sees("scan the envelope: ")
            screen.types(f"{ENVELOPE}\n")
            before = screen.sees("6 not looked at): ") + answers(screen, ["1"], "seal")
            before += answers(screen, ["hf-4711", "2", "y", ""], "scan: ")
            screen.types(f"{samples[0]}\n")
            before += screen.sees("scan: ")
            assert "C-4711" not in before, "the seal on record is not shown before it was read"
            assert numbers.grouped(samples[1]) not in before, "nor the list before it was counted"
            screen.types(CTRL_C)
            code, rest = screen.ends()
        assert code == 1
        assert "1 scanned, 5 answered" in rest
        with Terminal(worker, "receive", ENVELOPE) as screen:
            seen = screen.sees("scan: ")
            assert "package: sound, as answered before." in seen
            assert "seal as read: hf-4711, as answered before." in seen
            screen.types(f"{samples[1]}\n")
            screen.sees("scan: ")
            screen.types("\n")
            screen.sees("Samples counted by hand: ")
            answers(screen, ["2", "", "1"], "")
            screen.types("8\n")
            shown = screen.sees("Sign: received?")
            screen.sees(": ")
            assert "C-4711 is on record" in shown
            assert f"Not inside: {numbers.grouped(samples[2])}" in shown
            screen.types("y\n")
            code, rest = screen.ends()
        assert code == 0, rest
    said = last(town, "dock")
    assert [each["condition"] for each in said["items"]] == [["intact"], ["not_looked_at"]]
    assert (said["dock"]["seal_state"], said["dock"]["total"], said["dock"]["seal"]) == (
        "broken",
        2,
        "HF-4711",
    )


def answers(screen: Terminal, typed: list[str], then: str) -> str:
    """Answer one question after the other, until something else is asked; all that was shown."""
    seen = ""
    for text in typed:
        screen.types(f"{text}\n")
        seen += screen.sees(": ")
    return seen if then in seen else seen + screen.sees(then)


@pytest.mark.slow
def test_what_is_in_order_is_accepted_together(shipped: tuple[Town, list[str]]) -> None:
    """Twelve envelopes would be twelve commands, or one that accepts what is flagged."""
    town, samples = shipped
    worker = town.person("dock")
    worker.run(
        "receive", ENVELOPE, *samples[:3], *INTACT, "--package", "sound",
        "--counted", "3", "--record-enclosed", "--yes",
    )  # fmt: skip
    assert "NUMBERS is missing" in worker.run("accept", code=2)
    with served(town), Terminal(worker, "accept") as screen:
        assert f"{numbers.grouped(ENVELOPE)}: 3 cassettes, in order" in screen.sees(
            "Accept 3 cassettes? [y/n]: "
        )
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert last(town, "dock")["samples"] == samples[:3]


@pytest.mark.slow
def test_what_is_left_out_of_what_is_accepted_together_is_named(shipped: tuple[Town, list[str]]) -> None:
    """Whoever leans on the list takes it for all that lies on the bench, and a form on hold is forgotten."""
    town, samples = shipped
    worker = town.person("dock")
    worker.run(
        "receive", ENVELOPE, *samples[:3], *INTACT, "--package", "sound",
        "--counted", "3", "--record-enclosed", "--yes",
    )  # fmt: skip
    worker.run("put-on-hold", samples[0], "--reason", "identity", "--called", town.clock().isoformat())
    with served(town), Terminal(worker, "accept") as screen:
        shown = _flat(screen.sees("Accept 2 cassettes? [y/n]: "))
        assert f"{numbers.grouped(ENVELOPE)}: 1 cassette, left out: on hold" in shown
        screen.types("n\n")
        assert screen.ends()[0] == 1
    worker.run("put-on-hold", *samples[1:3], "--reason", "identity", "--called", town.clock().isoformat())
    with served(town), Terminal(worker, "accept") as screen:
        code, rest = screen.ends()
    assert (code, "3 cassettes, left out: on hold" in _flat(rest)) == (2, True), rest


def test_what_is_accepted_is_not_accepted_once_more(shipped: tuple[Town, list[str]]) -> None:
    """An envelope typed again is decided about twice, and nobody can tell which decision was meant."""
    town, samples = shipped
    worker = town.person("dock")
    worker.run(
        "receive", ENVELOPE, *samples[:3], *INTACT, "--package", "sound",
        "--counted", "3", "--record-enclosed", "--yes",
    )  # fmt: skip
    worker.run("accept", samples[0])
    town.clock.advance(minutes=30)
    for person in (worker, town.person("lab-quality")):
        told = person.answer("accept", ENVELOPE, code=2)
        assert [(each["code"], each["said"]) for each in told["slips"]] == [
            ("accepted-already", numbers.grouped(samples[0]))
        ]
        assert "accepted already on 2026-12-02" in told["slips"][0]["sentence"]
    worker.run("accept", samples[0], "--lab-number", f"{samples[0]}=Q-17")  # new to say of it
    worker.run("accept", samples[0], "--qualified", "--reason", "seal")
    assert "Signed all the same" in worker.run(
        "accept", samples[0], "--qualified", "--reason", "seal", "--anyway"
    )


def test_an_envelope_that_was_empty_is_not_decided_about(shipped: tuple[Town, list[str]]) -> None:
    """The dock was told to accept what was not there, and then that it cannot be judged: "samples: write 1 to
    500 entries".
    """
    town, samples = shipped
    worker = town.person("dock")
    receive = ("receive", ENVELOPE, *INTACT[:4])
    worker.run(*receive, "--package", "sound", "--counted", "0", "--record-enclosed", "--yes")
    said = worker.run("accept", ENVELOPE, code=2)
    assert "stands for no sample here: name those you mean" in _flat(said)
    why = ("--reason", "identity", "--resample", "possible", "--called", town.clock().isoformat())
    assert "Recorded: rejected" in worker.run("reject", samples[0], *why)


def _flat(said: str) -> str:
    """What is on the screen, as one line."""
    return " ".join(said.split())


@pytest.mark.parametrize(
    ("first", "counted"),
    [
        ("26-10412", ["26-10412", "26-10413", "26-10414"]),
        ("Q-0099", ["Q-0099", "Q-0100", "Q-0101"]),
        ("998", ["998", "999", "1000"]),
    ],
)
def test_numbers_are_counted_up_from_the_first(first: str, counted: list[str]) -> None:
    """Zeros that fall off make another number of it, and the shelf is searched in vain."""
    assert list(following(first, 3)) == counted


def test_a_first_number_without_a_digit_is_asked_back() -> None:
    """Three samples would bear one number."""
    with pytest.raises(Malformed, match="26-10412"):
        following("shelf", 3)


def test_the_list_is_shown_before_it_is_signed_and_the_last_number_counts(
    shipped: tuple[Town, list[str]],
) -> None:
    """The tray was scanned in another order than it stands, and forty labels are wrong before anybody sees
    it.
    """
    town, (first, second, third, *_) = shipped
    worker = town.person("dock")
    dock(town, *INTACT, "--counted", "3", first, second, third)
    scans = f"{third}\n{first}\n\n"
    said = worker.run("number", "--from", "26-10412", typed=f"{scans}n\n", code=1)
    in_order = [f"{numbers.grouped(third)} = 26-10412", f"{numbers.grouped(first)} = 26-10413"]
    assert [line for line in said.splitlines() if " = 26-" in line] == in_order
    form = worker.answer("show")["forms"][0]["form"]
    assert {each["lab_number"] for each in worker.answer("show", form)["samples"]} == {None}
    assert "Recorded: lab numbered" in worker.run("number", "--from", "26-10412", typed=f"{scans}y\n")
    worker.run("number", "--lab-number", f"{first}=26-10500", "--yes")
    worker.run("accept", second, "--lab-number", f"{second}=26-10414")
    told = {each["sample"]: each["lab_number"] for each in worker.answer("show", form)["samples"]}
    assert told == {first: "26-10500", second: "26-10414", third: "26-10412"}
    worker.run("number", third, "--yes", code=2)


def test_the_first_number_is_asked_for_at_a_terminal(shipped: tuple[Town, list[str]]) -> None:
    """Who scanned a whole tray would have to type a command of options after it."""
    town, samples = shipped
    worker = town.person("dock")
    dock(town, *INTACT, "--counted", "3", *samples[:3])
    with served(town), Terminal(worker, "number") as screen:
        for sample in (*samples[:2], ""):
            screen.sees("scan: ")
            screen.types(f"{sample}\n")
        screen.sees("Your number for the first of them, like 26-10412: ")
        screen.types("shelf\n")
        code, rest = screen.ends()
        assert (code, "ends with no digit" in rest) == (2, True), rest
    with served(town), Terminal(worker, "number", *samples[:2]) as screen:
        screen.sees("Your number for the first of them, like 26-10412: ")
        screen.types("Q-9\n")
        seen = screen.sees("Sign: lab numbered?")
        screen.types("y\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert f"{numbers.grouped(samples[1])} = Q-10" in seen
    assert last(town, "dock")["numbers"] == {samples[0]: "Q-9", samples[1]: "Q-10"}
