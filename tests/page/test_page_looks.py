"""The page before people: on a phone and at a desk, by day and by night.

Judged by axe-core (WCAG 2 A and AA).
"""

from __future__ import annotations

import base64
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from opened_page import Opened, opened

from accessible import faults
from bailee.ledger.checkpoint import format_vkey
from bailee.ledger.fingerprint import THUMBPRINT
from bailee.verify import bundle
from log_simulator import LogSimulator, told

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.slow

PIXEL = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAQAAAC1HAwCAAAAC0lEQVR42mNk+A8AAQUBAScY42YAAAAASUVORK5CYII="
)
"""A picture of one point: what is on it says the reader that stands in for the browser's."""

PHONE, DESK = {"width": 360, "height": 740}, {"width": 1280, "height": 900}


@pytest.fixture
def reading(session: Opened) -> Iterator[Opened]:
    """The page that judges every bundle, as somebody has it who compared nothing yet; what the browser
    complains about fails the test.
    """
    for box in session.page.locator(".claim input").all():
        box.uncheck()
    yield session
    session.page.set_viewport_size(DESK)  # type: ignore[arg-type]
    session.page.emulate_media(color_scheme="light")
    assert session.complaints == []


def check(reading: Opened, file: Path) -> None:
    """Choose a file and press the button."""
    page = reading.page
    page.set_input_files("#file", file)
    page.click("#go")
    page.wait_for_selector("#go:not([disabled])")


def look(reading: Opened) -> None:
    """Nothing axe-core can find is wrong in any size and light, and nothing lies outside the screen."""
    page = reading.page
    for size in (PHONE, DESK):
        page.set_viewport_size(size)  # type: ignore[arg-type]
        for scheme, only in (("light", ()), ("dark", ("color-contrast",))):  # only colors differ by night
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            assert faults(page, *only) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]


def test_a_reader_checks_two_files(reading: Opened, log: LogSimulator, tmp_path: Path) -> None:
    """Somebody would read a verdict that rests on keys which the sender himself supplied, or could not read
    it at all.
    """
    page = reading.page
    sound, broken = tmp_path / "sound.json", tmp_path / "broken.json"
    sound.write_text(bundle.write(log.bundle()))
    hasty = told("held")
    hasty.received(hasty.samples)
    short = hasty.bundle()
    gone = hasty.find(f"form/{hasty.form}", 4)
    broken.write_text(
        bundle.write(replace(short, entries=tuple(e for e in short.entries if e.index != gone)))
    )
    look(reading)
    check(reading, sound)
    assert page.inner_text("#sorry").startswith("Bring the root key")
    assert page.inner_text("#answer") == ""
    for claim in page.locator(".claim").all():
        assert "Filled in by the maker of this page: compare with your letter." in claim.inner_text()
        claim.locator("input").check()
    check(reading, sound)
    assert "Records: unaltered, not cosigned" in page.inner_text("#answer .state")
    assert page.locator("#answer .verdict").count() == 4
    assert page.evaluate("document.activeElement.tagName") == "H2"
    look(reading)
    check(reading, broken)
    assert "Records: do not verify" in page.inner_text("#answer .state")
    assert page.locator("#answer .finding.block .badge").first.inner_text() == "fault"
    assert page.locator("#answer .state").first.get_attribute("role") == "alert"
    page.evaluate("document.querySelectorAll('#answer details').forEach(each => (each.open = true))")
    look(reading)
    tmp_path.joinpath("nothing.json").write_text("nothing")
    check(reading, tmp_path / "nothing.json")
    assert page.inner_text("#sorry").startswith("Nothing was checked. ")
    assert page.inner_text("#answer") == ""


def test_a_report_can_be_kept(reading: Opened, log: LogSimulator, tmp_path: Path) -> None:
    """The reader closes the page, and what was found is gone."""
    page = reading.page
    sound = tmp_path / "sound.json"
    sound.write_text(bundle.write(log.bundle()))
    for box in page.locator(".claim input").all():
        box.check()
    check(reading, sound)
    with page.expect_download() as caught:
        page.click("[data-save=text]")
    kept = Path(caught.value.path()).read_text("utf-8")
    assert kept.startswith("Form F")
    assert "Records: unaltered, not cosigned" in kept


def test_the_summary_is_one_screen_and_one_sheet(reading: Opened, log: LogSimulator, tmp_path: Path) -> None:
    """Who has five minutes for a file reads a verdict, and what it leaves open lies four screens below."""
    page = reading.page
    sound = tmp_path / "sound.json"
    sound.write_text(bundle.write(log.bundle()))
    for box in page.locator(".claim input").all():
        box.check()
    check(reading, sound)
    summary = page.locator("#answer .summary")
    assert summary.bounding_box()["height"] <= DESK["height"]
    text = summary.inner_text()
    assert text.index("What is not shown") > text.index("Records: ")
    parts = page.evaluate("[...document.querySelectorAll('#answer h3')].map(each => each.textContent)")
    assert parts[0] == "What is not shown"
    assert parts.index("Verdicts") > 0
    sheet = page.evaluate(
        "() => { dispatchEvent(new Event('beforeprint'));"
        " const high = document.querySelector('#answer .summary').scrollHeight;"
        " dispatchEvent(new Event('afterprint')); return high; }"
    )
    # 243 mm of a letter sheet at 9 points are 1,629 px of the 16 that a screen has for them (16 / 9 * 916).
    assert sheet <= 1629
    assert page.locator("#answer svg.custody-line").count() == 1


CARD = """globalThis.BarcodeDetector = class {
    static async getSupportedFormats() { return ["qr_code"]; }
    async detect() { return globalThis.codes.map(rawValue => ({ rawValue })); }
};"""


def test_keys_come_from_the_codes_of_a_key_card(browser: Browser, file: Path, log: LogSimulator) -> None:
    """Five lines of a key are typed from a card, in a car park, by somebody who has two of them."""
    context = browser.new_context(viewport=PHONE)
    context.add_init_script(CARD)
    page = opened(context, file).page
    assert faults(page) == []
    (org, root), *_ = log.trust().roots.items()
    vkey = format_vkey(log.log_vkey)

    def photo(*codes: str) -> None:
        page.evaluate("codes => { globalThis.codes = codes }", list(codes))
        picture = {"name": "card.png", "mimeType": "image/png", "buffer": PIXEL}
        page.set_input_files("#card-photo", files=picture)  # type: ignore[arg-type]

    photo("HTTPS://LEDGER.EXAMPLE/S/S7K3M9Q2XF4P")
    page.get_by_text("This code is no key of a key card.").wait_for()
    assert page.input_value("#roots") == page.input_value("#log-keys") == ""
    photo(vkey)
    page.get_by_text("The key of the log").wait_for()
    assert page.input_value("#log-keys") == vkey
    photo(f"{THUMBPRINT}{root}")
    page.get_by_label("Short name printed after ROOT KEY").fill(org)
    page.click("#card-add")
    assert page.input_value("#roots") == f"{org}={root}"
    photo()
    page.get_by_text("No code was found in this picture").wait_for()
    context.close()


def test_a_browser_that_reads_no_codes_offers_none(reading: Opened) -> None:
    """A button that does nothing is pressed three times before somebody types."""
    assert not reading.page.locator("#card").is_visible()
