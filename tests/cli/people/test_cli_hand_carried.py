"""The day of the envelope that a colleague drove over: given at the desk, with a slip or with a key.

That giver and receiver sign: county-filed sampling plans that follow EPA.
"""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from bailee.signing import signed_statement
from town import ENVELOPE, SEAL, Town

BY_HAND = ("ship", ENVELOPE, "--by-hand", "--yes", "--zone", "America/New_York")
ANN = ("--courier-name", "Ann Porter", "--courier-phone", "555-0137", "--relation", "employee")
SLIP = ("--slip", "R-7", "--id-seen", "--expected", "2026-12-01 16:40")


def words(said: str) -> str:
    """What is on the screen, without its line breaks."""
    return " ".join(said.replace("\N{NO-BREAK SPACE}", " ").split())


@pytest.fixture
def sealed(visited: tuple[Town, list[str]]) -> tuple[Town, list[str]]:
    """Three cassettes lie in a sealed envelope on the clerk's desk."""
    town, samples = visited
    town.person("clerk").run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL)
    return town, samples


def test_who_carried_it_stands_on_the_record_and_not_in_the_log(sealed: tuple[Town, list[str]]) -> None:
    """If this fails, the paper says "by hand, by hand", or the driver's telephone number can never be
    forgotten.
    """
    town, _ = sealed
    clerk = town.person("clerk")
    said = words(clerk.run(*BY_HAND, *ANN, *SLIP))
    assert (
        "Expected delivery Tue 2026-12-01 15:40 (-06:00); expected receipt Tue 2026-12-01 15:40 (-06:00)"
        in said
    )
    outbox = clerk.session().of("clerk", as_json=False).outbox
    (kept,) = outbox.newest(1)
    outbox.close()
    facts = signed_statement.read(kept.text).claims.data
    assert facts["courier"] == {"relation": "employee", "named": True, "id_seen": True, "slip": "R-7"}
    assert (facts["expected_delivery"], facts["service_days"]) == ("2026-12-01T16:40:00-05:00", 0)
    assert "Porter" not in str(facts)
    assert "0137" not in str(facts)
    told = words(clerk.run("show", ENVELOPE))
    assert "hand-carried by Ann Porter, employee" in told
    assert "receipt slip R-7" in told
    assert "tracking number" not in told
    assert "by hand, by hand" not in told
    form = clerk.answer("show", ENVELOPE)["forms"][0]
    rules = {each["rule"] for each in clerk.answer("check", form)["findings"]}
    assert not rules & {"SH-01", "SH-03", "SH-06", "SH-15", "SH-16"}
    record = town.folder / "record.pdf"
    clerk.run("record", form, "-o", str(record))
    pages = PdfReader(io.BytesIO(record.read_bytes())).pages
    printed = words(" ".join(page.extract_text() for page in pages))
    assert "Hand-carried by Ann Porter, employee; received it on" in printed
    assert "I gave this sealed envelope to the person who carries it" in printed
    assert "by hand, by hand" not in printed
    assert "to the carrier" not in printed
    assert "shipped with the person who carries it on" in words(clerk.run(*BY_HAND, code=1))


def test_what_was_left_out_is_named_before_it_leaves(sealed: tuple[Town, list[str]]) -> None:
    """If this fails, the envelope goes with a stranger, and nobody knows when to miss it."""
    town, _ = sealed
    clerk = town.person("clerk")
    assert "--relation" in clerk.run(*BY_HAND, "--slip", "R-7", code=2)
    said = words(clerk.run(*BY_HAND))
    assert "does not name who carries it" in said
    assert "was not stated" in said
    assert "Arrival: cannot be computed" not in said
    assert "hand-carried by name not recorded" in words(clerk.run("show", ENVELOPE))


def test_whoever_has_a_key_receives_the_sealed_envelope(sealed: tuple[Town, list[str]]) -> None:
    """If this fails, two signatures count for less than a slip of paper."""
    town, samples = sealed
    clerk, driver = town.person("clerk"), town.person("second")
    kid = driver.answer("key", "show")["kid"]
    give = ("give", ENVELOPE, "--to", "harrow-field", "--to-key", kid, "--purpose", "transport")
    clerk.run(*give, "--count", "3", "--expected", "2026-12-01 16:40")
    driver.run("take", ENVELOPE, "--condition", "not_looked_at", "--purpose", "transport", "--count", "3")
    outbox = clerk.session().of("clerk", as_json=False).outbox
    (kept,) = outbox.newest(1)
    outbox.close()
    assert signed_statement.read(kept.text).claims.data["expected"] == "2026-12-01T16:40:00-05:00"
    form = clerk.answer("show", ENVELOPE)["forms"][0]
    rules = {each["rule"] for each in clerk.answer("check", form)["findings"]}
    assert not rules & {"CU-01", "CU-02", "CU-03", "SH-06", "SH-15"}
    assert "sealed" in words(driver.run("show", samples[0]))
