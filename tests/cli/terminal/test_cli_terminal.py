"""At a real terminal: what is asked, what Ctrl-C leaves, what is offered again."""

from __future__ import annotations

import re

import pytest

from bailee.domain import numbers
from bailee_cli.signing import carriers
from terminal import CTRL_C, Terminal, move, served
from town import ADDRESS, ENVELOPE, INDOOR, OPEN, SEAL, Town

pytestmark = pytest.mark.slow
OTHER = numbers.issue("envelope", lambda _: "4")


def test_ctrl_c_costs_no_scan(visited: tuple[Town, list[str]]) -> None:
    """If this fails, a clerk who leans on the wrong keys scans forty cassettes again and throws the label
    away.
    """
    town, samples = visited
    clerk = town.person("clerk")
    with served(town):
        with Terminal(clerk, "seal", "--envelope", ENVELOPE) as screen:
            for sample in samples[:2]:
                screen.sees("scan: ")
                screen.types(f"{sample}\n")
            screen.sees("scan: ")
            screen.types(CTRL_C)
            code, rest = screen.ends()
        assert code == 1
        assert (
            f"Saved: envelope {numbers.grouped(ENVELOPE)}, 2 scanned. `bailee seal --envelope {ENVELOPE}`"
            in rest
        )

        with Terminal(clerk, "seal", *SEAL) as screen:
            assert f"not signed: envelope {numbers.grouped(ENVELOPE)}, 2 scanned" in screen.sees(
                "Go on with it?"
            )
            screen.types("y\n")
            screen.sees("scan: ")
            screen.types(f"{samples[2]}\n")
            screen.sees("scan: ")
            screen.types("\n")
            screen.sees("Samples counted by hand: ")
            screen.types("-3\n")
            screen.sees("Samples counted by hand: ")
            screen.types("3\n")
            code, rest = screen.ends()
        assert (code, "Recorded: sealed" in rest) == (0, True), rest


def test_a_seal_that_is_not_ready_keeps_what_was_answered(visited: tuple[Town, list[str]]) -> None:
    """Who answers one question wrongly, or scans a spare with the rest, answers all of them once more."""
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    clerk.run("unseal", ENVELOPE, "--reason", "inspection", "--seal", "C-4711")
    town.clock.advance(minutes=5)
    words = ("seal", *samples, "--envelope", ENVELOPE)
    with served(town):
        with Terminal(clerk, *words, columns=80) as screen:
            told = " ".join(screen.sees("Leave it out? [y/n]: ").split())
            assert f"{numbers.grouped(samples[3])} was issued and not collected: it is a spare." in told
            screen.types("\n")
            screen.sees("Type y or n.")
            screen.types("y\n")
            screen.sees("Samples counted by hand: ")
            screen.types("4\n")
            screen.sees("4 counted by hand, and 3 named.")
            screen.sees("or n: ")
            screen.types("3\n")
            screen.sees("Number on the custody seal: ")
            screen.types("C-4711\n")
            screen.sees("Is the seal across the opening?")
            screen.sees(": ")
            screen.types("y\n")
            screen.sees("Is the custody record in the envelope?")
            screen.sees(": ")
            screen.types("y\n")
            screen.sees("Bags or boxes, from outside")
            screen.sees(": ")
            screen.types("\n")
            screen.sees("NOT READY")
            screen.sees("Change this answer: number on the custody seal? [y/n]: ")
            screen.types("n\n")
            code, rest = screen.ends()
        assert (code, "3 scanned, 4 answered" in rest) == (1, True), rest
        with Terminal(clerk, "seal", "--envelope", ENVELOPE, columns=80) as screen:
            screen.sees("scan: ")
            screen.types("\n")
            assert "count by hand: 3, as answered before." in screen.sees("Number on the custody seal: ")
            screen.types("C-4712\n")
            assert "across the opening: yes, as answered before." in screen.sees("Sign: sealed?")
            screen.types("y\n")
            code, rest = screen.ends()
    assert code == 0, rest


