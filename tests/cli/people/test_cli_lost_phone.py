"""Scenario 8: an inspector's phone is lost on the way home, with a cassette on it that nobody
else knows of. How a key is ended: common practice, no source.
"""

from __future__ import annotations

import json
from typing import Any

import pytest

from field import FIRM
from terminal import CTRL_C, Terminal, served
from town import INDOOR, OPEN, OUTDOOR, Person, Town, collect, verify_words

LOST = ("--reason", "lost", "--last-good")


def flags(town: Town, form: str, *rules: str) -> list[dict[str, Any]]:
    """What these rules say of the form now."""
    told = town.person("clerk").answer("show", form)
    return [each for each in told["findings"] if each["rule"] in rules]


def test_the_lost_phone_drill(settled: Town) -> None:
    """The cassettes of that day would be worthless, or the finder of the phone could add to them unseen."""
    town = settled
    _, samples = town.lot(3)
    inspector = town.person("inspector")
    inspector.run(*OPEN)
    form = inspector.answer("show")["forms"][0]["form"]
    collect(town, samples[0], OUTDOOR)
    town.line.weather = "down"
    collect(town, samples[1], INDOOR)  # in a basement: signed, and not sent
    basement = inspector.outbox()[-1]
    town.line.weather = "fine"

    # The phone is gone. The second cassette of the basement was run with pencil and paper.
    town.clock.advance(hours=2)
    kid = inspector.answer("key", "show")["kid"]
    town.person("firm-root").run(
        "revoke",
        kid,
        "--reason",
        "lost",
        "--last-good",
        str(basement["seq"]),
        "--anyway",  # it was signed without a network, and the ledger does not have it yet
        "--at",
        town.clock().isoformat(),
        "--note",
        "left on a train",
    )
    assert flags(town, form, "SI-02") == []  # what the ledger had before the report stands
    assert "revoked" in inspector.run("show", code=1)  # its finder reads nothing

    # Somebody finds it and it sends what it holds: the ledger takes what the owner vouched for, and says so.
    town.clock.advance(hours=1)
    inspector.run("send")
    (late,) = flags(town, form, "SI-02")
    assert late["severity"] == "warn"
    assert "its owner confirmed entries" in late["sentence"]
    # What the finder signs is refused; it stays on that phone, and nothing is merged in silence.
    secure = ("secure", "--how", "view", "--where", "other", "--offline")
    assert "was revoked: use your new key. Nothing was signed." in _flat(inspector.run(*secure, code=1))
    forget_the_end(inspector)
    assert "Signed and saved" in inspector.run(*secure)
    assert "was revoked (lost)" in inspector.run("send", code=1)

    # A new phone, enrolled by the administrator; its owner stands by what was signed in the basement.
    new = town.enroll("inspector-2", FIRM, "inspector")
    assert f"bailee affirm {form} {basement['statement']}" in _flat(new.run("check", form))
    assert "is not an entry number" in new.run("affirm", form, "third", code=2)
    new.run("affirm", form, "3")
    (affirmed,) = flags(town, form, "SI-02")
    assert affirmed["severity"] == "note"
    assert "Inspector-2 Person affirmed it" in affirmed["sentence"]

    # The cassette on paper is entered late, and a second person counts and reads it.
    began = town.clock.now.replace(hour=15, minute=0)
    entered = json.loads(
        new.type(
            "--json", "collect", samples[2], "--form", form, *INDOOR, "--serial", "K-77", "--point", "B2",
            "--started", began.isoformat(), "--note", "from paper: the phone was lost",
        ).stdout
    )  # fmt: skip
    (said,) = entered if isinstance(entered, list) else [entered]
    for read, is_named in ((samples[1], False), (samples[2], True)):
        witness = ("witness", form, said["statement"], "--samples", read, "--count", "3")
        town.person("second").run(*witness, "--note", "three cassettes counted")
        (entry,) = flags(town, form, "CU-15")
        assert ("Second Person signed as witness" in entry["sentence"]) == is_named

    # Years later: the auditor reads the same from the file alone.
    path = town.folder / "bundle.json"
    new.run("bundle", form, "-o", str(path))
    told = json.loads(new.type("--json", "verify", str(path), *verify_words(town)).stdout)
    assert told["state"] != "broken"
    assert told["faults"] == []
    (remark,) = [each for each in told["remarks"] if each["code"] == "late-key"]
    assert "Affirmed in entry" in remark["sentence"]
    assert {each["rule"] for each in told["findings"]} >= {"SI-02", "CU-15"}
    lost = next(each for each in told["signers"] if each["kid"] == kid)
    assert lost["revoked"].startswith("lost")


