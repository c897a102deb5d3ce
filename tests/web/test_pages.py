"""The pages as a browser gets them, without a browser: who sees what, where labels lead, what errors say."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

import bailee
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.presentation import rule_book, words
from field import FIRM, Field, make_home
from grounds import migrated

if TYPE_CHECKING:
    from flask.testing import FlaskClient

    from conftest import Town


@pytest.fixture
def stranger(town: Town) -> FlaskClient:
    """Somebody who has not entered."""
    return town.field.app.test_client()


@pytest.fixture
def clerk(town: Town) -> FlaskClient:
    """Somebody of the firm who has entered."""
    return entered(town, "clerk")


def entered(town: Town, who: str) -> FlaskClient:
    """A browser with the cookie of that person."""
    client = town.field.app.test_client()
    answer = client.post("/session", json={"token": town.token(who)})
    assert answer.status_code == 200, answer.text
    return client


def is_page(answer: Any, status: int = 200) -> str:
    """The text of a page, which must be one."""
    assert answer.status_code == status, answer.text
    assert answer.content_type.startswith("text/html")
    return re.sub(r"\s+", " ", answer.text)


def is_problem(answer: Any, status: int, code: str) -> None:
    """A problem for programs (RFC 9457)."""
    assert answer.status_code == status, answer.text
    assert answer.content_type == "application/problem+json"
    assert answer.get_json()["code"] == code


def every_page(town: Town) -> Iterator[str]:
    """An address of each kind of page."""
    yield from ("/", "/enter", f"/pages/forms/{town.faultless}", f"/pages/forms/{town.bare}")
    yield from (f"/pages/forms/{town.broken}", f"/pages/envelopes/{town.envelope}")
    yield f"/pages/forms/{town.faultless}/blind"
    yield from (
        f"/pages/samples/{town.samples[0]}",
        f"/pages/samples/{town.announced}",
        f"/pages/lots/{town.lot}",
    )
    yield from ("/api", "/rules", "/rules/OC-02", "/rules/zz", "/pages/forms/x")


def test_a_stranger_learns_how_to_enter_and_nothing_else(town: Town, stranger: FlaskClient) -> None:
    """The open page of a service would otherwise tell the world which visits were made."""
    page = is_page(stranger.get("/"))
    assert 'href="/enter"' in page
    assert grouped(town.faultless) not in page
    assert "bailee pages" in is_page(stranger.get("/enter"))


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(town: Town, stranger: FlaskClient) -> None:
    """A cookie that a script or another site can use lets somebody else read in this person's name (RFC
    6265bis 5.6).
    """
    answer = stranger.post("/session", json={"token": town.token()})
    assert answer.get_json() == {"organization": "harrow-field", "role": "clerk", "next": "/"}
    cookie = answer.headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie


def test_after_entering_the_newest_are_listed_until_leaving(town: Town, clerk: FlaskClient) -> None:
    """A clerk who cannot find the visit of this morning types numbers from paper."""
    page = is_page(clerk.get("/"))
    for number in (town.faultless, town.bare, town.broken, town.lot):
        assert grouped(number) in page
    assert clerk.post("/session/end").status_code == 303
    assert grouped(town.faultless) not in is_page(clerk.get("/"))
    is_page(clerk.get(f"/pages/forms/{town.faultless}"), 401)


def test_who_is_not_let_in_learns_why_as_a_problem(town: Town, stranger: FlaskClient) -> None:
    """The script behind the link shows this sentence; without one a person sees an empty page."""
    is_problem(stranger.post("/session", json={"token": "no token"}), 401, "bad-token")
    is_problem(stranger.post("/session", json=["no token"]), 422, "bad-request")
    is_problem(stranger.post("/session", data="token=x"), 422, "bad-request")
    token = town.token()
    town.field.clock.advance(minutes=8)
    is_problem(stranger.post("/session", json={"token": token}), 401, "token-expired")


def test_anybody_reads_the_rules(town: Town, stranger: FlaskClient, clerk: FlaskClient) -> None:
    """A finding cites a rule; whoever cannot look it up must take the program's word."""
    page = unescape(is_page(stranger.get("/rules")))
    for each in rule_book.book().values():
        assert f'href="/rules/{each.code}"' in page
        assert each.sentence in page
        of_one = unescape(is_page(stranger.get(f"/rules/{each.code}")))
        cells = [cell for line in each.thresholds for cell in line.cells]
        for said in (each.sentence, *(said for _, said in each.facts()), *cells):
            assert said in of_one
    assert "OC-09" in is_page(stranger.get("/rules/OC-99"), 404)
    assert 'href="/rules/OC-01"' in is_page(clerk.get(f"/pages/forms/{town.bare}"))


