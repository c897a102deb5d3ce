"""On site things happen: the phone sleeps or dies in the middle of a run, its clock is wrong, a scanner
types, a new edition of the app comes, a cassette is dropped.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from test_screens import judge

import waiting
from bailee.domain.moments import clock_words
from bailee.domain.numbers import grouped
from bailee.signing import signed_statement
from field import FIRM
from hosts.tcp_proxy import TcpProxy

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from phones import Firm, Phone
    from playwright.sync_api import Browser, Locator

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def samples(firm: Firm) -> list[str]:
    """Cassettes of one lot, in the inspector's kit."""
    return firm.field.lot(13)[1]


@pytest.fixture
def visit(ines: Phone) -> str:
    """A visit of its own on her phone, whatever was tried before: the form's number."""
    ines.go_home()
    return ines.open_visit()


def begin_run(phone: Phone, sample: str, flow: str = "15.0") -> None:
    """A cassette up to the running pump, with the least that is asked."""
    phone.tap("Next cassette")
    phone.heading("Cassette")
    phone.type("Number on the label", grouped(sample))
    phone.pick("Kind", "indoor")
    phone.pick("Room", "office")
    phone.type("Flow before the run", flow)
    phone.tap("Start the pump")
    if flow != "15.0":
        phone.see(f"The flow would be {flow} L/min")
        phone.tap("Start the pump")
    phone.heading("The pump runs")


def is_on_view(phone: Phone, told: Locator) -> None:
    """What is asked back is neither behind the buttons nor above the view."""
    told.wait_for()
    seen, bar = told.bounding_box(), phone.page.locator("#bar").bounding_box()
    assert seen
    assert bar
    assert seen["y"] >= 0
    assert seen["y"] + seen["height"] <= bar["y"]


def test_a_run_goes_on_without_a_network_over_a_dead_battery(
    firm: Firm, ines: Phone, samples: list[str]
) -> None:
    """A timer that begins anew with the app, or an app that does not begin without a network, costs a trace
    that is collected once.
    """
    ines.go_home()
    form = ines.open_visit()
    begin_run(ines, samples[0])
    ines.context.set_offline(True)
    firm.later(3)
    ines.page.close()
    ines.page = ines.context.new_page()
    ines.page.goto(f"{firm.url}/sign/")
    ines.heading("Ines Marlow")
    ines.page.get_by_text("No network").wait_for()
    ines.page.get_by_role("link", name=re.compile(r"Pump of .*\d:\d\d")).click()
    ines.heading("The pump runs")
    minutes, _, _ = ines.page.get_by_role("timer").inner_text().partition(":")
    assert int(minutes) >= 3, "as far as before, and on a slow machine further"
    ines.tap("Next cassette")
    ines.heading("Cassette")
    ines.page.go_back()
    ines.heading("The pump runs")
    firm.later(2)
    ines.tap("Stop the pump")
    ines.heading("After the run")
    ines.pick("Are the covers back on?", "Yes")
    ines.tap("Sign: collected")
    ines.heading("Visit")
    collected = [row["data"] for row in ines.rows() if row["act"] == "collected"]
    (said,) = [each for each in collected if each["sample"] == samples[0]]
    assert 300 <= said["run_s"] < 3600
    assert ines.form() == form
    ines.page.route("**/entries", lambda route: route.abort(), times=1)  # of a network that only begins
    with failed(ines):
        ines.context.set_offline(False)
    ines.page.clock.fast_forward(2000)
    ines.page.locator("#strip").get_by_text("All sent").wait_for(timeout=30_000)  # and not after a minute


def failed(phone: Phone) -> AbstractContextManager[Any]:
    """It tries to send, and is not answered."""
    return phone.page.expect_event("requestfailed", lambda each: each.url.endswith("/entries"))


