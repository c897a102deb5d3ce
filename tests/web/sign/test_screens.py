"""Every screen of the app, by day and by night, on a phone and at a desk, and with text of twice the size.

Judged by axe-core (WCAG 2 A and AA); targets by the project's own measure of 56 px (WCAG 2.5.5 asks for 44).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from phones import PICTURES

import programs
from accessible import faults
from bailee.domain.numbers import grouped
from thorough import THOROUGH

if TYPE_CHECKING:
    from phones import Firm, Phone
    from playwright.sync_api import Browser

pytestmark = pytest.mark.slow

CUT = """() => [...document.querySelectorAll('.lines, input.code')]
    .filter(e => e.checkVisibility() && e.scrollWidth > e.clientWidth).map(e => e.value ?? e.textContent)"""
"""Keys and numbers of which the end is out of sight: they are compared and read aloud."""
HIDING = """() => new Promise(ok => {
    const bar = document.getElementById('bar');
    const share = bar.offsetHeight / innerHeight;
    if (!share) ok(0);
    new ResizeObserver((_, seen) => {
        seen.disconnect();
        ok(getComputedStyle(bar).position === 'sticky' && share > 1 / 3 ? share : 0);
    }).observe(bar);
})"""
"""How much of the window the bar covers, where that is more than a third: a remark could be behind it."""
SMALL = """() => [...document.querySelectorAll('button, a, summary, input[type=text], .pick label')]
    .filter(e => e.checkVisibility() && !e.closest('.aside'))
    .map(e => [e.textContent.slice(0, 30), e.getBoundingClientRect()])
    .filter(([, r]) => r.height < 56 || r.width < 56).map(([t, r]) => `${t}: ${r.width} x ${r.height}`)"""


def judge(phone: Phone, name: str) -> None:
    """Nothing that axe-core, a ruler or a wider screen can find is wrong.

    axe-core judges the phone by day, and its colors by night; in the long form every width and size.
    """
    page = phone.page
    for scheme, only in (("light", ()), ("dark", ("color-contrast",))):  # only colors differ by night
        page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        assert faults(page, *only) == [], (name, scheme)
    assert page.evaluate(SMALL) == [], name
    assert page.locator("h1").count() == 1
    for width in (360, 768, 1280):
        for size in ("100%", "200%"):
            page.set_viewport_size({"width": width, "height": 740})
            page.evaluate("size => { document.documentElement.style.fontSize = size; }", size)
            wide = page.evaluate("document.documentElement.scrollWidth")
            assert wide <= width, f"{name} is {wide} wide at {width}, text {size}"
            assert page.evaluate(CUT) == [], (name, width, size)
            assert page.evaluate(HIDING) == 0, (name, width, size)
            for scheme in ("light", "dark") if THOROUGH else ():
                page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
                assert faults(page) == [], (name, scheme, width, size)
            if PICTURES:
                for scheme in ("light", "dark"):
                    page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
                    file = Path(PICTURES) / f"{name}-{scheme}-{width}-{size.rstrip('%')}.png"
                    page.screenshot(path=str(file), full_page=True, scale="css")
    page.evaluate("document.documentElement.style.fontSize = ''")
    page.set_viewport_size({"width": 360, "height": 740})


@pytest.fixture
def newcomer(firm: Firm, browser: Browser) -> Iterator[Phone]:
    """A phone whose key nobody has let in yet."""
    phone = firm.phone(browser, "Ada Thorn", None)
    yield phone
    firm.phones.remove(phone)
    phone.context.close()


def test_screens_before_somebody_is_let_in(firm: Firm, newcomer: Phone, browser: Browser) -> None:
    """A newcomer who cannot read what to do calls the office instead."""
    newcomer.heading("Ask your administrator")
    judge(newcomer, "asked")
    context = programs.visitor(browser, viewport={"width": 360, "height": 740})
    page = newcomer.page
    newcomer.page = context.new_page()
    newcomer.page.goto(f"{firm.url}/sign/")
    newcomer.heading("This phone has no key yet")
    newcomer.tap("Make the key")
    newcomer.page.get_by_text("Needed.").first.wait_for()
    judge(newcomer, "new")
    newcomer.page = page
    context.close()


def test_screens_of_a_visit(firm: Firm, ines: Phone) -> None:
    """In a dark basement, with gloves, or with a screen reader."""
    _, samples = firm.field.lot(3)
    page = ines.page
    ines.go_home()
    judge(ines, "home")
    ines.tap("Begin a visit")
    judge(ines, "cautions")
    ines.tap("I have read this")
    ines.pick("Is mold growth visible?", "Yes")
    page.locator("summary").click()
    judge(ines, "opening")
    page.goto(f"{firm.url}/sign/#home")
    form = ines.open_visit()
    judge(ines, "visit-begun")
    ines.tap("Next cassette")
    for kind in ("outdoor control", "indoor"):
        ines.pick("Kind", kind)
    ines.type("Number on the label", grouped(samples[0]))
    ines.pick("Space", "crawl space")
    judge(ines, "cassette")
    ines.tap("Start the pump")
    ines.heading("The pump runs")
    judge(ines, "run")
    ines.firm.later(5)
    ines.tap("Stop the pump")
    ines.tap("Discard this run")
    page.locator("summary").click()
    ines.type("Flow after the run, L/min", "149")
    ines.type("Actual run time", "0:05")
    ines.pick("Are the covers back on?", "Yes")
    ines.tap("Sign: collected")
    page.get_by_text("5 minutes are written 5:00").wait_for()
    assert [row["act"] for row in ines.rows()] == ["opened"]
    judge(ines, "close")
    ines.tap("Yes")
    ines.heading("Visit")
    ines.collect(samples[1], "indoor")
    judge(ines, "visit")
    ines.tap("Secure")
    judge(ines, "secure")
    ines.tap("Back")
    ines.tap("Void a sample")
    judge(ines, "void")
    ines.tap("Back")
    ines.tap("Relinquish")
    ines.pick("To whom", "A person of another organization")
    judge(ines, "give")
    page.goto(f"{firm.url}/sign/#show/{form}")
    ines.heading("Show this to the other person")
    judge(ines, "code")
    page.goto(f"{firm.url}/sign/#take")
    ines.heading("Receive samples")
    ines.type("Number on the label", grouped(samples[2]))
    page.get_by_label("not looked at").wait_for()
    judge(ines, "take")
    ines.sent()
    page.goto(f"{firm.url}/sign/#signed")
    ines.heading("Signed here")
    judge(ines, "signed")
    assert ines.complaints == []


SELDOM = {
    "memory-blocked": "m.memory(c, 'blocked')",
    "memory-full": "m.memory(c, 'full')",
    "memory-broken": "m.memory(c, 'broken')",
    "private": "m.privateWindow(c)",
    "ended": "m.ended(c)",
    "stopped": "m.stopped(c, {code: 'behind'})",
    "failed": "m.failed(c)",
}


def test_screens_of_what_seldom_happens(firm: Firm, ines: Phone) -> None:
    """On the worst day of all nobody has time for a screen that cannot be read."""
    page = ines.page
    ines.go_home()
    for state, drawn in SELDOM.items():
        page.evaluate(
            f"""async () => {{
                const {{ module }} = await import(document.querySelector('script').src);
                const [m, f, w] = ['screens/trouble.js', 'parts/frame.js', 'words.js'].map(module);
                const end = {{ recorded: '2026-12-01T14:00:00Z', last_good_seq: 41 }};
                const c = {{ words: w.words, phone: {{ standing: {{ end }} }}, again: () => null }};
                f.show({drawn});
            }}"""
        )
        judge(ines, state)
        assert not re.search(r"undefined|NaN|\[object", page.inner_text("body"))
