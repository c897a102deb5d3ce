"""A lost, a new and a second phone; and pictures that an entry names by their digest."""

from __future__ import annotations

import base64
import hashlib
import io
import re
from typing import TYPE_CHECKING

import pytest
from PIL import Image
from test_screens import judge
from test_visit_on_phones import code_on

from bailee.domain.numbers import grouped
from bailee.ledger.base64url import unb64u
from bailee.signing import strict_json

if TYPE_CHECKING:
    from pathlib import Path

    from phones import Firm, Phone
    from playwright.sync_api import Browser

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def odile(firm: Firm, browser: Browser) -> Phone:
    """The administrator's phone."""
    return firm.phone(browser, "Odile Harrow", "admin")


def test_a_new_phone_takes_over_without_an_administrator(firm: Firm, browser: Browser) -> None:
    """On the morning of a visit nobody is in the office who could let the new phone in."""
    old = firm.phone(browser, "Rhea Marsh", "inspector")
    new = firm.phone(browser, "Rhea Marsh", None)
    old.page.goto(f"{firm.url}/sign/#phones")
    old.heading("Phones and keys")
    judge(old, "phones")
    old.page.goto(code_on(new))
    old.heading("Enroll a key")
    judge(old, "let-in-not-you")
    old.tap("It is my new phone")
    old.heading("My new phone")
    lines = old.page.get_by_role("group", name="Their key, to be compared").inner_text()
    assert lines == new.page.get_by_role("group", name="Your key, to be read aloud").inner_text()
    old.type("What the new phone is called", "blue phone")  # what is signed of the code is on the screen
    judge(old, "rotate")
    old.tap("Sign: hand my role to it")
    old.heading("This key was ended")
    old.page.get_by_text("Your role went to your new phone").wait_for()
    judge(old, "handed-over")
    old.sent()
    firm.look_again(new)
    new.page.get_by_text("inspector of harrow-field").wait_for()
    (row,) = old.rows()
    assert (row["act"], row["state"], row["data"]["last_seq"]) == ("rotated", "registered", row["seq"])
    assert strict_json.loads(unb64u(row["disclosures"][0]))[1:] == ["device", "blue phone"]
    for each in (old, new):
        assert each.complaints == []
        firm.phones.remove(each)
        each.context.close()


def test_the_key_of_a_lost_phone_is_ended_on_the_administrators(
    firm: Firm, browser: Browser, odile: Phone
) -> None:
    """Whoever finds it signs in its owner's name until somebody is back at a terminal.

    A second phone of the same person is let in as theirs, and affirms what its owner signed with the first.
    """
    lost = firm.phone(browser, "Piet Sand", "inspector")
    form = lost.open_visit()
    lost.sent()
    second = firm.phone(browser, "Piet Sand", None)
    odile.go_home()
    odile.page.goto(code_on(second))
    odile.heading("Enroll a key")
    odile.pick("Role", "inspector")
    odile.pick("How you made sure", "in person")
    odile.page.locator("summary", has_text="A second phone").click()
    odile.pick("The same person as", "Piet Sand, inspector")
    judge(odile, "let-in-second")
    odile.tap("Sign: enroll this key")
    odile.heading("Signed here")
    odile.page.goto(f"{firm.url}/sign/#phones")
    odile.page.locator(f"a[href='#end/{lost.kid}']").click()
    odile.heading("End a key")
    odile.page.get_by_text("The ledger has its entries up to number 1").wait_for()
    odile.pick("Why", "lost")
    odile.type("Since when", "2026-12-01 08:00")
    odile.type("Last number", "0")
    judge(odile, "end")
    odile.tap("Sign: end this key")
    odile.heading("Signed here")
    odile.sent()
    said = {row["act"]: row["data"] for row in odile.rows()}
    assert said["enrolled"]["same_as"] == said["revoked"]["kid"] == lost.kid
    assert said["revoked"]["since"] == "2026-12-01T08:00:00-05:00"
    lost.page.reload()
    lost.heading("This key was ended")
    firm.look_again(second)
    second.page.get_by_text("inspector of harrow-field").wait_for()
    in_doubt = {"SI-02": "flag"}
    assert in_doubt.items() <= severities(firm, form).items()
    second.tap("Phones and keys")
    second.tap("Entries of my lost phone")
    second.heading("Entries of my lost phone")
    second.page.locator(f"a[href='#affirm/{form}']").click()
    second.see(grouped(form))
    second.tap("Sign: these entries are mine")
    second.see("Choose one.")
    assert second.rows() == [], "nothing is preset"
    second.page.get_by_label("is signed with the key of Piet Sand").check()
    judge(second, "affirm")
    second.tap("Sign: these entries are mine")
    second.heading("Signed here")
    second.sent()
    assert severities(firm, form)["SI-02"] == "note"
    second.go(f"/sign/#affirm/{form}")
    second.see("No entry of this visit is in doubt.")
    assert [each.complaints for each in (odile, second)] == [[], []]
    for each in (lost, second):
        firm.phones.remove(each)
        each.context.close()


def severities(firm: Firm, form: str) -> dict[str, str]:
    """What the rules find of a form, by rule."""
    told = firm.field.get("quality", f"/forms/{form}").get_json()
    return {each["rule"]: each["severity"] for each in told["findings"]}