@pytest.mark.usefixtures("visit")
def test_a_pump_that_was_stopped_stays_so(firm: Firm, ines: Phone, samples: list[str]) -> None:
    """The page is loaded anew before it is signed, and the run is longer by the minutes until then."""
    begin_run(ines, samples[4])
    firm.later(5)
    ines.tap("Stop the pump")
    ines.heading("After the run")
    ran = ines.page.get_by_label("Actual run time").input_value()
    firm.later(6)
    ines.go_home()
    ines.page.get_by_role("link", name="was stopped: not signed yet").click()
    ines.heading("After the run")
    assert ines.page.get_by_label("Actual run time").input_value() == ran
    ines.page.get_by_text("More", exact=True).click()  # the screen is longer than the phone
    ines.tap("Discard this run")
    is_on_view(ines, ines.page.get_by_text("Discard what was entered for this cassette?"))
    is_on_view(ines, ines.page.get_by_role("button", name="Yes"))
    ines.tap("Yes")
    ines.heading("Visit")


@pytest.mark.usefixtures("visit")
def test_what_goes_wrong_around_a_run_is_seen_before_it_is_signed(ines: Phone, samples: list[str]) -> None:
    """A run typed over another, a pump on two cassettes or as a meter, one stopped by a touch of the sleeve,
    a run longer than the pump ran: each was signed, and stopped the envelope or was refused too late.
    """
    ines.tap("Next cassette")
    ines.type("Number on the label", grouped(samples[6]))
    ines.pick("Kind", "indoor")
    ines.type("Pump", "P-9")
    ines.type("Flow before the run", "15.0")
    ines.tap("Start the pump")
    ines.heading("The pump runs")
    ines.tap("Next cassette")
    ines.heading("Cassette")
    assert ines.page.get_by_role("combobox", name=re.compile("^Pump")).input_value() == "", (
        "it is on another cassette"
    )
    ines.type("Number on the label", grouped(samples[6]))
    ines.see("A run with this number is not signed yet")  # as soon as it is read
    assert not ines.page.get_by_text("not expired").count(), "a label that cannot be used looked good"
    ines.tap("Go to that run")
    ines.heading("The pump runs")
    ines.page.go_back()
    ines.heading("Cassette")
    ines.pick("Kind", "indoor")
    ines.type("Flow before the run", "15.0")
    ines.tap("Start the pump")
    is_on_view(ines, ines.page.get_by_text("A run with this number is not signed yet"))
    assert ines.line("Number on the label").evaluate("(line) => line === document.activeElement")
    ines.type("Number on the label", grouped(samples[7]))
    ines.type("Pump", "P-9")
    ines.tap("Start the pump")
    is_on_view(ines, ines.page.get_by_text(f"P-9 still runs for {grouped(samples[6])}"))
    ines.go_home()
    ines.page.get_by_role("link", name="Pump of").first.click()
    ines.tap("Stop the pump")
    ines.tap("The pump still runs: back to its time")
    ines.heading("The pump runs")
    ines.firm.later(5)
    ines.tap("Stop the pump")
    ines.heading("After the run")
    ines.pick("Are the covers back on?", "Yes")
    ines.type("Actual run time", "50:00")
    ines.tap("Sign: collected")
    ines.see("The run would be longer than the time from start to stop.")
    ines.type("Actual run time", "0:00")
    ines.tap("Sign: collected")
    ines.see("The pump would not have run.")
    ines.type("Actual run time", "5:00")
    ines.tap("Sign: collected")
    ines.heading("Visit")
    (said,) = [row["data"] for row in ines.rows() if row["data"].get("sample") == samples[6]]
    assert (said["pump"], said["run_s"]) == ("P-9", 300)
    ines.tap("Next cassette")
    ines.type("Number on the label", grouped(samples[7]))
    ines.pick("Kind", "indoor")
    ines.type("Pump", "P-8")
    ines.type("Flow meter", "P-9")
    ines.tap("Start the pump")
    ines.see(f"P-9 is entered as the flow meter, and was the pump of {grouped(samples[6])}.")


