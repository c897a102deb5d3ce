"""How many taps and keys the app at `/sign/` asks of people, counted on its own screens in a browser.

    python tests/bench/taps.py [--envelopes 12]

1. A dock receives and accepts envelopes in order, one after the other, beside the scans: goal 4 taps or keys
   each.
2. From two organizations that nobody has founded to a shipped envelope: an inspector, a clerk, a laboratory,
   two calendars, three cassettes and the outdoor control: goal 90.

A tap is a button, a link or a choice that is touched; a field that is filled in is one, however long; a scan
is none. A number that is counted by hand is a key for each digit. A line that is typed at the terminal (the
operator's admission, the root keys) is one, as a field is; what such a line signs is signed here by the same
keys. Answers that the rules only warn of are left out of the second, and counted beside it: nobody is made to
give them, and a careful person does.

Prints counts; how long it takes says nothing.
"""

from __future__ import annotations

import argparse
import logging
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "web" / "sign"))

from phones import Firm, Going, Phone, firm_at
from playwright.sync_api import sync_playwright

import programs
from bailee.domain.numbers import grouped
from field import FIRM, LAB, Field, make_home
from grounds import migrated
from hosts.listening import listening

if TYPE_CHECKING:
    from playwright.sync_api import Browser

DESK = {"width": 1280, "height": 900}
AT_THE_TERMINAL = (
    "bailee join --service https://ledger.example --org NAME",
    "bailee admit KID",
    "bailee found NAME --name TITLE --person PERSON",
    "bailee enroll FILE --role ROLE --checked in_person",
)
"""Of each organization: its root key makes itself known, and enrolls the first person with a phone."""
ASK = """async () => {
    const { module } = await import(document.querySelector("script").src);
    const phone = new (module("phone.js").Phone)(module("vocabulary.js").vocabulary);
    await phone.open();
    return module("core/request.js").written(`${location.origin}/sign/`, await phone.request());
}"""
"""The address in the code on the screen of somebody who asks to be enrolled."""


@dataclass
class Counter:
    """Taps and keys so far, by what they were for."""

    steps: list[tuple[str, int]]

    def begin(self, step: str) -> None:
        """What is counted from now on."""
        self.steps.append((step, 0))

    def add(self, many: int = 1) -> None:
        """So many more."""
        step, before = self.steps[-1]
        self.steps[-1] = (step, before + many)

    @property
    def total(self) -> int:
        """All of it."""
        return sum(many for _, many in self.steps)


class Counted:
    """A phone whose taps are counted. What it waits for and scans is none."""

    def __init__(self, phone: Phone, counter: Counter) -> None:
        self.phone, self.counter = phone, counter

    def tap(self, name: str) -> None:
        """A button or link."""
        self.counter.add()
        self.phone.tap(name)

    def pick(self, question: str, answer: str) -> None:
        """A choice."""
        self.counter.add()
        self.phone.pick(question, answer)

    def type(self, question: str, text: str) -> None:
        """A field."""
        self.counter.add()
        self.phone.type(question, text)

    def keys(self, text: str) -> None:
        """Keys, where the focus is already."""
        self.counter.add(len(text))
        self.phone.page.keyboard.type(text)

    def scan(self, text: str) -> None:
        """A label, or the number of a seal, wherever the focus is."""
        self.phone.scan(text)


def label(letter: str, number: str) -> str:
    """What a scanner reads of a label."""
    return f"HTTPS://LEDGER.EXAMPLE/{letter}/{number}"


def dock_of(firm: Firm, browser: Browser, many: int) -> tuple[Phone, list[tuple[str, list[str], str]]]:
    """So many envelopes on their way, each of a visit of its own, and on the day after a dock."""
    sealed = []
    for _ in range(many):
        _, envelope, samples, seal = firm.field.sealed_visit()
        firm.field.ship(envelope)
        sealed.append((envelope, samples, seal))
    firm.later(24 * 60)
    dock = firm.phone(
        browser, "Dora Finch", "custodian", org=LAB, viewport=DESK, timezone_id="America/Chicago"
    )
    dock.go_home()
    return dock, sealed