def test_what_the_ledger_would_refuse_is_not_signed(firm: Firm, odile: Phone) -> None:
    """A refusal afterwards costs a number that an auditor asks about: the ledger is asked first."""
    odile.go_home()
    before = len(odile.rows())
    odile.page.route(
        "**/permission",
        lambda route: route.fulfill(json={"may": False, "why_not": "This key may not sign that."}),
    )
    odile.page.goto(f"{firm.url}/sign/#phones")
    odile.heading("Phones and keys")
    odile.page.locator("a[href^='#end/']").first.click()
    odile.heading("End a key")
    odile.pick("Why", "doubt")
    odile.type("Since when", "2026-12-01 08:00")
    odile.type("Last number", "0")
    odile.tap("Sign: end this key")
    odile.page.get_by_text("This key may not sign that. Nothing was signed.").wait_for()
    assert len(odile.rows()) == before
    odile.page.unroute("**/permission")


def test_a_picture_is_named_by_its_digest_and_stays_on_the_phone(
    firm: Firm, ines: Phone, tmp_path: Path
) -> None:
    """A photo that was uploaded, or sent on changed, proves nothing of the place (SHA-256)."""
    _, samples = firm.field.lot(2)
    shot = tmp_path / "basement.jpg"
    made = io.BytesIO()
    Image.new("RGB", (40, 30), "brown").save(made, "JPEG")
    shot.write_bytes(made.getvalue())
    sent: list[str] = []
    page = ines.page
    page.on("request", lambda asked: sent.append(asked.post_data or ""))
    ines.go_home()
    ines.open_visit()
    ines.tap("Next cassette")
    ines.heading("Cassette")
    page.locator("input[type=file]").set_input_files(shot)
    page.get_by_text("Kept on this phone: 1 kB").wait_for()
    ines.tap("Draw the sketch")
    page.locator("canvas").wait_for()
    judge(ines, "sketch")
    page.go_back()
    ines.heading("Visit")
    ines.collect(samples[0], "indoor", picture=str(shot))
    ines.collect(samples[1], "outdoor control", point="P2", sketch="yes")
    ines.sent()
    photo, sketch = (row["data"]["photo"] for row in ines.rows() if row["act"] == "collected")
    digest = base64.urlsafe_b64encode(hashlib.sha256(shot.read_bytes()).digest()).decode().rstrip("=")
    assert photo == {"sha-256": digest, "size": shot.stat().st_size, "type": "image/jpeg"}
    assert sketch["type"] == "image/png"
    ines.tap("Pictures")
    ines.heading("Pictures")
    page.get_by_role("img", name=re.compile(grouped(samples[1]))).wait_for()
    judge(ines, "pictures")
    saved = []
    for button in page.get_by_role("button", name="Save as a file").all():
        with page.expect_download() as got:
            button.click()
        saved.append(got.value.path().read_bytes())
    named = {base64.urlsafe_b64encode(hashlib.sha256(each).digest()).decode().rstrip("=") for each in saved}
    assert named == {photo["sha-256"], sketch["sha-256"]}
    drawn = Image.open(io.BytesIO(next(each for each in saved if each[:4] == b"\x89PNG")))
    assert len(drawn.convert("L").getcolors() or ()) > 1, "a line was drawn"
    assert not any(base64.b64encode(each[:60]).decode() in body for each in saved for body in sent)
    page.get_by_role("button", name="Delete from this phone").first.click()
    page.get_by_text("Is the file kept elsewhere?").first.wait_for()
    page.locator("li div:not([hidden]) > button", has_text="Delete from this phone").click()
    page.locator("li img").nth(1).wait_for(state="detached")
    assert ines.complaints == []


def test_a_wrong_organization_is_changed_before_the_key_is_let_in(firm: Firm, browser: Browser) -> None:
    """The request waits for ever at an organization that is not theirs, and the only way out was a new key:
    of one person two, and the first is nobody's.
    """
    phone = firm.phone(browser, "Tilda Grove", None)
    before = phone.request
    phone.see("Tilda Grove asks to sign for harrow-field.")
    phone.tap("Wrong organization or name")
    phone.heading("Wrong organization or name")
    judge(phone, "ask-anew")
    phone.type("Short name of your organization", "quill-lab")
    phone.context.set_offline(True)
    phone.tap("Ask with these")
    phone.see("The service does not answer.")
    phone.context.set_offline(False)
    phone.tap("Ask with these")
    phone.heading("Ask your administrator")
    phone.see("Tilda Grove asks to sign for quill-lab.")
    phone.page.reload()
    phone.see("Tilda Grove asks to sign for quill-lab.")
    asked = phone.saved_request()
    assert (asked["kid"], asked["organization"]) == (before["kid"], "quill-lab")
    phone.tap("Wrong organization or name")
    phone.heading("Wrong organization or name")
    phone.type("Short name of your organization", "harrow-field")
    phone.tap("Ask with these")
    phone.see("Tilda Grove asks to sign for harrow-field.")
    phone.tap("Wrong organization or name")
    phone.heading("Wrong organization or name")
    firm.enroll(before, "inspector")
    phone.type("Your name, as printed", "Somebody Else")
    phone.tap("Ask with these")
    phone.heading("Tilda Grove")
    phone.go("/sign/#change")
    phone.heading("Tilda Grove")
    assert phone.complaints == []
    firm.phones.remove(phone)
    phone.context.close()
