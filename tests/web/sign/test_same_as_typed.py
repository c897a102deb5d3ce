"""The same visit on a phone and at a terminal: the ledger finds the same of both, word for word.

Two ledgers are copies of one. Clocks stand still but for the minutes that both visits take.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from phones import SIZE, Phone

import programs
from bailee.domain.numbers import grouped
from field import FIRM
from hosts.listening import listening
from town import ENVELOPE, Person, Town

if TYPE_CHECKING:
    from playwright.sync_api import Browser, BrowserContext

pytestmark = pytest.mark.slow

COLLECT = (
    "--run",
    "5:00",
    "--planned",
    "5:00",
    "--covers",
    "--meter",
    "M-3",
    "--height",
    "4 ft",
    "--near",
    "none",
)
COLLECT += ("--flow-before", "15.0", "--flow-after", "14.9", "--place", "by the window", "--typed")


class OnPhones:
    """What a phone asks of those around it, in a town where people type."""

    def __init__(self, town: Town, url: str) -> None:
        self.town, self.url = town, url
        self.phone: Phone | None = None

    def now(self) -> datetime:
        """The ledger's clock, and the phone's."""
        return self.town.clock.now

    def set_clock(self, context: BrowserContext) -> None:
        """It stands still; timers go on."""
        context.clock.set_fixed_time(self.now())

    def look_again(self, phone: Phone) -> None:
        """The screen asks by itself."""

    def enroll(self, request: dict[str, Any], role: str, org: str = FIRM) -> None:
        """The administrator types, with the file that the phone saved."""
        file = self.town.folder / "phone.json"
        file.write_text(json.dumps(request))
        root = self.town.person("firm-root" if org == FIRM else "lab-root")
        root.run("enroll", str(file), "--role", role, "--checked", "in_person")

    def later(self, minutes: int) -> None:
        """Both clocks."""
        self.town.clock.advance(minutes=minutes)
        assert self.phone
        self.phone.page.clock.set_fixed_time(self.now())


@pytest.fixture(scope="module")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, datetime, list[str]]:
    """A town with a lot in the inspector's kit: its folder, to be copied, and its time."""
    folder = tmp_path_factory.mktemp("prepared") / "town"
    folder.mkdir()
    town = Town(folder)
    town.settle()
    _, samples = town.lot(3, expiry="2027-11")
    town.close()
    return folder, town.clock.now, samples


@contextmanager
def copied(prepared: tuple[Path, datetime, list[str]], to: Path) -> Iterator[Town]:
    """That town once more."""
    town = Town(Path(shutil.copytree(prepared[0], to)))
    town.clock.now = prepared[1]
    yield town
    town.close()


@contextmanager
def inspector_on_a_phone(town: Town, browser: Browser) -> Iterator[Phone]:
    """Ines Marlow, let in as inspector; nothing that her phone complains about."""
    with listening(town.app) as address:
        around = OnPhones(town, address)
        context = programs.visitor(browser, viewport=SIZE, timezone_id="America/New_York")
        phone = around.phone = Phone(around, context, "Ines Marlow")  # type: ignore[arg-type]
        phone.join("inspector")
        phone.page.get_by_text("Works without a network").wait_for()
        yield phone
        assert phone.complaints == []
        context.close()


def ask_laboratory(phone: Phone, due: str) -> None:
    """What the client wants of the laboratory, and the air as a barometer of the trade shows it."""
    phone.tap("Request of the laboratory")
    phone.type("Analysis", "spore count")
    phone.type("Turnaround", "2 days")
    phone.type("Last day for the result", due)
    phone.type("Number of your purchase order", "PO-7")
    phone.tap("Sign: request of the laboratory")
    phone.heading("Visit")
    phone.tap("Conditions on site")
    phone.pick("Where", "indoors")
    phone.type("Temperature", "70 F")
    phone.type("Air pressure", "29.92 inHg")
    phone.tap("Sign: conditions read")
    phone.heading("Visit")


def lock_up(phone: Phone) -> None:
    """The samples into the vehicle, and everything that was signed to the ledger."""
    phone.tap("Secure")
    phone.pick("How", "locked")
    phone.pick("Where", "vehicle")
    phone.tap("Sign: secured")
    phone.heading("Visit")
    phone.sent()


def told(town: Town, form: str, person: str) -> dict[str, Any]:
    """The form as the clerk reads it, without its number and the name of who collected."""
    found = town.person("clerk").session().of("clerk", as_json=True).service.get(f"/forms/{form}")
    text = json.dumps(
        {name: found[name] for name in ("findings", "verdicts", "samples", "preparation") if name in found}
    )
    for said, instead in ((form, "FORM"), (grouped(form), "FORM"), (person, "PERSON")):
        text = text.replace(said, instead)
    plain: dict[str, Any] = json.loads(text)
    return plain


def due(town: Town) -> str:
    """A last day for the result, a week away."""
    return (town.clock.now + timedelta(days=7)).date().isoformat()