def test_who_does_not_go_on_begins_another_envelope(visited: tuple[Town, list[str]]) -> None:
    """If this fails, cassettes of one job are sealed under the label that lies on another."""
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", samples[0], "--envelope", OTHER, "--counted", "2", *SEAL, code=1)
    with served(town), Terminal(clerk, "seal", *SEAL) as screen:
        screen.sees("Go on with it?")
        screen.types("n\n")
        screen.sees("scan: ")
        screen.types(f"{samples[1]}\n")
        screen.sees("scan: ")
        screen.types(CTRL_C)
        code, rest = screen.ends()
    assert (code, numbers.grouped(OTHER) in rest) == (1, False)
    assert "1 scanned" in rest
    said = clerk.run("seal", "--envelope", OTHER, *SEAL, typed="\n\n", code=2)
    assert numbers.grouped(samples[0]) in said
    assert numbers.grouped(samples[1]) not in said


def test_ctrl_c_before_the_first_scan_leaves_nothing(visited: tuple[Town, list[str]]) -> None:
    """If this fails, every look at the prompt leaves an empty envelope to be gone on with."""
    town, _ = visited
    clerk = town.person("clerk")
    with served(town), Terminal(clerk, "seal") as screen:
        screen.sees("scan: ")
        screen.types(CTRL_C)
        code, rest = screen.ends()
    assert (code, "Saved" in rest) == (1, False)
    assert "Begun at" not in clerk.run("seal", typed="\n", code=2)


