"""A slip is corrected and a finding is allowed where people stand: on their own phones, with the words of the
ledger about who may.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from test_screens import judge

from bailee.domain.numbers import grouped

if TYPE_CHECKING:
    from phones import Firm, Phone
    from playwright.sync_api import Route

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def visit(firm: Firm, ines: Phone) -> tuple[str, list[str]]:
    """A visit with one indoor sample and no outdoor control: form and cassettes."""
    _, samples = firm.field.lot(2)
    ines.go_home()
    form = ines.open_visit()
    ines.collect(samples[0], "indoor")
    ines.sent()
    return form, samples


def facts(firm: Firm, form: str, sample: str) -> dict[str, object]:
    """What the ledger has of the run, after the corrections that count."""
    told = firm.field.get("clerk", f"/forms/{form}/facts?about={sample}").get_json()
    (found,) = [each["data"] for each in told["statements"] if each["act"] == "collected"]
    assert isinstance(found, dict)
    return found


def test_a_misread_flow_is_corrected_on_the_phone(
    firm: Firm, ines: Phone, visit: tuple[str, list[str]]
) -> None:
    """With the terminal in the office it is corrected from memory in the evening, or never."""
    form, samples = visit
    before = len(ines.rows())
    ines.go(f"/sign/#visit/{form}")
    ines.heading("Visit")
    ines.tap("Correct an entry")
    ines.heading("Correct an entry")
    judge(ines, "correct-which")
    ines.page.get_by_role("link", name=re.compile("indoor$")).click()
    ines.page.get_by_role("heading", name="collected by Ines Marlow").wait_for()
    judge(ines, "correct-facts")
    ines.page.get_by_role("link", name="Height of the inlet above the floor 4 ft (1.22 m)").click()
    ines.heading("Height of the inlet above the floor")
    assert ines.line("It should be").input_value() == "4 ft"
    ines.tap("Back")
    ines.page.get_by_role("link", name=re.compile("^Flow after the run")).click()
    ines.heading("Flow after the run, L/min")
    ines.type("It should be", "148")
    ines.pick("Why", "misread")
    ines.tap("Sign: correction")
    ines.page.get_by_text("The flow would be 148 L/min").wait_for()
    judge(ines, "correct-fact")
    assert len(ines.rows()) == before
    ines.type("It should be", "14.8")
    ines.tap("Sign: correction")
    ines.page.get_by_role("link", name=re.compile("Flow after the run.*14.8")).wait_for()
    ines.sent()
    known = facts(firm, form, samples[0])
    assert known["flow_after"] == "14.8"
    ines.page.get_by_text("Not entered").click()
    ines.page.get_by_role("link", name=re.compile("serial")).click()
    ines.type("It should be", known["pump"])
    ines.pick("Why", "misread")
    ines.tap("Sign: correction")
    ines.see(f"{known['pump']} is entered as the serial, and is the number of a pump.")
    ines.tap("Back")
    ines.context.set_offline(True)
    ines.page.get_by_role("link", name=re.compile("^Room")).click()
    ines.heading("Room")
    ines.pick("It should be", "office")
    ines.pick("Why", "typing")
    ines.tap("Sign: correction")
    ines.page.get_by_role("link", name=re.compile("Room.*office")).wait_for()
    ines.context.set_offline(False)
    ines.page.evaluate("dispatchEvent(new Event('online'))")
    ines.sent()
    assert facts(firm, form, samples[0])["room"] == "office"
    said = [row["data"] for row in ines.rows()[before:]]
    assert [(each["field"], each["old"], each["new"]) for each in said] == [
        ("flow_after", "14.9", "14.8"),
        ("room", "basement", "office"),
    ]


def test_a_correction_recorded_while_the_ledger_answers_is_shown(
    ines: Phone, visit: tuple[str, list[str]]
) -> None:
    """The old value stands on the screen although the new one is signed, and is corrected a second time."""
    form, samples = visit
    page, held = ines.page, []
    ines.go_home()
    ines.go(f"/sign/#correct/{form}/{samples[0]}")
    page.get_by_role("link", name=re.compile("^Point on the sketch")).click()
    ines.type("It should be", "P7")
    ines.pick("Why", "typing")

    def answered_before(route: Route) -> None:
        """What the ledger knew before the correction came, told when it has come."""
        answer = route.fetch()
        while held:
            held.pop().continue_()
        ines.sent()
        route.fulfill(response=answer)

    page.route("**/entries", lambda route: held.append(route) or None)
    page.route("**/facts?*", answered_before)
    ines.tap("Sign: correction")
    page.get_by_role("link", name=re.compile("Point on the sketch.*P7")).wait_for()
    page.unroute_all()
    ines.sent()


def test_a_second_person_allows_what_the_first_did_not_do(
    firm: Firm, ines: Phone, zoe: Phone, visit: tuple[str, list[str]]
) -> None:
    """Lightning on site, and the envelope stays open until somebody is back at a terminal.

    Whoever collected is told that it would not count, before a signature is wasted.
    """
    form, _ = visit
    for phone in (ines, zoe):
        phone.page.goto(f"{firm.url}/sign/#allow/{form}")
        phone.heading("Allow by exception")
        phone.page.get_by_role("link", name=re.compile("OC-01")).click()
        phone.page.get_by_text("OC-01 about").wait_for()
    ines.page.get_by_text("It would not count").wait_for()
    assert not ines.page.get_by_role("button", name="Sign: allowed, for this reason").count()
    judge(ines, "allow-not")
    reasons = zoe.page.get_by_role("group", name="Why it is allowed").get_by_role("radio")
    assert reasons.count() == 1, "only this reason counts for this rule"
    zoe.pick("Why it is allowed", "outdoor impossible")
    judge(zoe, "allow")
    zoe.tap("Sign: allowed, for this reason")
    zoe.heading("Signed here")
    zoe.sent()
    told = firm.field.get("clerk", f"/forms/{form}").get_json()
    (found,) = [each for each in told["findings"] if each["rule"] == "OC-01"]
    assert "Zoë Lind" in found["excepted"]
    zoe.context.set_offline(True)
    zoe.page.goto(f"{firm.url}/sign/#allow/{form}")
    zoe.page.get_by_text("No network: as of").wait_for()
    judge(zoe, "allow-which")
    zoe.context.set_offline(False)
    assert [each.complaints for each in (ines, zoe)] == [[], []]


@pytest.mark.usefixtures("visit")
def test_what_a_terminal_asks_back_is_asked_back_here(firm: Firm, ines: Phone) -> None:
    """A laboratory that is none, signed into a form, cannot be sent anything; a cassette collected twice is
    one record too many. Both are asked at a terminal (`asking.slips`, `bailee_cli.signing.duplicates`).
    """
    page = ines.page
    page.goto(f"{firm.url}/sign/#opening")
    ines.heading("A new visit")
    before = len(ines.rows())
    ines.type("Laboratory (short name)", "quil-lab")
    ines.tap("Sign: the visit begins")
    page.get_by_text("The ledger knows no organization quil-lab. Known names like it: quill-lab.").wait_for()
    (collected,) = [row for row in ines.rows() if row["act"] == "collected"]
    page.goto(f"{firm.url}/sign/#cassette/{collected['chain'].removeprefix('form/')}")
    ines.heading("Cassette")
    ines.type("Number on the label", collected["data"]["sample"])
    ines.pick("Kind", "indoor")
    ines.tap("Start the pump")
    page.get_by_text("This cassette was collected on this phone already, and counts once").wait_for()
    assert len(ines.rows()) == before
    assert ines.complaints == []


@pytest.fixture
def expired(firm: Firm) -> tuple[str, list[str]]:
    """Two cassettes of one expired lot, used on one visit: form and cassettes."""
    lot, samples = firm.field.lot(2, expiry="2026-05")
    form = firm.field.open_form()
    for each in samples:
        firm.field.collect(form, lot, each)
    for phone in firm.phones:
        phone.later(20)
    return form, samples


def test_a_finding_about_several_cassettes_is_allowed_for_each_of_them(
    firm: Firm, zoe: Phone, expired: tuple[str, list[str]]
) -> None:
    """The rules say once what is so of a whole box. An exception about the form would be signed, counted by
    nobody, and the envelope would stay open.
    """
    form, samples = expired
    zoe.page.goto(f"{firm.url}/sign/#allow/{form}")
    zoe.page.get_by_role("link", name=re.compile("ML-02")).click()
    zoe.page.get_by_text("ML-02 about").wait_for()
    for each in samples:
        zoe.see(grouped(each), "main")
    zoe.see(grouped(form), "main")
    judge(zoe, "allow-several")
    zoe.pick("Why it is allowed", "documented elsewhere")
    zoe.tap("Sign: allowed, for this reason")
    zoe.heading("Signed here")
    zoe.sent()
    assert {row["data"]["about"] for row in zoe.rows() if row["act"] == "excepted"} >= set(samples)
    told = firm.field.get("clerk", f"/forms/{form}").get_json()
    assert all("Zoë Lind" in each["excepted"] for each in told["findings"] if each["rule"] == "ML-02")
    assert zoe.complaints == []


def test_an_exception_is_signed_on_no_form_that_is_not_on_the_screen(
    firm: Firm, zoe: Phone, expired: tuple[str, list[str]]
) -> None:
    """Whoever answers for the service names a visit of somebody else, and a second person who never heard of
    it has signed there.
    """
    form, _ = expired
    other = firm.field.open_form()

    def more(route: Route) -> None:
        answer = route.fetch()
        told = answer.json() | {"forms": [form, other]}
        route.fulfill(response=answer, json=told)

    zoe.page.route("**/exceptions?*", more)
    zoe.page.goto(f"{firm.url}/sign/#allow/{form}")
    zoe.page.get_by_role("link", name=re.compile("ML-02")).click()
    zoe.page.get_by_text("ML-02 about").wait_for()
    for each in (form, other):
        zoe.see(grouped(each), "main")
    zoe.page.unroute_all()