def received_and_accepted(dock: Phone, sealed: list[tuple[str, list[str], str]], counter: Counter) -> None:
    """Each by its scans; accepted together at the end."""
    counted = Counted(dock, counter)
    counter.begin("to the dock")
    counted.tap("Receive an envelope")
    dock.heading("Receive an envelope")
    for n, (envelope, samples, seal) in enumerate(sealed, 1):
        counter.begin(f"envelope {n}")
        counted.scan(label("E", envelope))
        dock.line("Number as read on the seal").wait_for()
        counted.scan(seal)
        for each in samples:
            counted.scan(label("S", each))
            dock.page.get_by_role("group", name=grouped(each)).wait_for()
        counted.tap("All looked at: package sound, seal and samples intact, record inside")
        counted.keys(str(len(samples)))
        counted.tap("Sign: received as it is")
        dock.heading("Accept, hold or reject")
        dock.sent()
    counter.begin("accepted together")
    counted.tap("Next envelope")
    counted.tap(f"Decide about {len(sealed)} envelope{'s' * (len(sealed) > 1)} received here")
    counted.tap(f"Sign: accept {sum(len(each) for _, each, _ in sealed)} samples")
    dock.heading("Receive an envelope")
    dock.sent()


@contextmanager
def nobody_at(folder: Path) -> Iterator[Firm]:
    """A service that nobody has joined."""
    home = make_home(folder / "home", migrated(folder / "ledger.sqlite"), address="http://127.0.0.1")
    found = Field(home, start=False, clock=Going())
    found.ledger.sequencer.start(0.1)
    try:
        with listening(found.app) as address:
            yield Firm(found, address)
    finally:
        found.ledger.sequencer.stop()
        found.ledger.database.close()


def joined(firm: Firm, browser: Browser, counter: Counter, person: str, org: str, **options: Any) -> Counted:
    """A key made on somebody's phone, from the link of their organization."""
    usual = {"viewport": DESK, "timezone_id": "America/New_York"}
    phone = Phone(firm, programs.visitor(browser, **usual | options), person)
    firm.phones.append(phone)
    counted = Counted(phone, counter)
    phone.go(f"/sign/#join/{org}")
    counted.type("Your name, as printed", person)
    counted.tap("Make the key")
    phone.heading("Ask your administrator")
    return counted


def founded(
    firm: Firm, browser: Browser, counter: Counter, org: str, person: str, role: str, **options: Any
) -> Counted:
    """An organization, and its first person with a phone."""
    counter.begin(f"{org}: terminal and first phone")
    counter.add(len(AT_THE_TERMINAL))
    root = firm.field.roots[org]
    data = {"name": org.replace("-", " ").title(), "jwk": root.key.jwk, "recovery": None}
    firm.field.ok(firm.field.send(root.sign(f"org/{org}", "founded", data)), root)
    first = joined(firm, browser, counter, person, org, **options)
    first.phone.request = first.phone.saved_request()
    firm.enroll(first.phone.request, role, org)
    firm.look_again(first.phone)
    first.phone.heading(person)
    return first


def enrolled(
    firm: Firm, browser: Browser, counter: Counter, admin: Counted, person: str, role: str
) -> Counted:
    """A colleague, from screen to screen: the administrator's camera reads the code."""
    counter.begin(f"{role} enrolled")
    new = joined(firm, browser, counter, person, FIRM)
    admin.phone.page.goto(new.phone.page.evaluate(ASK))
    admin.phone.heading("Enroll a key")
    admin.pick("Role", role)
    admin.pick("How you made sure", "in person")
    admin.tap("Sign: enroll this key")
    admin.phone.heading("Signed here")
    admin.phone.sent()
    firm.look_again(new.phone)
    new.phone.heading(person)
    return new


def hours(person: Counted, counter: Counter, title: str, carrier: str | None = None) -> None:
    """A calendar as it stands there to begin with."""
    counter.begin(f"calendar: {title.lower()}")
    person.phone.go_home()
    person.tap("Hours and closed days")
    person.phone.heading(title)
    if carrier:
        person.type("Carrier", carrier)
    person.tap("Sign: hours and closed days")
    person.phone.heading("Signed here")
    person.phone.sent()


