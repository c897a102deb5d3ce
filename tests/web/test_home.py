"""The home page: what needs the reader stands first, by role and organization, and nothing of others."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

import bailee
from bailee.domain.numbers import grouped
from bailee.operations import follow_up
from bailee.rules.registry import RULES
from bailee.web import home_page
from field import FIRM, Field, Visited
from grounds import SqliteGround

if TYPE_CHECKING:
    from flask.testing import FlaskClient


@pytest.fixture
def ground() -> SqliteGround:
    """One kind of database: what is asked of both is tried where it is asked."""
    return SqliteGround()


def sections(field: Field, who: str, client: FlaskClient | None = None) -> dict[str, str]:
    """The text of each section of the page as that person reads it, in order."""
    from bailee.signing import access

    device = field.people[who]
    origin, now = field.ledger.settings.origin, int(field.clock().timestamp())
    client = client or field.app.test_client()
    token = access.issue_for_pages(device.key, device.org, origin, now)
    assert client.post("/session", json={"token": token}).status_code == 200
    page = client.get("/")
    assert page.status_code == 200
    main = page.text.partition("<main")[2].partition("</main>")[0]
    head, *found = re.split(r'<section aria-labelledby="', main)
    told = {each.partition('"')[0]: each for each in found}
    return {name: _text(part) for name, part in {"head": head, **told}.items()}


def _text(part: str) -> str:
    return unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", part)))


def collected(field: Field, *kinds: str) -> tuple[str, list[str]]:
    """A visit with these runs, still with the inspector."""
    lot, samples = field.lot(len(kinds))
    form = field.open_form()
    for sample, kind in zip(samples, kinds, strict=True):
        field.collect(form, lot, sample, kind)
    return form, samples


def test_an_empty_ledger_says_that_nothing_needs_anybody(field: Field) -> None:
    """An empty page reads like one that did not load, and somebody looks elsewhere."""
    told = sections(field, "clerk")
    assert list(told) == ["head", "forms", "lots"]
    assert "Nothing needs you now" in told["head"]


def test_a_form_whose_samples_are_all_void_is_not_called_uncollected(field: Field) -> None:
    """Somebody drives out again for samples that were collected, dropped and voided."""
    form, samples = collected(field, "indoor", "outdoor")
    for sample in samples:
        field.act("inspector", f"form/{form}", "voided", {"sample": sample, "reason": "dropped"})
    told = sections(field, "clerk")["forms"]
    assert ("2 samples: void" in told, "not collected" in told) == (True, False)


def test_what_is_overdue_is_first_and_says_whose_it_is(field: Field) -> None:
    """A cassette nobody secured lies in a car while the clerk reads a list of the newest visits."""
    form, samples = collected(field, "indoor", "outdoor")
    field.clock.advance(hours=5)
    told = sections(field, "inspector")
    assert "Nothing needs you now" not in told["head"]
    names = list(told)
    assert names.index("due") < names.index("forms")
    assert "Overdue" in told["due"]
    assert grouped(samples[0]) in told["due"]
    assert "Sign: held" in told["due"]
    keeper = sections(field, "keeper")["due"]
    assert "Ask the inspector" in keeper
    assert "Sign:" not in keeper
    assert grouped(form) not in str(sections(field, "dock").get("due"))


def test_a_form_that_stops_stands_before_everything(field: Field) -> None:
    """An envelope is sealed without an outdoor control because the page of the visit was not opened."""
    form, _ = collected(field, "indoor")
    told = sections(field, "inspector")
    assert list(told)[1] == "trouble"
    assert grouped(form) in told["trouble"]
    assert "1 stop" in told["trouble"]
    assert "has no outdoor control" in told["trouble"]
    assert "collect an outdoor control" in told["trouble"]


def test_a_broken_chain_is_called_so_in_words(field: Field) -> None:
    """A broken seal shown as one more gray line is passed over at eight in the morning."""
    form, samples = collected(field, "indoor", "outdoor")
    field.hand_to_clerk(form, samples)
    envelope = field.number("envelope")
    field.seal(envelope, samples, field.number("seal"))
    field.ship(envelope)
    field.clock.advance(hours=20)
    field.dock(form, envelope, samples, "C-4712", seal_state="broken", package=["torn"], total=2)
    for who in ("clerk", "dock"):
        told = sections(field, who)["trouble"]
        assert "BREAK IN CUSTODY" in told
        assert "Seal broken" in told


def test_a_desk_signs_from_home_what_waits_for_it(field: Field) -> None:
    """The clerk reads what is due, and searches the app for the screen on which it is done."""
    form, samples = collected(field, "indoor", "outdoor")
    field.hand_to_clerk(form, samples)
    since = field.clock().strftime("%Y-%m-%dT%H:%M:%S+00:00")
    field.act("clerk", f"form/{form}", "held", {"secured": "locked", "where": "office", "since": since})
    field.clock.advance(hours=30)
    assert "Sign: sealed" in sections(field, "clerk")["due"]
    envelope = field.number("envelope")
    field.seal(envelope, samples, field.number("seal"))
    field.clock.advance(hours=30)
    assert "Sign: shipped" in sections(field, "clerk")["due"]
    assert "Sign:" not in sections(field, "keeper").get("due", "")


def test_an_envelope_is_on_its_way_for_one_and_to_be_received_for_the_other(field: Field) -> None:
    """The dock has twelve parcels, and which of them it waits for stands on the page of the sender alone."""
    form, samples = collected(field, "indoor", "outdoor")
    field.hand_to_clerk(form, samples)
    envelope = field.number("envelope")
    field.seal(envelope, samples, field.number("seal"))
    field.ship(envelope)
    clerk, dock = sections(field, "clerk"), sections(field, "dock")
    assert grouped(envelope) in clerk["way"]
    assert "receive" not in clerk
    assert grouped(envelope) in dock["receive"]
    assert "way" not in dock
    assert "Ask the carrier" not in dock["receive"], "nobody is to be asked before it is late"
    assert "Sign: received" in dock["receive"]
    assert "Sign:" not in clerk["way"]
    field.clock.advance(hours=72)
    assert "Overdue" in sections(field, "dock")["receive"]
    assert "Ask the carrier" in sections(field, "dock")["receive"]


def test_what_was_relinquished_waits_for_its_receiver(field: Field) -> None:
    """The second half of a hand-over is never signed, since nobody told the clerk that there is one."""
    form, samples = collected(field, "indoor", "outdoor")
    given = {"samples": samples, "count": 2, "to": "harrow-field", "purpose": "shipping"}
    at = field.clock().strftime("%Y-%m-%dT%H:%M:%S+00:00")
    to = {"to_kid": field.people["clerk"].key.kid, "at": at}
    field.act("inspector", f"form/{form}", "relinquished", {**given, **to})
    clerk, inspector = sections(field, "clerk")["receive"], sections(field, "inspector")["receive"]
    assert "Inspector Person relinquished samples" in clerk
    assert "Sign: received" in clerk
    assert "Sign:" not in inspector


def test_lots_near_their_last_day_are_named_to_who_keeps_them(field: Field) -> None:
    """A box of fifty passes its expiration date on the shelf."""
    lot = field.number("lot")
    data = {"maker_lot": "42-0117", "cassette": "slit", "expiry": "2026-12-05", "count": 9}
    field.act("keeper", f"lot/{lot}", "lot_received", {**data, "nominal_flow": "15.0", "run_s": 300})
    assert grouped(lot) in sections(field, "keeper")["expiry"]
    assert "expiry" not in sections(field, "dock")


def test_a_key_that_contradicts_itself_is_trouble_for_its_own_organization(field: Field) -> None:
    """Somebody signs with a copied key, and only the auditor learns of it."""
    form, samples = collected(field, "indoor")
    device = field.people["inspector"]
    seq = device.seq
    device.seq -= 1
    data = {"secured": "possession", "where": "person", "since": "2026-12-01T09:20:00-05:00"}
    refused = field.send(device.sign(f"form/{form}", "held", {"samples": samples, **data}))
    device.seq = seq
    assert refused.status_code == 409, refused.text
    assert (
        "A key of Inspector Person signed statements that contradict" in sections(field, "clerk")["trouble"]
    )
    assert RULES["CU-10"].remedy.words in sections(field, "clerk")["trouble"]
    assert "contradict" not in str(sections(field, "dock"))


def test_others_see_nothing_of_what_needs_a_firm(visited: Visited) -> None:
    """A stranger would read a firm's troubles from a page of its own."""
    field = visited[0]
    field.clock.advance(hours=90)
    outsider = field.device("outsider", "third-party")
    root = field.device("third root", "third-party")
    told = {"name": "Third Party", "jwk": root.key.jwk, "recovery": None}
    field.ok(field.send(root.sign("org/third-party", "founded", told)), root)
    field.roots["third-party"], field.people["outsider"] = root, outsider
    field.enroll(outsider, "clerk")
    assert list(sections(field, "outsider")) == ["head", "forms", "lots"]


