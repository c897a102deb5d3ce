"""A key is ended: whose it is, how far the ledger has its count, and that somebody is left who can end one.

The first end of a key counts for ever (guides/administrator.md); common practice, no source.
"""

from __future__ import annotations

import pytest

from field import FIRM
from terminal import Terminal, served
from town import OPEN, Person, Town

LOST = ("--reason", "lost", "--last-good")


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
    assert f"the only root key of {FIRM}, and there is no recovery key: no person can" in told["detail"]
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
        shown = " ".join(screen.sees("or yes: it is so").split())
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
    words = ("revoke", kid, *LOST, "1", "--yes")
    with served(settled), Terminal(root, *words, columns=100) as screen:
        code, rest = screen.ends()
    assert (code, "Recorded: revoked" in rest) == (0, True), rest