@pytest.mark.usefixtures("visit")
def test_a_flow_far_off_is_asked_back_while_it_can_be_changed(ines: Phone, samples: list[str]) -> None:
    """After the run there is no field for it any more. What was confirmed is not asked again."""
    begin_run(ines, samples[5], "150")
    ines.firm.later(5)
    ines.tap("Stop the pump")
    ines.heading("After the run")
    ines.pick("Are the covers back on?", "Yes")
    ines.tap("Sign: collected")
    ines.heading("Visit")
    assert ines.rows()[-1]["data"]["flow_before"] == "150"


@pytest.mark.usefixtures("visit")
def test_a_scanner_that_types_finds_the_field(ines: Phone, samples: list[str]) -> None:
    """At the shelf nobody takes a glove off to touch the right field.

    What it typed elsewhere is taken out again.
    """
    ines.tap("Next cassette")
    ines.heading("Cassette")
    where = ines.page.get_by_label("Where exactly")
    where.fill("by the window")
    where.focus()
    ines.scan(f"HTTPS://LEDGER.EXAMPLE/S/{samples[1]}")
    number = ines.page.get_by_label("Number on the label")
    ines.page.get_by_text("not expired").wait_for()
    assert number.input_value().endswith(samples[1])
    assert where.input_value() == "by the window"
    ines.page.go_back()


@pytest.mark.usefixtures("visit")
@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("S5VT4F5V37EK", "At least one character is wrong"),
        ("S5VT4F5", "has 7 characters"),
        ("S5VT4F5V37U0", "never appears in a number"),
    ],
)
def test_a_wrong_number_is_told_at_once(ines: Phone, typed: str, sentence: str) -> None:
    """Found out at the laboratory, the cassette has no number at all (ISO/IEC 7064)."""
    ines.tap("Next cassette")
    ines.heading("Cassette")
    ines.type("Number on the label", typed)
    ines.page.get_by_text(sentence).wait_for()
    ines.page.go_back()
    ines.heading("Visit")


def test_in_a_storm_the_reason_is_signed_on_the_phone_and_nobody_is_sent_outdoors(
    firm: Firm, ines: Phone, zoe: Phone, samples: list[str], visit: str
) -> None:
    """Without a reason from a person on site no exception counts (OC-16), and the phone would go on asking
    for a sample in the lightning.
    """
    ines.collect(samples[3], "indoor")
    ines.page.get_by_text("If it is safe outdoors").wait_for()
    ines.tap("No outdoor control possible")
    ines.page.get_by_text("Never go outdoors into lightning").wait_for()
    judge(ines, "rule-out")
    ines.pick("Why", "lightning")
    ines.tap("Sign: no outdoor control possible")
    ines.heading("Visit")
    ines.page.get_by_text("No outdoor control possible: lightning").wait_for()
    judge(ines, "visit-ruled-out")
    ines.sent()
    row = ines.rows()[-1]
    assert (row["act"], row["state"], row["data"]["reason"]) == (
        "outdoor_ruled_out",
        "registered",
        "lightning",
    )
    assert row["chain"] == f"form/{visit}"
    zoe.go_home()
    zoe.page.locator(f"a[href='#visit/{visit}']").click()
    zoe.see("No outdoor control possible: lightning")