def boxes(admin: Counted, counter: Counter) -> list[str]:
    """A lot with its numbers and labels."""
    counter.begin("lot and labels")
    admin.phone.go_home()
    admin.tap("Lots and labels")
    admin.phone.heading("A box arrives")
    admin.scan("42-0117")
    admin.pick("Kind", "slit")
    admin.type("Expiration date as printed", "2027-06")
    admin.type("How many are in the box", "4")
    admin.type("Flow that the maker names", "15.0")
    admin.tap("Sign: lot received")
    admin.phone.heading("A lot")
    with admin.phone.page.expect_download():
        admin.tap("Print 4 labels, issued last")
    lot = admin.phone.firm.field.client.get(
        f"/lots/{admin.phone.form()}", headers=bearer(admin.phone)
    ).get_json()
    return list(lot["issued"])


def bearer(phone: Phone) -> dict[str, str]:
    """Who asks, in the name of a phone."""
    script = """async () => {
        const { module } = await import(document.querySelector("script").src);
        const phone = new (module("phone.js").Phone)(module("vocabulary.js").vocabulary);
        await phone.open();
        return phone.token(Math.floor(Date.now() / 1000));
    }"""
    return {"Authorization": f"Bearer {phone.page.evaluate(script)}"}


def visit(inspector: Counted, counter: Counter, samples: list[str], *, careful: bool) -> str:
    """Opened, three cassettes and the outdoor control, and relinquished."""
    counter.begin("visit opened")
    phone = inspector.phone
    phone.go_home()
    inspector.tap("Begin a visit")
    inspector.tap("I have read this")
    inspector.type("Laboratory (short name)", LAB)
    inspector.type("Client", "Perpetua Example")
    inspector.type("Address of the site", "12 Invented Lane")
    if careful:
        inspector.pick("Ventilation", "normal")
        inspector.pick("Fresh-air exchanger", "none")
        inspector.type("What the samples should answer", "musty odor in the basement")
        for question, answer in (
            ("Windows closed", "26"),
            ("Air cleaners off", "26"),
            ("Last cleaning", "48"),
        ):
            inspector.type(question, answer)
    inspector.tap("Sign: the visit begins")
    phone.see("Not answered: ")  # analysis and turnaround are agreed with the laboratory
    inspector.tap("Sign: the visit begins")
    phone.heading("Visit")
    form = phone.form()
    kinds = ("outdoor control", "indoor", "indoor", "indoor")
    rooms = (None, "basement", "bedroom", "kitchen")
    for n, (sample, kind, room) in enumerate(zip(samples, kinds, rooms, strict=True), 1):
        counter.begin(f"cassette {n}, {kind}")
        cassette(inspector, sample, kind, room, n, careful=careful)
    counter.begin("relinquished")
    inspector.tap("Relinquish")
    inspector.type("Samples counted by hand", "4")
    inspector.tap("Sign: 4 samples relinquished")
    phone.heading("Show this to the other person")
    phone.sent()
    return form


def cassette(inspector: Counted, sample: str, kind: str, room: str | None, n: int, *, careful: bool) -> None:
    """One, from the scan of its label to its signature."""
    phone = inspector.phone
    inspector.scan(label("S", sample))
    phone.heading("Cassette")
    if n <= 2:  # the third is offered as another one of its kind
        inspector.pick("Kind", kind)
    if room:
        inspector.pick("Room", room)
        if careful:
            inspector.pick("Area", "complaint")
    else:
        inspector.pick("Sky", "cloudy")
        inspector.pick("Wind", "light")
    if careful and not room:
        inspector.type("Distance from the building", "12 ft")
    if n == 1:  # the next ones are counted up
        inspector.type("Point on the sketch", "P1")
    if careful and n == 1:
        inspector.type("Height of the inlet", "4 ft")
        inspector.type("Pump", "P-1")
        inspector.type("Flow meter", "M-3")
    if careful:
        inspector.pick("Near the inlet", "none")
        inspector.type("Maker's serial on the cassette", f"K-{sample[-6:]}")
        inspector.type("Where exactly", "by the window")
    inspector.type("Flow before the run, L/min", "15.0")
    inspector.tap("Start the pump")
    phone.heading("The pump runs")
    phone.firm.later(5)
    inspector.tap("Stop the pump")
    phone.heading("After the run")
    inspector.type("Flow after the run, L/min", "15.0")
    inspector.pick("Are the covers back on?", "Yes")
    inspector.tap("Sign: collected")
    phone.heading("Visit")


