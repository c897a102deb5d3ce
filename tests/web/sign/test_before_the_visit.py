"""Where to sample, whether the kit will do, what is due, and an envelope that goes with a courier: on the
phone, from what it keeps where no network is.

What the phone reckons is what the terminal does (`bailee.rules.checks.kit`, `bailee.planning.sampling_plan`).
"""

from __future__ import annotations

import random
from dataclasses import asdict
from datetime import UTC, date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import pytest
from test_screens import judge

from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.domain.policy import Policy
from bailee.planning import sampling_plan
from bailee.planning.sampling_plan import Place, Wishes
from bailee.rules.checks import kit
from bailee.rules.checks.kit import Carried, Cassettes, Instrument, LotSeen
from field import FIRM

if TYPE_CHECKING:
    from phones import Firm, Phone
    from playwright.sync_api import Browser, Route

    from conftest import Modules

pytestmark = pytest.mark.slow

DAY = date(2026, 12, 1)


def policy(chance: random.Random) -> Policy:
    """A firm's own limits."""
    return Policy.of(
        expiry_grace_days=chance.choice([0, 0, 3]),
        expiry_near_days=chance.choice([0, 30]),
        same_lot_wanted=chance.choice([True, False]),
        meter_certificate_block=chance.choice([True, False]),
        min_cassettes=chance.choice([3, 5]),
        min_indoor=chance.choice([1, 2, 3]),
        min_outdoor=chance.choice([1, 2]),
        min_blanks=chance.choice([0, 1]),
        samples_per_blank=chance.choice([2, 20]),
        min_reference=chance.choice([0, 1, 2]),
        spare_cassettes=chance.choice([0, 2]),
    )


def carried(chance: random.Random, number: int) -> Carried:
    """A cassette as it may be found in a kit."""
    expires = chance.choice([None, DAY + timedelta(days=chance.randrange(-5, 40))])
    lot = LotSeen(
        f"M{chance.randrange(3)}",
        expires,
        recalled=not chance.randrange(6),
        kind=chance.choice(["slit"] * 5 + ["tape", "container"]),
    )
    return Carried(
        f"S{number:02d}",
        chance.choice([lot, lot, None]),
        scans=chance.choice([1, 1, 1, 2]),
        is_looked_up=bool(chance.randrange(3)),
        is_used=not chance.randrange(6),
        is_mine=chance.choice([None, True, False]),
        visit=chance.choice([None, DAY, DAY + timedelta(days=1)]),
    )


def told(each: Carried) -> dict[str, Any]:
    """The same, as the phone has it."""
    lot = each.lot and {
        "lot": each.lot.number,
        "expires": each.lot.expires.isoformat() if each.lot.expires else None,
        "recalled": each.lot.recalled,
        "cassette": each.lot.kind,
    }
    return {
        "number": each.number,
        "lot": lot,
        "scans": each.scans,
        "isLookedUp": each.is_looked_up,
        "isUsed": each.is_used,
        "isMine": each.is_mine,
        "visit": each.visit.isoformat() if each.visit else None,
    }


def test_a_kit_is_judged_as_at_the_terminal(modules: Modules) -> None:
    """A phone that calls a kit ready, and the rules stop the envelope, costs the whole visit."""
    chance = random.Random(19)
    cases, wanted = [], []
    for _ in range(400):
        limits = policy(chance)
        needed = Cassettes(*(chance.randrange(3) for _ in range(5)))
        all_carried = [carried(chance, n) for n in range(chance.randrange(6))]
        instruments = [
            Instrument(kind, f"{kind}-1", chance.choice(["", "was valid to Monday", None]))
            for kind in chance.choice([(), ("pump",), ("pump", "meter")])
        ]  # fmt: skip
        wanted.append(kit.check(all_carried, instruments, DAY, needed, limits))
        cases.append(
            [
                [told(each) for each in all_carried],
                [{"kind": each.kind, "id": each.id, "whyNot": each.why_not} for each in instruments],
                DAY.isoformat(),
                asdict(needed),
                limits.to_data(),
            ]
        )
    seen = set()
    for answer, found in zip(wanted, modules.call("core/kit.js", "check", cases), strict=True):
        said = [(each["rule"], each["severity"], each["about"]) for each in found["findings"]]
        assert sorted(said) == sorted((each.rule, each.severity, each.about) for each in answer.findings)
        assert [each[1:] for each in said] == [(each.severity, each.about) for each in answer.findings]
        assert (found["good"], len(found["unchecked"])) == (answer.good, len(answer.unchecked))
        seen |= {each["code"] for each in found["findings"]}
    assert len(seen) == 14, seen


