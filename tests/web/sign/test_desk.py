"""A clerk's desk and a laboratory's dock: an envelope packed, sealed, shipped, received and decided about on
screens, with a scanner that types.
"""

from __future__ import annotations

import random
from typing import TYPE_CHECKING, Any

import pytest
from phones import Firm, Phone, firm_at
from pypdf import PdfReader
from test_screens import judge
from test_visit_on_phones import code_on, trust

from bailee.cosigning import request
from bailee.cosigning.cosigner import Cosigner
from bailee.domain import numbers
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.domain.policy import digest_of
from bailee.ledger.checkpoint import format_vkey, parse_vkey, read_note
from bailee.signing import notes
from bailee.signing.keys import SigningKey
from bailee.verify import bundle
from bailee.verify.verifier import Trust, verify
from bench.taps import Counter, received_and_accepted
from field import FIRM, LAB

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime
    from pathlib import Path

    from playwright.sync_api import Browser, Route

    from conftest import Modules

pytestmark = pytest.mark.slow
DESK = {"width": 1280, "height": 900}


def collected(firm: Firm, clerk: Phone) -> tuple[str, list[str]]:
    """A visit whose samples were given to the clerk, who has not received them yet."""
    at_home = firm.field
    lot, samples = at_home.lot(4)
    form, before = at_home.open_form(), at_home.clock.now
    for sample, kind in zip(samples[:3], ("indoor", "indoor", "outdoor"), strict=True):
        at_home.collect(form, lot, sample, kind)
    given = {"samples": samples[:3], "count": 3, "to": FIRM, "to_kid": clerk.kid, "purpose": "shipping"}
    at = Moment(at_home.clock.now, -300).text()
    at_home.act("inspector", f"form/{form}", "relinquished", {**given, "at": at})
    keep_up(firm, before)
    firm.later(2)
    return form, samples


def keep_up(firm: Firm, before: datetime) -> None:
    """The phones' clocks go as far as the ledger's went meanwhile."""
    for each in firm.phones:
        each.page.clock.fast_forward(int((firm.field.clock.now - before).total_seconds() * 1000))


def scan(desk: Phone, text: str) -> None:
    """A label under the scanner, its Enter sent twice."""
    desk.scan(f"HTTPS://LEDGER.EXAMPLE/S/{text}")
    desk.page.keyboard.press("Enter")


@pytest.fixture(scope="module")
def clerk(firm: Firm, browser: Browser) -> Phone:
    """The clerk's desk."""
    return firm.phone(browser, "Cato Wren", "clerk", viewport=DESK)


@pytest.fixture(scope="module")
def dock(firm: Firm, browser: Browser) -> Phone:
    """The laboratory's."""
    options: dict[str, Any] = {"viewport": DESK, "timezone_id": "America/Chicago"}
    return firm.phone(browser, "Dora Finch", "custodian", org=LAB, **options)