def test_the_interface_is_read_as_it_is_served(stranger: FlaskClient) -> None:
    """Whoever writes a program by a page that leaves something out finds that when a statement is refused."""
    document = stranger.get("/openapi.json").get_json()
    page = unescape(is_page(stranger.get("/api")))
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    shared = document["components"]["responses"]
    operations = [each for item in document["paths"].values() for each in item.values()]
    assert {tag for each in operations for tag in each["tags"]} == {each["name"] for each in document["tags"]}
    for path, item in document["paths"].items():
        for method, each in item.items():
            part = page.partition(f'<h3 id="{each["operationId"]}">')[2].partition("</article>")[0]
            assert f"{method.upper()} {path}" in part
            assert each["summary"] in part
            assert ("Anybody" in part) is not each["security"]
            for parameter in each.get("parameters", ()):
                assert f"<code>{parameter['name']}</code>" in part
            for status, answer in each["responses"].items():
                wanted = f'href="#problem-{status}"' if "$ref" in answer else f"<dt>Answer {status}</dt>"
                assert wanted in part
    for name, schema in document["components"]["schemas"].items():
        part = page.partition(f'<h3 id="schema-{name}">')[2].partition("</article>")[0]
        assert part
        for member in schema.get("properties", ()):
            assert f"<code>{member}</code>" in part, name
    assert set(re.findall(r'href="#([^"]+)"', page)) <= set(ids)
    assert {f"Problem{number}" for number in re.findall(r'id="problem-([0-9]+)"', page)} == set(shared)
    assert not re.search(r'(?:src|href)="https?:', page)
    assert "<script" not in page
    assert 'href="/openapi.json"' in page


def test_the_missing_outdoor_control_is_a_banner(town: Town, clerk: FlaskClient) -> None:
    """It is remembered on the drive home unless it stands at the head of the visit until it is taken."""
    banner = "No outdoor control on this form"
    assert banner in is_page(clerk.get(f"/pages/forms/{town.bare}"))
    assert banner in is_page(clerk.get(f"/pages/forms/{town.broken}")), "the control is missing at the dock"
    assert banner not in is_page(clerk.get(f"/pages/forms/{town.faultless}"))


def test_nobody_is_said_to_hold_what_was_not_in_the_envelope(town: Town, clerk: FlaskClient) -> None:
    """The carrier would be asked for a cassette that its page says is sealed in its hands."""
    form = town.field.get("clerk", f"/forms/{town.broken}").get_json()
    (missing,) = (each["sample"] for each in form["samples"] if each["status"] == "missing")
    page = is_page(clerk.get(f"/pages/samples/{missing}"))
    assert "not in the envelope when it was opened; no entry shows where it is" in page
    assert "held by" not in page


def test_findings_stand_with_their_remedy_and_a_word_for_their_severity(
    town: Town, clerk: FlaskClient
) -> None:
    """A red stripe alone says nothing to whoever cannot see red, and nothing about what to do."""
    told = town.field.get("clerk", f"/forms/{town.broken}").get_json()
    page = is_page(clerk.get(f"/pages/forms/{town.broken}"))
    assert told["findings"]
    for finding in told["findings"]:
        assert finding["remedy"].replace("'", "&#39;") in page
        assert finding["rule"] in page
    assert re.search(r'class="badge flag">.*? Flag</span>', page)