def test_the_order_of_places_is_the_terminals(modules: Modules) -> None:
    """Two orders for one house, and the client asks which of them was the plan."""
    chance = random.Random(20)
    cases, wanted = [], []
    for _ in range(400):
        limits = policy(chance)
        places = [
            Place(
                name=f"place {n}",
                visible_growth=not chance.randrange(4),
                active_leak=not chance.randrange(4),
                past_moisture=not chance.randrange(4),
                complaint=not chance.randrange(4),
                musty_odor=not chance.randrange(4),
                asked_for=not chance.randrange(4),
                hours_a_day=Decimal(chance.choice(["0", "2", "2.5", "10"])),
                space=chance.choice(["conditioned", "conditioned", "attic"]),
                reason=chance.choice([None, "client_request"]),
            )
            for n in range(chance.randrange(8))
        ]
        wishes = Wishes(
            chance.choice([None, 1, 4]),
            chance.choice([None, Decimal("4.5")]),
            chance.randrange(3),
            chance.randrange(3),
            chance.randrange(2),
        )
        wanted.append(sampling_plan.plan(places, limits, wishes))
        asked = asdict(wishes) | {"visit_h": str(wishes.visit_h) if wishes.visit_h else None}
        spoken = [vars(each) | {"hours_a_day": str(each.hours_a_day)} for each in places]
        cases.append([spoken, limits.to_data(), asked])
    for answer, found in zip(wanted, modules.call("core/kit.js", "plan", cases), strict=True):
        order = [(each["place"]["name"], each["role"]) for each in found["advice"]]
        assert order == [(each.place, each.role) for each in answer.advice]
        assert found["cassettes"] == asdict(answer.cassettes)
        assert (len(found["lacking"]), len(found["notes"])) == (len(answer.lacking), len(answer.notes))


def test_the_days_before_on_a_phone(firm: Firm, ines: Phone) -> None:
    """Asked in the stairwell without a network, the kit and the plan are on a terminal at the office."""
    _, samples = firm.field.lot(5)
    page = ines.page
    ines.go_home()
    ines.tap("What is due")
    ines.heading("What is due")
    judge(ines, "chase")
    ines.context.set_offline(True)
    page.goto(f"{firm.url}/sign/#home")
    page.reload()
    ines.tap("What is due")
    page.get_by_text("No network: as of").wait_for()
    ines.tap("Home")
    ines.tap("Where to sample")
    ines.heading("Where to sample")
    for name, sign in (("kitchen", None), ("basement", "it smells musty"), ("attic", "growth is visible")):
        ines.type("Place", name)
        if sign:
            ines.pick("What is known of it", sign)
        if name == "attic":
            ines.pick("Space", "attic")
        ines.tap("Add this place")
        page.get_by_role("button", name=f"Remove {name}").wait_for()
        if name != "attic":
            page.locator("summary", has_text="Add a place").click()
    places = page.locator("ol.rows strong").all_inner_texts()
    assert places == ["1 basement: sample", "2 kitchen: sample as reference", "3 attic: leave out"]
    page.get_by_text("Carry 4 cassettes: 2 indoor, 1 outdoor, 1 spare.").wait_for()
    judge(ines, "plan")
    ines.tap("Check the kit")
    ines.heading("The kit")
    for each in samples[:3]:
        ines.type("Number on the label", grouped(each))
        page.locator(".rows").get_by_text(grouped(each)).wait_for()
    ines.type("Pump", "P-1")
    ines.tap("Check it")
    page.get_by_text("Nothing found stops this kit").wait_for()
    page.get_by_text("judged by what this phone last read of the lot").wait_for()
    judge(ines, "kit")
    ines.context.set_offline(False)
    ines.type("Number on the label", grouped(firm.field.number("sample")))
    ines.tap("Check it")
    page.get_by_text("Kit not ready").wait_for()
    page.get_by_text("was never issued here").wait_for()
    assert ines.rows() == [], "nothing of this is signed"
    assert ines.complaints == []


