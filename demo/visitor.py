"""A visitor who plays the ten steps of the guide in a browser without a window: the same screens that a
person opens.

The screens that tell something are drawn to the folder `pictures`. The inspector's clock is behind, and jumps
where a person would wait for the pump.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from cast import LAB
from ground import DemoError
from screens import ROLES, Screens

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

PHONE: Final = {"width": 390, "height": 844}
DESK: Final = {"width": 1280, "height": 900}
MEANT: Final = {"CL-07", "VP-13"}
"""The warnings that the guide announces in step 7: numbers typed, and no analysis asked for."""
_RUN_S: Final = 66
_BEHIND_S: Final = 58
"""Less than a minute, of which the app would warn."""
_PATIENCE_MS: Final = 40_000
_FLAGS: Final = ("--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking")


@dataclass
class Tab:
    """One person's tab, and what was drawn of it."""

    page: Page
    pictures: Path
    who: str

    def see(self, text: str) -> None:
        """Wait for words."""
        self.page.get_by_text(text).first.wait_for()

    def heading(self, text: str) -> None:
        """Wait for a screen."""
        self.page.get_by_role("heading", level=1, name=text, exact=True).wait_for()

    def draw(self, name: str) -> None:
        """A picture of the screen as it is."""
        self.pictures.mkdir(exist_ok=True)
        number = len(list(self.pictures.iterdir())) + 1
        words = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")
        self.page.screenshot(path=self.pictures / f"{number:02}-{self.who}-{words}.png")

    def tap(self, name: str) -> None:
        """A button or a link, by its words."""
        target = self.page.get_by_role("button", name=name, exact=True)
        target.or_(self.page.get_by_role("link", name=name, exact=True)).first.click()

    def pick(self, question: str, answer: str) -> None:
        """One of some answers."""
        self.page.get_by_role("group", name=question).get_by_label(answer, exact=True).check()

    def type(self, question: str, text: str) -> None:
        """A line, by the beginning of its question."""
        line = self.page.locator("input[type=text]").and_(
            self.page.get_by_label(re.compile(f"^{re.escape(question)}"))
        )
        line.fill(text)
        line.press("Tab")


@contextmanager
def browser() -> Iterator[Browser | None]:
    """Chromium without a window, where Playwright and it are installed."""
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        yield None
        return
    with sync_playwright() as playwright:
        names = ("chromium-headless-shell", "chromium")
        found = next(filter(None, map(shutil.which, names)), playwright.chromium.executable_path)
        if not Path(found).exists():
            yield None
            return
        started = playwright.chromium.launch(executable_path=found, args=list(_FLAGS))
        try:
            yield started
        finally:
            started.close()


def play(screens: Screens, chromium: Browser) -> None:
    """The ten steps. Raises `DemoError` where a screen does not say what it should."""
    from playwright.sync_api import Error

    pictures = screens.story.out / "pictures"
    tabs: dict[str, Tab] = {}

    def opened(who: str, size: Any, ahead_s: int = 0) -> Tab:
        context = chromium.new_context(viewport=size, timezone_id=screens.story.zone)
        context.set_default_timeout(_PATIENCE_MS)
        if ahead_s:
            context.clock.install(time=datetime.now().astimezone() + timedelta(seconds=ahead_s))
        tabs[who] = Tab(context.new_page(), pictures, who)
        return tabs[who]

    try:
        guide = opened("guide", DESK)
        guide.page.goto(screens.address())
        guide.see("Who held this sample?")
        _one_window(guide)
        for who, (org, _) in ROLES.items():
            tab = opened(who, PHONE if who == "inspector" else DESK, -_BEHIND_S if who == "inspector" else 0)
            _key(screens, tab, org)
        _visit(screens, tabs["inspector"])
        _envelope(screens, tabs["clerk"])
        _received(screens, tabs["dock"])
        _audited(screens, opened("auditor", DESK))
        guide.see("Let in:")
        guide.draw("guide")
    except Error as failure:
        for tab in tabs.values():
            tab.draw("where it stopped")
        raise DemoError(f"A screen did not say what it should; see {pictures}: {failure}") from failure


def _one_window(guide: Tab) -> None:
    """Each button of a person opens the same window again, and a page that is new."""
    with guide.page.expect_popup() as opening:
        guide.tap("Inspector")
    window = opening.value
    window.get_by_text("DEMO. Make a key below.").wait_for()
    guide.tap("Inspector's screen")
    window.wait_for_url(re.compile(r"/sign/\?[0-9]+#home$"), wait_until="commit")
    guide.tap("Inspector")
    window.wait_for_url(re.compile(r"/demo/\?[0-9]+#join/"), wait_until="commit")
    if (count := len(guide.page.context.pages)) != 2:
        raise DemoError(f"The buttons of the guide opened {count - 1} windows for one person.")
    window.close()


def _key(screens: Screens, tab: Tab, org: str) -> None:
    tab.page.goto(f"{screens.address(tab.who)}/demo/#join/{org}")
    tab.type("Your name, as printed", f"Visiting {tab.who}")
    if tab.who == "inspector":
        tab.draw("a new key")
    tab.tap("Make the key")
    tab.heading(f"Visiting {tab.who}")