@pytest.mark.usefixtures("visit")
def test_the_air_is_read_where_it_is(ines: Phone) -> None:
    """Temperature and rain would be written on paper on site and typed at night, or never. What cannot be is
    asked back beside its field.
    """
    ines.tap("Conditions on site")
    ines.heading("Conditions on site")
    judge(ines, "conditions")
    ines.pick("Where", "indoors")
    ines.type("Hours since rain ended", "3")
    ines.tap("Sign: conditions read")
    ines.see("Rain is entered outdoors.")
    ines.type("Hours since rain ended", "")
    ines.tap("Sign: conditions read")
    ines.see("Enter what was read.")
    ines.type("Temperature", "70")
    ines.type("Relative humidity", "101")
    ines.tap("Sign: conditions read")
    ines.see("Write degrees like 70 F, or like 21.5 for degrees Celsius.")
    ines.see("Write a number from 0 to 100.")
    ines.type("Temperature", "")
    ines.type("Relative humidity", "")
    ines.type("Air pressure", "29.92")
    ines.tap("Sign: conditions read")
    ines.see("29.92 hPa is thinner than any air that people breathe: 29.92 inHg is 1013.2 hPa.")
    ines.type("Air pressure", "29.92 inHg")
    ines.tap("Sign: conditions read")
    ines.heading("Visit")
    row = ines.rows()[-1]
    assert row["data"] == {"at": row["data"]["at"], "where": "indoors", "pressure_hpa": "1013.2"}
    ines.read_air("outdoors", rain_ended="2.5")
    ines.sent()
    row = ines.rows()[-1]
    assert (row["act"], row["state"]) == ("conditions_read", "registered")
    read = {"where": "outdoors", "temperature_c": "21", "humidity_pct": "45", "rain_ended_h": "2.5"}
    assert row["data"] == {"at": row["data"]["at"], **read}


@pytest.mark.usefixtures("visit")
def test_a_swab_is_signed_where_it_was_taken(ines: Phone, samples: list[str]) -> None:
    """Who takes a swab with a phone in hand writes it on paper, and cuts before reading a caution."""
    ines.tap("Tape, swab or material")
    ines.heading("Tape, swab or material")
    ines.see("asbestos or lead")
    ines.see("Local codes")
    judge(ines, "surface")
    ines.type("Number on the label", samples[-1])
    ines.pick("Taken with, or as", "tape lift")
    ines.pick("Taken with, or as", "swab")
    ines.pick("The swab was", "sterile water")
    ines.pick("Room", "kitchen")
    ines.tap("Sign: collected from a surface")
    ines.pick("Material", "wood")
    ines.type("Area lifted", "25")
    ines.tap("Sign: collected from a surface")
    ines.see("was issued from a lot of cassettes")
    ines.tap("Sign: collected from a surface")
    ines.heading("Visit")
    ines.sent()
    row = ines.rows()[-1]
    assert (row["act"], row["state"]) == ("surface_collected", "registered")
    told = {
        name: row["data"].get(name) for name in ("sample", "medium", "wetted", "room", "material", "area_cm2")
    }
    assert told == {
        "sample": samples[-1], "medium": "swab", "wetted": "sterile_water", "room": "kitchen",
        "material": "wood", "area_cm2": "25",
    }  # fmt: skip
    ines.see("swab")


