"""What is typed twice is said once, and what was scanned is not lost."""

from __future__ import annotations

import pytest

from bailee.domain import numbers
from town import ENVELOPE, INDOOR, OPEN, OUTDOOR, SEAL, Town, collect, dock, to_the_clerk

SHIP = ("--carrier", "acorn-freight", "--service", "next day", "--tracking", "AF-1", "--yes")


def test_what_waits_is_not_signed_a_second_time(settled: Town) -> None:
    """If this fails, a dead spot in the basement turns one cassette into two statements that contradict each other."""
    _, samples = settled.lot(2)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    settled.line.weather = "down"
    settled.clock.advance(minutes=10)
    inspector.run("collect", samples[0], *INDOOR)
    said = inspector.run("collect", samples[0], *INDOOR, code=2)
    assert "You said that already" in said or "You said the same already" in said
    assert "`bailee send` sends it" in said
    settled.line.weather = "fine"
    assert [each["act"] for each in inspector.answer("send")] == ["collected"]
    assert "recorded as entry 2" in inspector.run("collect", samples[0], *INDOOR, code=2)
    settled.clock.advance(minutes=10)
    inspector.run("collect", samples[1], *INDOOR)


@pytest.mark.parametrize(("minutes", "code"), [(9, 2), (10, 0)])
def test_the_same_said_later_is_something_else(settled: Town, minutes: int, code: int) -> None:
    """If this fails, an inspector without a network cannot say a second time where the samples are kept."""
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    settled.line.weather = "down"
    kept = ("secure", "--how", "locked", "--where", "vehicle", "--offline")
    inspector.run(*kept)
    inspector.run(*kept, "--note", "another note is another statement")
    settled.clock.advance(minutes=minutes)
    inspector.run(*kept, "--note", "another note is another statement", code=code)


@pytest.mark.parametrize(("ahead", "code"), [("14:05", 0), ("14:06", 2)])
def test_nobody_says_what_is_still_to_come(settled: Town, ahead: str, code: int) -> None:
    """If this fails, a slip in the hour is signed, and the person hears of it when it cannot be unsaid. Five minutes: common practice."""
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    settled.clock.now = settled.clock.now.replace(hour=19, minute=0, second=0)
    said = inspector.run(
        "secure",
        "--how",
        "locked",
        "--where",
        "vehicle",
        "--at",
        ahead,
        "--zone",
        "America/New_York",
        code=code,
    )
    assert ("still to come" in said) == (code == 2)


def test_an_envelope_is_handed_over_and_received_once(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, a second airbill or a second opening stands in the record, and nobody knows which one was meant."""
    town, samples = shipped
    said = town.person("clerk").run("ship", ENVELOPE, *SHIP, code=2)
    assert "acorn-freight" in said
    assert "Nothing was signed" in said
    arrived = ("--seal", "C-4711", "--seal-state", "intact", "--counted", "3", "--all-intact", *samples[:3])
    dock(town, *arrived)
    assert "was received on" in town.person("dock").run("receive", ENVELOPE, *arrived, code=2)


def test_nobody_takes_what_is_already_theirs(visited: tuple[Town, list[str]]) -> None:
    """If this fails, a double tap at the desk puts a gap without a giver into the chain."""
    town, samples = visited
    said = town.person("clerk").run("take", *samples[:3], "--condition", "intact", code=2)
    assert f"You hold {numbers.grouped(samples[0])}" in said
    assert len(town.person("clerk").outbox()) == 1


def test_a_tracking_number_used_twice_is_asked_about(visited: tuple[Town, list[str]]) -> None:
    """If this fails, two envelopes seem to travel under one airbill, and one of them cannot be found."""
    town, first = visited
    clerk = town.person("clerk")
    clerk.run("seal", *first[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    clerk.run("ship", ENVELOPE, *SHIP)
    _, samples = town.lot(3)
    town.person("inspector").run(*OPEN)
    for sample, what in zip(samples, (INDOOR, INDOOR, OUTDOOR), strict=True):
        collect(town, sample, what)
    to_the_clerk(town, samples)
    second = numbers.issue("envelope", lambda _: "4")
    clerk.run("seal", *samples, "--envelope", second, "--counted", "3", "--seal", "C-4712", *SEAL[2:])
    assert f"was given to envelope {numbers.grouped(ENVELOPE)} as well" in clerk.run(
        "ship", second, *SHIP, code=None
    )


def test_scans_outlive_a_refusal(visited: tuple[Town, list[str]]) -> None:
    """If this fails, a forgotten cassette costs the clerk all the others, and the label on the envelope is for the bin."""
    town, samples = visited
    clerk = town.person("clerk")
    first = clerk.run("seal", "--seal", "C-4711", typed=f"{samples[0]}\n{samples[1]}\n\n3\ny\ny\n", code=1)
    assert "NOT READY" in first
    said = clerk.run("seal", *SEAL, typed=f"{samples[2]}\n\n-3\n3\n")
    assert "Begun before, and not sealed" in said
    assert "Recorded: sealed" in said
    (number,) = {each["data"]["envelope"] for each in sealed(town)}
    assert numbers.grouped(number) in said
    assert "Begun before" not in clerk.run("seal", typed="\n", code=2)


def test_another_envelope_or_anew_begins_with_nothing_in_it(visited: tuple[Town, list[str]]) -> None:
    """If this fails, cassettes of an abandoned envelope slip into the manifest of the next."""
    town, samples = visited
    clerk = town.person("clerk")
    for fresh in (("--anew",), ("--envelope", ENVELOPE)):
        clerk.run("seal", samples[0], "--counted", "2", *SEAL, code=1)
        assert "Nothing was scanned" in clerk.run("seal", *fresh, typed="\n", code=2)


def test_what_was_refused_can_be_given_up_and_is_kept(settled: Town) -> None:
    """If this fails, one refused statement is sent with every later one for ever, or vanishes although its number is missing."""
    inspector = settled.person("inspector")
    nowhere, sample = numbers.issue("form", lambda _: "7"), numbers.issue("sample", lambda _: "7")
    assert "--set-aside 1" in inspector.run("void", "--form", nowhere, sample, "--reason", "dropped", code=1)
    assert "Set aside: voided" in inspector.run("outbox", "--set-aside", "1")
    assert inspector.run("send", "--again") == "Nothing is waiting.\n"
    assert [each["state"] for each in inspector.outbox()] == ["set aside"]
    assert "was not refused" in inspector.run("outbox", "--set-aside", "1", code=2)


def sealed(town: Town) -> list[dict[str, dict[str, str]]]:
    """What the clerk's device signed as sealed."""
    from bailee_cli import acting

    outbox = town.person("clerk").session().of("clerk", as_json=False).outbox
    found = [{"data": dict(acting.data_of(each))} for each in outbox.newest(50) if each.act == "sealed"]
    outbox.close()
    return found
