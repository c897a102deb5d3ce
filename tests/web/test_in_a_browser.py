"""The pages in a real browser, on a phone and at a desk, by day and by night.

Judged by axe-core (WCAG 2 A and AA).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

import programs
from accessible import faults
from thorough import THOROUGH

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

    from conftest import Town

pytestmark = pytest.mark.slow

SIZES = {"phone": {"width": 360, "height": 740}, "desk": {"width": 1280, "height": 900}}
REFUSED = "Failed to load resource: the server responded with a status of"


BOTH = [("phone", "light"), ("desk", "dark")]
"""Each size and each light once: a color does not hang on the size. The long form has the others too."""
OTHERS = [("phone", "dark"), ("desk", "light")]


@pytest.fixture(params=[*BOTH, *(OTHERS if THOROUGH else ())], ids="-".join)
def page(request: pytest.FixtureRequest, browser: Browser) -> Iterator[Page]:
    """A page of one size and light; what the browser complains about fails the test."""
    size, scheme = request.param
    context = programs.visitor(browser, viewport=SIZES[size], color_scheme=scheme)
    found = context.new_page()
    complaints: list[str] = []
    found.on("console", lambda said: complaints.append(said.text))
    found.on("pageerror", lambda error: complaints.append(str(error)))
    yield found
    context.close()
    assert [said for said in complaints if not said.startswith(REFUSED)] == []


def come_in(page: Page, town: Town) -> None:
    """Follow the link of `bailee pages`."""
    page.goto(f"{town.url}/enter#{town.token()}")
    page.wait_for_url(f"{town.url}/")


def judge(page: Page, town: Town, path: str, of_each: int | None = None) -> None:
    """Nothing lies outside the screen, and nothing axe-core can find is wrong (`of_each`: with so many
    articles or rows of each section, where there are hundreds alike).
    """
    page.goto(town.url + path)
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= page.viewport_size["width"], f"{path} is {wide} wide"
    beyond = page.evaluate(
        "[...document.querySelectorAll('main *')].filter(e => e.checkVisibility() && !e.closest('caption,"
        " thead, svg') && e.getBoundingClientRect().right > innerWidth + 1).map(e => e.outerHTML.slice(0,"
        " 80))"
    )
    assert beyond == [], path
    if of_each is not None:
        page.evaluate(
            "many => document.querySelectorAll('section').forEach(each => ['article', 'tbody tr'].forEach("
            "kind => [...each.querySelectorAll(kind)].slice(many).forEach(alike => alike.remove())))",
            of_each,
        )
    assert faults(page) == [], path
    assert page.locator("h1").count() == 1
    assert page.locator("html").get_attribute("lang") == "en"


def test_pages_before_entering(page: Page, town: Town) -> None:
    """Somebody with a scanned label in the sun, or with a screen reader, must be able to read what it is."""
    judge(page, town, "/rules", of_each=3)
    here = ("/", "/enter", "/rules/OC-04", f"/S/{town.samples[0]}", "/S/S7K3M9Q2XF4A")
    for path in (*here, f"/pages/forms/{town.faultless}"):
        judge(page, town, path)


def test_guides(page: Page, town: Town) -> None:
    """An inspector in front of the house reads on a phone what to look for before going in."""
    for guide in ("", "/inspector", "/auditor", "/machines"):
        judge(page, town, f"/guide{guide}")


def test_the_interface_on_a_phone_and_at_a_desk(page: Page, town: Town) -> None:
    """Whoever writes a program reads it beside the editor; long names must not push it off the screen.

    It has a hundred articles of two kinds: all are measured, and axe-core looks at three of each section.
    """
    page.goto(f"{town.url}/api")
    wide = "[...document.querySelectorAll('main *')].filter(e => !e.closest('caption'))"
    wide += ".map(e => e.getBoundingClientRect().right).filter(right => right > innerWidth + 1)"
    assert page.evaluate(wide) == []
    judge(page, town, "/api", of_each=3)


def test_pages_after_entering(page: Page, town: Town) -> None:
    """A finding that cannot be read on a phone in a basement is found out at the laboratory."""
    come_in(page, town)
    for path in (
        "/",
        f"/pages/forms/{town.faultless}",
        f"/pages/forms/{town.bare}",
        f"/pages/forms/{town.broken}",
        f"/pages/envelopes/{town.envelope}",
        f"/pages/samples/{town.samples[0]}",
        f"/pages/samples/{town.announced}",
        f"/pages/lots/{town.lot}",
        "/pages/nowhere",
    ):
        judge(page, town, path)
        stays_with_large_text(page, path)


def stays_with_large_text(page: Page, path: str) -> None:
    """Text of twice the size, everything unfolded, needs no sideways scrolling on a phone (WCAG 1.4.4)."""
    if page.viewport_size["width"] > SIZES["phone"]["width"]:
        return
    page.evaluate(
        "() => { document.documentElement.style.fontSize = '200%';"
        " document.querySelectorAll('details').forEach(each => { each.open = true; }); }"
    )
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= page.viewport_size["width"], f"{path} is {wide} wide with large text"


def test_the_token_does_not_stay_in_the_address(page: Page, town: Town) -> None:
    """A token left in the history lets the next person at this computer in."""
    come_in(page, town)
    assert "#" not in page.url
    page.go_back()
    assert "enter" not in page.url, "the link is still in the history"


def test_a_stale_link_says_what_to_do(page: Page, town: Town) -> None:
    """A link opened after lunch must not end on an empty page."""
    page.goto(f"{town.url}/enter#not-a-token")
    page.get_by_text("The access token cannot be read").wait_for()
    assert page.get_by_text("bailee pages").first.is_visible()


def test_samples_are_rows_on_a_phone_and_a_table_at_a_desk(page: Page, town: Town) -> None:
    """A table of seven columns on a phone hides the outdoor control beyond the edge."""
    come_in(page, town)
    page.goto(f"{town.url}/pages/forms/{town.bare}")
    table = page.get_by_role("table", name="Samples of this form")
    assert table.get_by_role("row").count() == 3, "rows stay a table for a screen reader"
    first, second = (table.get_by_role("cell").nth(i).bounding_box() for i in (0, 1))
    assert first is not None
    assert second is not None
    row = table.get_by_role("row").nth(1)
    if page.viewport_size["width"] < 900:
        assert row.bounding_box()["height"] < 300, "forty of them would be a scroll"
        assert row.get_by_text("none").is_visible(), "that it has no outdoor control"
    else:
        assert second["x"] > first["x"]
        assert second["y"] == first["y"]


SMALL = """[...document.querySelectorAll('a, button, input, summary')]
    .filter(each => each.checkVisibility() && !each.classList.contains('skip'))
    .map(each => [each.getBoundingClientRect(), each.outerHTML.slice(0, 80)])
    .filter(([box]) => box.width < 44 || box.height < 44).map(([box, said]) => said)"""


def test_everything_to_tap_is_large_enough_for_a_thumb(page: Page, town: Town) -> None:
    """With a glove on, the number beside the one that was meant is opened (WCAG 2.5.5: 44 by 44 px)."""
    come_in(page, town)
    for path in ("/", f"/pages/forms/{town.broken}", f"/pages/envelopes/{town.envelope}"):
        page.goto(town.url + path)
        assert page.evaluate(SMALL) == [], path


def test_a_form_of_forty_samples_is_no_scroll(page: Page, town: Town, of_forty: str) -> None:
    """On a phone the chain of custody lay under thirteen thousand pixels of what was in order."""
    come_in(page, town)
    page.goto(f"{town.url}/pages/forms/{of_forty}")
    height = page.evaluate("document.documentElement.scrollHeight")
    assert height < 6000, height
    rows = page.get_by_role("table", name="Samples of this form").get_by_role("row")
    assert rows.count() == 0, "they are folded"
    page.get_by_text("40 in order").click()
    assert rows.count() == 41


@pytest.fixture(scope="module")
def of_forty(town: Town) -> str:
    """A visit of forty samples."""
    lot, samples = town.field.lot(40)
    form = town.field.open_form()
    for place, sample in enumerate(samples):
        kind = "outdoor" if place % 10 == 9 else "indoor"
        town.field.collect(form, lot, sample, kind, pump=f"P-{place}", point=f"P{place}")
    town.field.hand_to_clerk(form, samples)
    town.field.seal(town.field.number("envelope"), samples, town.field.number("seal"))
    return form


def test_a_link_pasted_into_the_open_tab_lets_in(page: Page, town: Town) -> None:
    """Only what stands behind the # changes then, no page is loaded, and the reader waits before it."""
    page.goto(f"{town.url}/enter#not-a-token")
    page.get_by_text("The access token cannot be read").wait_for()
    page.evaluate("token => { location.hash = token }", town.token())
    page.wait_for_url(f"{town.url}/")
    assert page.get_by_role("heading", name="What needs you").is_visible()