def test_a_hand_over_asks_for_what_is_missing(visited: tuple[Town, list[str]]) -> None:
    """If this fails, the airbill's number is forgotten, and the envelope cannot be traced when it does not
    arrive.
    """
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    with served(town), Terminal(clerk, "ship", ENVELOPE, "--yes") as screen:
        screen.sees("Carriers on record: acorn-freight.")
        screen.sees('Carrier, or "by hand" [acorn-freight]: ')
        screen.types("acorn-fright\n")
        screen.sees("No calendar on record for acorn-fright: ")
        screen.sees("are assumed.")
        screen.sees("Carrier again, like acorn-freight; or y: it is so; or n: ")
        screen.types(CTRL_C)
        screen.ends()
    with served(town), Terminal(clerk, "ship", ENVELOPE, "--yes") as screen:
        screen.sees('Carrier, or "by hand" [acorn-freight]: ')
        screen.types("n\n")
        screen.sees("or n: ")
        screen.types("acorn-freight\n")
        screen.sees("Service, like next day: ")
        screen.types("next day\n")
        screen.sees("Working days in transit [1]: ")
        screen.types("-1\n")
        screen.sees("Working days in transit [1]: ")
        screen.types("\n")
        screen.sees("Tracking number (a carrier needs one; only hand-carried goes without): ")
        screen.types("\n")
        screen.sees("Transport class")
        screen.sees(": ")
        screen.types("1\n")
        found = screen.sees("Change this answer: tracking number? [y/n]: ")
        assert "SH-06" in found
        assert "Expected delivery" in found
        screen.types("y\n")
        screen.sees("Tracking number")
        screen.sees(": ")
        screen.types("AF-1002003\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert "READY" in rest
    assert "Expected delivery" not in rest, "what stands above is shown once more"
    assert all(each not in rest for each in re.findall(r"^  ([A-Z]{2}-[0-9]{2})  ", found, re.MULTILINE))
    assert "Carrier, or" not in rest
    assert "Next: The laboratory receives it at the dock. Look it up to see whether it did.\n" in rest
    assert f"`bailee show {ENVELOPE}`" in rest
    shipped = clerk.answer("outbox", "--show", "3")["data"]
    assert (shipped["carrier"], shipped["service_days"], shipped["tracking"]) == (
        "acorn-freight",
        1,
        "AF-1002003",
    )


def test_of_what_is_carried_by_hand_it_is_asked_who_and_when(visited: tuple[Town, list[str]]) -> None:
    """If this fails, whoever drives the envelope over invents a tracking number to get past the question, and
    stays a stranger.
    """
    town, samples = visited
    clerk = town.person("clerk")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    with served(town), Terminal(clerk, "ship", ENVELOPE, "--yes") as screen:
        screen.sees('Carrier, or "by hand" [acorn-freight]: ')
        screen.types("By hand\n")
        screen.sees("Name of the person who carries it (Enter: not named): ")
        screen.types("Ann Porter\n")
        screen.sees("Number of the receipt slip they signed (Enter: none): ")
        screen.types("R-7\n")
        screen.sees("When it is expected at the dock (Enter: not entered): ")
        screen.types("16:40\n")
        screen.sees("What they are to the firm")
        screen.types("employee\n")
        code, rest = screen.ends()
    assert code == 0, rest
    shipped = clerk.answer("outbox", "--show", "3")["data"]
    assert (shipped["by_hand"], shipped.get("tracking")) == (True, None)
    assert shipped["courier"] == {"relation": "employee", "named": True, "slip": "R-7"}
    assert shipped["expected_delivery"] == "2026-12-01T16:40:00-05:00"
    assert "Porter" not in str(shipped)


@pytest.mark.parametrize(("answer", "code", "count"), [("n", 1, 2), ("y", 0, 3)])
def test_what_differs_is_shown_and_asked_about(settled: Town, answer: str, code: int, count: int) -> None:
    """If this fails, an inspector signs two runs of one cassette without having seen that they differ."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    inspector.run("collect", samples[0], *INDOOR, "--offline")
    move(settled, ADDRESS, "http://127.0.0.1:9")  # discard (RFC 863): nobody listens
    with Terminal(inspector, "collect", samples[0], *INDOOR, "--flow-after", "14.8") as screen:
        assert "flow after was 14.9, is now 14.8" in screen.sees("Sign this one as well? [y/n]: ")
        screen.types(f"{answer}\n")
        assert screen.ends()[0] == code
    assert len(inspector.outbox()) == count


def test_the_dock_scans_the_label_when_no_number_is_given(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, gloved hands type twelve characters that the scanner would read."""
    town, samples = shipped
    with (
        served(town),
        Terminal(
            town.person("dock"), "receive", "--package", "sound", "--record-enclosed", "--yes"
        ) as screen,
    ):
        screen.sees("envelope: ")
        screen.types(f"{samples[0]}\n")
        screen.sees("envelope: ")
        screen.types(f"{ENVELOPE}\n")
        screen.sees("Number as read on the seal")
        screen.types("C-4711\n")
        screen.sees("Seal (")
        screen.types("intact\n")
        screen.sees("Temperature inside")
        screen.types("\n")
        screen.sees("scan: ")
        screen.types(f"{samples[0]}\n")
        screen.sees("scan: ")
        screen.types(CTRL_C)
        code, rest = screen.ends()
    assert code == 1
    assert f"Saved: 1 scanned, 3 answered. `bailee receive {ENVELOPE}` goes on with it." in rest


@pytest.mark.slow
def test_a_carrier_is_chosen_by_its_number_and_enter_is_no_service(visited: tuple[Town, list[str]]) -> None:
    """Enter would sign a service that nobody has seen, or that of another carrier."""
    town, samples = visited
    clerk = town.person("clerk")
    file = town.folder / "carrier.toml"
    town.person("firm-root").run("calendar", "carrier", str(file), "--carrier", "tern-lines")
    clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    with served(town), Terminal(clerk, "ship", ENVELOPE) as screen:
        screen.sees("Carriers on record: 1 acorn-freight, 2 tern-lines.")
        screen.sees('Carrier, or "by hand": ')
        screen.types("2\n")
        screen.sees("Service, like next day: ")
        screen.types("\n")
        screen.sees("Enter an answer: there is no usual one.")
        screen.types("two days\n")
        screen.sees("Working days in transit [1]: ")
        screen.types(CTRL_C)
        screen.ends()
    with served(town), Terminal(clerk, "ship") as screen:
        screen.sees(f"Number of the envelope: scan it, or type it [{ENVELOPE}]: ")
        screen.types("\n")
        screen.sees("Carriers on record")
        screen.types(CTRL_C)
        screen.ends()
    last = {"carrier": "acorn-freight", "service": "next day", "service_days": 1}
    assert carriers.of_carrier("acorn-freight", last) == last
    assert carriers.of_carrier("tern-lines", last) == {}


@pytest.mark.slow
def test_without_a_sealed_envelope_none_is_likely(visited: tuple[Town, list[str]]) -> None:
    """Enter would ship by record an envelope that nobody has closed."""
    town, _ = visited
    with served(town), Terminal(town.person("clerk"), "ship") as screen:
        screen.sees("Number of the envelope: scan it, or type it: ")
        screen.types("\n")
        screen.sees("Enter an answer: there is no usual one.")
        screen.types(CTRL_C)
        screen.ends()