@pytest.fixture(scope="module")
def lena(firm: Firm, browser: Browser) -> Phone:
    """A clerk's phone."""
    return firm.phone(browser, "Lena Gray", "clerk")


def sealed(firm: Firm, taker: Phone) -> tuple[str, str, list[str]]:
    """An envelope that the firm's clerk sealed and gave to a colleague: form, envelope, samples."""
    at_home, before = firm.field, firm.field.clock.now
    lot, samples = at_home.lot(3)
    form = at_home.open_form()
    for sample, kind in zip(samples, ("indoor", "indoor", "outdoor"), strict=True):
        at_home.collect(form, lot, sample, kind)
    at_home.hand_to_clerk(form, samples)
    envelope = at_home.number("envelope")
    assert at_home.seal(envelope, samples, at_home.number("seal"))["ready"]
    at = Moment(at_home.clock().astimezone(UTC), -300).text()
    given = {"samples": samples, "count": 3, "to": FIRM, "to_kid": taker.kid, "at": at, "purpose": "shipping"}
    at_home.act("clerk", f"form/{form}", "relinquished", given)
    passed = at_home.clock.now - before
    for each in firm.phones:
        each.page.clock.fast_forward(int(passed.total_seconds() * 1000))
    firm.later(2)
    return form, envelope, samples


def test_an_envelope_goes_with_a_courier_who_has_no_key(firm: Firm, lena: Phone) -> None:
    """The neighbor drives it to the laboratory, and the record knows of nobody who carried it."""
    form, envelope, samples = sealed(firm, lena)
    page = lena.page
    lena.go_home()
    lena.tap("Receive samples")
    for each in samples:
        lena.type("Number on the label", grouped(each))
        lena.pick(grouped(each), "intact")
    lena.type("Form number", grouped(form))
    lena.pick("Purpose", "shipping")
    lena.tap("Sign: 3 samples received")
    lena.heading("Visit")
    lena.sent()
    page.goto(f"{firm.url}/sign/#home")
    lena.tap("Envelope to a courier")
    lena.type("Number on the envelope", grouped(envelope))
    judge(lena, "carry-which")
    lena.tap("Next")
    page.get_by_text("Name of the person who carries it").wait_for()
    lena.type("Name of the person who carries it", "Bram Fell")
    lena.pick("What they are to your firm", "employee")
    lena.pick("Was an identity document looked at?", "Yes")
    lena.type("Number of the receipt slip", "R-77")
    lena.type("When it is expected at the dock", "2026-12-01 16:30")
    lena.see(grouped(form), "main")
    other = firm.field.open_form()

    def more(route: Route) -> None:
        """A service that has it signed on a visit that nobody sees here."""
        answer = route.fetch()
        told = answer.json()
        told["statements"] += [each | {"sub": f"form/{other}"} for each in told["statements"]]
        route.fulfill(response=answer, json=told)

    page.route("**/readiness", more)
    lena.tap("Sign: given to the courier")
    otherwise = page.get_by_text("What the ledger prepared is not what you entered")
    asked = page.get_by_text("If it is to leave all the same")
    otherwise.or_(asked).first.wait_for()
    if asked.is_visible():
        lena.tap("Sign: given to the courier")
    otherwise.wait_for()
    assert not [each for each in lena.rows() if each["act"] == "shipped"]
    page.unroute_all()
    lena.tap("Sign: given to the courier")
    done = page.get_by_role("heading", level=1, name="Signed here")
    again = page.get_by_text("If it is to leave all the same")
    done.or_(again).first.wait_for()
    if again.is_visible():
        judge(lena, "carry")
        lena.tap("Sign: given to the courier")
    lena.heading("Signed here")
    lena.sent()
    told = firm.field.get("clerk", f"/envelopes/{envelope}").get_json()
    assert told["shipped"]["by_hand"] is True
    assert "Bram Fell" in told["courier"]
    (row,) = [each for each in lena.rows() if each["act"] == "shipped"]
    assert "Bram" not in str(row["data"]), "a name stays out of the log"
    assert row["data"]["courier"] == {"relation": "employee", "named": True, "id_seen": True, "slip": "R-77"}
    assert row["chain"] == f"form/{form}"
    assert FIRM in firm.field.get("clerk", f"/forms/{form}").text
    assert lena.complaints == []