def _visit(screens: Screens, tab: Tab) -> None:
    tab.page.reload()
    tab.tap("Begin a visit")
    tab.heading("Before you start")
    tab.tap("I have read this")
    tab.heading("A new visit")
    tab.type("Laboratory (short name)", LAB)
    tab.type("What the samples should answer", "musty odor")
    tab.pick("Ventilation", "normal")
    tab.pick("Fresh-air exchanger", "none")
    for question, hours in (("Windows closed", "26"), ("Air cleaners off", "26"), ("Last cleaning", "48")):
        tab.type(question, hours)
    tab.tap("Sign: the visit begins")
    tab.see("Not answered: ")
    tab.tap("Sign: the visit begins")
    tab.heading("Visit")
    for sample, kind in zip(screens.samples, ("indoor", "outdoor control"), strict=True):
        _started(tab, sample, kind)
        tab.page.clock.fast_forward(_RUN_S * 1000)
        tab.tap("Stop the pump")
        tab.heading("After the run")
        tab.type("Flow after the run, L/min", "15.0")
        tab.pick("Are the covers back on?", "Yes")
        tab.tap("Sign: collected")
        tab.heading("Visit")
    tab.tap("Relinquish")
    tab.pick("To whom", "Visiting clerk (clerk)")
    tab.pick("Purpose", "shipping")
    tab.type("Samples counted by hand", "2")
    tab.draw("relinquish")
    tab.tap("Sign: 2 samples relinquished")
    tab.heading("Show this to the other person")
    tab.see("All sent")


def _started(tab: Tab, sample: str, kind: str) -> None:
    if not tab.page.get_by_role("heading", level=1, name="Cassette", exact=True).is_visible():
        tab.tap("Next cassette")
    tab.heading("Cassette")
    tab.type("Number on the label", sample)
    tab.see("not expired")
    tab.pick("Kind", kind)
    if kind == "outdoor control":
        tab.type("Distance from the building", "12 ft")
        tab.pick("Sky", "cloudy")
        tab.pick("Wind", "light")
    else:
        tab.pick("Area", "complaint")
        tab.pick("Room", "basement")
    number = 1 if kind == "indoor" else 2
    tab.type("Point on the sketch", f"P{number}")
    tab.type("Maker's serial on the cassette", f"K-{number}")
    tab.type("Height of the inlet", "4 ft")
    tab.pick("Near the inlet", "none")
    tab.type("Pump", f"P-{number}")
    tab.type("Flow meter", "M-3")
    tab.type("Flow before the run, L/min", "15.0")
    tab.type("Planned run", "1:05")
    tab.draw(kind)
    tab.tap("Start the pump")
    tab.heading("The pump runs")


def _envelope(screens: Screens, tab: Tab) -> None:
    tab.page.goto(f"{screens.address('clerk')}/sign/#take")
    tab.page.reload()
    tab.heading("Receive samples")
    tab.see("Relinquished to you")
    tab.tap("All looked at: intact")
    tab.pick("Purpose", "shipping")
    tab.type("Samples counted by hand", "2")
    tab.tap("Sign: 2 samples received")
    tab.heading("Visit")
    tab.see("All sent")
    tab.page.goto(f"{screens.address('clerk')}/sign/#pack")
    tab.heading("Pack an envelope")
    tab.tap("Issue a new number")
    tab.heading("Envelope")
    tab.type("Scan or type", screens.samples[0])
    tab.see("outdoor control")
    tab.draw("what is missing")
    tab.type("Scan or type", screens.samples[1])
    tab.type("Samples counted by hand", "2")
    tab.type("Number on the custody seal", screens.seal)
    tab.pick("Is the seal across the opening?", "Yes")
    tab.pick("Is the custody record in the envelope?", "Yes")
    _signed(tab, "Sign: 2 samples sealed", "Sealed")
    tab.see("All sent")
    tab.tap("Ship it")
    tab.heading("Ship an envelope")
    tab.type("Carrier", "acorn-freight")
    tab.type("Service", "next day")
    tab.type("Tracking number", "AF-7001")
    tab.see("It would be received")
    tab.draw("ship")
    _signed(tab, "Sign: shipped", "Signed here")
    tab.see("All sent")


def _signed(tab: Tab, button: str, heading: str) -> None:
    """Sign; a second time where something is shown and acknowledged."""
    tab.tap(button)
    done = tab.page.get_by_role("heading", level=1, name=heading, exact=True)
    done.or_(tab.page.get_by_text("If it is to leave all the same")).first.wait_for()
    if not done.is_visible():
        tab.tap(button)
    tab.heading(heading)


def _received(screens: Screens, tab: Tab) -> None:
    tab.page.goto(f"{screens.address('dock')}/sign/#dock")
    tab.heading("Receive an envelope")
    tab.page.locator(f"a[href='#dock/{screens.envelope}']").click()
    tab.see("Number as read on the seal")
    tab.type("Number as read on the seal", screens.seal)
    for each in screens.samples:
        tab.type("Scan or type", each)
    tab.tap("All looked at: package sound, seal and samples intact, record inside")
    tab.type("Samples counted by hand", "3")
    tab.tap("Sign: received as it is")
    tab.see("3 counted")
    tab.draw("differences")
    tab.type("Samples counted by hand", "2")
    tab.tap("Sign: received as it is")
    tab.heading("Accept, hold or reject")
    tab.tap("Sign: accept 2 samples")
    tab.heading("Receive an envelope")
    tab.see("All sent")


def _audited(screens: Screens, tab: Tab) -> None:
    tab.page.goto(screens.address("auditor"))
    tab.tap("Check the file of your visit")
    tab.see("Records: unaltered, complete and cosigned")
    warned = set(re.findall(r"Warning ([A-Z]{2}-[0-9]{2})", tab.page.locator("#said").inner_text()))
    if warned != MEANT:
        raise DemoError(
            f"The steps of the guide lead to the warnings {sorted(warned)}; meant: {sorted(MEANT)}."
        )
    tab.draw("the file as it is")
    tab.tap("Change one figure in a copy, and check that")
    tab.see("Records: do not verify")
    tab.draw("a figure changed")
