"""Keys that follow keys, typed: a new phone, an office that burnt down, a word about another organization."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest

from field import FIRM, LAB
from terminal import Terminal, served
from town import ENVELOPE, INDOOR, INTACT, OPEN, Person, Town, collect, verify_words


def kid_of(person: Person) -> str:
    """The name of somebody's key."""
    kid: str = person.answer("key", "show")["kid"]
    return kid


def request_of(town: Town, person: Person, *words: str) -> str:
    """The enrollment request of a new device."""
    path = town.folder / f"{person.name}.json"
    person.run("key", "request", *words, "-o", str(path))
    return str(path)


def successor(town: Town, name: str) -> Person:
    """A new device that has joined and is not enrolled."""
    person = town.person(name, FIRM)
    person.join()
    return person


@pytest.mark.slow
def test_a_new_phone_goes_on_where_the_old_one_stopped(settled: Town) -> None:
    """Every change of phone would wait for the administrator, or leave two keys of one person standing."""
    _, samples = settled.lot(2)
    old = settled.person("inspector")
    old.run(*OPEN)
    collect(settled, samples[0], INDOOR)
    settled.line.weather = "down"
    collect(settled, samples[1], INDOOR)
    settled.line.weather = "fine"
    new = successor(settled, "inspector-2")
    request = request_of(settled, new, "--device", "new phone")
    with served(settled), Terminal(old, "rotate", request) as screen:
        code, said = screen.ends()
    assert code == 0, said
    assert f"about key {kid_of(new)}" in said
    assert "Next: The new device signs from now on, and this one no more." in said
    assert "`bailee send`" in said

    form = new.answer("show")["forms"][0]["form"]
    told = new.answer("show", form)
    assert [each["holder"] for each in told["samples"]] == ["Inspector Person", "Inspector Person"]
    assert "SI-02" not in {each["rule"] for each in told["findings"]}
    new.run("secure", "--how", "locked", "--where", "vehicle", "--form", form)
    assert [each["links"][0]["kept"] for each in new.answer("show", form)["samples"]] != [[], []]
    settled.clock.advance(minutes=1)
    told = old.run("secure", "--how", "view", "--where", "office", code=1)
    assert "was revoked: use your new key. Nothing was signed." in told


def test_a_second_device_of_the_same_person_gives_what_the_first_collected(settled: Town) -> None:
    """The inspector with phone and tablet would be told to hand the samples over to himself, and could excuse
    his own faults.
    """
    _, samples = settled.lot(1)
    phone = settled.person("inspector")
    phone.run(*OPEN)
    collect(settled, samples[0], INDOOR)
    tablet = successor(settled, "tablet")
    request = request_of(settled, tablet, "--device", "tablet")
    settled.person("firm-root").run(
        "enroll", request, "--role", "inspector", "--checked", "in_person", "--same-as", kid_of(phone)
    )
    clerk = settled.person("clerk")
    tablet.run("give", *samples, "--to", FIRM, "--to-key", kid_of(clerk), "--purpose", "shipping")
    clerk.run("take", *samples, "--condition", "intact", "--purpose", "shipping")
    form = phone.answer("show")["forms"][0]["form"]
    told = clerk.answer("show", form)
    assert [each["holder"] for each in told["samples"][0]["links"]] == ["Inspector Person", "Clerk Person"]
    assert not {"CU-01", "CU-02", "CU-03"} & {each["rule"] for each in told["findings"]}
    tablet.run("except", "OC-01", form, "--reason", "outdoor_impossible", code=1)  # said before it is signed
    tablet.run("except", "OC-01", form, "--reason", "outdoor_impossible", "--offline")
    assert "It does not count: Inspector Person may not allow OC-01 here" in " ".join(
        tablet.run("send", code=1).split()
    )
    findings = {each["rule"]: each for each in clerk.answer("show", form)["findings"]}
    assert findings["OC-01"]["severity"] == "block"
    assert findings["SI-11"]["severity"] == "block"


def test_a_burnt_office_gets_a_new_root_from_the_safe(town: Town) -> None:
    """The organization would have to found itself anew, under a root that no auditor knows."""
    safe = town.person("safe", FIRM)
    safe.join()
    root = town.person("firm-root", FIRM)
    root.join()
    root.run("found", FIRM, "--name", "Harrow Field", "--person", "Root Person", "--recovery", kid_of(safe))
    new = successor(town, "new-root")
    stranger = successor(town, "stranger")
    request = request_of(town, new, "--person", "Second Root")
    assert "was not enrolled" in stranger.run("recover", request, code=1)

    safe.run("recover", request, "--lost", f"{kid_of(root)}=1")

    asked = request_of(town, stranger, "--person", "Inspector Person")
    assert "revoked" in root.run("enroll", asked, "--role", "inspector", "--checked", "known", code=1)
    new.run("enroll", asked, "--role", "inspector", "--checked", "in_person")
    assert stranger.answer("show") == {"forms": []}


def test_an_endorsement_is_shown_and_is_no_trust(shipped: tuple[Town, list[str]]) -> None:
    """An auditor who knows the firm alone could not learn whom the firm takes for its laboratory, or would be
    led to trust it.
    """
    town, samples = shipped
    received = (
        *INTACT,
        "--package",
        "sound",
        "--record-enclosed",
        "--yes",
    )
    town.person("dock").run("receive", ENVELOPE, *samples[:3], "--counted", "3", *received)
    lab = kid_of(town.person("lab-root"))
    town.person("firm-root").run("endorse", LAB, lab)
    form = town.person("clerk").answer("show", ENVELOPE)["forms"][0]
    path = town.folder / "bundle.json"
    town.person("clerk").run("bundle", form, "-o", str(path))
    words = verify_words(town)
    said = town.person("clerk").run("verify", str(path), *words, code=None)
    assert f"{LAB}, root {lab}: endorsed by {FIRM}\n" in said
    knows_firm = [words[0], words[1], *words[4:]]
    told = json.loads(town.person("clerk").type("--json", "verify", str(path), *knows_firm).stdout)
    assert told["endorsements"] == [{"org": LAB, "root": lab, "by": FIRM, "fits": True, "pinned": True}]
    assert any(each["code"] == "root" and LAB in each["sentence"] for each in told["not_checked"])


def test_a_key_ends_once_and_not_in_the_future(settled: Town) -> None:
    """The administrator who mistyped the time would believe that a second line corrects it, and it is
    recorded without effect.
    """
    root, kid = settled.person("firm-root"), kid_of(settled.person("inspector"))
    ahead = (settled.clock() + timedelta(hours=3)).isoformat()
    revoke = ("revoke", kid, "--reason", "lost", "--last-good", "0")
    assert "has not come yet" in root.run(*revoke, "--at", ahead, code=2)
    root.run(*revoke)
    before = len(root.outbox())
    assert "has ended already" in root.run(*revoke, code=1)
    unknown = f"{kid[:-1]}{'A' if kid[-1] != 'A' else 'B'}"
    assert "No key of harrow-field" in root.run("revoke", unknown, *revoke[2:], code=2)
    assert len(root.outbox()) == before


def test_the_outbox_names_whom_an_enrollment_is_about(settled: Town) -> None:
    """Who asks for erasure would have one of twelve like lines erased, which cannot be undone."""
    said = _flat(settled.person("firm-root").run("outbox", "--all"))
    assert "organization harrow-field: Inspector Person" in said


def _flat(said: str) -> str:
    """What is on the screen, as one line."""
    return " ".join(said.split())