def test_an_envelope_is_packed_shipped_received_and_accepted_on_screens(
    firm: Firm, clerk: Phone, browser: Browser
) -> None:
    """The clerk sees what is missing only when it is sealed, and the dock types what the ledger knew."""
    zone = "America/Chicago"
    dock = firm.phone(browser, "Vera Moss", "custodian", org=LAB, viewport=DESK, timezone_id=zone)
    form, samples = collected(firm, clerk)
    clerk.go_home()
    clerk.remembers("brief", form)
    clerk.page.goto(f"{firm.url}/sign/#take/{form}")  # the line of this form, where several wait
    for each in samples[:3]:  # what was relinquished to this key stands there already
        clerk.page.get_by_role("group", name=grouped(each)).wait_for()
    clerk.see("Relinquished to you")
    clerk.type("Number on the label", grouped(samples[3]))  # of no form that this phone knows
    clerk.line("Form number").wait_for()
    clerk.tap(f"Take out {grouped(samples[3])}")
    clerk.tap("All looked at: intact")
    judge(clerk, "take-expected")
    clerk.pick("Purpose", "shipping")
    clerk.tap("Sign: 3 samples received")
    clerk.heading("Visit")
    clerk.sent()

    clerk.go_home()
    clerk.tap("Pack an envelope")
    clerk.tap("Issue a new number")
    clerk.heading("Envelope")
    envelope = clerk.form()
    clerk.see("Nothing was scanned into it yet.")
    for each in samples[:2]:
        scan(clerk, each)
        clerk.page.get_by_role("button", name=f"Take out {grouped(each)}").wait_for()
    clerk.see("outdoor", "section")
    clerk.page.reload()  # a tab that was closed over it
    clerk.page.get_by_role("button", name=f"Take out {grouped(samples[1])}").wait_for()
    scan(clerk, samples[2])
    clerk.page.get_by_role("button", name=f"Take out {grouped(samples[2])}").wait_for()
    assert clerk.page.get_by_role("button", name="Take out").count() == 3, "a second Enter doubled a scan"
    judge(clerk, "pack")
    clerk.type("Samples counted by hand", "3")
    clerk.type("Number on the custody seal", "HF-2045")
    clerk.pick("Is the seal across the opening?", "Yes")
    clerk.pick("Is the custody record in the envelope?", "Yes")
    with clerk.page.expect_download() as got:
        clerk.tap(f"Print the record to enclose, form {grouped(form)}")
    printed = PdfReader(got.value.path()).pages[0].extract_text()
    assert "HF-2045" in printed
    assert grouped(envelope) in printed
    sign_through(clerk, "Sign: 3 samples sealed", "Sealed")
    status = "async address => (await fetch(address)).status"
    assert clerk.page.evaluate(status, f"/pages/envelopes/{envelope}") == 200, "the pages were not entered"
    clerk.sent()
    clerk.tap("Ship it")
    clerk.heading("Ship an envelope")
    clerk.type("Service", "next day")
    clerk.type("Tracking number", "HF-2045")
    clerk.tap("Sign: shipped")
    clerk.see("HF-2045 is the number of the seal on this envelope, not of the carrier.")
    clerk.type("Tracking number", "")
    clerk.scan("AF-1002003-2026")  # over the next question, which Tab has marked
    assert clerk.line("Tracking number").input_value() == "AF-1002003-2026"
    assert clerk.line("Working days in transit").input_value() == "1", "a scan emptied another field"
    clerk.see("It would be received")
    judge(clerk, "ship")
    sign_through(clerk, "Sign: shipped", "Signed here")
    clerk.sent()
    assert [each["act"] for each in clerk.rows()] == ["received", "sealed", "shipped"]
    clerk.go(f"/sign/#pack/{envelope}")
    clerk.see("It was shipped already.")  # and no form to pack it once more
    assert not clerk.page.get_by_role("button", name="Sign:").count()

    before = firm.field.clock.now
    _, second, others, seal = firm.field.sealed_visit()
    firm.field.ship(second)
    keep_up(firm, before)
    firm.later(24 * 60 + 60)
    dock.go_home()
    dock.tap("Receive an envelope")
    dock.see("Expected today")
    dock.see(grouped(envelope))
    dock.scan(f"HTTPS://LEDGER.EXAMPLE/E/{envelope}")
    dock.page.get_by_text("Number as read on the seal").wait_for()
    assert not dock.page.get_by_text("HF-2045").count(), "the seal on record was shown before it was read"
    dock.scan("HF-2054")  # wherever the focus is, before any other number
    assert dock.line("Number as read on the seal").input_value() == "HF-2054"
    for each in samples[:3]:
        scan(dock, each)
    dock.page.get_by_role("group", name=grouped(samples[2])).wait_for()
    own = numbers.issue("seal", random.Random(3).choice)
    dock.scan(f"HTTPS://LEDGER.EXAMPLE/C/{own}")  # beside its field
    assert dock.line("Number as read on the seal").input_value() == own
    dock.scan("1Z5550001122334455")
    dock.see("On none of these forms: 1Z5550001122334455.")
    dock.remembers(f"typed/dock/{envelope}", "1Z555")
    dock.page.reload()
    dock.see("On none of these forms: 1Z5550001122334455.")
    dock.tap("Take out 1Z5550001122334455")
    assert not dock.page.get_by_text("1Z555").count()
    assert dock.page.get_by_role("button", name="Take out").count() == 3
    dock.type("Number as read on the seal", "HF-2054")
    dock.tap("All looked at: package sound, seal and samples intact, record inside")
    scan(dock, samples[0])
    dock.type("Samples counted by hand", "3")
    dock.tap("Sign: received as it is")
    dock.see("The seal reads HF-2054; HF-2045 is on record.")
    judge(dock, "dock")
    assert dock.rows() == []
    dock.type("Number as read on the seal", "HF-2045")
    dock.tap("Sign: received as it is")
    dock.heading("Accept, hold or reject")
    judge(dock, "decide")
    other = numbers.issue("envelope", random.Random(5).choice)
    dock.scan(f"HTTPS://LEDGER.EXAMPLE/E/{other}")  # the next one, which is on no record here
    dock.heading("Receive an envelope")
    dock.tap("Back")
    dock.see(grouped(second))
    dock.tap("Decide about 1 envelope received here")
    dock.see("in order")
    dock.type("First laboratory number", "26-10409")
    judge(dock, "accept")
    dock.tap("Sign: accept 3 samples")
    dock.heading("Receive an envelope")
    dock.see(grouped(second))
    assert not dock.page.get_by_text("received here").count()
    dock.sent()
    dock.go_home()
    counter = Counter([])
    received_and_accepted(dock, [(second, others, seal)], counter)
    to_the_dock, each, together = (many for _, many in counter.steps)
    assert to_the_dock + 12 * each + together <= 12 * 4, "at a dock with gloves on every tap counts"
    dock.see("No envelope is expected.")
    told = firm.field.get("dock", f"/forms/{form}").get_json()
    assert [(each["status"], each["lab_number"]) for each in told["samples"]] == [
        ("accepted", "26-10409"), ("accepted", "26-10410"), ("accepted", "26-10411"),
    ]  # fmt: skip
    put_away_and_returned(dock, envelope)
    told = firm.field.get("dock", f"/forms/{form}").get_json()
    assert {(each["status"], each["keep_until"]) for each in told["samples"]} == {("disposed", "2026-12-03")}
    closed_on_fridays(dock)
    answer = firm.field.get("clerk", f"/forms/{form}/bundle")
    report = verify(bundle.read(answer.text), trust(firm), firm.field.ledger.now())
    assert report.faults == ()
    assert [each.complaints for each in (clerk, dock)] == [[], []]


