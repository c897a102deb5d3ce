"""A whole visit on three phones, each with its own key: inspector, second person, clerk.

What they signed is an auditor's file that verifies, and says what the same visit says that was typed at a
terminal.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from phones import SIZE
from test_screens import judge

from bailee.domain.numbers import grouped
from bailee.ledger.checkpoint import parse_vkey
from bailee.verify import bundle
from bailee.verify.verifier import Trust, verify
from field import FIRM, LAB

if TYPE_CHECKING:
    from phones import Firm, Phone
    from playwright.sync_api import Browser

    from conftest import Modules

pytestmark = pytest.mark.slow


def code_on(phone: Phone) -> str:
    """What the code on a phone's screen says to a camera (read by zxing-cpp, as somebody else's reader)."""
    import io

    import zxingcpp
    from PIL import Image

    phone.page.set_viewport_size({"width": 360, "height": 1400})
    shot = phone.page.locator(".screen-code").screenshot(scale="device")
    phone.page.set_viewport_size(SIZE)
    image, only = Image.open(io.BytesIO(shot)).convert("L"), zxingcpp.BarcodeFormat.QRCode
    (found,) = zxingcpp.read_barcodes(
        image, formats=only
    )  # between its modules the reader sees bars now and then
    text: str = found.text
    return text


def trust(firm: Firm) -> Trust:
    """What the auditor brings: the log's key, and the root key of both."""
    roots = {org: firm.field.roots[org].key.kid for org in (FIRM, LAB)}
    return Trust(roots, (parse_vkey(firm.field.ledger.vkey),))


def test_a_visit_on_three_phones_is_a_file_that_verifies(
    firm: Firm, ines: Phone, zoe: Phone, cato: Phone
) -> None:
    """Opened, collected, watched, relinquished and received, without a network from the first cassette on.

    A statement made by a browser that an auditor cannot verify would be worth nothing.
    """
    _, samples = firm.field.lot(3)
    for each in (ines, zoe, cato):
        each.go_home()
    before = len(ines.rows())
    form = ines.open_visit()
    ines.sent()
    for each in (ines, zoe, cato):
        each.context.set_offline(True)
    ines.collect(samples[0], "indoor", area="complaint", room="basement", point="P1", pump="P-1")
    ines.page.get_by_text("No outdoor control yet").wait_for()
    ines.collect(samples[1], "indoor", area="non complaint", room="bedroom", point="P2", pump="P-2")
    ines.collect(samples[2], "outdoor control", point="P3", pump="P-3")
    assert not ines.page.get_by_text("No outdoor control yet").count()
    ines.tap("Secure")
    ines.pick("How", "locked")
    ines.pick("Where", "vehicle")
    ines.tap("Sign: secured")
    ines.heading("Visit")
    ines.tap("Show to a second person")
    ines.heading("Show this to the other person")
    zoe.page.goto(code_on(ines))
    zoe.heading("Count them and read the numbers")
    zoe.page.get_by_text("Code of Ines Marlow: 3 cassettes collected").wait_for()
    judge(zoe, "see")
    zoe.tap("Sign: I watched, counted and read the numbers")
    assert zoe.rows() == [], "nobody counted and nothing was read"
    for each in samples:
        zoe.page.get_by_label(grouped(each)).check()
    zoe.type("Samples counted by hand", "3")
    zoe.tap("Sign: I watched, counted and read the numbers")
    zoe.heading("Signed here")
    (watched,) = (each["data"] for each in zoe.rows())
    assert (watched["samples"], watched["count"]) == (list(samples[:3]), 3), "what was read is not on record"
    ines.tap("Done")
    ines.heading("Visit")
    ines.tap("Relinquish")
    ines.pick("To whom", "Cato Wren (clerk)")
    ines.pick("Purpose", "shipping")
    ines.type("Samples counted by hand", "3")
    ines.tap("Sign: 3 samples relinquished")
    ines.heading("Show this to the other person")
    judge(ines, "code-to-a-colleague")
    cato.page.goto(code_on(ines))
    cato.heading("Receive samples")
    cato.tap("Sign: 3 samples received")
    assert cato.rows() == [], "no condition was said"
    for each in samples:
        cato.pick(grouped(each), "intact")
    cato.pick("Purpose", "shipping")
    cato.type("Samples counted by hand", "3")
    cato.tap("Sign: 3 samples received")
    cato.heading("Visit")
    assert [row["state"] for row in ines.rows()[before:]] == ["registered", *["waiting"] * 5]
    for each in (cato, zoe, ines):  # who received sends first
        each.context.set_offline(False)
        each.page.evaluate("dispatchEvent(new Event('online'))")
        each.sent()
    signed = [*ines.rows()[before:], *zoe.rows(), *cato.rows()]
    assert [row["state"] for row in signed] == ["registered"] * 8
    answer = firm.field.get("clerk", f"/forms/{form}/bundle")
    report = verify(bundle.read(answer.text), trust(firm), firm.field.ledger.now())
    assert report.faults == ()
    assert report.state == "intact, not cosigned"
    told = firm.field.get("clerk", f"/forms/{form}").get_json()
    assert {each["holder"] for each in told["samples"]} == {"Cato Wren"}
    assert [each.complaints for each in (ines, zoe, cato)] == [[], [], []]