def packed_and_shipped(clerk: Counted, counter: Counter, form: str, samples: list[str]) -> None:
    """Received from the inspector, sealed and handed to a carrier; what only warns is agreed to."""
    phone = clerk.phone
    phone.go_home()
    phone.remembers("brief", form)
    phone.page.reload()
    counter.begin("received by the clerk")
    clerk.tap("Receive samples")
    phone.page.get_by_role("group", name=grouped(samples[3])).wait_for()
    clerk.tap("All looked at: intact")
    clerk.tap("Sign: 4 samples received")
    phone.heading("Visit")
    phone.sent()
    counter.begin("packed and sealed")
    clerk.tap("Pack an envelope")
    phone.heading("Envelope")
    for each in samples:
        clerk.scan(label("S", each))
        phone.page.get_by_role("button", name=f"Take out {grouped(each)}").wait_for()
    clerk.scan("HF-2045")
    clerk.type("Samples counted by hand", "4")
    clerk.pick("Is the seal across the opening?", "Yes")
    clerk.pick("Is the custody record in the envelope?", "Yes")
    with phone.page.expect_download():
        clerk.tap(f"Print the record to enclose, form {grouped(form)}")
    through(clerk, "Sign: 4 samples sealed", "Sealed")
    phone.sent()
    counter.begin("shipped")
    clerk.tap("Ship it")
    phone.heading("Ship an envelope")
    clerk.type("Service", "next day")
    clerk.scan("AF-1002003-2026")
    through(clerk, "Sign: shipped", "Signed here")
    phone.sent()


def through(clerk: Counted, button: str, heading: str) -> None:
    """Signed, a second time where something was found that only warns."""
    clerk.tap(button)
    done = clerk.phone.page.get_by_role("heading", level=1, name=heading, exact=True)
    again = clerk.phone.page.get_by_text("If it is to leave all the same")
    done.or_(again).first.wait_for()
    if not done.is_visible():
        clerk.tap(button)
    clerk.phone.heading(heading)


def from_founding_to_shipped(firm: Firm, browser: Browser, counter: Counter, *, careful: bool) -> None:
    """The whole of the second count."""
    admin = founded(firm, browser, counter, FIRM, "Odile Harrow", "admin")
    dock = founded(firm, browser, counter, LAB, "Dora Finch", "custodian", timezone_id="America/Chicago")
    inspector = enrolled(firm, browser, counter, admin, "Ines Marlow", "inspector")
    clerk = enrolled(firm, browser, counter, admin, "Cato Wren", "clerk")
    hours(dock, counter, "Hours of the laboratory's dock")
    hours(clerk, counter, "Days of a carrier", "acorn-freight")
    samples = boxes(admin, counter)
    form = visit(inspector, counter, samples, careful=careful)
    packed_and_shipped(clerk, counter, form, samples)
    wrong = [each.complaints for each in firm.phones if each.complaints]
    assert not wrong, wrong


def told(title: str, counter: Counter, goal: str) -> None:
    """A count, and what it is made of."""
    print(f"{title}: {counter.total} (goal {goal})")
    for step, many in counter.steps:
        print(f"  {many:4}  {step}")


def main() -> int:
    """Count and report."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--envelopes", type=int, default=12)
    asked = parser.parse_args()
    logging.getLogger("werkzeug").setLevel(logging.ERROR)
    with sync_playwright() as playwright:
        browser = programs.started_browser(playwright)
        with tempfile.TemporaryDirectory() as folder, firm_at(Path(folder)) as firm:
            dock, sealed = dock_of(firm, browser, asked.envelopes)
            counter = Counter([])
            received_and_accepted(dock, sealed, counter)
            told(f"{asked.envelopes} envelopes received and accepted", counter, f"{4 * asked.envelopes}")
        for careful, title in (
            (False, "From founding to a shipped envelope"),
            (True, "The same, with every answer that the rules ask for"),
        ):
            with tempfile.TemporaryDirectory() as folder, nobody_at(Path(folder)) as firm:
                counter = Counter([])
                from_founding_to_shipped(firm, browser, counter, careful=careful)
                told(title, counter, "none" if careful else "90")
        browser.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