def put_away_and_returned(dock: Phone, envelope: str) -> None:
    """Into a store, out of it, and back to the firm that sampled: each of the whole envelope."""
    kept = {"First day on which they may be disposed of": "2026-12-03"}
    for done, picks, lines, signs in (
        ("put into a store", {"How": "locked"}, {"Store": "FR-1", **kept}, "3 samples put into the store"),
        ("taken out of a store", {"Purpose": "disposal"}, {}, "3 samples taken out"),
        ("end of custody: destroyed, returned or archived", {"How custody ends": "returned"}, {},
         "custody of 3 samples ends"),
    ):  # fmt: skip
        dock.go_home()
        dock.tap("Store, withdraw, end custody")
        dock.scan(f"HTTPS://LEDGER.EXAMPLE/E/{envelope}")
        dock.page.get_by_role("button", name="Take out").nth(2).wait_for()
        dock.pick("What is done with them", done)
        for question, answer in lines.items():
            dock.type(question, answer)
        for question, answer in picks.items():
            dock.pick(question, answer)
        if lines:
            judge(dock, "stores")
        dock.tap(f"Sign: {signs}")
        if "returned" in done:
            dock.see("to be kept until 2026-12-03, and this is 2026-12-02")
            dock.tap(f"Sign: {signs}")
        dock.heading("Signed here")
        dock.sent()


def closed_on_fridays(dock: Phone) -> None:
    """What would change is shown, and signed by the same button."""
    dock.go_home()
    dock.tap("Hours and closed days")
    dock.tap("Dock of the laboratory")
    dock.type("Friday", "")
    dock.tap("Sign: hours and closed days")
    dock.see("Friday: 08:00-17:00 now, closed then.")
    judge(dock, "hours")
    dock.tap("Sign: hours and closed days")
    dock.heading("Signed here")
    dock.sent()
    field = dock.firm.field
    told = field.get("dock", f"/organizations/{LAB}").get_json()["calendars"]["lab"]
    assert sorted(told["hours"]) == ["mon", "thu", "tue", "wed"]
    assert "2026-12-25" in told["closed"], "the federal holidays were lost"