def test_samples_of_two_visits_are_not_received_as_those_of_one(firm: Firm, ines: Phone, cato: Phone) -> None:
    """Signed on the form of the first, the others stay with whoever gave them; and an entry on no form at all
    is refused, and its number missing from then on.
    """
    _, samples = firm.field.lot(2)
    forms = []
    for each in samples:
        ines.go_home()
        forms.append(ines.open_visit())
        ines.collect(each, "indoor")
    ines.sent()
    cato.go_home()
    for each in forms:
        cato.see(grouped(each))
    before = len(cato.rows())
    cato.tap("Receive samples")
    cato.heading("Receive samples")
    cato.type("Number on the label", grouped(firm.field.number("sample")))
    cato.type("Number on the label", grouped(samples[0]))
    for group in cato.page.get_by_role("group", name=re.compile("^S")).all():
        group.get_by_label("intact", exact=True).check()
    cato.type("Form number", grouped(firm.field.number("form")))
    cato.tap("Sign: 2 samples received")
    cato.page.get_by_text("These samples are of different forms").wait_for()
    cato.page.reload()
    cato.type("Number on the label", grouped(samples[0]))
    cato.type("Number on the label", grouped(samples[1]))
    cato.page.get_by_text("These samples are of different forms").wait_for()
    assert not cato.page.get_by_role("group", name=grouped(samples[1])).count()
    assert len(cato.rows()) == before
    assert cato.complaints == []


def test_an_administrators_phone_lets_a_colleague_in(firm: Firm, browser: Browser) -> None:
    """From screen to screen, with the key compared by voice: nobody carries a file to a terminal."""
    odile = firm.phone(browser, "Odile Harrow", "admin")
    nils = firm.phone(browser, "Nils Ray", None)
    nils.heading("Ask your administrator")
    code = code_on(nils)
    odile.page.goto(code)
    odile.heading("Enroll a key")
    odile.page.get_by_text("Nils Ray wants to sign for harrow-field").wait_for()
    judge(odile, "let-in")
    lines = odile.page.get_by_role("group", name="Their key, to be compared").inner_text()
    assert lines == nils.page.get_by_role("group", name="Your key, to be read aloud").inner_text()
    odile.tap("Sign: enroll this key")
    assert odile.rows() == [], "neither the role was said nor how it was made sure"
    assert not odile.page.get_by_label("root", exact=True).count(), "only a root key lets another one in"
    odile.pick("Role", "clerk")
    odile.pick("How you made sure", "in person")
    odile.tap("Sign: enroll this key")
    odile.heading("Signed here")
    odile.sent()
    assert [row["state"] for row in odile.rows()] == ["registered"]
    firm.look_again(nils)
    nils.heading("Nils Ray")
    nils.page.get_by_text("clerk of harrow-field").wait_for()
    nils.page.goto(code)
    nils.page.get_by_text("Only an administrator enrolls keys").wait_for()
    for each in (odile, nils):
        assert each.complaints == []
        firm.phones.remove(each)
        each.context.close()


def test_a_request_of_another_key_is_not_let_in(modules: Modules) -> None:
    """An administrator would give a stranger's key a colleague's name (RFC 7800: proof of possession)."""
    from bailee.ledger.base64url import b64u
    from bailee.signing import key_proof, strict_json
    from bailee.signing.keys import SigningKey

    own, other = (SigningKey.from_seed(name.ljust(32, b".")) for name in (b"own", b"other"))
    where = {"org": FIRM, "origin": "ledger.example/test"}

    def code(x: str, proof: str) -> str:
        return b64u(strict_json.dumps({"x": x, "p": proof, "n": "Ada Thorn", "d": ""}))

    def proof(key: SigningKey, org: str = FIRM) -> str:
        return key_proof.issue(key, org, "ledger.example/test", 1_764_600_000)

    x = own.jwk["x"]
    cases = [
        code(x, proof(own)),
        code(x, proof(other)),
        code(x, proof(own, "third-party")),
        code(x, "a.b.c"),
        "e30",
        "",
    ]
    found = modules.call("core/request.js", "readRequest", [[each, where] for each in cases])
    assert found[0] == {
        "kid": own.kid,
        "jwk": own.jwk,
        "proof": proof(own),
        "person": "Ada Thorn",
        "device": "",
    }
    assert [each["error"] for each in found[1:]] == ["code", "elsewhere", "code", "code", "code"]
