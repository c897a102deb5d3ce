"""Phones before a real service: each a browser profile of its own, with the ledger's clock going beside
theirs.
"""

from __future__ import annotations

import json
import os
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import programs
from bailee.domain.numbers import grouped
from field import FIRM, Clock, Field, make_home
from grounds import migrated
from hosts.listening import listening

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext, Locator

BEGIN = datetime(2026, 12, 1, 14, 0, tzinfo=UTC)
SIZE = {"width": 360, "height": 740}
PICTURES = os.environ.get("BAILEE_PICTURES")
"""A folder to which every screen is drawn, for whoever wants to look."""

TAB = """const { module } = await import(document.querySelector('script').src);
    const vocabulary = module('vocabulary.js').vocabulary;
    const phone = new (module('phone.js').Phone)(vocabulary);
    await phone.open();
    const since = n => `2026-12-01T09:00:${String(n % 60).padStart(2, '0')}-05:00`;
    const held = n => ({ secured: 'possession', where: 'person', since: since(n) });
    const draft = (form, n) => ({ chain: `form/${form}`, act: 'held', data: held(n) });"""
"""A second reader of the same memory in the same page, as another tab is."""


@dataclass
class Going(Clock):
    """The ledger's clock: it goes on, and jumps where phones do."""

    now: datetime = BEGIN
    began: float = field(default_factory=time.monotonic)

    def __call__(self) -> datetime:
        return self.now + timedelta(milliseconds=int(1000 * (time.monotonic() - self.began)))


@dataclass
class Firm:
    """The application, and where it answers."""

    field: Field
    url: str
    phones: list[Phone] = field(default_factory=list)

    def phone(
        self, browser: Browser, person: str, role: str | None, *, org: str = FIRM, **options: Any
    ) -> Phone:
        """A phone of somebody, with a key that was let in by their organization's root key in this role."""
        usual: dict[str, Any] = {"viewport": SIZE, "timezone_id": "America/New_York"}
        if PICTURES:
            usual["device_scale_factor"] = 3  # as phones have; nine times as much to draw
        context = programs.visitor(browser, **usual | options)
        made = Phone(self, context, person)
        self.phones.append(made)
        made.join(role, org)
        return made

    def set_clock(self, context: BrowserContext) -> None:
        """A phone's clock is the ledger's, and goes on."""
        context.clock.install(time=self.field.clock())

    def later(self, minutes: int) -> None:
        """Time passes, here and on every phone."""
        self.field.clock.advance(minutes=minutes)
        for each in self.phones:
            each.later(minutes)

    def look_again(self, phone: Phone) -> None:
        """The screen that waits to be let in asks every few seconds."""
        phone.look_again()

    def enroll(self, request: dict[str, Any], role: str, org: str = FIRM) -> None:
        """What `bailee enroll` signs of a request."""
        data = {name: request[name] for name in ("kid", "jwk", "proof")}
        data |= {"role": role, "identity_check": "in_person"}
        private = {name: request[name] for name in ("person", "device") if request[name]}
        root = self.field.roots[org]
        self.field.ok(self.field.send(root.sign(f"org/{org}", "enrolled", data, private)), root)