def test_what_is_wrong_stands_before_the_samples(town: Town, clerk: FlaskClient) -> None:
    """The finding lies under forty samples in order, and the reader has closed the page by then."""
    page = is_page(clerk.get(f"/pages/forms/{town.broken}"))
    places = [
        page.index(each) for each in ("BREAK IN CUSTODY", 'id="findings"', 'id="samples"', 'id="custody"')
    ]
    assert places == sorted(places)
    assert 'role="alert"' in page[page.rindex('<div class="banner', 0, places[0]) : places[0]]
    assert "BREAK IN CUSTODY" in is_page(clerk.get(f"/pages/envelopes/{_envelope_of(town.broken, town)}"))
    assert "BREAK IN CUSTODY" not in is_page(clerk.get(f"/pages/forms/{town.faultless}"))


def _envelope_of(form: str, town: Town) -> str:
    told = town.field.get("clerk", f"/forms/{form}").get_json()
    return str(next(each["envelope"] for each in told["samples"] if each["envelope"]))


def test_a_frozen_log_is_loud_on_every_page(
    town: Town, clerk: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A reader takes for the newest what the ledger has lost, while the operator searches for it."""
    monkeypatch.setattr(town.field.ledger.guard, "sentence", lambda _: "Its files are ahead of its database.")
    for path in ("/", f"/pages/forms/{town.faultless}"):
        page = is_page(clerk.get(path))
        assert "The log is frozen: nothing is signed or recorded" in page
        assert "Its files are ahead of its database." in page


def test_each_verdict_says_what_was_not_checked(town: Town, clerk: FlaskClient) -> None:
    """A page that only says what was found reads like a promise about the rest."""
    told = town.field.get("clerk", f"/forms/{town.faultless}").get_json()
    page = is_page(clerk.get(f"/pages/forms/{town.faultless}"))
    assert len(told["verdicts"]) == 4
    for verdict in told["verdicts"]:
        assert f"<h3>{words.AREAS[verdict['area']]}</h3>" in page
        for said in verdict["not_checked"]:
            assert said.replace("'", "&#39;") in page
    assert page.count("Not checked") == 4


def test_every_signature_has_name_time_and_meaning(town: Town, clerk: FlaskClient) -> None:
    """A view of a signed record without these three is not the record (21 CFR 11.50(b): also in electronic
    display).
    """
    page = is_page(clerk.get(f"/pages/forms/{town.faultless}"))
    for name, meaning in (
        ("Inspector Person", "I relinquished these samples to the receiver"),
        ("Clerk Person", "I received these samples"),
        ("Dock Person", "I opened this envelope and found it as written here"),
    ):
        place = page.index(meaning)
        block = page[page.rindex("<dd>", 0, place) : place]
        assert name in block
        assert re.search(r"\d{4}-\d\d-\d\d \d\d:\d\d(:\d\d)? \([+-]\d\d:\d\d\)", block)


def test_the_envelope_shows_count_seal_and_receipt(town: Town, clerk: FlaskClient) -> None:
    """At the dock these are compared with the thing in hand, before anything is opened."""
    told = town.field.get("clerk", f"/envelopes/{town.envelope}").get_json()
    page = is_page(clerk.get(f"/pages/envelopes/{town.envelope}"))
    assert '<dd class="huge">3</dd>' in page
    assert grouped(told["seal"]) in page
    for sample in town.samples:
        assert grouped(sample) in page
    assert "Received at the dock" in page


def test_a_sealed_envelope_shows_by_when_it_must_be_received(town: Town) -> None:
    """An envelope nobody waits for stands on a dock over the weekend."""
    field = town.field
    _, envelope, _, _ = field.sealed_visit()
    clerk = entered(town, "clerk")
    assert "Expected receipt</dt><dd>not shipped yet" in is_page(clerk.get(f"/pages/envelopes/{envelope}"))
    field.ship(envelope)
    page = is_page(clerk.get(f"/pages/envelopes/{envelope}"))
    assert re.search(r"Expected receipt</dt><dd>\d{4}-\d\d-\d\d \d\d:\d\d", page)


def test_an_unused_number_says_so(town: Town, clerk: FlaskClient) -> None:
    """An inspector who scans a fresh label needs its expiration date, not an error."""
    page = is_page(clerk.get(f"/pages/samples/{town.announced}"))
    assert "no collection entry is on record here" in page
    assert "2027-03-31" in page


def test_a_recalled_lot_is_a_banner(town: Town) -> None:
    """A media keeper who overlooks a recall issues bad cassettes for another week."""
    lot, _ = town.field.lot(2)
    keeper = entered(town, "keeper")
    assert "recalled" not in is_page(keeper.get(f"/pages/lots/{lot}"))
    town.field.act("keeper", f"lot/{lot}", "recalled", {"reason": "maker"})
    assert "This lot is recalled: maker" in is_page(keeper.get(f"/pages/lots/{lot}"))


def test_a_lot_past_its_last_day_is_a_banner(town: Town) -> None:
    """Cassettes out of date look like any other."""
    lot, _ = town.field.lot(1, expiry="2026-11-30")
    assert "This lot is expired" in is_page(entered(town, "keeper").get(f"/pages/lots/{lot}"))


def test_a_lot_is_in_date_as_long_as_it_is_that_day_at_the_office(
    town: Town, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At seven in the evening of its last good day the page of an American firm would throw a
    good box away.
    """
    week = {day: ["08:00-17:00"] for day in ("mon", "tue", "wed", "thu", "fri")}
    office = {"zone": "America/Los_Angeles", "hours": week, "closed": ["us-federal"], "years": [2026, 2027]}
    root = town.field.roots[FIRM]
    said = root.sign(f"org/{FIRM}", "calendar_set", {"which": "office", "calendar": office})
    town.field.ok(town.field.send(said), root)
    lot, _ = town.field.lot(1, expiry="2026-12-01")
    keeper = entered(town, "keeper")
    # 23:59 and 00:00 at the office (common practice, no source).
    monkeypatch.setattr(town.field.clock, "now", datetime(2026, 12, 2, 7, 59, tzinfo=UTC))
    assert "This lot is expired" not in is_page(keeper.get(f"/pages/lots/{lot}"))
    monkeypatch.setattr(town.field.clock, "now", datetime(2026, 12, 2, 8, 0, tzinfo=UTC))
    assert "This lot is expired" in is_page(keeper.get(f"/pages/lots/{lot}"))


def test_others_see_as_much_as_strangers(town: Town) -> None:
    """A laboratory could otherwise read a firm's stock, and one firm the visits of another."""
    page = is_page(entered(town, "dock").get(f"/pages/lots/{town.lot}"), 404)
    assert "Nothing here" in page
    assert "42-0117" not in page
    assert grouped(town.lot) not in is_page(entered(town, "dock").get("/"))


@pytest.mark.parametrize(
    ("letter", "kind"), [("S", "sample"), ("E", "envelope"), ("F", "form"), ("M", "lot")]
)
def test_a_label_leads_to_its_page_or_says_what_it_is(
    town: Town, stranger: FlaskClient, clerk: FlaskClient, letter: str, kind: str
) -> None:
    """Whoever scans a label with a phone must land on the thing itself, and a stranger must learn nothing of
    it.
    """
    numbers = {"S": town.samples[0], "E": town.envelope, "F": town.faultless, "M": town.lot}
    number = numbers[letter]
    answer = clerk.get(f"/{letter}/{number}")
    assert answer.status_code == 303
    assert answer.headers["Location"] == f"/pages/{kind}s/{number}"
    is_page(clerk.get(answer.headers["Location"]))
    page = is_page(stranger.get(f"/{letter}/{number}"))
    assert grouped(number) in page
    assert "bailee pages" in page
    for secret in ("Perpetua", "Harrow", "Quill", "bedroom"):
        assert secret not in page


def test_a_mistyped_label_gets_its_sentence(town: Town, stranger: FlaskClient) -> None:
    """A wrong character that opened some other sample would be worse than none."""
    good = town.samples[0]
    bad = good[:-1] + ("0" if good[-1] != "0" else "1")
    assert "wrong check character" in is_page(stranger.get(f"/S/{bad}"), 422)
    assert "is an envelope number, and a sample number is needed" in is_page(
        stranger.get(f"/S/{town.envelope}"), 422
    )


def test_a_scanner_that_types_opens_the_page(town: Town, clerk: FlaskClient, stranger: FlaskClient) -> None:
    """A USB scanner types whatever the QR code holds and presses Enter."""
    for typed in (
        town.samples[0],
        f"HTTPS://LEDGER.EXAMPLE/S/{town.samples[0]}",
        grouped(town.samples[0]).lower(),
    ):
        answer = clerk.get("/pages/find", query_string={"number": typed})
        assert answer.headers["Location"] == f"/pages/samples/{town.samples[0]}"
    seal = town.field.number("seal")
    assert "is a seal" in is_page(clerk.get("/pages/find", query_string={"number": seal}), 404)
    assert "4 characters" in is_page(clerk.get("/pages/find", query_string={"number": "S123"}), 422)
    is_page(stranger.get("/pages/find", query_string={"number": seal}), 401)


def test_errors_of_pages_are_pages_and_errors_of_the_interface_problems(
    town: Town, clerk: FlaskClient
) -> None:
    """A person cannot read a problem object, and a program cannot read a page."""
    is_page(clerk.get("/pages/nowhere/at/all"), 404)
    is_page(clerk.get("/pages/forms/F000"), 422)
    is_page(clerk.get(f"/pages/forms/{town.field.number('form')}"), 404)
    is_problem(clerk.get("/nowhere"), 404, "not-found")
    is_problem(clerk.get(f"/forms/{town.field.number('form')}"), 404, "unknown")


def test_only_own_style_and_script_may_run(town: Town, clerk: FlaskClient) -> None:
    """One inline script allowed is every script allowed to whoever smuggles a name with a tag in it (CSP
    level 3).
    """
    for path in every_page(town):
        answer = clerk.get(path)
        policy = answer.headers["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert "http:" not in policy
        assert not re.search(r"<style|<script(?![^>]*\bsrc=)| style=| on[a-z]+=", answer.text), path
        assert not re.search(r'(?:src|href)="(?:https?:)?//', answer.text), path


def test_a_name_with_a_tag_in_it_is_only_a_name(town: Town) -> None:
    """A client called <script> must not run in the browser of a laboratory."""
    form = town.field.number("form")
    data = {
        "edition": 1,
        "parties": {"firm": "harrow-field", "lab": "quill-lab"},
        "visit": "2026-12-01",
        "zone": "America/New_York",
    }
    town.field.act("inspector", f"form/{form}", "opened", data, {"client": "<script>alert(1)</script>"})
    page = is_page(entered(town, "dock").get(f"/pages/forms/{form}"))
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page


def test_who_carried_an_envelope_and_who_took_it_in_stand_on_its_page(town: Town, clerk: FlaskClient) -> None:
    """Carrier and opening would be asked for where a person stood, and where nobody opened it yet."""
    field = town.field
    lot, samples = field.lot(3)
    form, envelope = field.open_form(), field.number("envelope")
    for sample, kind in zip(samples, ("indoor", "indoor", "outdoor"), strict=True):
        field.collect(form, lot, sample, kind)
    field.hand_to_clerk(form, samples)
    assert field.seal(envelope, samples, field.number("seal"))["ready"]
    courier = {"relation": "employee", "named": True, "slip": "R-7"}
    field.ship(envelope, by_hand=True, tracking=None, carrier="by hand", service="by hand", courier=courier)
    seen = {"seal": None, "seal_state": "not_looked_at", "package": ["sound"], "secured": "locked"}
    at = Moment(field.clock().astimezone(UTC), -360).text()
    data = {"envelope": envelope, "where": "laboratory", "at": at, **seen}
    field.act("dock", f"form/{form}", "taken_in", data)
    page = is_page(clerk.get(f"/pages/envelopes/{envelope}"))
    for said in (
        words.Heading.COURIER,
        "name withheld, employee",
        "slip R-7 signed in ink",
        words.Heading.TAKEN_IN,
    ):
        assert said in page, said
    assert "not looked at" in page
    assert words.NO_TRACKING not in page


def test_style_script_and_mark_are_served(town: Town, stranger: FlaskClient) -> None:
    """A wheel that forgot these files would show bare pages at every customer."""
    for name, media in (
        ("pages.css", "text/css"),
        ("enter.js", "text/javascript"),
        ("mark.svg", "image/svg+xml"),
    ):
        with stranger.get(f"/pages/static/{name}") as answer:
            assert answer.status_code == 200
            assert answer.content_type.startswith(media)
            assert (b"--paper:" in answer.data) == (name == "pages.css"), "it would have no colors"


@pytest.mark.parametrize("sheet", ["web/static/pages.css", "verify/page/page.css"])
def test_every_color_of_a_sheet_is_in_the_palette(sheet: str) -> None:
    """A verdict would be printed in the color of the paper."""
    own = Path(bailee.__file__).parent
    text = (own / sheet).read_text("utf-8")
    named = set(re.findall(r"var\((--[a-z-]+)", text))
    given = set(re.findall(r"(--[a-z-]+):", (own / "presentation/palette.css").read_text("utf-8") + text))
    assert named
    assert named <= given


@pytest.mark.slow
def test_papers_are_reached_from_the_page(town: Town, clerk: FlaskClient) -> None:
    """The record that travels in the envelope is printed from here."""
    page = is_page(clerk.get(f"/pages/forms/{town.faultless}"))
    for path, media in (
        (f"/forms/{town.faultless}/record.pdf", "application/pdf"),
        (f"/forms/{town.faultless}/bundle", "application/json"),
    ):
        assert f'href="{path}"' in page
        answer = clerk.get(path)
        assert answer.status_code == 200
        assert answer.content_type == media
    envelope = is_page(clerk.get(f"/pages/envelopes/{town.envelope}"))
    blind = is_page(clerk.get(f"/pages/forms/{town.faultless}/blind"))
    for path, reached in (
        (f"/envelopes/{town.envelope}/sealed-sheet.pdf", envelope),
        (f"/forms/{town.faultless}/record.pdf?blind=true", blind),
    ):
        assert f'href="{path}"' in reached
        assert clerk.get(path).content_type == "application/pdf"
    assert f'href="/pages/forms/{town.faultless}/blind"' in page


def test_demo_keys_are_called_so_on_every_page(tmp_path: Path) -> None:
    """A page of a demonstration could otherwise be shown to somebody as evidence."""
    url = migrated(tmp_path / "ledger.sqlite")
    field = Field(make_home(tmp_path / "home", url, origin="demo.custody.example"), start=False)
    for path in ("/", "/enter", "/pages/nowhere", f"/S/{field.number('sample')}"):
        assert words.DEMO in field.client.get(path).text
    field.ledger.database.close()


def test_real_keys_are_not_called_demo_keys(town: Town, stranger: FlaskClient) -> None:
    """A real record that calls itself a demonstration is thrown out."""
    assert words.DEMO not in stranger.get("/").text
