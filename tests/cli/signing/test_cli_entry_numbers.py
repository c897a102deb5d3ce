"""An entry is named by its entry number, the one that every screen shows beside it; by its id only where
there is no network to look it up (our own promise, no outside source).
"""

from __future__ import annotations

import pytest

from field import FIRM
from town import Town, last


@pytest.fixture
def form(collected: tuple[Town, list[str]]) -> str:
    """The form: the visit is entry 1, its cassettes are entries 2 to 4."""
    return str(collected[0].person("inspector").outbox()[0]["chain"]).removeprefix("form/")


def test_a_second_person_names_what_they_watched_by_entry_number(
    collected: tuple[Town, list[str]], form: str
) -> None:
    """If this fails, whoever watched copies 43 characters off another person's screen, or signs nothing."""
    town, samples = collected
    signed = {each["n"]: each["statement"] for each in town.person("inspector").outbox()}
    second = town.person("second")
    second.run("witness", form, "2", "3", "--samples", samples[0], "--count", "2")
    assert last(town, "second")["statements"] == [signed[2], signed[3]]
    second.run("witness", form, "2", signed[4], "--samples", samples[2])
    assert last(town, "second")["statements"] == [signed[2], signed[4]]


def test_an_entry_that_is_not_there_is_named_and_nothing_is_signed(
    collected: tuple[Town, list[str]], form: str
) -> None:
    """If this fails, a wrong digit binds a second person to another entry, or to none."""
    town, _ = collected
    second = town.person("second")
    for typed, said in (("9", "has no entry 9"), ("third", "is not an entry number: write it like 3")):
        assert said in " ".join(second.run("witness", form, typed, code=2).split())
    told = second.answer("witness", form, "2", "--offline", code=2)
    assert (told["code"], "Without a network" in told["detail"]) == ("no-entry", True)
    assert second.outbox() == []


def test_who_receives_names_the_relinquishing_entry_by_its_number(
    collected: tuple[Town, list[str]], form: str
) -> None:
    """If this fails, the clerk beside the inspector has to be read a text of 43 characters."""
    town, samples = collected
    inspector, clerk = town.person("inspector"), town.person("clerk")
    inspector.run("give", *samples[:3], "--to", FIRM)
    given = inspector.outbox()[-1]
    clerk.run(
        "take", *samples[:3], "--condition", "intact", "--ref", str(given["n"]), "--purpose", "shipping"
    )
    person = clerk.session().of("clerk", as_json=False)
    from bailee.signing import signed_statement

    (taken,) = person.outbox.newest(1)
    person.close()
    assert signed_statement.read(taken.text).claims.refs == (given["statement"],)
