"""Private fields, typed: erased, held, left out of a file."""

from __future__ import annotations

import json

import pytest

from bailee.domain import numbers
from field import FIRM
from town import INDOOR, OPEN, Town, collect, verify_words


def test_the_client_asks_to_be_forgotten(settled: Town) -> None:
    """The office would need a programmer to do what the law lets a client ask for."""
    town = settled
    town.person("inspector").run(*OPEN)
    _, samples = town.lot(1)
    collect(town, samples[0], INDOOR)
    form = town.person("inspector").answer("show")["forms"][0]["form"]
    quality = town.person("quality")
    quality.run("retain", form, "--reason", "dispute")
    assert "held by harrow-field" in quality.run("erase", form, "--yes", code=1)
    quality.run("retain", form, "--reason", "settled", "--release")
    assert "only " in quality.run(
        "erase", form, "--field", "clients", "--yes", code=2
    )  # a slip erases nothing
    said = quality.run("erase", form, "--field", "client", "--field", "place", typed="y\n")
    assert "entry 1: client" in said
    assert "entry 2: place" in said
    told = quality.answer("show", form)
    assert set(told["private"]) == {"question", "site"}
    assert told["samples"][0]["place"] is None
    opening = town.person("inspector").outbox()[0]["statement"]
    assert "Aborted" in quality.run("erase", opening, typed="n\n", code=1)
    quality.run("erase", opening, "--yes")
    assert quality.answer("show", form)["private"] == {}
    assert "Nothing private of yours" in quality.run("erase", form, "--field", "client", "--yes")
    assert "network" in quality.run("erase", form, "--offline", "--yes", code=2)


@pytest.mark.parametrize("first", sorted(numbers.LETTERS.values()))
def test_the_id_of_a_statement_may_begin_like_a_number(settled: Town, first: str) -> None:
    """One statement in twelve could not be erased: its id was read as a number on a label."""
    quality = settled.person("quality")
    said = quality.run("erase", f"{first}fOgVw5lh60kE16xGsOsJhfVne_24WiuXE09xH7cX8U", "--yes", code=None)
    assert "There is no statement" in said


def test_a_file_without_names_still_verifies(settled: Town) -> None:
    """To show custody to a stranger, the firm would have to show him its client too."""
    town = settled
    inspector = town.person("inspector")
    inspector.run(*OPEN)
    form = inspector.answer("show")["forms"][0]["form"]
    path = town.folder / "bundle.json"
    inspector.run("bundle", form, "-o", str(path), "--redact", "client,site")
    said = inspector.run("verify", str(path), *verify_words(town), code=None)
    assert "Perpetua" not in said
    assert "musty odor" in said
    inspector.run("bundle", form, "-o", str(path), "--redact", "all")
    told = json.loads(inspector.type("--json", "verify", str(path), *verify_words(town)).stdout)
    assert (told["faults"], told["state"]) == ([], "intact, not cosigned")
    assert told["redacted"] > 3
    assert {each["person"] for each in told["signers"] if each["org"] == FIRM} == {""}


def test_a_form_is_written_for_other_systems(settled: Town) -> None:
    """Whoever has only a terminal could not hand a visit to a trading partner."""
    town = settled
    inspector = town.person("inspector")
    inspector.run(*OPEN)
    _, samples = town.lot(1)
    collect(town, samples[0], INDOOR)
    form = inspector.answer("show")["forms"][0]["form"]
    events, table = town.folder / "events.jsonld", town.folder / "samples.csv"
    inspector.run("export", form, "--epcis", str(events), "--csv", str(table))
    assert len(json.loads(events.read_text())["epcisBody"]["eventList"]) == 1
    assert table.read_text().splitlines()[1].split(",")[2] == samples[0]
    assert "--epcis FILE" in inspector.run("export", form, code=2)
