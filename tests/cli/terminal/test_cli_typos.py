"""What is mistyped is said before it is signed: a laboratory nobody knows, a lot that must not be issued
from.
"""

from __future__ import annotations

import pytest

from field import FIRM, LAB
from town import OPEN, Town

_RECEIVE = ("lot", "receive", "--maker-lot", "42-0117", "--cassette", "slit", "--nominal-flow", "15.0")


def with_lab(words: tuple[str, ...], lab: str) -> tuple[str, ...]:
    """The same words for another laboratory."""
    return tuple(lab if word == LAB else word for word in words)


def test_a_form_for_an_unknown_laboratory_is_not_signed(settled: Town) -> None:
    """If this fails, a form is addressed to nobody, and no laboratory can read or receive it."""
    inspector = settled.person("inspector")
    said = inspector.run(*with_lab(OPEN, "quil-lab"), code=2)

    assert "no organization 'quil-lab'" in said
    assert LAB in said
    assert inspector.outbox() == []
    told = inspector.answer(*with_lab(OPEN, "quil-lab"), code=2)
    assert told["code"] == "unknown-organization"
    assert told["nearest"] == [LAB]
    assert "no organization 'harow'" in inspector.run(*OPEN, "--firm", "harow", code=2)
    inspector.run(*OPEN, "--firm", FIRM)


def test_offline_it_is_said_that_nobody_looked(settled: Town) -> None:
    """If this fails, a basement without a network stops a visit, or a typing slip there goes
    without a word.
    """
    inspector = settled.person("inspector")
    assert "Not checked without a network: whether the ledger knows 'quil-lab'" in inspector.run(
        *with_lab(OPEN, "quil-lab"), "--offline"
    )
    settled.line.weather = "down"
    assert "Not checked: whether the ledger knows 'quil-lab'" in inspector.run(*with_lab(OPEN, "quil-lab"))
    assert [each["state"] for each in inspector.outbox()] == ["waiting"], "said twice, signed once"


def test_a_sample_is_not_sent_on_to_nobody(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, a sample leaves the laboratory for an organization that can never take it over."""
    town, samples = shipped
    dock = town.person("dock")
    before = len(dock.outbox())
    said = dock.run(
        "forward",
        samples[0],
        "--to",
        "nowhere-org",
        "--purpose",
        "analysis",
        "--item",
        "cassette",
        "--condition",
        "opened",
        code=2,
    )
    assert "no organization 'nowhere-org'" in said
    assert len(dock.outbox()) == before


def test_a_window_of_a_laboratory_nobody_knows_is_an_error(settled: Town) -> None:
    """If this fails, a clerk believes opening hours that were made up."""
    clerk = settled.person("clerk")
    words = ("window", "--zone", "America/New_York", "--carrier", "acorn-freight", "--lab")
    assert "no organization 'nolab'" in clerk.run(*words, "nolab", code=2)
    assert clerk.answer(*words, "nolab", code=2)["code"] == "unknown-organization"
    assert "Expected delivery" in clerk.run(*words, LAB)


def test_numbers_of_a_lot_out_of_date_are_not_issued(settled: Town) -> None:
    """If this fails, a keeper hands out cassettes that no laboratory will accept."""
    keeper = settled.person("keeper")
    lot, _ = settled.lot(1, expiry="2026-12-01")
    keeper.run("lot", "count", lot, "--remaining", "5", "--anyway")
    assert "ML-05: " in keeper.run("lot", "issue", lot, "--count", "1"), "the last good day is a good day"
    settled.clock.advance(days=1)
    said = keeper.run("lot", "issue", lot, "--count", "1", "--anyway", code=1)

    assert said.startswith("NOT READY: 1 stop. 1 number of lot")
    assert "ML-02" in said
    assert "--anyway" not in said
    assert len(keeper.answer("lot", "show", lot)["issued"]) == 2


def test_numbers_of_a_recalled_lot_are_not_issued_until_it_is_released(settled: Town) -> None:
    """If this fails, a recall does not reach the shelf it is about."""
    keeper = settled.person("keeper")
    lot, _ = settled.lot(1)
    keeper.run("lot", "count", lot, "--remaining", "5", "--anyway")
    keeper.run("lot", "recall", lot, "--reason", "maker")
    assert "ML-06" in keeper.run("lot", "issue", lot, "--count", "1", "--anyway", code=1)
    settled.person("quality").run("lot", "release", lot, "--reason", "checked")
    keeper.run("lot", "issue", lot, "--count", "1")


def test_a_lot_without_an_expiry_is_not_issued_from(settled: Town) -> None:
    """If this fails, samples are taken of which nobody can ever say whether they were in date."""
    keeper = settled.person("keeper")
    lot = keeper.answer(*_RECEIVE, "--count", "3", "--no-expiry")[0]["chain"].removeprefix("lot/")
    assert "ML-03" in keeper.run("lot", "issue", lot, "--count", "1", "--anyway", code=1)


@pytest.mark.parametrize(("count", "code"), [(3, 0), (4, 1)])
def test_no_more_numbers_than_cassettes_unless_somebody_says_so(settled: Town, count: int, code: int) -> None:
    """If this fails, more labels are printed than there are cassettes, and nobody notices until one is
    missing.
    """
    keeper = settled.person("keeper")
    lot, _ = settled.lot(1)
    keeper.run("lot", "count", lot, "--remaining", "3", "--anyway")
    said = keeper.run("lot", "issue", lot, "--count", str(count), code=code)

    assert ("ML-09" in said) == bool(code)
    assert ("--anyway issues them" in said) == bool(code)
    if code:
        told = keeper.answer("lot", "issue", lot, "--count", str(count), code=1)
        assert (told["ready"], [each["rule"] for each in told["findings"]]) == (False, ["ML-09"])
        assert "ML-09: " in keeper.run("lot", "issue", lot, "--count", str(count), "--anyway")
    assert len(keeper.answer("lot", "show", lot)["issued"]) == 1 + count


def test_numbers_for_a_visit_after_the_last_good_day_are_asked_about(settled: Town) -> None:
    """If this fails, a kit is packed today with cassettes that are out of date on the day of the visit."""
    keeper = settled.person("keeper")
    lot = keeper.answer(*_RECEIVE, "--count", "9", "--expiry", "2026-12-20")[0]["chain"].removeprefix("lot/")
    keeper.run("lot", "issue", lot, "--count", "1", "--visit", "2026-12-20")
    assert "ML-04" in keeper.run("lot", "issue", lot, "--count", "1", "--visit", "2026-12-21", code=1)
    keeper.run("lot", "issue", lot, "--count", "1", "--visit", "2026-12-21", "--anyway")


def test_a_lot_that_cannot_be_asked_about_is_issued_with_a_word(settled: Town) -> None:
    """If this fails, a keeper in a cellar cannot issue, or does not hear that nobody looked."""
    keeper = settled.person("keeper")
    lot, _ = settled.lot(1)
    assert "Not checked: expiration date, recall and count" in keeper.run(
        "lot", "issue", lot, "--count", "1", "--offline"
    )
    settled.line.weather = "down"
    assert "Not checked: expiration date, recall and count" in keeper.run("lot", "issue", lot, "--count", "1")