def test_a_box_arrives_is_labeled_and_recalled_on_screens(firm: Firm, browser: Browser) -> None:
    """A media keeper without a terminal keeps the recall of a maker in a drawer."""
    odile = firm.phone(browser, "Odile Harrow", "admin", viewport=DESK)
    box_arrives(odile, 10, issues=4)
    judge(odile, "lot-arrives")
    odile.tap("Sign: lot received")
    odile.heading("A lot")
    odile.see("4 of 10 issued")
    lot = odile.form()
    with odile.page.expect_download() as got:
        odile.tap("Print 4 labels, issued last")
    assert "42-0117" in PdfReader(got.value.path()).pages[0].extract_text()
    odile.type("How many numbers", "7")
    odile.tap("Sign: numbers issued")
    odile.see("has 6 cassettes more")
    judge(odile, "lot")
    odile.type("How many numbers", "2")
    odile.tap("Sign: numbers issued")
    odile.see("6 of 10 issued")
    told = firm.field.get("keeper", f"/lots/{lot}").get_json()
    at_home = firm.field
    form = at_home.open_form()
    at_home.collect(form, lot, told["issued"][0], "indoor")
    odile.tap("Recall this lot")
    odile.see(grouped(form))
    odile.pick("Why", "maker")
    judge(odile, "recall")
    odile.tap("Sign: lot recalled")
    odile.heading("Persons to notify")
    assert firm.field.get("keeper", f"/lots/{lot}").get_json()["recalled"]
    odile.go_home()
    odile.tap("Thresholds of the rules")
    odile.type("Find by a word", "sl-02")
    assert not odile.line("Maximum error of a device's clock; a flag").is_visible()
    odile.type("Minimum air samples on a visit", "5")
    odile.tap("Sign: thresholds")
    odile.see("now, 5 then: stricter.")
    odile.see(grouped(form), "[role=alert]")
    judge(odile, "limits")
    odile.tap("Sign: thresholds")
    odile.heading("Signed here")
    odile.sent()
    now = firm.field.get("keeper", f"/organizations/{FIRM}").get_json()["policy"]
    assert now["min_cassettes"] == 5
    assert odile.complaints == []


def test_a_dock_goes_on_for_an_hour_without_a_network(firm: Firm, dock: Phone) -> None:
    """Cassettes out of an opened envelope wait on a bench until the network is back, or what was read of them
    is lost, or recorded twice.
    """
    at_home = firm.field
    form, envelope, samples, seal = at_home.sealed_visit()
    at_home.ship(envelope)
    firm.later(1)
    dock.go_home()
    before = len(dock.rows())
    dock.tap("Receive an envelope")
    dock.see(grouped(envelope))
    dock.remembers(f"kept/envelope/{envelope}", seal)
    held: list[Route] = []
    dock.page.route(f"**/envelopes/{envelope}", lambda route: held.append(route) or None)
    with dock.page.expect_request("**/envelopes/*"):
        dock.scan(f"]C0{envelope}")  # with what it read sent first, as many scanners are set
    dock.scan(f"HTTPS://LEDGER.EXAMPLE/S/{samples[0]}")  # while the answer is on its way
    dock.context.set_offline(True)
    for each in held:
        each.abort()
    dock.page.unroute_all()
    dock.see("No network: what is on record is compared as of")
    taken_out = dock.page.get_by_role("button", name="Take out")
    taken_out.nth(0).wait_for()
    taken_out.nth(0).focus()
    for each in samples:
        dock.scan(f"HTTPS://LEDGER.EXAMPLE/S/{each}", "Enter", "Control+j")
    dock.page.get_by_role("group", name=grouped(samples[2])).wait_for()
    assert taken_out.count() == 3, "an end of a scan pressed a button, or a scan counted twice"
    dock.type("Number as read on the seal", seal)
    dock.type("Samples counted by hand", "3")
    dock.remembers(f"typed/dock/{envelope}", samples[2])
    dock.page.reload()
    taken_out.nth(2).wait_for()
    dock.tap("All looked at: package sound, seal and samples intact, record inside")
    dock.tap("Sign: received as it is")
    dock.heading("Signed here")
    assert [row["state"] for row in dock.rows()[before:]] == ["waiting"]
    firm.later(60)
    dock.context.set_offline(False)
    dock.evaluate("() => dispatchEvent(new Event('online'))")
    dock.sent()
    (signed,) = dock.rows()[before:]
    assert [each["sample"] for each in signed["data"]["items"]] == samples
    told = at_home.get("dock", f"/forms/{form}").get_json()
    assert {each["status"] for each in told["samples"]} == {"received"}
    assert dock.complaints == []


