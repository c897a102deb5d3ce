"""What is typed about an envelope's paper, its class and its weather; a call that was made.

A sample sent on.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from bailee.signing import signed_statement
from field import OUTSIDER
from town import ENVELOPE, INTACT, SEAL, Town, dock


def said_by(town: Town, name: str) -> dict[str, Any]:
    """What somebody's device signed last."""
    outbox = town.person(name).session().of(name, as_json=False).outbox
    data = dict(signed_statement.read(outbox.newest(1)[0].text).claims.data)
    outbox.close()
    return data


def test_paper_photo_class_and_forecast_are_signed(visited: tuple[Town, list[str]], tmp_path: Path) -> None:
    """If this fails, what the clerk typed about the envelope is asked for and forgotten."""
    town, samples = visited
    clerk, picture = town.person("clerk"), tmp_path / "seal.jpg"
    picture.write_bytes(b"\xff\xd8 a picture")
    clerk.run(
        "seal",
        *samples[:3],
        "--envelope",
        ENVELOPE,
        "--counted",
        "3",
        *SEAL,
        "--record-pages",
        "2",
        "--photo",
        str(picture),
    )
    sealed = said_by(town, "clerk")
    assert (sealed["record_pages"], sealed["photo"]["type"]) == (2, "image/jpeg")
    clerk.run(
        "ship",
        ENVELOPE,
        "--carrier",
        "acorn-freight",
        "--service",
        "next day",
        "--tracking",
        "AF-1",
        "--yes",
        "--classified",
        "not_regulated",
        "--forecast-low",
        "-12",
        "--forecast-high",
        "3.5",
    )
    shipped = said_by(town, "clerk")
    assert (shipped["classified"], shipped["forecast_low_c"], shipped["forecast_high_c"]) == (
        "not_regulated",
        "-12",
        "3.5",
    )
    assert "SH-07" in clerk.run("check", ENVELOPE)


def test_a_seal_of_tape_is_signed_as_tape(visited: tuple[Town, list[str]]) -> None:
    """If this fails, the warning was shown and the record says that there was a seal."""
    town, samples = visited
    clerk = town.person("clerk")
    said = clerk.run("seal", *samples[:3], "--envelope", ENVELOPE, "--counted", "3", *SEAL, "--plain-tape")
    assert "SE-06" in said
    assert said_by(town, "clerk")["plain_tape"] is True


def test_a_difference_is_called_qualified_and_read_back(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, nobody can read later who was called about the broken seal, and what the client said."""
    town, samples = shipped
    dock(
        town,
        *samples[:3],
        "--seal",
        "C-4711",
        "--seal-state",
        "broken",
        "--counted",
        "3",
        "--all-intact",
        "--temperature",
        "-2",
    )
    custodian = town.person("dock")
    assert "RC-10" in custodian.run("check", ENVELOPE, code=1)
    custodian.run(
        "accept",
        ENVELOPE,
        "--qualified",
        "--called",
        "2026-12-02 10:45",
        "--called-person",
        "R. Example",
        "--answer",
        "analyze them",
        "--reason",
        "seal",
        "--zone",
        "America/Chicago",
    )
    shown = custodian.run("show", samples[0])
    for words in ("R. Example", "analyze them", "Qualified result.", "broken at opening"):
        assert words in shown
    form = custodian.answer("show", samples[0])["form"]
    assert "Qualified results" in custodian.run("show", form)
    assert "RC-14" not in custodian.run("check", ENVELOPE, code=1)


def test_a_rejected_sample_says_whether_a_new_one_can_be_taken(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, the client is told no, and not what now."""
    town, samples = shipped
    dock(town, *samples[:3], *INTACT, "--counted", "3")
    town.person("dock").run("reject", samples[0], "--resample", "possible", "--reason", "condition")
    assert said_by(town, "dock")["resample"] == "possible"


def test_a_sample_is_sent_on_under_a_new_number(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, a slide goes to a second laboratory under a number that is already somebody's."""
    town, samples = shipped
    dock(town, *samples[:3], *INTACT, "--counted", "3")
    custodian, other = town.person("dock"), town.person("third-root", OUTSIDER)
    other.join()
    other.run("found", OUTSIDER, "--name", "Third Party")
    said = custodian.run(
        "forward",
        samples[0],
        "--to",
        OUTSIDER,
        "--purpose",
        "analysis",
        "--item",
        "slide",
        "--condition",
        "stained",
    )
    (item,) = said_by(town, "dock")["items"]
    assert item["child"] != samples[0]
    assert "Forwarded" in said
    assert "The same trace was forwarded as" in custodian.run("show", samples[0])
    assert "before it was forwarded" in custodian.run("show", item["child"])
    custodian.run(
        "forward",
        *samples[:2],
        "--child",
        samples[1],
        "--to",
        OUTSIDER,
        "--purpose",
        "analysis",
        "--item",
        "slide",
        "--condition",
        "stained",
        code=2,
    )