def test_a_sample_is_collected_again_from_inside_a_wall(
    firm: Firm, ines: Phone, samples: list[str], visit: str
) -> None:
    """Who samples again for the laboratory with a phone in hand would have to correct it at a terminal, and
    how the air was drawn out of a wall would be lost.
    """
    earlier, again, other, never = samples[8:12]
    ines.collect(earlier, "indoor", point="P1")
    first = visit
    ines.go_home()
    form = ines.open_visit()
    ines.collect(other, "indoor", point="P9", room="office")
    ines.tap("Next cassette")
    ines.heading("Cassette")
    ines.type("Number on the label", grouped(again))
    ines.pick("Kind", "indoor")
    ines.pick("Room", "wall cavity")
    for question, answer in (("How the tube got into the cavity", "drilled"), ("The tube was", "new")):
        ines.pick(question, answer)
    ines.type("Length of the tube", "2 ft")
    ines.type("Inner diameter of the tube", "6,4")
    ines.type("How long air was drawn", "0:20")
    ines.pick("Interior or exterior wall", "exterior")
    ines.type("Point on the sketch", "P2")
    ines.type("Maker's serial on the cassette", f"K-{other[-6:]}")
    ines.type("Flow before the run, L/min", "15.0")
    ines.page.get_by_text("More", exact=True).click()
    judge(ines, "cassette-cavity")
    ines.type("Form of that", grouped(first))
    ines.tap("Start the pump")
    ines.see(f"was collected as {grouped(other)} already")
    ines.type("Maker's serial on the cassette", f"K-{again[-6:]}")
    ines.tap("Start the pump")
    ines.see("Needed.")
    ines.type("Form of that", "")
    ines.type("Collected again, in the place of", grouped(again))
    ines.tap("Start the pump")
    ines.see("That is this sample")
    ines.type("Collected again, in the place of", grouped(never))
    ines.tap("Start the pump")
    ines.see("It was not collected on any form that reached the ledger.")
    ines.type("Collected again, in the place of", grouped(earlier))
    ines.tap("Start the pump")
    ines.heading("The pump runs")
    firm.later(1)
    ines.tap("Stop the pump")
    ines.heading("After the run")
    ines.pick("Are the covers back on?", "Yes")
    ines.tap("Sign: collected")
    ines.heading("Visit")
    ines.sent()
    row = ines.rows()[-1]
    assert (row["state"], row["chain"]) == ("registered", f"form/{form}")
    assert (row["data"]["replaces"], row["data"]["replaces_form"]) == (earlier, first)
    assert row["data"]["cavity"] == {
        "opening": "drilled", "tube": "new", "tube_m": "0.6096", "tube_mm": "6.4", "purge_s": 20,
        "side": "exterior",
    }  # fmt: skip


def test_the_laboratory_is_asked_from_the_phone(ines: Phone, visit: str) -> None:
    """The client on site wants it by Friday: written on a piece of paper, the laboratory never reads it."""
    ines.tap("Request of the laboratory")
    ines.heading("Request of the laboratory")
    judge(ines, "request")
    ines.tap("Sign: request of the laboratory")
    ines.see("Enter what is requested.")
    ines.type("Analysis", "spore count")
    ines.type("Turnaround", "2 days")
    ines.type("Last day for the result", "2025-12-07")
    ines.pick("Priority", "rush")
    ines.type("Number of your purchase order", "PO-7")
    ines.type("Who gets the bill", "Perpetua Example")
    ines.tap("Sign: request of the laboratory")
    ines.see("The result would be due on 2025-12-07")
    ines.type("Last day for the result", "2026-12-07")
    ines.tap("Sign: request of the laboratory")
    ines.heading("Visit")
    ines.sent()
    row = ines.rows()[-1]
    asked = {
        "analysis": "spore count",
        "turnaround": "2 days",
        "due": "2026-12-07",
        "priority": "rush",
        "purchase": "PO-7",
    }
    assert (row["act"], row["state"], row["chain"], row["data"]) == (
        "requested",
        "registered",
        f"form/{visit}",
        asked,
    )
    assert len(row["disclosures"]) == 1


@pytest.mark.usefixtures("visit")
def test_what_changes_in_the_building_is_signed_when_it_does(ines: Phone) -> None:
    """Who remembers the open window in the evening does not remember when it was."""
    ines.tap("Building changed")
    ines.heading("Building changed")
    ines.pick("What changed", "Ventilation")
    ines.pick("Now", "fan only")
    ines.pick("What changed", "Windows and outside doors")
    judge(ines, "changed")
    ines.pick("Before", "closed")
    ines.pick("Now", "closed")
    ines.tap("Sign: building changed")
    ines.see("That is no change.")
    ines.pick("Now", "open")
    ines.tap("Sign: building changed")
    ines.heading("Visit")
    ines.sent()
    row = ines.rows()[-1]
    told = {"at": row["data"]["at"], "what": "windows", "was": "closed", "now": "open"}
    assert (row["act"], row["state"], row["data"]) == ("building_changed", "registered", told)