def type_visit(town: Town, samples: list[str]) -> str:
    """At a terminal, on the same days and minutes."""
    inspector: Person = town.person("inspector")
    opened = inspector.answer(
        "open", "--lab", "quill-lab", "--zone", "America/New_York", "--client", "Perpetua Example", "--site",
        "12 Invented Lane", "--question", "musty odor in the basement", "--ventilation", "normal",
        "--windows-closed-h", "26", "--purifiers-off-h", "26", "--cleaned-h-ago", "48",
    )  # fmt: skip
    places = (
        ("--kind", "indoor", "--area", "complaint", "--room", "basement", "--point", "P1", "--pump", "P-1"),
        ("--kind", "indoor", "--area", "reference", "--room", "bedroom", "--point", "P2", "--pump", "P-1"),
        ("--kind", "outdoor", "--point", "P3", "--pump", "P-1", "--distance", "12 ft", "--sky", "cloudy"),
    )
    for sample, place in zip(samples, places, strict=True):
        town.clock.advance(minutes=5)
        more = ("--wind", "light") if "outdoor" in place else ()
        inspector.run("collect", sample, *place, *more, *COLLECT, "--serial", f"K-{sample[-6:]}")
    inspector.run(
        "request", "--analysis", "spore count", "--turnaround", "2 days", "--due", due(town),
        "--purchase", "PO-7",
    )  # fmt: skip
    inspector.run(
        "read-conditions", "--where", "indoors", "--temperature-c", "70 F", "--pressure-hpa", "29.92 inHg"
    )
    inspector.run("secure", "--how", "locked", "--where", "vehicle")
    form: str = opened[0]["chain"].removeprefix("form/")
    return form


def test_a_visit_on_a_phone_is_judged_as_one_that_was_typed(
    prepared: tuple[Path, datetime, list[str]], tmp_path: Path, browser: Browser
) -> None:
    """Who signs on a phone must not get another custody record than who types, and nobody a better one."""
    *_, samples = prepared
    with copied(prepared, tmp_path / "one") as one, copied(prepared, tmp_path / "other") as other:
        typed = type_visit(other, samples)
        with inspector_on_a_phone(one, browser) as phone:
            form = phone.open_visit()
            phone.collect(samples[0], "indoor", area="complaint", room="basement", point="P1")
            phone.collect(samples[1], "indoor", area="reference", room="bedroom", point="P2")
            phone.collect(samples[2], "outdoor control", point="P3")
            ask_laboratory(phone, due(one))
            lock_up(phone)
        assert one.clock.now == other.clock.now
        found, wanted = told(one, form, "Ines Marlow"), told(other, typed, "Inspector Person")
    assert found["findings"] == wanted["findings"]
    assert found["findings"], "both are silent: the visit must be one of which something is found"
    assert found["verdicts"] == wanted["verdicts"]
    assert [each["volume_l"] for each in found["samples"]] == [each["volume_l"] for each in wanted["samples"]]


def test_a_tidy_visit_on_a_phone_has_nothing_to_acknowledge(
    prepared: tuple[Path, datetime, list[str]], tmp_path: Path, browser: Browser
) -> None:
    """Everything was done and stated on the phone, and the clerk still presses Enter over a list of warnings
    (common practice, no source).
    """
    *_, samples = prepared
    with copied(prepared, tmp_path / "town") as town:
        clerk = town.person("clerk")
        with inspector_on_a_phone(town, browser) as phone:
            form = phone.open_visit(all_stated=True)
            for place, (room, area) in enumerate((("basement", "complaint"), ("bedroom", "reference"))):
                phone.collect(
                    samples[place], "indoor", area=area, room=room, point=f"P{place}", space="conditioned",
                    scanned="yes",
                )  # fmt: skip
                phone.firm.later(2)
            phone.collect(samples[2], "outdoor control", point="P3", scanned="yes")
            phone.read_air("indoors")
            phone.read_air("outdoors", rain_ended="30")
            lock_up(phone)
            assert clerk.answer("check", form)["findings"] == []
            phone.firm.later(30)
            phone.tap("Relinquish")
            phone.pick("To whom", "Clerk Person (clerk)")
            phone.pick("Purpose", "shipping")
            phone.type("Samples counted by hand", "3")
            phone.tap("Sign: 3 samples relinquished")
            phone.heading("Show this to the other person")
            phone.sent()
        clerk.run("take", *samples, "--count", "3", "--condition", "intact", "--purpose", "shipping")
        clerk.run("secure", *samples, "--how", "restricted", "--where", "office")
        said = clerk.run(
            "seal", *samples, "--envelope", ENVELOPE, "--counted", "3", "--seal", "C-4711",
            "--across-opening", "--record-enclosed", "--yes",
        )  # fmt: skip
        assert "READY: no findings." in said
        told_of = clerk.answer("show", form)
        assert told_of["findings"] == []
        assert {each["holder"] for each in told_of["samples"]} == {"Clerk Person"}