def test_what_is_scanned_meanwhile_is_neither_lost_nor_sealed_unseen(firm: Firm, clerk: Phone) -> None:
    """Two windows over one envelope, or a scan while the ledger is asked: a sample is in the envelope and on
    no manifest.
    """
    at_home = firm.field
    form, samples = collected(firm, clerk)
    taken = numbers.issue("envelope", random.Random(7).choice)
    clerk.go_home()
    clerk.go(f"/sign/#pack/{taken}")
    clerk.heading("Envelope")
    other = clerk.context.new_page()
    other.goto(f"{firm.url}/sign/#pack/{taken}")
    other.get_by_role("heading", level=1, name="Envelope").wait_for()
    scan(clerk, samples[0])
    clerk.page.get_by_role("button", name="Take out").nth(0).wait_for()
    line = other.get_by_label("Scan or type a sample")
    line.fill(samples[1])
    line.press("Tab")
    other.get_by_role("button", name="Take out").nth(1).wait_for()
    other.close()
    clerk.type("Samples counted by hand", "1")
    clerk.type("Number on the custody seal", "HF-2077")
    clerk.pick("Is the seal across the opening?", "Yes")
    clerk.pick("Is the custody record in the envelope?", "Yes")
    clerk.tap("Sign: 1 sample sealed")
    clerk.see("What is in this envelope changed meanwhile")
    clerk.type("Samples counted by hand", "2")
    held: list[Route] = []
    clerk.page.route("**/readiness", lambda route: held.append(route) or None)
    with clerk.page.expect_request("**/readiness"):
        clerk.tap("Sign: 2 samples sealed")
    scan(clerk, samples[2])
    clerk.page.get_by_role("button", name="Take out").nth(2).wait_for()
    for each in held:
        each.continue_()
    clerk.page.unroute_all()
    clerk.see("What is in this envelope changed meanwhile")
    assert "number 3 in this envelope" in clerk.page.locator("#live").inner_text()
    clerk.tap(f"Take out {grouped(samples[2])}")
    clerk.page.get_by_role("button", name="Take out").nth(2).wait_for(state="detached")
    assert not clerk.page.locator("#live").inner_text(), "a number that was taken out is still told"
    refused_in_sight(clerk)
    assert not [row for row in clerk.rows() if form in row["chain"]]
    clerk.go("/sign/#pack")
    clerk.page.locator(f'a[href="#pack/{taken}"]').click()  # gone on with, after another envelope
    clerk.page.get_by_role("button", name="Take out").nth(1).wait_for()
    assert at_home.get("clerk", f"/envelopes/{taken}").status_code == 404
    assert clerk.complaints == []


def refused_in_sight(clerk: Phone) -> None:
    """The outdoor control is not in the envelope: what stops is told once, alone, and is on view."""
    clerk.page.set_viewport_size({"width": 1280, "height": 500})
    clerk.tap("Sign: 2 samples sealed")
    clerk.see("It may not be sealed like this.")
    seen = clerk.page.locator("#main .note:visible")
    kinds = seen.evaluate_all("all => all.map((each) => each.className)")
    assert kinds
    assert set(kinds) == {"note stop"}, kinds
    place, bar = seen.first.bounding_box(), clerk.page.locator("#bar").bounding_box()
    assert place
    assert bar
    assert 0 <= place["y"] < bar["y"]
    clerk.page.set_viewport_size(DESK)


SEALED: dict[str, Any] = {
    "envelope": "E", "seal": "HF-1", "total": 2, "across_opening": True, "record_enclosed": True,
    "at": "2026-12-01T10:00:00-05:00",
}  # fmt: skip
FOUND = [{"rule": "VP-15", "about": "F1"}]


def prepared(**changes: Any) -> list[dict[str, Any]]:
    """What an honest service prepares for two samples of two forms, with something changed in the second."""
    common = {**SEALED, "count": 1, "forms": ["F1", "F2"], "policy": "A" * 43}
    first = {**common, "samples": ["S1"], "findings": FOUND}
    second = {**common, "samples": ["S2"], **{name: each for name, each in changes.items() if name != "sub"}}
    return [
        {"sub": "form/F1", "act": "sealed", "data": first},
        {"sub": changes.get("sub", "form/F2"), "act": "sealed", "data": second},
    ]


