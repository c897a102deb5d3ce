"""Three envelopes on one bench, two of them with a fault, at a terminal of 80 columns and no document open.

What is read before it is shown: ISO/IEC 17025:2017 7.4.3 and 49 CFR 40.199, by analogy; the rest is our own
promise (the guide of the dock); common practice, no source.
"""

from __future__ import annotations

import pytest

from bailee.domain import numbers
from terminal import Terminal, served
from town import INDOOR, OPEN, OUTDOOR, Person, Town, collect, to_the_clerk

pytestmark = pytest.mark.slow
ENVELOPES = [numbers.issue("envelope", lambda _, digit=digit: digit) for digit in "345"]  # type: ignore[misc]


def sent(town: Town, tracking: str = "AF-{}") -> list[list[str]]:
    """Three visits, each with its envelope on the way: the samples of each."""
    _, samples = town.lot(6)
    inspector, clerk = town.person("inspector"), town.person("clerk")
    pairs = [samples[at : at + 2] for at in (0, 2, 4)]
    for number, (envelope, pair) in enumerate(zip(ENVELOPES, pairs, strict=True), 1):
        inspector.run(*OPEN)
        for sample, what in zip(pair, (INDOOR, OUTDOOR), strict=True):
            collect(town, sample, what)
        to_the_clerk(town, pair)
        clerk.run(
            "seal", *pair, "--envelope", envelope, "--counted", "2", "--seal", f"C-471{number}",
            "--across-opening", "--record-enclosed", "--yes",
        )  # fmt: skip
        clerk.run(
            "ship", envelope, "--carrier", "acorn-freight", "--service", "next day", "--tracking",
            tracking.format(number), "--classified", "not_regulated", "--yes",
        )  # fmt: skip
    town.clock.now = town.clock.now.replace(day=2, hour=16, minute=30)
    return pairs


def opened(worker: Person, envelope: str, seal: str, inside: list[str], *, fault: str = "") -> str:
    """One envelope opened as somebody would who only reads the screen: all that was shown."""
    with Terminal(worker, "receive", columns=80) as screen:
        seen = ""
        for asked, text in (
            ("scan the envelope: ", envelope),
            ("Package", "1"),
            ("Number as read on the seal", seal),
            ("Seal (", "1"),
            ("Is the custody record inside?", "y"),
            ("Temperature inside", "20"),
            *(("scan: ", each) for each in inside),
            ("scan: ", str(len(inside))),
            *((f"{numbers.grouped(each)} condition", "1") for each in inside),
            ("Sign: received?", "y"),
        ):
            seen += screen.sees(asked)
            if not asked.endswith(": "):
                seen += screen.sees(": ")
            screen.types(f"{text}\n")
        code, rest = screen.ends()
    assert code == 0, rest
    assert fault in seen.replace("\n", " "), seen
    assert max(map(len, (seen + rest).split("\n"))) <= 80, seen + rest
    return seen


def test_two_faulty_envelopes_of_three_hold_up_only_themselves(settled: Town) -> None:
    """If this fails, who has three envelopes on the bench accepts a broken chain with the two good ones, or
    looks up a manual for each.
    """
    pairs = sent(settled)
    worker = settled.person("dock")
    with served(settled):
        first = opened(worker, ENVELOPES[0], "C-4711", pairs[0], fault="Discrepancies: none.")
        assert "Expected: 3 envelopes." in first
        assert first.count("by 2026-12-02") == 3
        second = opened(worker, ENVELOPES[1], "C-4799", pairs[1], fault="The seal reads C-4799; C-4712 is on")
        assert "Expected: 2 envelopes." in second
        missing = f"Not inside: {numbers.grouped(pairs[2][1])}."
        third = opened(worker, ENVELOPES[2], "C-4713", pairs[2][:1], fault=missing)
        assert "Expected: 1 envelope." in third
        with Terminal(worker, "accept", columns=80) as screen:
            shown = screen.sees("Accept 2 cassettes? [y/n]: ")
            assert f"{numbers.grouped(ENVELOPES[0])}: 2 cassettes, in order" in shown
            shown = " ".join(shown.split())
            assert f"{numbers.grouped(ENVELOPES[1])}: 2 cassettes, left out: Seal " in shown
            assert "Seal number does not match the record (RC-02)" in shown
            assert f"{numbers.grouped(ENVELOPES[2])}: 1 cassette, left out: " in shown
            assert "On the manifest, not in the envelope (RC-06)" in shown
            screen.types("y\n")
            code, rest = screen.ends()
    assert code == 0, rest
    signed = worker.answer("outbox", "--all")
    assert [each["act"] for each in reversed(signed)] == ["received"] * 3 + ["accepted"]
    accepted = worker.answer("outbox", "--show", str(signed[0]["seq"]))["data"]["samples"]
    assert sorted(accepted) == sorted(pairs[0])


def test_what_is_warned_of_is_shown_before_it_is_accepted(settled: Town) -> None:
    """If this fails, a list says "in order", and what the rules warn of is read after the y."""
    pairs = sent(settled, "AF-1")
    worker = settled.person("dock")
    for number, inside in enumerate(pairs[:2]):
        worker.run(
            "receive", ENVELOPES[number], *inside, "--seal", f"C-471{number + 1}", "--seal-state", "intact",
            "--package", "sound", "--counted", "2", "--record-enclosed", "--all-intact", "--yes",
        )  # fmt: skip
    with served(settled), Terminal(worker, "accept") as screen:
        shown = " ".join(screen.sees("Accept 4 cassettes? [y/n]: ").split())
        assert "in order" not in shown
        assert f"{numbers.grouped(ENVELOPES[0])}: 2 cassettes, with 1 warning: " in shown
        assert shown.count("AF-1") >= 2, shown
        screen.types("y\n")
        code, rest = screen.ends()
    assert (code, "Findings" in rest) == (0, False), rest
    assert [each["act"] for each in worker.outbox()].count("accepted") == 2


def test_a_script_names_what_it_accepts(settled: Town) -> None:
    """If this fails, a program that leaves out the numbers accepts whatever lies on the bench."""
    pairs = sent(settled)
    worker = settled.person("dock")
    worker.run(
        "receive", ENVELOPES[0], *pairs[0], "--seal", "C-4711", "--seal-state", "intact", "--package",
        "sound", "--counted", "2", "--record-enclosed", "--all-intact", "--yes",
    )  # fmt: skip
    assert "NUMBERS is missing" in worker.run("accept", code=2)
    worker.run("accept", ENVELOPES[0])