class Phone:
    """One person's phone. What its browser complains about is kept in `complaints`."""

    def __init__(self, firm: Firm, context: BrowserContext, person: str) -> None:
        self.firm, self.context, self.person = firm, context, person
        self.complaints: list[str] = []
        context.set_default_timeout(programs.PATIENCE_MS)  # of a profile with a folder, too
        firm.set_clock(context)
        self.page = context.new_page()
        self.page.on("console", self._hear)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def _hear(self, said: Any) -> None:
        # A key that is not enrolled yet, and a network that is not there, are no faults of the app.
        if not re.search(r"status of 40[134]|ERR_INTERNET_DISCONNECTED|ERR_CONNECTION|ERR_FAILED", said.text):
            self.complaints.append(said.text)

    def join(self, role: str | None, org: str = FIRM) -> None:
        """Make the key, hand the request to the administrator, and see the screen go on by itself."""
        self.go(f"/sign/#join/{org}")
        self.type("Your name, as printed", self.person)
        self.tap("Make the key")
        self.request = self.saved_request()
        if role:
            self.firm.enroll(self.request, role, org)
            self.firm.look_again(self)
            self.heading(self.person)

    def saved_request(self) -> dict[str, Any]:
        """What the file holds that the app gives away."""
        with self.page.expect_download() as got:
            self.tap("Save the request as a file")
        found: dict[str, Any] = json.loads(got.value.path().read_text())
        return found

    def go(self, address: str) -> None:
        """A page of the service."""
        self.page.goto(f"{self.firm.url}{address}")

    def go_home(self) -> None:
        """Its first screen, begun anew: wherever another test left it."""
        self.go("/sign/#home")
        self.page.reload()
        self.heading(self.person)
        self.see("Works without a network")

    def later(self, minutes: int) -> None:
        """Its clock goes on, and its timers."""
        self.page.clock.fast_forward(minutes * 60_000)

    def scan(self, text: str, *ends: str) -> None:
        """A scanner types: its keys come faster than fingers, whatever the machine does meanwhile. `ends` are
        keys after its Enter.
        """
        begin = self.page.evaluate("() => Date.now()") / 1000
        self.page.clock.pause_at(datetime.fromtimestamp(begin + 1, UTC))
        self.page.keyboard.type(text)
        for each in ("Enter", *ends):
            self.page.keyboard.press(each)
        self.page.clock.resume()

    def look_again(self) -> None:
        """Six seconds pass."""
        self.page.clock.run_for(6000)

    @property
    def address(self) -> str:
        """Of the screen that is shown."""
        return self.page.url

    def see(self, text: str, where: str = "body") -> None:
        """Wait for words."""
        self.page.locator(where).get_by_text(text).first.wait_for()

    def evaluate(self, script: str) -> Any:
        """What a function gives in its page."""
        return self.page.evaluate(script)

    @property
    def kid(self) -> str:
        """The name of its key."""
        return str(self.request["kid"])

    def heading(self, text: str) -> None:
        """Wait for a screen."""
        self.page.get_by_role("heading", level=1, name=text, exact=True).wait_for()

    def tap(self, name: str) -> None:
        """A button or link, by its words."""
        target = self.page.get_by_role("button", name=name, exact=True)
        target.or_(self.page.get_by_role("link", name=name, exact=True)).first.click()

    def pick(self, question: str, answer: str) -> None:
        """One of some answers, as a finger does."""
        group = self.page.get_by_role("group", name=question)
        group.get_by_label(answer, exact=True).check()

    def type(self, question: str, text: str) -> None:
        """A line of text, by the beginning of its question; then the next question, as fingers do."""
        line = self.line(question)
        line.fill(text)
        line.press("Tab")

    def line(self, question: str) -> Locator:
        """The line for the answer to a question."""
        label = self.page.get_by_label(re.compile("^" + re.escape(question)))
        return self.page.locator("input[type=text]").and_(label)

    def read_air(self, where: str, rain_ended: str = "") -> None:
        """The air on one side of the walls, from the visit's screen and back to it."""
        self.tap("Conditions on site")
        self.heading("Conditions on site")
        self.pick("Where", where)
        self.type("Temperature", "21")
        self.type("Relative humidity", "45")
        if rain_ended:
            self.type("Hours since rain ended", rain_ended)
        self.tap("Sign: conditions read")
        self.heading("Visit")

    def rows(self) -> list[dict[str, Any]]:
        """Everything in its memory of what it signed."""
        found: list[dict[str, Any]] = self.evaluate("""() => new Promise((ok, no) => {
                const asked = indexedDB.open("bailee-sign");
                asked.onerror = () => no(asked.error);
                asked.onsuccess = () => {
                  const all = asked.result.transaction("statement").objectStore("statement").getAll();
                  all.onsuccess = () => { asked.result.close(); ok(all.result); };
                };
            })""")
        return found

    def remembers(self, name: str, text: str = "") -> Any:
        """What is in its memory under this name; wait until there is something, with this text in it."""
        return self.page.evaluate(
            """([name, text]) => new Promise((ok, no) => {
                const asked = indexedDB.open("bailee-sign");
                asked.onerror = () => no(asked.error);
                asked.onsuccess = () => {
                  const look = () => {
                    const found = asked.result.transaction("memory").objectStore("memory").get(name);
                    found.onsuccess = () => {
                      if (!found.result || !JSON.stringify(found.result).includes(text)) return look();
                      asked.result.close();
                      ok(found.result);
                    };
                  };
                  look();
                };
            })""",
            [name, text],
        )

    def sent(self) -> None:
        """Wait until nothing waits."""
        self.see("All sent", "#strip")

    def open_visit(self, lab: str = "quill-lab", *, all_stated: bool = False) -> str:
        """A visit from the cautions to its screen: the form's number. Some questions stay open, or none."""
        self.tap("Begin a visit")
        self.heading("Before you start")
        self.tap("I have read this")
        self.heading("A new visit")
        self.type("Laboratory (short name)", lab)
        self.type("Client", "Perpetua Example")
        self.type("Address of the site", "12 Invented Lane")
        self.type("What the samples should answer", "musty odor in the basement")
        self.pick("Ventilation", "normal")
        for label, hours in (("Windows closed", "26"), ("Air cleaners off", "26"), ("Last cleaning", "48")):
            self.type(label, hours)
        if all_stated:
            self.pick("Fresh-air exchanger", "none")
            self.pick("Is mold growth visible?", "No")
            self.page.get_by_text("More", exact=True).click()
            for label, text in (
                ("Method", "ASTM D7788"),
                ("Analysis", "spore count"),
                ("Turnaround", "2 days"),
            ):
                self.type(label, text)
            self.type("Number of the sampling plan", "SOP-4")
        self.sign_opening(*() if all_stated else ("Fresh-air", "analysis", "turnaround"))
        return self.form()

    def sign_opening(self, *unsaid: str) -> None:
        """The visit begins; what was not said is asked back once."""
        self.tap("Sign: the visit begins")
        if unsaid:
            self.see("Not answered: ")
            shown = str(self.evaluate("() => document.body.innerText")).partition("Not answered: ")[2]
            told = shown.partition("\n")[0].casefold()
            assert all(each.casefold() in told for each in unsaid), told
            self.tap("Sign: the visit begins")
        self.heading("Visit")

    def form(self) -> str:
        """The form whose screen is shown."""
        return self.address.rpartition("/")[2]

    def draw(self) -> None:
        """A wall and a point on the sketch, with a finger."""
        self.tap("Draw the sketch")
        paper = self.page.locator("canvas")
        paper.scroll_into_view_if_needed()
        box = paper.bounding_box()
        assert box
        mouse = self.page.mouse
        mouse.move(box["x"] + 30, box["y"] + 30)
        mouse.down()
        mouse.move(box["x"] + 200, box["y"] + 30)
        mouse.up()
        self.tap("Mark the point")
        paper.click(position={"x": 90, "y": 60})
        self.tap("Keep the sketch")
        self.page.get_by_text("Kept on this phone").wait_for()

    def collect(self, sample: str, kind: str, **answers: str) -> None:
        """One cassette from its number to its signature, the pump running for five minutes."""
        if "scanned" in answers:  # on the screen of the visit
            self.scan(f"HTTPS://LEDGER.EXAMPLE/S/{sample}")
            self.heading("Cassette")
        else:
            self.tap("Next cassette")
            self.heading("Cassette")
            self.type("Number on the label", grouped(sample))
        self.see("not expired")
        self.pick("Kind", kind)
        if kind == "outdoor control":
            self.type("Distance from the building", "12 ft")
            self.pick("Sky", "cloudy")
            self.pick("Wind", "light")
        elif kind == "indoor":
            self.pick("Area", answers.get("area", "complaint"))
            self.pick("Room", answers.get("room", "basement"))
            if "space" in answers:
                self.pick("Space", answers["space"])
        self.type("Point on the sketch", answers.get("point", "P1"))
        self.type("Where exactly", "by the window")
        if "picture" in answers:
            self.page.locator("input[type=file]").set_input_files(answers["picture"])
            self.page.get_by_text("Kept on this phone").wait_for()
        if "sketch" in answers:
            self.draw()
        self.type("Maker's serial on the cassette", f"K-{sample[-6:]}")
        self.type("Height of the inlet", "4 ft")
        self.pick("Near the inlet", "none")
        self.type("Pump", answers.get("pump", "P-1"))
        self.type("Flow meter", "M-3")
        self.type("Flow before the run, L/min", "15.0")
        self.tap("Start the pump")
        self.heading("The pump runs")
        self.firm.later(5)
        self.tap("Stop the pump")
        self.heading("After the run")
        self.type("Actual run time", "5:00")
        self.type("Flow after the run, L/min", "14,9")
        self.pick("Are the covers back on?", "Yes")
        self.tap("Sign: collected")
        self.heading("Visit")


@contextmanager
def firm_at(folder: Path, **settings: Any) -> Iterator[Firm]:
    """A firm and its laboratory before a service that answers on this machine, with settings of its own."""
    folder.mkdir(exist_ok=True)
    settings = {"address": "http://127.0.0.1"} | settings
    home = make_home(folder / "home", migrated(folder / "ledger.sqlite"), **settings)
    found = Field(home, clock=Going())
    found.ledger.sequencer.start(0.1)
    try:
        with listening(found.app) as address:
            yield Firm(found, address)
    finally:
        found.ledger.sequencer.stop()
        found.ledger.database.close()