@pytest.mark.parametrize(
    ("statements", "is_signed"),
    [
        (prepared(), True),
        (prepared(findings=[{"rule": "SE-01", "about": "F2"}]), False),
        (prepared(count=2), False),
        (prepared(forms=["F1"]), False),
        (prepared(forms=["F1", "F2", "F3"]), False),
        (prepared(samples=["S3"]), False),
        (prepared(samples=["S1"]), False),
        (prepared(sub="form/F1"), False),
        (prepared(sub="org/harrow-field"), False),
        (prepared(seal="HF-2"), False),
        (prepared(record_pages=4), False),
        (prepared()[:1], False),
        ([], False),
    ],
)
def test_a_desk_signs_nothing_that_was_not_entered_or_shown(
    modules: Modules, statements: list[dict[str, Any]], is_signed: bool
) -> None:
    """A service that was broken into has the clerk acknowledge what nobody saw."""
    entered = {**SEALED, "samples": ["S2", "S1"]}
    told = modules.run(
        "parts/prepared.js",
        """async (m, [answer, entered]) => {
            const { vocabulary } = await import("/vocabulary.js");
            document.body.innerHTML = '<p id="alarm"></p>';
            const context = { phone: { vocabulary }, words: { preparedOtherwise: "otherwise" } };
            return Boolean(m.asEntered(context, "sealed", answer, entered));
        }""",
        [{"statements": statements, "findings": FOUND}, entered],
    )
    assert told is is_signed


SHIPPED: dict[str, Any] = {
    "envelope": "E00000000000", "handed_over": "2026-12-01T15:30:00-05:00", "carrier": "acorn-freight",
    "service": "priority", "service_days": 1, "saturday": False,
}  # fmt: skip
TOMORROW = {"expected_delivery": "2026-12-02T10:00:00-06:00", "expected_receipt": "2026-12-02T10:30:00-06:00"}


@pytest.mark.parametrize(
    ("by_hand", "changes", "is_signed"),
    [
        (False, {}, True),
        (False, {"expected_receipt": "2026-12-09T10:30:00-06:00"}, False),
        (False, {"expected_delivery": "2026-12-09T10:00:00-06:00"}, False),
        (False, {"expected_receipt": None}, False),
        (True, {"expected_delivery": None}, True),
        (True, {}, False),
    ],
)
def test_a_desk_signs_no_other_receipt_than_was_told(
    modules: Modules, by_hand: bool, changes: dict[str, Any], is_signed: bool
) -> None:
    """Next week is signed where tomorrow stood on the screen, and nobody misses the envelope; or a day is put
    into the mouth of who carries it by hand and gave none.
    """
    entered = {**SHIPPED, "by_hand": by_hand}
    told = {name: each for name, each in {**TOMORROW, **changes}.items() if each}
    answer = {
        "statements": [{"sub": "form/F1", "act": "shipped", "data": {**entered, **told}}],
        "findings": [],
        "window": {"delivered": TOMORROW["expected_delivery"], "received": TOMORROW["expected_receipt"]},
    }
    signed = modules.run(
        "parts/prepared.js",
        """async (m, [answer, entered]) => {
            const { vocabulary } = await import("/vocabulary.js");
            document.body.innerHTML = '<p id="alarm"></p>';
            const context = { phone: { vocabulary }, words: { preparedOtherwise: "otherwise" } };
            return Boolean(m.asEntered(context, "shipped", answer, entered));
        }""",
        [answer, entered],
    )
    assert signed is is_signed


STATED = {"edition": 1, "hold_block_h": "72", "min_outdoor": 1}


@pytest.mark.parametrize(
    ("named", "is_signed"),
    [
        ({"policy": digest_of(STATED), "lab_policy": digest_of({"edition": 1})}, True),
        ({"policy": digest_of(STATED)}, True),
        ({"policy": "A" * 43}, False),
        ({"policy": digest_of(STATED), "lab_policy": "A" * 43}, False),
        ({}, False),
    ],
)
def test_a_desk_seals_by_no_other_policy_than_the_ledger_shows(
    modules: Modules, named: dict[str, str], is_signed: bool
) -> None:
    """The replay of a check is judged by limits that nobody set, under the signature of the clerk."""
    signed = modules.run(
        "desk/policies_named.js",
        """async (m, [named, stated]) => {
            const service = { get: async (path) => ({ told: { stated: stated[path.split("/").pop()] } }) };
            return m.namesShown({ service }, [{ data: named }], [{ firm: "firm", lab: "lab" }]);
        }""",
        [named, {"firm": STATED, "lab": {"edition": 1}}],
    )
    assert signed is is_signed


def sign_through(desk: Phone, button: str, heading: str) -> None:
    """Sign, a second time where something was found and agreed to."""
    desk.tap(button)
    done = desk.page.get_by_role("heading", level=1, name=heading, exact=True)
    again = desk.page.get_by_text("If it is to leave all the same")
    done.or_(again).first.wait_for()
    if not done.is_visible():
        desk.tap(button)
    desk.heading(heading)


