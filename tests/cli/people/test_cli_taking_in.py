"""The day of the box that was signed for unopened: delivered Friday 18:15, opened Monday 09:00.

That a container may be signed for unopened and inspected later: a national laboratory's guide to receiving
(agg.pnl.gov).
"""

from __future__ import annotations

import io
from datetime import UTC, datetime

import pytest
from pypdf import PdfReader

from bailee.signing import signed_statement
from terminal import Terminal, served
from town import ENVELOPE, INTACT, SEAL, Town, dock, verify_words

SEEN = ("--seal", "c-4711", "--seal-state", "intact", "--package", "sound", "--how", "locked")
TAKE_IN = ("take-in", ENVELOPE, *SEEN, "--where", "laboratory", "--zone", "America/Chicago")
FRIDAY = datetime(2026, 12, 5, 0, 20, tzinfo=UTC)
MONDAY = datetime(2026, 12, 7, 15, 0, tzinfo=UTC)


def words(said: str) -> str:
    """What is on the screen, without its line breaks."""
    return " ".join(said.split())


@pytest.fixture
def friday(shipped: tuple[Town, list[str]]) -> tuple[Town, list[str]]:
    """It is Friday evening at the laboratory, and the carrier has just been there."""
    town, samples = shipped
    town.clock.now = FRIDAY
    return town, samples


def test_from_friday_evening_to_monday_morning_there_is_no_gap(friday: tuple[Town, list[str]]) -> None:
    """If this fails, the porter's signature is worth nothing, and the record shows 62 h 45 min in which
    nobody had the envelope.
    """
    town, samples = friday
    worker, delivered = town.person("dock"), ("--delivered", "2026-12-04 18:15", "--containers", "1")
    said = worker.run(*TAKE_IN, *delivered)
    assert "Recorded: taken in" in said
    assert "on record" not in said
    told = words(worker.run("show", ENVELOPE))
    assert "taken in unopened 2026-12-04 19:20 America/New_York" in told
    assert "seal as read when taken in C-4711, intact" in told
    assert "taken in unopened" in words(worker.run("show", samples[0]))
    town.clock.now = MONDAY
    opened = (*INTACT, "--counted", "3", *samples[:3])
    assert "Recorded: received" in dock(town, *opened)
    form = worker.answer("show", ENVELOPE)["forms"][0]
    rules = {each["rule"] for each in worker.answer("check", form)["findings"]}
    assert not rules & {"RC-01", "RC-02", "RC-08", "CU-01", "CU-05", "SH-10"}
    record, bundle = town.folder / "record.pdf", town.folder / "form.bundle"
    worker.run("record", form, "-o", str(record))
    printed = words(
        " ".join(page.extract_text() for page in PdfReader(io.BytesIO(record.read_bytes())).pages)
    )
    assert "Taken in unopened" in printed
    assert "I received this envelope and did not open it" in printed
    worker.run("bundle", form, "-o", str(bundle))
    told = words(worker.run("verify", str(bundle), *verify_words(town)))
    assert "No break in custody found" in told
    assert "taken in unopened" in told or "took in envelope" in told


def test_the_seal_is_read_before_the_screen_tells_it(friday: tuple[Town, list[str]]) -> None:
    """If this fails, the number on the screen is confirmed instead of read, and a foreign seal goes
    unnoticed.
    """
    town, _ = friday
    typed = "intact\nsound\nlocked\nlaboratory\nC-4712\n"
    said = town.person("dock").run("take-in", ENVELOPE, "--zone", "America/Chicago", typed=typed)
    before, _, after = said.partition("Number as read on the seal")
    assert "C-4711" not in before
    assert "The seal reads C-4712; C-4711 is on record." in after
    assert "RC-02" in town.person("dock").run("show", ENVELOPE)


def test_nobody_looked_is_signed_as_that(friday: tuple[Town, list[str]]) -> None:
    """If this fails, a porter who signed for a box vouches for a seal that nobody looked at."""
    town, _ = friday
    unseen = ("--seal-state", "not_looked_at", "--package", "not_looked_at", "--how", "restricted")
    worker = town.person("dock")
    worker.run("take-in", ENVELOPE, *unseen, "--where", "laboratory", "--place", "cold room 2")
    outbox = worker.session().of("dock", as_json=False).outbox
    (kept,) = outbox.newest(1)
    outbox.close()
    facts = signed_statement.read(kept.text).claims.data
    assert (facts["seal"], facts["seal_state"], facts["package"]) == (
        None,
        "not_looked_at",
        ["not_looked_at"],
    )
    assert "cold room" not in str(facts)


def test_it_is_taken_in_once(friday: tuple[Town, list[str]]) -> None:
    """If this fails, two people sign for one box, and nobody knows which of them had it."""
    town, samples = friday
    worker = town.person("dock")
    worker.run(*TAKE_IN)
    assert "taken in unopened on" in worker.run(*TAKE_IN, code=1)
    ship = ("ship", ENVELOPE, "--carrier", "acorn-freight", "--service", "next day", "--tracking", "AF-2")
    assert "shipped with acorn-freight" in town.person("clerk").run(*ship, "--yes", code=1)
    town.clock.now = MONDAY
    dock(town, *INTACT, "--counted", "3", *samples[:3])
    later = town.person("lab-quality")
    assert "already" in later.run(*TAKE_IN, code=1)


def test_an_answer_lost_on_the_way_is_no_reason_to_sign_again(friday: tuple[Town, list[str]]) -> None:
    """If this fails, a dead spot at the dock signs for one box twice."""
    town, _ = friday
    worker = town.person("dock")
    town.line.weather = "answer lost"
    assert "not sent yet" in worker.run(*TAKE_IN)
    town.line.weather = "fine"
    assert "Recorded: taken in" in worker.run(*TAKE_IN)
    assert [each["act"] for each in worker.outbox()] == ["taken_in"]


def test_a_bag_that_did_not_come_is_told_at_the_door(visited: tuple[Town, list[str]]) -> None:
    """The driver is gone before anybody sees that the record speaks of two bags; and who counts them sees
    the number only afterwards.
    """
    town, samples = visited
    clerk, worker = town.person("clerk"), town.person("dock")
    words_of_seal = ("--envelope", ENVELOPE, "--counted", "3", "--containers", "2", *SEAL)
    clerk.run("seal", *samples[:3], *words_of_seal)
    clerk.run("ship", ENVELOPE, "--carrier", "by hand", "--yes")
    assert "containers counted 2" in words(clerk.run("show", ENVELOPE))
    town.clock.advance(minutes=60)
    taken = ("take-in", ENVELOPE, *SEEN, "--where", "laboratory", "--zone", "America/Chicago")
    with served(town), Terminal(worker, *taken) as screen:
        before = screen.sees("Bags or boxes, from outside")
        screen.types("1\n")
        screen.sees("1 container counted; 2 on record.")
        screen.sees("Sign: taken in?")
        screen.types("y\n")
        code, rest = screen.ends()
    assert (code, "on record" in before) == (0, False), rest
    said = dock(town, *INTACT, "--counted", "3", "--containers", "1", *samples[:3])
    assert "1 container counted; 2 on record." in words(said)
    (found,) = (each for each in worker.answer("show", ENVELOPE)["findings"] if each["rule"] == "RC-22")
    assert found["severity"] == "warn"
    assert "2 containers when sealed, 1 container when taken in, 1 container at opening" in found["sentence"]
