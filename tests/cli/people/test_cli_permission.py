"""Whether a key may say it is asked before it is signed, and who is enrolled is told to who must name a key.

A refused statement leaves a number missing that an auditor asks about (D-030); common practice, no source.
"""

from __future__ import annotations

import pytest

from bailee.domain import numbers
from bailee_cli.signing import permission_asked
from bailee_cli.signing.acts import Act
from field import FIRM
from terminal import Terminal, served
from town import OPEN, Town


@pytest.mark.parametrize(
    "words",
    [
        ("equipment", "pump", "P-9", "--valid-to", "2027-06-30"),
        ("licensing", "US-NY"),
        ("revoke", "Clerk Person", "--reason", "left", "--last-good", "0"),
        ("train", "Inspector Person"),
    ],
)
def test_a_role_that_may_not_say_it_costs_no_number(settled: Town, words: tuple[str, ...]) -> None:
    """One slip of an inspector would leave a hole in the count of their key, on every form for ever."""
    told = settled.person("inspector").answer(*words, code=1)
    assert told["code"] == "may-not"
    assert "Nothing was signed." in told["detail"]
    assert settled.person("inspector").outbox() == []


@pytest.mark.parametrize("role", ["clerk", "inspector"])
def test_who_may_not_erase_a_form_is_told_before_it_is_signed(settled: Town, role: str) -> None:
    """A clerk whom a client asked to be forgotten would leave a missing number on every form (CU-10)."""
    settled.person("inspector").run(*OPEN)
    form = settled.person("inspector").answer("show")["forms"][0]["form"]
    person = settled.person(role)
    before = person.outbox()
    told = person.answer("erase", form, "--yes", code=1)
    assert told["code"] == "may-not"
    assert told["detail"].endswith(
        "may not sign erased; these may: admin, quality, root. Nothing was signed."
    )
    assert person.outbox() == before


def test_what_is_held_is_not_erased_before_it_is_signed(settled: Town) -> None:
    """The quality manager who forgot the dispute would lose a number for each entry of the form."""
    settled.person("inspector").run(*OPEN)
    form = settled.person("inspector").answer("show")["forms"][0]["form"]
    quality = settled.person("quality")
    quality.run("retain", form, "--reason", "dispute")
    before = quality.outbox()
    told = quality.answer("erase", form, "--yes", code=1)
    assert told["code"] == "may-not"
    assert "held by harrow-field" in told["detail"]
    assert told["detail"].endswith("Nothing was signed.")
    assert quality.outbox() == before


def test_names_that_a_held_form_needs_and_the_notes_of_a_lot_are_asked_about_first(settled: Town) -> None:
    """The same slip about a person or a lot would be signed and refused."""
    root, inspector = settled.person("firm-root"), settled.person("inspector")
    inspector.run(*OPEN)
    form = inspector.answer("show")["forms"][0]["form"]
    settled.person("quality").run("retain", form, "--reason", "dispute")
    kid = inspector.answer("key", "show")["kid"]
    enrolled = next(
        each["statement"]
        for each in root.outbox()
        if each["act"] == "enrolled"
        and root.answer("outbox", "--show", str(each["seq"]))["data"]["kid"] == kid
    )
    lot, _ = settled.lot(1)
    keeper = settled.person("quality")
    keeper.run("lot", "recall", lot, "--reason", "maker", "--note", "Call the maker")
    noted = keeper.outbox()[-1]["statement"]
    for person, statement, why in (
        (root, enrolled, "needs the name of who signed on it"),
        (inspector, enrolled, "may not sign person erased"),
        (inspector, noted, "may not sign lot erased"),
    ):
        before = person.outbox()
        told = person.answer("erase", statement, "--yes", code=1)
        assert (told["code"], why in told["detail"]) == ("may-not", True), told
        assert person.outbox() == before


@pytest.mark.parametrize(
    "words", [("copy", "--of", "record", "--version", "1"), ("retain", "--reason", "dispute")]
)
def test_a_role_that_may_not_say_it_on_a_form_costs_no_number(settled: Town, words: tuple[str, ...]) -> None:
    """A media keeper who types what is the office's would leave a hole in the count of their key."""
    settled.person("inspector").run(*OPEN)
    form = settled.person("inspector").answer("show")["forms"][0]["form"]
    keeper = settled.enroll("store", FIRM, "media_keeper")
    told = keeper.answer(words[0], form, *words[1:], code=1)
    assert told["code"] == "may-not"
    assert keeper.outbox() == []


def test_a_role_is_no_reason_to_send_it_again(settled: Town) -> None:
    """Who signed without a network what their role may not say would send it again every day for nothing."""
    inspector = settled.person("inspector")
    inspector.run("licensing", "US-NY", "--offline")
    said = " ".join(inspector.run("send", code=1).split())
    assert "It stays in the outbox: `bailee outbox --set-aside 1` sets it aside." in said
    assert "--again" not in said


def test_who_is_not_enrolled_signs_no_enrollment(settled: Town) -> None:
    """The first statement of a new administrator would be refused, and its number be lost."""
    stranger = settled.person("newcomer")
    stranger.join()
    request = settled.folder / "somebody.json"
    stranger.run("key", "request", "-o", str(request))
    said = stranger.run("enroll", str(request), "--role", "clerk", "--checked", "in_person", code=1)
    assert "Nothing was signed." in said
    assert stranger.outbox() == []