KEY = SigningKey.from_seed(b"cosigner".ljust(32, b"."))
NAME = "quill.example/cosigner"


@pytest.fixture
def cosigned_firm(tmp_path: Path) -> Iterator[Firm]:
    """One whose log asks a cosigner."""
    with firm_at(tmp_path / "firm", cosigners=(format_vkey(notes.cosigner_key(NAME, KEY)),)) as found:
        yield found
        for phone in found.phones:
            phone.context.close()


def cosigned(firm: Firm, folder: Path) -> Trust:
    """The cosigner has signed the newest checkpoint; what an auditor brings who asks for its line."""
    log, at_home = parse_vkey(firm.field.ledger.vkey), firm.field
    watcher = Cosigner(folder, NAME, KEY, [log])
    at_home.ledger.sequencer.integrate()
    note = at_home.client.get("/checkpoint").text
    answer = watcher.add_checkpoint(request.write(0, [], note), int(at_home.clock().timestamp()))
    brought = at_home.client.post("/checkpoint/cosignatures", json={"note": note + answer.text})
    assert brought.status_code < 300, brought.text
    assert notes.cosigned_at(read_note(at_home.client.get("/checkpoint").text), watcher.verifier) is not None
    return Trust(trust(firm).roots, (log,), {"quill": watcher.verifier}, 1)


def issued(mina: Phone) -> list[str]:
    """The media keeper enters a box of cassettes and issues two numbers."""
    box_arrives(mina, 2, issues=2)
    mina.tap("Sign: lot received")
    mina.heading("A lot")
    mina.see("2 of 2 issued")
    mina.sent()
    told: list[str] = mina.firm.field.get("keeper", f"/lots/{mina.form()}").get_json()["issued"]
    return told


def box_arrives(keeper: Phone, count: int, *, issues: int) -> None:
    """What is asked of a box beside another one, up to its signature."""
    keeper.firm.field.lot(1)
    keeper.go_home()
    keeper.tap("Lots and labels")
    keeper.tap("A box arrives")
    keeper.type("Lot number that the maker printed", "42-0117")
    keeper.pick("Kind", "slit")
    keeper.type("Expiration date as printed", "2027-06")
    keeper.type("How many are in the box", str(count))
    keeper.type("Flow that the maker names", "15.0")
    keeper.type("Issue so many numbers at once", str(issues))


def collected_by(ines: Phone, zoe: Phone, samples: list[str]) -> str:
    """The inspector collects; a second person counts and watches; the clerk is to have them."""
    ines.go_home()
    form = ines.open_visit()
    ines.collect(samples[0], "indoor", point="P1", pump="P-1")
    ines.collect(samples[1], "outdoor control", point="P2", pump="P-2")
    ines.tap("Show to a second person")
    ines.heading("Show this to the other person")
    zoe.page.goto(code_on(ines))
    for each in samples:
        zoe.page.get_by_label(grouped(each)).check()
    zoe.type("Samples counted by hand", "2")
    zoe.tap("Sign: I watched, counted and read the numbers")
    zoe.heading("Signed here")
    zoe.sent()
    ines.tap("Done")
    ines.tap("Relinquish")
    ines.pick("To whom", "Cato Wren (clerk)")
    ines.pick("Purpose", "shipping")
    ines.type("Samples counted by hand", "2")
    ines.tap("Sign: 2 samples relinquished")
    ines.heading("Show this to the other person")
    ines.sent()
    return form


def shipped(cato: Phone, samples: list[str]) -> str:
    """The clerk receives what was relinquished a moment ago, is told what is missing in the words of every
    other device, seals and ships.
    """
    cato.go("/sign/#take")
    cato.see("Relinquished to you")
    cato.tap("All looked at: intact")
    cato.pick("Purpose", "shipping")
    cato.tap("Sign: 2 samples received")
    cato.heading("Visit")
    cato.sent()
    cato.go("/sign/#pack")
    cato.tap("Issue a new number")
    cato.heading("Envelope")
    envelope = cato.form()
    with cato.page.expect_request("**/readiness") as got:
        cato.scan(samples[0])
    told = cato.firm.field.post("clerk", "/readiness", got.value.post_data_json).get_json()
    (lacking,) = (each["sentence"] for each in told["findings"] if each["rule"] == "OC-01")
    cato.see(lacking, "section")
    cato.scan(samples[1])
    cato.page.get_by_role("button", name="Take out").nth(1).wait_for()
    cato.type("Samples counted by hand", "2")
    cato.type("Number on the custody seal", "HF-2045")
    cato.pick("Is the seal across the opening?", "Yes")
    cato.pick("Is the custody record in the envelope?", "Yes")
    sign_through(cato, "Sign: 2 samples sealed", "Sealed")
    cato.sent()
    cato.tap("Ship it")
    cato.type("Service", "next day")
    cato.type("Tracking number", "AF-1002003")
    cato.see("It would be received")
    sign_through(cato, "Sign: shipped", "Signed here")
    cato.sent()
    return envelope


