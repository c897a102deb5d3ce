"""What people type: numbers, times, lengths, runs. A slip is said in one sentence and costs nothing."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import click
import pytest

from bailee.domain import numbers
from bailee.errors import BadMoment, Malformed
from bailee_cli.device.session import Session
from bailee_cli.main import bailee
from bailee_cli.terminal import options, scanning, show
from town import INDOOR, OPEN, Town

# A sample number and what a scanner or a person may make of it.
SAMPLE = numbers.issue("sample", lambda _: "7")


def at(text: str | None, zone: str | None) -> str:
    """The moment a person means on Wednesday 2026-11-25, 14:00 UTC."""
    return options.moment(Session(clock=lambda: datetime(2026, 11, 25, 14, 0, tzinfo=UTC)), text, zone).text()


@pytest.mark.parametrize(
    ("said", "zone", "meant"),
    [
        # RFC 3339 offsets; New York is five hours behind UTC in winter and four in summer (15 U.S.C. 260a; tz
        # database)
        (None, "America/New_York", "2026-11-25T09:00:00-05:00"),
        ("2026-11-25 14:00", "America/New_York", "2026-11-25T14:00:00-05:00"),
        ("2026-07-01 14:00", "America/New_York", "2026-07-01T14:00:00-04:00"),
        ("14:00", "America/Chicago", "2026-11-25T14:00:00-06:00"),
        ("2026-11-25T14:00:30-08:00", "America/New_York", "2026-11-25T14:00:30-08:00"),
        # At 14:00 UTC it is already Thursday in Kiritimati: "today" is the site's today
        ("08:00", "Pacific/Kiritimati", "2026-11-26T08:00:00+14:00"),
    ],
)
def test_a_time_is_read_on_the_clock_that_was_meant(said: str | None, zone: str, meant: str) -> None:
    """If this fails, hand-overs are recorded an hour or a day from when they happened."""
    assert at(said, zone) == meant


def test_a_time_that_occurs_twice_is_asked_back(settled: Town) -> None:
    """If this fails, the hour after the clocks go back is recorded as whichever the program likes."""
    # First Sunday of November, 2 a.m. (15 U.S.C. 260a)
    with pytest.raises(BadMoment) as raised:
        at("2026-11-01 01:30", "America/New_York")

    assert raised.value.code == "two-such-times"
    assert "-04:00" in raised.value.sentence
    assert "-05:00" in raised.value.sentence


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        # RFC 5322 4.3: EST is -0500, MST -0700, PDT -0700
        ("2 pm MST", "2026-11-25T14:00:00-07:00"),
        ("2026-11-24 9:12 am EST", "2026-11-24T09:12:00-05:00"),
        ("1 Jul 2026 9:12 pdt", "2026-07-01T09:12:00-07:00"),
        ("14:00 UTC", "2026-11-25T14:00:00+00:00"),
        ("2026-11-25T14:00:30-08:00", "2026-11-25T14:00:30-08:00"),
    ],
)
@pytest.mark.parametrize("zone", [None, "America/New_York"])
def test_the_letters_beside_a_time_say_on_which_clock_it_is(said: str, zone: str | None, meant: str) -> None:
    """If this fails, "2 pm MST" is refused, or is two in the afternoon somewhere else."""
    assert at(said, zone) == meant


def every_option() -> Iterator[tuple[str, click.Option]]:
    """Each option of each verb, with the words that lead to it."""
    waiting: list[tuple[str, click.Command]] = [("bailee", bailee)]
    while waiting:
        words, command = waiting.pop()
        context = click.Context(command)
        if isinstance(command, click.Group):
            for name in command.list_commands(context):
                found = command.get_command(context, name)
                assert found
                waiting.append((f"{words} {name}", found))
        yield from ((words, each) for each in command.params if isinstance(each, click.Option))


def reader_of(option: click.Option) -> str | None:
    """The reader for what an option is named; None where it takes no measure."""
    name, said = str(option.name), option.help or ""
    endings = {
        "_c": "degrees_celsius", "_hpa": "hectopascals", "_h": "decimal", "_h_ago": "decimal",
        "valid_to": "day or last_day",
    }  # fmt: skip
    exact = {
        "zone": "zone", "flow": "flow", "nominal_flow": "flow", "flow_before": "flow", "flow_after": "flow",
        "run_s": "run or run_as_typed", "planned_s": "run or run_as_typed", "expiry": "last_day",
        "height_m": "length", "distance_m": "length", "near_m": "length",
    }  # fmt: skip
    if name == "visit" or said.startswith("Day of"):
        return None if '"' in said else "day"  # a day with its time is read as a time
    return exact.get(name) or next((each for end, each in endings.items() if name.endswith(end)), None)


def test_every_number_zone_and_day_goes_through_one_reader() -> None:
    """If this fails, `14,8` or `Denver` is understood by one verb and refused by the next."""
    told = {
        f"{words} {option.opts[0]}": (option.type.name, wanted)
        for words, option in every_option()
        if (wanted := reader_of(option))
    }
    assert len(told) > 40
    assert {name: each for name, each in told.items() if each[0] not in each[1].split(" or ")} == {}


def test_a_zone_as_people_say_it_is_understood_where_a_moment_is_asked_for(
    visited: tuple[Town, list[str]],
) -> None:
    """If this fails, who asks how it was at nine in Denver hears only that there is no such zone."""
    town, _ = visited
    clerk = town.person("clerk")
    form = clerk.answer("show")["forms"][0]["form"]
    told = clerk.answer("check", form, "--as-of", "9:00", "--zone", "Denver", code=2)
    assert (told["code"], told["candidates"]) == ("unknown-zone", ["America/Denver"])
    asked = clerk.run("check", form, "--as-of", "9:05 am EST", code=None)
    assert "As of 2026-12-01 09:05 (-05:00)" in asked


def test_a_box_may_show_its_expiration_date_in_words(settled: Town) -> None:
    """If this fails, the media keeper converts what is printed on the box, and one time in twelve wrongly."""
    for printed, meant in (("Mar 2027", "2027-03"), ("03/2027", "2027-03"), ("31 Mar 2027", "2027-03-31")):
        kept = settled.person("keeper").answer(
            "lot", "receive", "--maker-lot", f"42-{meant}", "--cassette", "slit", "--expiry", printed,
            "--count", "1", "--nominal-flow", "15,0 L/min",
        )  # fmt: skip
        lot = settled.person("keeper").answer("lot", "show", kept[0]["chain"].removeprefix("lot/"))
        assert (lot["expiry"], lot["nominal_flow"]) == (meant, "15.0")
    told = settled.person("keeper").answer(
        "lot", "receive", "--maker-lot", "42-1", "--cassette", "slit", "--expiry", "11/12/2027", "--count",
        "1", "--nominal-flow", "15", code=2,
    )  # fmt: skip
    assert told["code"] == "which-month"


@pytest.mark.parametrize("said", ["yesterday", "11.12.2026 14:00", "14", "2026-13-01 10:00"])
def test_a_time_that_is_none_is_refused(said: str) -> None:
    """If this fails, a typing slip becomes some other time without a word."""
    with pytest.raises(BadMoment):
        at(said, None)


@pytest.mark.parametrize(
    ("said", "seconds"),
    [
        ("5:00", 300),
        ("300", 300),
        ("3:20", 200),
        ("0", 0),
        ("0:59", 59),
        ("10:05", 605),
        ("5 min", 300),
        ("300s", 300),
        ("300 s", 300),
        ("4 min 30 s", 270),
        ("2.5 min", 150),
        ("2,5 min", 150),
    ],
)
def test_a_run_is_read_in_minutes_or_seconds(said: str, seconds: int) -> None:
    """If this fails, a run of five minutes becomes five seconds, and the volume with it."""
    assert options.Written("run").convert(said, None, None) == seconds


@pytest.mark.parametrize("said", ["5:60", "-5", "5:0", "", "5 h", "five"])
def test_a_run_that_is_none_is_refused(said: str) -> None:
    """If this fails, a misread display becomes a volume."""
    with pytest.raises(Malformed):
        options.Written("run").convert(said, None, None)


# One foot is 0.3048 m exactly (international foot of 1959).
@pytest.mark.parametrize(
    ("said", "meters"),
    [("4 ft", "1.2192"), ("1.2 m", "1.2"), ("36 in", "0.9144"), ("10 m", "10"), ("5'6\"", "1.6764")],
)
def test_a_height_is_read_with_its_unit(said: str, meters: str) -> None:
    """If this fails, four feet are recorded as four meters, or as 1E+1."""
    assert options.Written("length").convert(said, None, None) == meters


def test_a_wrong_check_character_is_said_and_nothing_is_lost(settled: Town) -> None:
    """If this fails, a mistyped number becomes another sample, or a crash in a basement."""
    _, samples = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    good = samples[0]
    other = next(c for c in numbers.ALPHABET if c != good[5])
    said = inspector.run("collect", good[:5] + other + good[6:], *INDOOR, code=2)

    assert "wrong check character" in said
    assert "Traceback" not in said
    assert len(inspector.outbox()) == 1
    assert "Recorded: collected" in inspector.run("collect", f" {numbers.grouped(good).lower()}", *INDOOR)


def test_the_wrong_label_is_named(settled: Town) -> None:
    """If this fails, a scanned envelope is collected as if it were a cassette."""
    said = settled.person("inspector").run(
        "collect", numbers.issue("envelope", lambda _: "7"), *INDOOR, code=2
    )

    assert "is an envelope number, and a sample number is needed here" in said


def test_a_scanner_may_misread_repeat_and_send_addresses(
    monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    """If this fails, one bad scan at the dock means starting again."""
    typed = f"HTTPS://LEDGER.EXAMPLE/S/{SAMPLE}\nS123\n{SAMPLE}\n\n{SAMPLE}\n"
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    found = list(scanning.scan("sample"))
    said = capsys.readouterr().err

    assert found == [SAMPLE]
    assert "scan it again" in said
    assert "was scanned already" in said


def test_what_others_wrote_cannot_move_the_cursor() -> None:
    """If this fails, a client's name with an escape sequence in it can repaint an auditor's screen."""
    assert show.plain("Ann\x1b[2J\x07 Example\u202e") == "Ann\ufffd[2J\ufffd Example\ufffd"


def test_a_program_reads_the_refusal_as_json(settled: Town) -> None:
    """If this fails, a script cannot tell a slip of the finger from a broken ledger."""
    told = settled.person("inspector").answer("show", "S123", code=2)

    assert told["code"] == "bad-number"
    assert told["detail"].startswith("'S123' has 4 characters")