def test_offline_it_is_said_that_nobody_could_be_asked(settled: Town) -> None:
    """A number would be lost in a basement without a word, or nothing could be signed there."""
    root = settled.person("firm-root")
    words = ("equipment", "pump", "P-9", "--valid-to", "2027-06-30")
    assert "Not asked without a network" in root.run(*words, "--offline")
    settled.line.weather = "down"
    assert "Not asked: whether this key may sign this." in root.run("licensing", "US-NY")


def test_who_is_enrolled_is_listed_and_named_instead_of_a_key_id(settled: Town) -> None:
    """Forty-three characters would be copied from a letter while a lost phone is in somebody's hands."""
    root = settled.person("firm-root")
    kid = settled.person("clerk").answer("key", "show")["kid"]
    said = root.run("people")
    assert "Clerk Person" in said
    assert kid in said
    root.run("revoke", "clerk person", "--reason", "lost", "--last-good", "0")
    assert kid not in root.run("people")
    (ended,) = [each for each in root.answer("people", "--all")["keys"] if each["kid"] == kid]
    assert ended["revoked"]
    assert ended["until"]


def test_a_name_that_may_be_two_is_asked_back(settled: Town) -> None:
    """The wrong person's key would be ended."""
    root = settled.person("firm-root")
    settled.enroll("clerk-2", FIRM, "clerk")
    told = root.answer("train", "Person", code=2)
    assert told["code"] == "unknown-person"
    assert len(told["candidates"]) > 1
    assert "is not enrolled here" in root.run("train", "Nobody Atall", code=2)


def test_names_of_people_are_for_their_own_organization(settled: Town) -> None:
    """A laboratory would read who works for a firm, though nobody gave it a sample."""
    told = settled.person("dock").session().of("dock", as_json=True)
    keys = told.service.get(f"/organizations/{FIRM}")["keys"]
    told.close()
    assert keys is None or all(each["person"] is None for each in keys)


def test_a_request_that_was_enrolled_already_names_its_person_and_costs_no_number(settled: Town) -> None:
    """An administrator who goes through a folder of requests twice would lose a number for each of them."""
    root, request = settled.person("firm-root"), str(settled.folder / "clerk.json")
    before = len(root.outbox())
    for role in ("clerk", "inspector"):
        told = root.answer("enroll", request, "--role", role, "--checked", "in_person", "--yes", code=1)
        assert told["code"] == "may-not"
        assert "is enrolled with harrow-field already, for Clerk Person" in told["detail"]
        assert told["detail"].endswith("Nothing was signed.")
    assert len(root.outbox()) == before
    refused = settled.person("inspector").answer(
        "enroll", request, "--role", "clerk", "--checked", "known", code=1
    )
    assert "Clerk Person" not in refused["detail"], "who may not enroll learns nothing"


def test_a_script_that_enrolls_hears_that_no_key_was_compared(settled: Town) -> None:
    """A program that enrolls whatever lies in a folder would sign `in person` without a word."""
    new, root, request = settled.person("newcomer"), settled.person("firm-root"), settled.folder / "new.json"
    new.join()
    new.run("key", "request", "--person", "Nell Fenn", "-o", str(request))
    kid = new.answer("key", "show")["kid"]
    words = ("enroll", str(request), "--role", "clerk", "--checked", "video")
    told = root.type(*words)
    assert told.exit_code == 0, "as the guide of the administrator types it"
    assert (
        f"Not compared here: the key {kid} of Nell Fenn. --checked video is your word for it." in told.stderr
    )


def test_the_last_good_number_is_said_where_to_find_it(settled: Town) -> None:
    """Who ends the key of a person who left would type 0, and nothing they signed offline would count."""
    root = settled.person("firm-root")
    kid = settled.person("clerk").answer("key", "show")["kid"]
    for words, code in ((("--help",), 0), ((kid, "--reason", "left"), 2)):
        said = " ".join(root.run("revoke", *words, code=code).split())
        assert "as `bailee outbox` on that device lists it" in said
        assert "of a person who left, the newest there" in said


@pytest.mark.slow
def test_at_a_terminal_a_key_that_is_somebodys_is_not_compared_first(settled: Town) -> None:
    """Five lines would be read over the telephone for a person who has signed for a year."""
    root = settled.person("firm-root")
    before = len(root.outbox())
    words = ("enroll", str(settled.folder / "clerk.json"), "--role", "clerk", "--checked", "video")
    with served(settled), Terminal(root, *words) as screen:
        code, rest = screen.ends()
    said = " ".join(rest.split())
    assert (code, "already, for Clerk Person" in said, "Is it what they read" in said) == (1, True, False)
    assert "Nothing was signed." in said
    assert len(root.outbox()) == before


def test_a_key_that_has_ended_signs_nothing_more_from_a_script(settled: Town) -> None:
    """It was revoked, a script went on with it, each entry cost a number and none was taken. Where the ledger
    takes back that it has ended, it signs again.
    """
    inspector = settled.person("inspector")
    kid = inspector.answer("key", "show")["kid"]
    end = ("revoke", kid, "--reason", "replaced", "--last-good", "0", "--at", settled.clock().isoformat())
    settled.person("firm-root").run(*end)
    told = inspector.run(*OPEN, code=1)
    assert told.count("was revoked") == 1
    assert "Nothing was signed." in told
    assert inspector.outbox() == []
    said = inspector.answer(*OPEN, "--offline", code=1)
    assert said["code"] == "revoked-key"
    assert inspector.outbox() == []
    settled.line.says["GET /devices/me"] = {"end": None}
    session = inspector.session().of("inspector", as_json=False)
    held = Act(f"form/{numbers.issue('form', lambda _: '3')}", "held", {})
    permission_asked.require_all(session, [held], offline=False)
    assert session.ended == ""
    session.close()