def accepted(dora: Phone, envelope: str, samples: list[str]) -> None:
    """The dock reads for itself, and accepts."""
    dora.go("/sign/#dock")
    dora.see(grouped(envelope))
    dora.scan(f"HTTPS://LEDGER.EXAMPLE/E/{envelope}")
    dora.see("Number as read on the seal")
    for each in samples:
        dora.scan(each)
    dora.type("Number as read on the seal", "HF-2045")
    dora.tap("All looked at: package sound, seal and samples intact, record inside")
    dora.type("Samples counted by hand", "2")
    dora.tap("Sign: received as it is")
    dora.heading("Accept, hold or reject")
    dora.tap("Sign: accept 2 samples")
    dora.heading("Receive an envelope")
    dora.sent()


def stored(lena: Phone, samples: list[str]) -> None:
    """The analyst puts them into the laboratory's store."""
    lena.go_home()
    lena.tap("Store, withdraw, end custody")
    for each in samples:
        lena.scan(f"HTTPS://LEDGER.EXAMPLE/S/{each}")
    lena.page.get_by_role("button", name="Take out").nth(1).wait_for()
    lena.pick("What is done with them", "put into a store")
    lena.type("Store", "FR-1")
    lena.pick("How", "locked")
    lena.tap("Sign: 2 samples put into the store")
    lena.heading("Signed here")
    lena.sent()


def test_six_people_sign_on_screens_what_an_auditor_finds_complete_and_cosigned(
    cosigned_firm: Firm, browser: Browser, tmp_path: Path
) -> None:
    """Each screen alone was right, and the file of a visit that was signed on nothing else is in question."""
    firm = cosigned_firm
    mina = firm.phone(browser, "Mina Tarn", "media_keeper", viewport=DESK)
    samples = issued(mina)
    ines, zoe = (firm.phone(browser, name, "inspector") for name in ("Ines Marlow", "Zoë Lind"))
    cato = firm.phone(browser, "Cato Wren", "clerk", viewport=DESK)
    form = collected_by(ines, zoe, samples)
    envelope = shipped(cato, samples)
    firm.later(24 * 60 + 60)
    dora = firm.phone(browser, "Dora Finch", "custodian", org=LAB, viewport=DESK)
    lena = firm.phone(browser, "Lena Ford", "analyst", org=LAB, viewport=DESK)
    accepted(dora, envelope, samples)
    stored(lena, samples)
    brought = cosigned(firm, tmp_path / "cosigner")
    answer = firm.field.get("clerk", f"/forms/{form}/bundle")
    report = verify(bundle.read(answer.text), brought, firm.field.ledger.now())
    assert report.faults == ()
    assert report.state == "complete and cosigned"
    people = (mina, ines, zoe, cato, dora, lena)
    acts = [[row["act"] for row in each.rows()] for each in people]
    assert [each[-1] for each in acts] == [
        "issued",
        "relinquished",
        "witnessed",
        "shipped",
        "accepted",
        "stored",
    ]
    assert [each.complaints for each in people] == [[]] * 6


def test_a_remark_that_counts_the_seconds_is_read_once(modules: Modules) -> None:
    """After the cut-off a clerk taps and taps: every second the same warning has other words, and another one
    is still to be read.
    """
    late = {"rule": "SH-01", "about": "E", "severity": "warn", "remedy": "", "acts": []}
    answers = [
        {"ready": True, "findings": [late | {"sentence": f"{n} s after the cut-off.", "rule": rule}]}
        for n, rule in ((5, "SH-01"), (6, "SH-01"), (7, "SH-02"))
    ]
    settled = """(m, answers) => {
        const words = { carryRemarks: "Read it, then tap again." };
        const { settled } = m.agreed({ words, phone: { may: () => false } }, { not: "" });
        return answers.map((each) => settled("as entered", each));
    }"""
    assert modules.run("parts/prepared.js", settled, answers) == [False, True, False]