def test_what_was_not_looked_at_is_said(field: Field, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing in front would be taken for nothing wrong."""
    monkeypatch.setattr(follow_up, "MOST_JUDGED", 1)
    monkeypatch.setattr(follow_up, "MOST_READ", 2)
    for _ in range(3):
        collected(field, "indoor")
    head = str(sections(field, "clerk"))
    assert "Not checked: 1 open form more: not judged here" in head
    assert "1 open form more: not read here" in head


def opened_for_others(field: Field, org: str, count: int) -> list[str]:
    """Forms of an organization which nobody met, with the firm as laboratory and a run of one cassette each:
    their numbers.
    """
    who = field.people[org] = field.device(org, org)
    root = field.roots[org] = field.device(f"root {org}", org)
    told = {"name": org.title(), "jwk": root.key.jwk, "recovery": None}
    field.ok(field.send(root.sign(f"org/{org}", "founded", told)), root)
    field.enroll(who, "inspector")
    forms = [field.number("form") for _ in range(count)]
    for form in forms:
        data = {"edition": 1, "parties": {"firm": org, "lab": FIRM}, "visit": "2026-12-01"}
        field.act(org, f"form/{form}", "opened", data | {"zone": "America/New_York"})
        field.collect(form, field.number("lot"), field.number("sample"), who=org)
    return forms


def test_forms_that_others_opened_push_away_none_of_the_firms_own(field: Field) -> None:
    """A stranger who names the firm on six forms takes its own stopped one off the page."""
    before = opened_for_others(field, "earlier-party", 6)
    form, _ = collected(field, "indoor")
    after = opened_for_others(field, "later-party", 6)
    told = sections(field, "clerk")
    assert grouped(form) in told["trouble"]
    assert "has no outdoor control" in told["trouble"]
    shown = [grouped(each) in told["trouble"] for each in (*before, *after)]
    assert shown == [True, True, True, *3 * [False], True, True, *4 * [False]], "the oldest of each, in turn"
    assert "7 open forms more: not judged here" in str(told)


def test_the_oldest_of_the_firms_own_are_judged_first(field: Field, monkeypatch: pytest.MonkeyPatch) -> None:
    """The form that lies longest goes off the page as soon as newer visits begin."""
    monkeypatch.setattr(follow_up, "MOST_JUDGED", 2)
    forms = [collected(field, "indoor")[0] for _ in range(3)]
    told = sections(field, "clerk")["trouble"]
    assert [grouped(each) in told for each in forms] == [True, True, False]


def test_each_screen_of_the_app_that_home_leads_to_is_there() -> None:
    """The button that signs would open the start of the app, and the reader would search there."""
    main = (Path(bailee.__file__).parent / "web/sign/main.js").read_text("utf-8")
    known = main.partition("const SCREENS")[2].partition("};")[0]
    for screen in (*home_page.ON_SCREENS.values(), home_page.DOCK):
        assert re.search(rf'["\s{{]{screen.partition("/")[0]}"?: "', known), screen
