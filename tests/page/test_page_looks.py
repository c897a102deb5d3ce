"""The page before people: on a phone and at a desk, by day and by night.

Judged by axe-core (WCAG 2 A and AA).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from opened_page import Opened

from accessible import faults
from bailee.verify import bundle
from log_simulator import LogSimulator, told

pytestmark = pytest.mark.slow

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
    page.locator("#answer summary").click()
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
