"""What is signed as seen or counted was seen or counted: nothing observed has a default.

ISO/IEC 17025:2017 7.4.3 (condition is recorded on receipt) and 49 CFR 40.199(b)(7), by analogy (a count that
does not agree stops a specimen, so nobody may make one up); the wording is our own.
"""

from __future__ import annotations

import pytest

from bailee.domain.numbers import grouped
from bailee.signing import signed_statement
from field import FIRM
from terminal import Terminal, served
from town import ENVELOPE, INDOOR, INTACT, OPEN, Town, collect, dock


def signed_by(town: Town, name: str) -> dict[str, object]:
    """The public facts somebody signed last."""
    outbox = town.person(name).session().of(name, as_json=False).outbox
    (kept,) = outbox.newest(1)
    outbox.close()
    return dict(signed_statement.read(kept.text).claims.data)


def not_checked(town: Town, form: str, area: str) -> list[str]:
    """What a verdict says that it could not look at."""
    verdicts = town.person("clerk").answer("show", form)["verdicts"]
    (found,) = (each["not_checked"] for each in verdicts if each["area"] == area)
    return list(found)


@pytest.fixture
def collected(settled: Town) -> tuple[Town, list[str]]:
    """Two samples in the inspector's hands."""
    _, samples = settled.lot(2)
    settled.person("inspector").run(*OPEN)
    for sample in samples:
        collect(settled, sample, INDOOR)
    return settled, samples


def test_a_script_signs_no_count_that_nobody_made(collected: tuple[Town, list[str]]) -> None:
    """If this fails, two people have sworn to a count, and each only pressed Enter."""
    town, samples = collected
    town.person("inspector").run("give", *samples, "--to", FIRM)
    assert "count" not in signed_by(town, "inspector")
    town.person("clerk").run("take", *samples, "--condition", "intact")
    assert "count" not in signed_by(town, "clerk")
    form = town.person("inspector").answer("show")["forms"][0]["form"]
    said = "Count at transfers: 2 entries were signed without counting."
    assert said in not_checked(town, form, "custody")


def test_one_count_is_not_signed_for_two_forms(collected: tuple[Town, list[str]]) -> None:
    """If this fails, a count typed for both is dropped without a word, and another is signed for each."""
    town, samples = collected
    _, (other,) = town.lot(1)
    inspector = town.person("inspector")
    inspector.run(*OPEN)
    collect(town, other, INDOOR)
    said = inspector.run("give", *samples, other, "--to", FIRM, "--count", "3", code=2)
    assert "These samples are of 2 forms, and 3 is one count" in said
    assert inspector.outbox()[-1]["act"] == "collected"


@pytest.mark.slow
def test_enter_counts_nothing_and_finds_nothing_intact(collected: tuple[Town, list[str]]) -> None:
    """If this fails, who leans on Enter has counted every cassette and found every one intact."""
    town, samples = collected
    shipping = ("--purpose", "shipping")
    with served(town):
        with Terminal(town.person("inspector"), "give", *samples, "--to", FIRM, *shipping) as screen:
            screen.sees("Samples counted (Enter: not counted): ")
            screen.types("\n")
            screen.sees("y signs, n signs nothing, a number changes that line: ")
            screen.types("y\n")
            code, rest = screen.ends()
        assert code == 0, rest
        assert "count" not in signed_by(town, "inspector")
        with Terminal(town.person("clerk"), "take", samples[0], *shipping, "--anyway") as screen:
            screen.sees("counted (Enter: not counted): ")
            screen.types("1\n")
            screen.sees("8 not looked at")
            screen.sees(f"Condition of {grouped(samples[0])}: ")
            screen.types("\n")
            screen.sees(f"Condition of {grouped(samples[0])}: ")
            screen.types("not looked at\n")
            screen.sees("y signs, n signs nothing, a number changes that line: ")
            screen.types("y\n")
            code, rest = screen.ends()
        assert code == 0, rest
    said = signed_by(town, "clerk")
    assert said["count"] == 1
    assert said["items"] == [{"sample": samples[0], "condition": ["not_looked_at"]}]


def test_enter_at_the_dock_finds_no_package_sound(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, a crushed parcel is signed for as sound by whoever presses Enter."""
    town, samples = shipped
    seal = ("--seal", "C-4711", "--seal-state", "intact", "--counted", "3", "--record-enclosed", "--yes")
    worker, arrived = town.person("dock"), ("receive", ENVELOPE, *samples[:3], "--all-intact", *seal)
    worker.run(*arrived, typed="\n\n", code=2)
    assert worker.outbox() == []
    worker.run(*arrived, typed="\nnot_looked_at\n")
    assert signed_by(town, "dock")["dock"]["package"] == ["not_looked_at"]  # type: ignore[index]


def test_all_intact_is_no_answer_for_a_cassette_scanned_after_it(shipped: tuple[Town, list[str]]) -> None:
    """If this fails, a cassette is signed for as intact before anybody took it out of the envelope."""
    town, samples = shipped
    seen = (*INTACT, "--counted", "3")
    typed = "\n".join([*samples[:3], "", "n", "intact", "not looked at", "cracked", ""])
    said = dock(town, *seen, typed=typed)
    assert "3 samples scanned: was each looked at, and is each intact? [y/n]" in said
    items = signed_by(town, "dock")["items"]
    assert [each["condition"] for each in items] == [["intact"], ["not_looked_at"], ["cracked"]]  # type: ignore[attr-defined]
    form = town.person("dock").answer("show")["forms"][0]["form"]
    told = town.person("dock").answer("show", form)
    assert any("entered as not looked at" in each for each in not_checked(town, form, "media"))
    assert {each["about"] for each in told["findings"] if each["rule"] == "RC-07"} == {samples[2]}