def test_hours_without_the_ventilation_are_asked_for_it(firm: Firm, ines: Phone) -> None:
    """The inspector would be sent to a terminal that is not on site."""
    ines.page.goto(f"{firm.url}/sign/#begin")
    ines.heading("Before you start")
    ines.tap("Home")  # an app that is installed has no other way back
    ines.heading("Ines Marlow")
    ines.page.goto(f"{firm.url}/sign/#opening")
    ines.heading("A new visit")
    ines.page.locator("#bar").get_by_role("link", name="Home").wait_for()
    ines.type("Laboratory (short name)", "quill-lab")
    ines.type("Windows closed", "26")
    ines.tap("Sign: the visit begins")
    is_on_view(ines, ines.page.get_by_text("Choose one."))
    legend = ines.page.get_by_role("group", name="Ventilation").locator("legend").inner_text()
    assert "optional" not in legend, "it is needed where hours are entered"
    ines.pick("Ventilation", "normal")
    ines.pick("Fresh-air exchanger", "off")
    ines.type("Fresh air off", "30")
    ines.sign_opening("analysis", "turnaround")
    ines.sent()
    told = firm.field.get("clerk", f"/forms/{ines.form()}").get_json()
    found = signed_statement.read(ines.rows()[-1]["text"]).claims.data["preparation"]
    assert (found["fresh_air"], found["fresh_air_off_h"]) == ("off", "30")
    assert "VP-05" not in {each["rule"] for each in told["findings"]}


def test_where_a_license_is_needed_it_is_asked_for(firm: Firm, ines: Phone) -> None:
    """Nobody in the office can cure VP-06: the card is in the inspector's pocket."""
    root, listed = firm.field.roots[FIRM], {"jurisdictions": ["US-TX"]}
    firm.field.ok(firm.field.send(root.sign(f"org/{FIRM}", "licensing_set", listed)), root)
    ines.go_home()
    waiting.until(lambda: ines.remembers("brief")["licensing"])
    ines.go("/sign/#opening")
    ines.see("A license to sample is needed in US-TX")
    number = ines.page.get_by_label("Number of your license there")
    ines.type("Laboratory (short name)", "quill-lab")
    ines.type("Jurisdiction of the site", "us-n")
    assert not number.is_visible(), "not needed there"
    ines.type("Jurisdiction of the site", "us-tx")
    ines.type("Number of your license there", "MAC-77")
    ines.type("Expiration date of the license", "2027-06-30")
    judge(ines, "opening-license")
    ines.sign_opening("ventilation", "fresh-air", "analysis", "turnaround")
    ines.sent()
    said = signed_statement.read(ines.rows()[-1]["text"]).claims.data
    assert said["license"] == {"jurisdiction": "US-TX", "number": "MAC-77", "valid_to": "2027-06-30"}
    told = firm.field.get("clerk", f"/forms/{ines.form()}").get_json()
    assert "VP-06" not in {each["rule"] for each in told["findings"]}


def test_a_dropped_cassette_is_void(ines: Phone, samples: list[str], firm: Firm, visit: str) -> None:
    """It would be sealed, shipped and missed at the dock."""
    form = visit
    ines.collect(samples[2], "indoor")
    ines.sent()
    ines.tap("Void a sample")
    ines.pick("Which", grouped(samples[2]))
    ines.pick("Why", "dropped")
    ines.tap("Sign: void")
    done = ines.page.get_by_role("heading", level=1, name="Visit", exact=True)
    remarked = ines.page.get_by_text("The rules would find this")
    done.or_(remarked).first.wait_for()
    if not done.count():  # once more where the ledger remarks something
        ines.tap("Sign: void")
    ines.heading("Visit")
    ines.sent()
    told = firm.field.get("clerk", f"/forms/{form}").get_json()
    assert {each["sample"]: each["void"] for each in told["samples"]}[samples[2]] == "dropped"


