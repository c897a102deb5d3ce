"""Shipping windows from plain data, as a program calls them: `bailee window --json` with no service, no key
and no folder.

The worked rows are the trade's (business-day arrival: common practice, no source; federal days: 5 U.S.C.
6103).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from bailee.planning import window_case
from bailee_cli.main import bailee
from field import LAB
from town import ENVELOPE, Town, flat

WEEK = {day: ["08:00-17:00"] for day in ("mon", "tue", "wed", "thu", "fri")}
# Every day the carrier and the laboratory of the table keep in the second half of 2026; Veterans Day is not
# among them.
KEPT = ["2026-07-03", "2026-09-07", "2026-10-12", "2026-11-26", "2026-12-25"]
BASE: dict[str, Any] = {
    "origin_zone": "America/New_York",
    "service_days": 1,
    "saturday_delivery": False,
    "cutoff": "17:00",
    "delivery_time": "10:30",
    "carrier_closed": KEPT,
    "lab_zone": "America/Chicago",
    "lab_hours": WEEK,
    "lab_closed": KEPT,
}
ROWS: list[tuple[dict[str, Any], str, str, str, set[str]]] = [
    (
        {"handed_over": "2026-11-25T16:30"},
        "2026-11-25",
        "2026-11-27T10:30:00-06:00",
        "2026-11-27T10:30:00-06:00",
        {"SH-04"},
    ),
    (
        {"handed_over": "2026-11-25T16:30", "lab_closed": ["us-federal", "2026-11-27"]},
        "2026-11-25",
        "2026-11-27T10:30:00-06:00",
        "2026-11-30T08:00:00-06:00",
        {"SH-01", "SH-04"},
    ),
    (
        {"handed_over": "2026-11-25T17:01"},
        "2026-11-27",
        "2026-11-30T10:30:00-06:00",
        "2026-11-30T10:30:00-06:00",
        {"SH-03", "SH-04"},
    ),
    (
        {"handed_over": "2026-11-24T17:00"},
        "2026-11-24",
        "2026-11-25T10:30:00-06:00",
        "2026-11-25T10:30:00-06:00",
        set(),
    ),
    (
        {"handed_over": "2026-12-04T15:00"},
        "2026-12-04",
        "2026-12-07T10:30:00-06:00",
        "2026-12-07T10:30:00-06:00",
        {"SH-04"},
    ),
    (
        {
            "handed_over": "2026-12-04T15:00",
            "saturday_delivery": True,
            "lab_hours": {**WEEK, "sat": ["08:00-17:00"]},
        },
        "2026-12-04",
        "2026-12-05T10:30:00-06:00",
        "2026-12-05T10:30:00-06:00",
        set(),
    ),
    (
        {"handed_over": "2026-12-06T12:00", "service_days": 2},
        "2026-12-07",
        "2026-12-09T10:30:00-06:00",
        "2026-12-09T10:30:00-06:00",
        {"SH-04"},
    ),
    (
        {"handed_over": "2026-12-24T15:00"},
        "2026-12-24",
        "2026-12-28T10:30:00-06:00",
        "2026-12-28T10:30:00-06:00",
        {"SH-04"},
    ),
    (
        {"handed_over": "2026-07-02T18:30", "carrier_closed": ["us-federal"], "lab_closed": ["us-federal"]},
        "2026-07-06",
        "2026-07-07T10:30:00-05:00",
        "2026-07-07T10:30:00-05:00",
        {"SH-03", "SH-04"},
    ),
    (
        {"handed_over": "2026-07-02T15:00", "carrier_closed": ["2026-11-26"], "lab_closed": ["us-federal"]},
        "2026-07-02",
        "2026-07-03T10:30:00-05:00",
        "2026-07-06T08:00:00-05:00",
        {"SH-01"},
    ),
    (
        {"handed_over": "2026-11-10T15:00"},
        "2026-11-10",
        "2026-11-11T10:30:00-06:00",
        "2026-11-11T10:30:00-06:00",
        set(),
    ),
    # The first WARN example of the trade's table: collected on Friday at eleven, 72.5 h at the dock on
    # Monday.
    (
        {"handed_over": "2026-12-04T15:00", "collected": "2026-12-04T11:00"},
        "2026-12-04",
        "2026-12-07T10:30:00-06:00",
        "2026-12-07T10:30:00-06:00",
        {"SH-02", "SH-04"},
    ),
    # New Year's Day 2028 is kept on 31 December 2027; three clock changes of two zones lie in the others.
    (
        {"handed_over": "2027-12-30T12:00", "carrier_closed": ["us-federal"], "lab_closed": ["us-federal"]},
        "2027-12-30",
        "2028-01-03T10:30:00-06:00",
        "2028-01-03T10:30:00-06:00",
        {"SH-04"},
    ),
    (
        {"handed_over": "2026-10-30T16:00", "lab_closed": ["us-federal"], "carrier_closed": ["us-federal"]},
        "2026-10-30",
        "2026-11-02T10:30:00-06:00",
        "2026-11-02T10:30:00-06:00",
        {"SH-04"},
    ),
    (
        {"handed_over": "2026-12-11T15:00", "origin_zone": "America/Phoenix"},
        "2026-12-11",
        "2026-12-14T10:30:00-06:00",
        "2026-12-14T10:30:00-06:00",
        {"SH-04"},
    ),
]


def ask(cases: Any, *words: str, zone: str = "UTC") -> tuple[int, Any, str]:
    """Call the program with an empty home and no network to speak of; its code, its answer, what it said."""
    text = cases if isinstance(cases, str) else json.dumps(cases)
    environment = {
        "PATH": os.environ["PATH"],
        "TZ": zone,
        "HOME": "/nonexistent",
        "PYTHONPATH": os.pathsep.join(sys.path),
    }
    done = subprocess.run(
        [sys.executable, "-m", "bailee_cli.main", "window", "--json", *words],
        input=text, capture_output=True, text=True, env=environment, check=False,
    )  # fmt: skip
    return done.returncode, json.loads(done.stdout) if done.stdout else None, done.stderr


@pytest.fixture(scope="module")
def table() -> list[dict[str, Any]]:
    """The whole table in one call."""
    code, answers, _ = ask([{"id": n, **BASE, **row[0]} for n, row in enumerate(ROWS)])
    assert code == 0
    assert len(answers) == len(ROWS)
    return list(answers)


@pytest.mark.parametrize("number", range(len(ROWS)))
def test_worked_table(table: list[dict[str, Any]], number: int) -> None:
    """Samples would ride to a shut dock over a weekend or a holiday, and the program said they would not."""
    _, day0, delivered, received, rules = ROWS[number]
    told = table[number]
    assert told["id"] == number
    assert (told["day0"], told["delivered"], told["received"]) == (day0, delivered, received)
    assert {found["rule"] for found in told["findings"]} == rules
    for found in told["findings"]:
        assert found["sentence"].endswith(".")
        assert found["remedy"]


def test_the_friday_warning_counts_true_hours(table: list[dict[str, Any]]) -> None:
    """A sample collected on Friday at eleven would seem an hour younger than it is (worked table, tz
    database).
    """
    (told,) = (each for each in table if "hold_h" in each)
    assert told["hold_h"] == "72.50"
    (warned,) = (found for found in told["findings"] if found["rule"] == "SH-02")
    assert (warned["severity"], "72 h 30 min" in warned["sentence"]) == ("warn", True)


@pytest.mark.parametrize("zone", ["Asia/Tokyo", "America/St_Johns"])
def test_the_machine_s_own_zone_changes_nothing(table: list[dict[str, Any]], zone: str) -> None:
    """A laptop that traveled, or a server set to another zone, would promise another day."""
    assert ask([{"id": n, **BASE, **row[0]} for n, row in enumerate(ROWS)], zone=zone)[1] == table


def test_one_case_is_answered_with_one_answer(tmp_path: Path) -> None:
    """A script that asks about one envelope would have to unpack a list it never sent."""
    case = {**BASE, "handed_over": "2026-11-24T17:00"}
    code, told, said = ask(case)
    assert (code, told["received"], said) == (0, "2026-11-25T10:30:00-06:00", "")
    file = tmp_path / "case.json"
    file.write_text(json.dumps(case))
    assert ask("", str(file)) == (0, told, "")


def test_saturday_delivery_to_a_shut_dock_stops() -> None:
    """Money would be spent on an envelope that lies before a locked door until Monday, and the
    script go on.
    """
    code, told, _ = ask({**BASE, "handed_over": "2026-12-04T15:00", "saturday_delivery": True})
    assert code == 1
    assert {found["rule"]: found["severity"] for found in told["findings"]}["SH-05"] == "block"
    assert told["received"] == "2026-12-07T08:00:00-06:00"


def test_every_fault_of_a_case_is_told_at_once_and_stops_no_other() -> None:
    """One bad line among a hundred envelopes would cost the other ninety-nine, and ten
    rounds of correction.
    """
    bad = {
        "id": "bad",
        "handed_over": "25.11.2026",
        "origin_zone": "EST",
        "service_days": 31,
        "saturday_delivery": "no",
        "cutoff": "5pm",
        "delivery_time": 1030,
        "carrier_closed": ["Thanksgiving"],
        "lab_zone": "Chicago",
        "lab_hours": {"mon": ["8-17"], "monday": []},
        "lab_closed": "us-federal",
        "airbill": "X",
    }
    code, told, _ = ask([bad, {**BASE, "handed_over": "2026-11-24T17:00"}, "x", {}])
    assert code == 2
    assert {fault["at"] for fault in told[0]["errors"]} == {
        "/handed_over",
        "/origin_zone",
        "/service_days",
        "/saturday_delivery",
        "/cutoff",
        "/delivery_time",
        "/carrier_closed/0",
        "/lab_zone",
        "/lab_hours/mon/0",
        "/lab_hours/monday",
        "/lab_closed",
        "/airbill",
    }
    assert (told[0]["id"], "findings" in told[0]) == ("bad", False)
    assert told[1]["day0"] == "2026-11-24"
    assert told[2]["errors"][0]["says"].startswith("Write a case as an object")
    needed = {"/handed_over", "/origin_zone", "/service_days", "/lab_zone", "/lab_hours"}
    assert {fault["at"] for fault in told[3]["errors"]} == needed


@pytest.mark.parametrize(
    ("case", "words"),
    [
        ({"handed_over": "2027-03-14T02:30"}, "skipped over it"),
        ({"handed_over": "2026-11-01T01:30"}, "occurred twice"),
        ({"handed_over": "2026-11-24T17:00", "lab_hours": {}}, "no opening"),
        (
            {"handed_over": "2026-11-24T17:00", "lab_hours": {"mon": ["17:00-08:00"]}},
            "the opening before the closing",
        ),
    ],
)
def test_a_time_that_is_none_is_refused_and_never_guessed(case: dict[str, Any], words: str) -> None:
    """An hour that the clocks skipped or repeated would be taken for another one (tz database)."""
    told = window_case.told({**BASE, **case})
    assert any(words in fault["says"] for fault in told["errors"])


def test_an_offset_chooses_between_two_such_times() -> None:
    """Nobody could ask about an envelope handed over in the hour that occurs twice."""
    first, second = (
        window_case.told(
            {**BASE, "handed_over": f"2026-11-01T01:30:00-0{hours}:00", "collected": "2026-11-01T00:30"}
        )
        for hours in (4, 5)
    )
    assert first["received"] == second["received"] == "2026-11-03T10:30:00-06:00"
    assert "errors" not in first


def test_what_is_no_json_is_a_usage_error(tmp_path: Path) -> None:
    """A script with a broken file would count it as a checked envelope."""
    code, told, said = ask("{")
    assert (code, told["code"]) == (2, "bad-file")
    assert "no JSON" in said
    assert ask("", str(tmp_path / "absent.json"))[0] == 2


def test_a_year_without_a_list_is_warned_of_and_a_complete_one_is_not() -> None:
    """A list that ends in December would promise New Year's Day, and nobody be told that the
    list had ended.
    """

    def years(**case: Any) -> list[str]:
        told = window_case.told({**BASE, "handed_over": "2026-12-31T15:00", **case})
        return [found["sentence"] for found in told["findings"] if found["rule"] == "SH-12"]

    assert any("for 2027" in said for said in years())
    assert any(
        "for 2027" in said for said in years(carrier_closed=["us-federal"])
    )  # the laboratory's list ends
    assert years(carrier_closed=["us-federal"], lab_closed=["us-federal"]) == []
    assert years(carrier_closed=[*KEPT, "2027-01-01"], lab_closed=[*KEPT, "2027-01-01"]) == []
    assert years(carrier_years=[2026, 2027], lab_years=[2027]) == []


# Two clock changes lie in the window; the zones are far apart on purpose.
ZONES = st.sampled_from(
    ["America/New_York", "America/Chicago", "America/Phoenix", "Pacific/Honolulu", "America/St_Johns"]
)
DAYS = st.dates(datetime(2026, 10, 20).date(), datetime(2027, 4, 10).date()).map(lambda day: day.isoformat())
SPANS = st.tuples(st.integers(0, 11), st.integers(12, 23)).map(
    lambda span: [f"{span[0]:02}:00-{span[1]:02}:30"]
)
CASES = st.fixed_dictionaries(
    {
        "handed_over": (
            st.integers(0, 150 * 24 * 60).map(
                lambda n: (datetime(2026, 10, 25, 12) + timedelta(minutes=n)).isoformat(timespec="minutes")
            )
        ),
        "origin_zone": ZONES,
        "lab_zone": ZONES,
        "service_days": st.integers(0, 4),
        "saturday_delivery": st.booleans(),
        "carrier_closed": st.lists(DAYS, max_size=10),
        "lab_closed": st.lists(DAYS, max_size=10),
        "lab_hours": st.dictionaries(
            st.sampled_from(["mon", "tue", "wed", "thu", "fri", "sat", "sun"]), SPANS, min_size=1
        ),
    }
).filter(lambda case: "errors" not in window_case.told(case))


def instant(text: str) -> datetime:
    """An instant of an answer."""
    return datetime.fromisoformat(text).astimezone(UTC)


@given(CASES)
def test_never_a_receipt_at_a_shut_dock(case: dict[str, Any]) -> None:
    """The clerk would be promised an opening at a locked door.

    Oracle: the wall clock of the laboratory's zone (tz database).
    """
    told = window_case.told(case)
    wall = instant(told["received"]).astimezone(ZoneInfo(case["lab_zone"]))
    spans = case["lab_hours"].get(wall.strftime("%a").lower(), [])
    clock = wall.strftime("%H:%M:%S.%f")
    assert wall.date().isoformat() not in case["lab_closed"]
    assert any(span[:5] <= clock[:5] and clock <= f"{span[6:]}:00.000000" for span in spans)
    assert instant(told["delivered"]) <= instant(told["received"])
    assert told["received"][-6:] == wall.isoformat()[-6:]


@given(CASES, st.integers(1, 20_000))
def test_handing_over_later_never_makes_it_earlier(case: dict[str, Any], minutes: int) -> None:
    """Waiting would look like the faster way."""
    later = datetime.fromisoformat(case["handed_over"]) + timedelta(minutes=minutes)
    after = window_case.told({**case, "handed_over": later.isoformat(timespec="minutes")})
    if "errors" not in after:  # an hour that the clocks skip or repeat
        assert instant(after["received"]) >= instant(window_case.told(case)["received"])


@given(CASES, DAYS, st.sampled_from(["carrier_closed", "lab_closed"]))
def test_one_more_closed_day_never_makes_it_earlier(case: dict[str, Any], day: str, which: str) -> None:
    """Entering a holiday would make a late envelope look in time."""
    fewer = window_case.told({**case, which: [*case[which], day]})
    assert instant(fewer["received"]) >= instant(window_case.told(case)["received"])


def test_a_clerk_is_told_what_else_could_be_done(shipped: tuple[Town, list[str]]) -> None:
    """The clerk learns that it is too late today, and not what would still be in time."""
    town, _ = shipped
    clerk = town.person("clerk")
    said = clerk.run(
        "window",
        "--for",
        ENVELOPE,
        "--carrier",
        "acorn-freight",
        "--at",
        "2026-12-04 15:00",
        "--zone",
        "America/New_York",
    )
    assert (
        "If shipped Fri 2026-12-04 15:00 America/New_York with acorn-freight, 1 working day in transit:"
        in flat(said)
    )
    assert "What could be done, the best first" in said
    assert "Expected delivery Mon 2026-12-07 10:30 (-06:00)" in flat(said)
    assert "hand-carried" not in said.lower()  # nobody has said when they would be there
    carried = ("--carried", "2026-12-04 12:00", "--at", "2026-12-01 15:00", "--zone", "America/New_York")
    said = clerk.run("window", "--for", ENVELOPE, "--carrier", "acorn-freight", *carried)
    then = "Fri 2026-12-04 11:00 (-06:00)"
    assert f"hand-carried: at the dock {then}; expected receipt {then}" in flat(said)
    said = clerk.run("window", "--for", ENVELOPE, "--carrier", "acorn-freight", *carried[2:])
    assert "Note: Hand-carried, it can be received in time at the open dock until Fri 2026-12-04" in said
    told = clerk.answer("window", "--for", ENVELOPE, "--carrier", "acorn-freight")
    assert told["lab"] == LAB
    assert "--zone" in clerk.run("window", "--lab", LAB, code=2)
    aged = (
        "window",
        "--lab",
        LAB,
        "--zone",
        "America/New_York",
        "--carrier",
        "acorn-freight",
        "--at",
        "2026-12-01 15:00",
    )
    late = clerk.run(*aged[:-1], "2026-12-04 17:05", "--collected", "2026-12-01 09:00")
    assert (
        "It had to be shipped by Wed 2026-12-02 17:00 America/New_York to keep within the limit from"
        " collection to receipt (SH-02)."
    ) in flat(late)
    told = clerk.answer(*aged, "--collected", "2026-12-01 09:00")
    assert told["window"]["latest_hand_over"] == "2026-12-02T17:00:00-05:00"


def test_cases_are_told_to_people_too(tmp_path: Path) -> None:
    """Somebody without a ledger reads braces where a sentence would do."""
    file = tmp_path / "cases.json"
    file.write_text(json.dumps([{**BASE, "id": "Friday", "handed_over": "2026-12-04T15:00"}, {"id": 2}]))
    answer = CliRunner().invoke(bailee, ["window", str(file)])
    assert answer.exit_code == 2
    then = "day 0 is 2026-12-04. Expected delivery Mon 2026-12-07 10:30 (-06:00)"
    assert f"Case Friday: {then}" in flat(answer.output)
    assert "Case 2 cannot be read:" in answer.output
    assert "/lab_hours: is missing" in answer.output


def test_what_is_missing_for_a_window_is_asked_for_by_name(settled: Town) -> None:
    """If this fails, a clerk who left out the carrier is asked whose dock it is, and looks for the wrong
    option.
    """
    clerk = settled.person("clerk")
    said = clerk.run("window", "--for", ENVELOPE, code=2)
    assert "Enter --carrier (the carrier). Carriers on record: acorn-freight.\n" in said
    said = clerk.run("window", "--carrier", "acorn-freight", code=2)
    assert "Enter --lab (whose dock), --zone (on which clock).\n" in said