def test_everything_is_reached_with_the_keyboard(page: Page, town: Town) -> None:
    """A clerk whose hands hold a scanner, or who cannot use a mouse, would be shut out (WCAG 2.1.1, 2.4.1,
    2.4.7).
    """
    come_in(page, town)
    page.goto(f"{town.url}/pages/forms/{town.broken}")
    page.keyboard.press("Tab")
    skip = page.evaluate("document.activeElement.textContent")
    assert skip == "Skip to the content"
    assert page.locator(".skip").bounding_box()["x"] >= 0
    seen, stops = set(), 1
    links = page.evaluate(
        "[...document.querySelectorAll('a, button, input, summary')].filter(each =>"
        " each.checkVisibility({ contentVisibilityAuto: true }) || each.matches('.skip')).length"
    )
    for _ in range(links):
        page.keyboard.press("Tab")
        name, outline = page.evaluate(
            "[document.activeElement.outerHTML.slice(0, 120),"
            " getComputedStyle(document.activeElement).outlineStyle]"
        )
        if name.startswith("<body"):
            break
        seen.add(name)
        stops += 1
        assert outline == "solid", name
    assert stops == links
    assert any("record.pdf" in name for name in seen)


def test_a_scanner_that_types_and_presses_enter(page: Page, town: Town) -> None:
    """At the dock nobody takes a glove off to press a button on the screen."""
    come_in(page, town)
    page.get_by_label("Scan or type a number").focus()
    page.keyboard.type(f"HTTPS://LEDGER.EXAMPLE/S/{town.samples[0]}")
    page.keyboard.press("Enter")
    page.wait_for_url(f"{town.url}/pages/samples/{town.samples[0]}")