def test_a_wrong_clock_is_told_and_the_service_is_asked_all_the_same(firm: Firm, browser: Browser) -> None:
    """Twenty minutes fast, and every token has run out while every run seems to have ended
    before it began.
    """
    late = firm.phone(browser, "Tessa Vale", "inspector")
    late.page.clock.fast_forward(20 * 60_000)
    late.page.reload()
    late.page.get_by_text("This clock differs from the ledger's by 20 min").wait_for()
    late.page.get_by_text("Works without a network").wait_for()
    assert late.remembers("skew") < -1170
    late.context.set_offline(True)
    late.page.reload()
    late.page.get_by_text("This clock differs from the ledger's by 20 min").wait_for()
    form = late.open_visit()
    late.context.set_offline(False)
    late.page.evaluate("dispatchEvent(new Event('online'))")
    late.sent()
    skew = signed_statement.read(late.rows()[0]["text"]).claims.skew
    assert -1230 < skew < -1170, "what was signed records by how much the clock was wrong"
    record = firm.field.get("clerk", f"/pages/forms/{form}").text
    assert f"by a clock {clock_words(skew)}" in record
    firm.phones.remove(late)
    late.context.close()


def test_an_app_that_is_not_whole_does_not_say_that_it_works_without_a_network(
    firm: Firm, browser: Browser
) -> None:
    """The browser dropped one file of the app, the brief is still there, and in the basement a screen does
    not open. With a network the file comes back, and only then it is said.
    """
    port = int(firm.url.rpartition(":")[2])
    with TcpProxy(("127.0.0.1", port)) as network:  # a browser's switch cuts off no worker
        before = replace(firm, url=f"http://{network.host}:{network.port}")
        phone = before.phone(browser, "Nell Frame", "inspector")
        phone.see("Works without a network")
        network.cut()
        assert phone.evaluate("""async () => {
            const [name] = (await caches.keys()).filter(each => each.startsWith("bailee-sign-"));
            const cache = await caches.open(name);
            const kept = await cache.keys();
            return cache.delete(kept.find(({ url }) => url.endsWith("/mark.png")));
        }""")
        phone.page.reload()
        phone.heading("Nell Frame")
        phone.see("Not all of this app is kept on this phone")
        assert not phone.page.get_by_text("Works without a network").count()
        network.forward()
        phone.evaluate("() => void dispatchEvent(new Event('online'))")
        phone.see("Works without a network")
        assert not phone.page.get_by_text("Not all of this app").count()
        phone.context.close()
    firm.phones.remove(phone)


def test_a_new_edition_waits_until_it_is_taken_up(
    firm: Firm, browser: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the middle of a run nothing changes under the inspector's thumb.

    And nothing of two editions is mixed.
    """
    from bailee.web import sign_app

    phone = firm.phone(browser, "Uma Frost", "inspector")
    old = sign_app.edition()
    phone.page.reload()
    phone.page.evaluate("navigator.serviceWorker.ready.then(() => null)")
    files = dict(old.files)
    files["words.js"] = files["words.js"].replace(b"Begin a visit", b"Start a visit")
    new = sign_app.Edition(sign_app.digest(files), files)
    monkeypatch.setattr(sign_app, "edition", lambda: new)
    sign_app._content.cache_clear()
    sign_app._packed.cache_clear()
    phone.page.reload()
    phone.page.get_by_role("link", name="Begin a visit").wait_for()
    phone.page.get_by_text("A new edition of this app is ready").wait_for()
    phone.tap("Use it")
    phone.page.get_by_role("link", name="Start a visit").wait_for()
    phone.page.goto(f"{firm.url}/sign/#signed")
    phone.page.get_by_text(new.digest).wait_for()
    monkeypatch.undo()
    sign_app._content.cache_clear()
    sign_app._packed.cache_clear()
    firm.phones.remove(phone)
    phone.context.close()