def forget_the_end(person: Person) -> None:
    """As on a device that never asked since, or that somebody made to forget."""
    outbox = person.session().of(person.name, as_json=False).outbox
    outbox.remember("ended", None)
    outbox.close()


def _flat(said: str) -> str:
    """What is on the screen, as one line."""
    return " ".join(said.split())


def _kid(person: Person) -> str:
    return str(person.answer("key", "show")["kid"])


def test_a_last_good_number_that_nobody_has_seen_is_a_slip(settled: Town) -> None:
    """Who types 999 to be on the safe side would let everything stand that the finder of a phone signs."""
    root, inspector = settled.person("firm-root"), settled.person("inspector")
    inspector.run(*OPEN)
    kid, before = _kid(inspector), len(root.outbox())
    told = root.answer("revoke", kid, *LOST, "999", code=2)
    (slip,) = told["slips"]
    assert (told["code"], slip["code"], slip["meant"]) == ("slip", "beyond-the-newest", "1")
    assert len(root.outbox()) == before
    said = root.run("revoke", kid, *LOST, "2", "--anyway")
    assert "Signed all the same: The newest number that the ledger has of this key is 1" in " ".join(
        said.split()
    )


def test_the_newest_number_itself_is_no_slip_and_the_answer_names_whose_key_it_was(settled: Town) -> None:
    """Of forty-three characters nobody sees that they were a colleague's."""
    root, inspector = settled.person("firm-root"), settled.person("inspector")
    inspector.run(*OPEN)
    kid = _kid(inspector)
    said = " ".join(root.run("revoke", kid, *LOST, "1").split())
    assert f"Key {kid} of Inspector Person, inspector; last good number 1" in said


def test_the_only_root_key_is_not_ended_by_a_slip(settled: Town) -> None:
    """Nobody could be enrolled or ended any more, and the firm would have to be founded anew."""
    root = settled.person("firm-root")
    kid, before = _kid(root), root.outbox()
    words = ("revoke", kid, "--reason", "replaced", "--last-good", str(len(before)))
    told = root.answer(*words, code=2)
    assert [each["code"] for each in told["slips"]] == ["only-root"]
    assert f"the only root key of {FIRM}, and there is no recovery key: no person" in told["detail"]
    assert "Enroll a second root first." in told["detail"]
    assert root.outbox() == before
    settled.enroll("second-root", FIRM, "root")
    root.run(*words[:-1], str(len(root.outbox())))


@pytest.mark.slow
def test_at_a_terminal_it_is_shown_whose_key_it_is_and_asked(settled: Town) -> None:
    """The wrong phone would end with one Enter, and its owner stand on site without a key."""
    root, inspector = settled.person("firm-root"), settled.person("inspector")
    inspector.run(*OPEN)
    kid, before = _kid(inspector), len(root.outbox())
    with served(settled), Terminal(root, "revoke", kid, *LOST, "999", columns=100) as screen:
        shown = " ".join(screen.sees("or y: it is so").split())
        assert f"It ends the key {kid} of Inspector Person, inspector." in shown
        assert "The newest number that the ledger has of it: 1." in shown
        screen.sees(": ")
        screen.types("1\n")
        screen.sees("Sign: revoked?")
        screen.sees(": ")
        screen.types("n\n")
        code, rest = screen.ends()
    assert (code, "Nothing was signed." in rest) == (1, True), rest
    assert len(root.outbox()) == before
    with served(settled), Terminal(root, "revoke", kid, *LOST[:-1], columns=80) as screen:
        shown = " ".join(screen.sees("Last number that is certainly theirs").split())
        assert "The newest number that the ledger has of it: 1." in shown
        screen.sees(": ")
        screen.types("\n")
        assert "there is no usual one" in screen.sees("Last number that is certainly theirs")
        screen.types(CTRL_C)
        screen.ends()
    assert "--last-good is missing" in root.run("revoke", kid, *LOST[:-1], code=2)
    words = ("revoke", kid, *LOST, "1", "--yes")
    with served(settled), Terminal(root, *words, columns=100) as screen:
        code, rest = screen.ends()
    assert (code, "Recorded: revoked" in rest) == (0, True), rest
