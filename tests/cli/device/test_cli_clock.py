"""A device whose clock is wrong: it is said before anything is signed, and of what was signed on every paper.

That clocks of a record are compared and told: FDA guidance on time stamps, withdrawn, by summary. The words
for a length of time: common practice, no source.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from pypdf import PdfReader

from bailee.domain.moments import clock_words
from bailee.signing import signed_statement
from bailee_cli.device.outbox import Kept
from bailee_cli.device.session import Session
from field import FIRM
from town import OPEN, Person, Town

WRONG = "The clock of this device is 1 day 2 h 3 min behind, by the service's."


@dataclass
class Late(Person):
    """Somebody whose device lags behind."""

    by: timedelta = timedelta(days=1, hours=2, minutes=3)

    def session(self) -> Session:
        """With the wrong clock."""
        return Session(home=self.town.folder / "homes", transport=self.town.line, clock=self.clock)

    def clock(self) -> datetime:
        """What the device shows."""
        return self.town.clock() - self.by


@pytest.fixture
def late(settled: Town) -> Late:
    """The inspector takes out a phone whose battery was empty."""
    return Late(settled, "inspector", FIRM)


def signed(person: Person) -> list[Kept]:
    """What the device has signed, the newest first."""
    outbox = person.session().of(person.name, as_json=False).outbox
    kept = outbox.newest(50)
    outbox.close()
    return kept


def skews(person: Person) -> list[int]:
    """What those statements say of the clock."""
    return [signed_statement.read(each.text).claims.skew for each in signed(person)]


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (59, "less than 1 min behind"),
        (60, "1 min behind"),
        (-7_260, "2 h 1 min ahead"),
        (93_780, "1 day 2 h 3 min behind"),
        (-172_800, "2 days ahead"),
    ],
)
def test_how_wrong_it_is_stands_in_days_hours_and_minutes(seconds: int, words: str) -> None:
    """1443 min is a number that nobody sets a clock by."""
    assert clock_words(seconds) == words


def test_a_wrong_clock_is_said_before_signing_and_never_as_a_token(late: Late) -> None:
    """Three statements were recorded with false times, and the person read that a token had run out."""
    asked = late.run("show")
    assert WRONG in asked
    said = late.run(*OPEN)
    assert said.count("The clock of this device") == 1
    assert said.index(WRONG) < said.index("Recorded: opened")
    assert "token" not in asked + said
    assert skews(late) == [93_780]


def test_without_a_network_the_last_answer_is_what_is_known(late: Late) -> None:
    """In a basement nobody compares clocks, and the visit is dated a day too early."""
    late.run("show")
    late.town.line.weather = "down"
    said = late.run(*OPEN, "--offline")
    assert "was 1 day 2 h 3 min behind when it last answered (2026-11-30 11:57 UTC)" in said
    assert skews(late) == [93_780]
    late.town.line.weather = "fine"
    late.by = timedelta(seconds=59)
    late.run("send")  # the clock was set: an answer says so, and nothing is remembered
    assert not (late.folder / "clock.json").exists()


def test_every_paper_tells_that_a_statement_was_signed_by_a_wrong_clock(late: Late, tmp_path: Path) -> None:
    """The court reads 26 November and the visit was on the 27th."""
    late.run("show")
    late.run(*OPEN)
    (form,) = [each.chain.removeprefix("form/") for each in signed(late)]
    clerk = late.town.person("clerk")
    assert "CU-08" in clerk.run("check", form, code=None)
    assert "was 1 day 2 h 3 min behind, as its device had measured" in clerk.run("check", form, code=None)
    clerk.run("record", form, "-o", str(tmp_path / "record.pdf"))
    words = " ".join(page.extract_text() for page in PdfReader(tmp_path / "record.pdf").pages).split()
    assert "(by a clock 1 day 2 h 3 min behind)" in " ".join(words)


def test_a_clock_that_is_right_is_not_spoken_of(settled: Town) -> None:
    """Honest people see nothing of all this, and their statements grow by nothing."""
    inspector = settled.person("inspector")
    assert "clock" not in inspector.run(*OPEN)
    assert skews(inspector) == [0]
    assert '"skew"' not in json.dumps([each.text for each in signed(inspector)])
