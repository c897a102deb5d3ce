"""Whose fault it is signs it away: the firm that its envelope has arrived, another that its pump was checked,
the office that it was there, and anybody with a time long past.

That each party accounts for its own custody: common practice, no source. Late entries are told: ALCOA
(contemporaneous), by summary.
"""

from __future__ import annotations

from typing import Any

import pytest
import sqlalchemy as sa
from promises import promised

from bailee.domain.moments import Moment
from bailee.ledger.checkpoint import parse_vkey
from bailee.operations import maintenance
from bailee.planning import due_list
from bailee.store import number_index, schema, unanswered
from bailee.verify import bundle
from bailee.verify.verifier import Trust, verify
from builders import (
    CLERK,
    CUSTODIAN,
    DAY,
    LAB_QUALITY,
    QUALITY,
    SECOND_CUSTODIAN,
    SECOND_LAB,
    Story,
    findings,
    visit,
)
from field import FIRM, LAB, OUTSIDER, Field

WEEKS_LATER = "2026-12-20T09:00:00-06:00"
UNREAD: dict[str, Any] = {"flow_before": None, "flow_after": None}


def rules(story: Story, *asked: str, at: str | None = None) -> list[str]:
    """Which of these rules find something."""
    return [found.rule for found in findings(story.case(at=at) if at else story.case(), *asked)]


def unread() -> Story:
    """A visit on which nobody read the flow of the pump."""
    return visit("collected", first=UNREAD, second=UNREAD, outdoor=UNREAD)


def test_a_sender_does_not_sign_that_its_lost_envelope_arrived() -> None:
    """Nobody looks for samples that lie in a ditch, since the sender's own clerk took them in."""
    promised("signs their own fault away", "it counts for nothing", "RC-13", "RC-21", "PV-02", "OC-16")
    story = visit("shipped")
    late = "2026-12-07T12:00:00-06:00"
    story.taken_in(by=CLERK)
    assert rules(story, "RC-13", "SH-10", at=late) == ["RC-13", "SH-10"]


def test_a_sender_does_not_open_its_lost_envelope_at_a_dock_of_its_own() -> None:
    """The envelope lies in a ditch, its sender signs the whole dock, seal and count, and no list misses it
    any more; and what the laboratory finds later comes second.
    """
    story = visit("shipped")
    late = "2026-12-07T12:00:00-06:00"
    story.docked(by=CLERK)
    assert rules(story, "RC-13", "SH-10", at=late) == ["RC-13", "SH-10"]
    state = story.state()
    assert state.envelopes[story.envelope].arrived is None
    assert {sample.status for sample in state.samples.values()} == {"shipped"}
    assert any("This entry is not a receipt" in found.sentence for found in findings(story.case(), "RC-13"))
    story.docked(dock={"seal_state": "broken"}, at=late)
    assert "RC-01" in rules(story, "RC-01")


def test_a_firm_takes_back_no_rejection_of_its_laboratory() -> None:
    """An outdoor control was rejected. The firm's own quality role accepts it, with a number of the
    laboratory, and the comparison is without fault; or disposes of it, and nothing said later brings it back.
    """
    story = visit("docked")
    story.rejected()
    assert rules(story, "OC-11", "RC-21") == ["OC-11"]
    story.accepted(by=QUALITY, said="2026-12-02T12:30:00-06:00")
    story.disposed(by=QUALITY)
    assert rules(story, "OC-11", "RC-21") == ["OC-11", "RC-21", "RC-21"]
    assert {(each.status, each.lab_number) for each in story.state().live} == {("rejected", None)}
    story.accepted(by=LAB_QUALITY, at="2026-12-02T13:30:00-06:00")
    assert rules(story, "OC-11") == []


def test_a_laboratory_that_was_sent_one_sample_on_decides_on_no_other() -> None:
    """The second laboratory answers for what it was sent; what stayed is for the first."""
    story = visit("docked")
    story.second_laboratory()
    story.forwarded(story.samples[0])
    story.rejected([story.samples[1]], by=SECOND_CUSTODIAN)
    assert rules(story, "RC-21") == ["RC-21"]
    assert story.state().samples[story.samples[1]].status == "received"


@pytest.mark.parametrize("upto", ["collected", "shipped"])
def test_a_laboratory_voids_nothing_that_it_never_received(upto: str) -> None:
    """The envelope lies in a ditch behind the laboratory, its quality role voids what was in it, and nobody
    looks for it any more.
    """
    story = visit(upto)
    for number in story.samples[:3]:
        story.voided(number, by=LAB_QUALITY, reason="lost", said=WEEKS_LATER)
    assert [each.number for each in story.state().live] == story.samples[:3]
    told = findings(story.case(), "RC-21")
    assert {each.severity for each in told} == {"flag"}
    assert "was voided on" in told[0].sentence
    assert told[0].sentence.endswith("; it was not with quill-lab. This entry counts for nothing.")
    assert "The laboratory records when and how it received them." in told[0].remedy
    waits = due_list.chase(story.case(at=WEEKS_LATER), (), ())
    assert [each.overdue for each in waits] == [True]


def test_a_laboratory_voids_what_it_received_or_missed_in_an_envelope_that_it_opened() -> None:
    """What was spoilt at the bench, or was not in the envelope, could never be closed by those who know."""
    story = visit("shipped")
    story.docked(story.samples[:2], dock={"total": 2})
    story.voided(0, by=CUSTODIAN, said="2026-12-03T09:00:00-06:00")
    story.voided(2, by=CUSTODIAN, reason="lost", said="2026-12-03T09:00:00-06:00")
    assert [each.number for each in story.state().live] == story.samples[1:2]
    unopened = visit("shipped")
    unopened.taken_in()
    unopened.voided(0, by=CUSTODIAN, said="2026-12-03T09:00:00-06:00")
    assert [each.number for each in unopened.state().live] == unopened.samples[1:3]
    assert rules(story, "RC-21") + rules(unopened, "RC-21") == []


def left(field: Field) -> set[str]:
    """What the index of open forms has."""
    with field.ledger.database.reading() as connection:
        return set(connection.execute(sa.select(schema.unanswered.c.sample)).scalars())


def shipped(field: Field) -> tuple[str, str, list[str]]:
    """A form with three samples, in an envelope that is five days late; and the laboratory's quality role."""
    form, envelope, samples, _ = field.sealed_visit()
    field.ship(envelope)
    field.people["lab quality"] = field.device("lab quality", LAB)
    field.enroll(field.people["lab quality"], "quality")
    field.clock.advance(hours=24 * 5)
    return form, envelope, samples


@pytest.mark.parametrize("act", ["voided", "rejected"])
def test_a_late_envelope_is_chased_whatever_its_laboratory_voids_or_rejects(field: Field, act: str) -> None:
    """The form left the list of the firm with it, and its envelope with that. The same after the receipt is
    to take it off the list.
    """
    form, envelope, samples = shipped(field)

    def signed() -> None:
        at = Moment(field.clock(), -360).text()
        each_void = [{"sample": sample, "reason": "other"} for sample in samples]
        said = each_void if act == "voided" else [{"samples": samples, "at": at, "reasons": ["other"]}]
        for data in said:
            field.act("lab quality", f"form/{form}", act, data)

    signed()
    for _ in range(2):
        (due,) = field.get("clerk", "/chase").get_json()["items"]
        assert (due["kind"], due["about"], due["overdue"]) == ("not received", envelope, True)
        assert left(field) == set(samples)
        field.ledger.database.write(maintenance.rebuild)
    field.dock(form, envelope, samples[:2], None, seal_state="missing", total=2)
    signed()
    assert left(field) == set()
    shown = field.get("clerk", f"/forms/{form}").get_json()
    assert {each["void"] for each in shown["samples"]} == {"other" if act == "voided" else None}


def test_what_an_inspector_still_has_is_chased_whatever_its_laboratory_decides(field: Field) -> None:
    """It lies in a car, the laboratory rejects it, and the list of the firm is empty. Received from hand to
    hand, and decided on then, it is on no list.
    """
    lot, samples = field.lot(1)
    form = field.open_form()
    field.collect(form, lot, samples[0])
    field.clock.advance(hours=30)
    at = Moment(field.clock(), -360).text()
    said = {"samples": samples, "at": at, "reasons": ["other"]}
    field.act("dock", f"form/{form}", "rejected", said)
    (due,) = field.get("clerk", "/chase").get_json()["items"]
    assert (due["kind"], due["about"], due["overdue"]) == ("not secured", samples[0], True)
    assert "CU-20" in {each["rule"] for each in field.get("clerk", f"/forms/{form}").get_json()["findings"]}
    items = [{"sample": samples[0], "condition": ["intact"]}]
    field.act(
        "dock", f"form/{form}", "received", {"items": items, "count": 1, "at": at, "purpose": "analysis"}
    )
    field.act("dock", f"form/{form}", "rejected", said)
    assert (left(field), field.get("clerk", "/chase").get_json()["items"]) == (set(), [])


def test_a_laboratory_disposes_of_nothing_that_a_carrier_has(field: Field) -> None:
    """The envelope is lost, its samples are signed as destroyed, and nobody asks the carrier any more."""
    form, envelope, samples = shipped(field)
    at = Moment(field.clock(), -360).text()
    gone = {"samples": samples, "at": at, "how": "destroyed"}
    field.act("lab quality", f"form/{form}", "disposed", gone)
    (due,) = field.get("clerk", "/chase").get_json()["items"]
    assert (due["kind"], due["about"], left(field)) == ("not received", envelope, set(samples))
    shown = field.get("clerk", f"/forms/{form}").get_json()
    assert {each["status"] for each in shown["samples"]} == {"shipped"}
    (told,) = [each["sentence"] for each in shown["findings"] if each["rule"] == "RC-21"]
    assert told.endswith("they were not with quill-lab. This entry counts for nothing.")
    field.dock(form, envelope, samples, None, seal_state="missing")
    field.act("lab quality", f"form/{form}", "disposed", gone)
    assert left(field) == set()


def test_a_firm_sends_nothing_on_that_its_laboratory_has() -> None:
    """The firm's own quality role signs that an accepted sample went elsewhere under a new number: the
    decision would be gone, and a laboratory of its choice would read and write the form.
    """
    story = visit("accepted")
    number = story.samples[0]
    story.forwarded(number, by=QUALITY)
    form = story.state()
    assert rules(story, "RC-21", "CU-02") == ["RC-21"]
    assert (form.samples[number].status, form.samples[number].child) == ("accepted", None)
    assert (story.samples[-1] in form.samples, SECOND_LAB in form.parties) == (False, False)
    (told,) = [each.sentence for each in findings(story.case(), "RC-21") if each.rule == "RC-21"]
    assert "was sent to another laboratory on" in told
    assert "quill-lab decides. This entry counts for nothing." in told


def test_a_firm_to_which_a_sample_was_sent_on_sends_it_no_further() -> None:
    """The receiver would be no party and could never sign for it: the sample was gone from every list, and no
    rule said why.
    """
    story = visit("accepted")
    story.forwarded(0, to=FIRM)
    child = story.samples[-1]
    story.received([child], by=QUALITY, at="2026-12-04T09:00:00-05:00", purpose="analysis")
    assert rules(story, "RC-21") == []
    story.forwarded(child, by=QUALITY, at="2026-12-05T09:00:00-05:00")
    form = story.state()
    assert (form.samples[child].status, form.samples[child].child) == ("collected", None)
    assert (story.samples[-1] in form.samples, SECOND_LAB in form.parties) == (False, False)
    (told,) = [each.sentence for each in findings(story.case(), "RC-21") if each.rule == "RC-21"]
    assert "quill-lab decides. This entry counts for nothing." in told


def test_a_firm_makes_nobody_a_party_by_sending_on(field: Field) -> None:
    """A stranger would read a form, and write on it, by the word of the firm alone; and the chase list would
    look for ever for a number that no one has.
    """
    lot, samples = field.lot(1)
    form = field.open_form()
    field.collect(form, lot, samples[0])
    child = field.number("sample")
    data = {
        "items": [{"sample": samples[0], "child": child, "item": "slide", "condition": ["opened"]}],
        "count": 1,
        "to": OUTSIDER,
        "purpose": "analysis",
        "at": Moment(field.clock(), -300).text(),
    }
    field.act("quality", f"form/{form}", "forwarded", data)
    with field.ledger.database.reading() as connection:
        assert number_index.parties(connection, f"form/{form}") == {FIRM, LAB}
        left = connection.execute(sa.select(schema.unanswered.c.sample)).scalars().all()
    assert left == samples
    assert field.get("quality", f"/samples/{child}").status_code == 404
    trust = Trust({org: root.key.kid for org, root in field.roots.items()}, (parse_vkey(field.ledger.vkey),))
    file = field.get("clerk", f"/forms/{form}/bundle").text
    report = verify(bundle.read(file), trust, field.ledger.now())
    assert (report.faults, "RC-21" in {each.rule for each in report.findings}) == ((), True)


def test_a_second_laboratory_takes_no_sample_off_the_list_that_stayed_at_the_first(field: Field) -> None:
    """It rejects what it was never sent, the rules count that for nothing, and nobody chases the first any
    more.
    """
    lot, samples = field.lot(2)
    form = field.open_form()
    for sample in samples:
        field.collect(form, lot, sample)
    root, second = (field.device(f"third {role}", OUTSIDER) for role in ("root", "custodian"))
    field.roots[OUTSIDER], field.people["third"] = root, second
    founded = {"name": "Third Party", "jwk": root.key.jwk}
    field.ok(field.send(root.sign(f"org/{OUTSIDER}", "founded", founded)), root)
    field.enroll(second, "custodian")
    child = field.number("sample")
    at = Moment(field.clock(), -300).text()
    data = {
        "items": [{"sample": samples[0], "child": child, "item": "slide", "condition": ["opened"]}],
        "count": 1,
        "to": OUTSIDER,
        "purpose": "analysis",
        "at": at,
    }

    def received(who: str, *numbers: str) -> None:
        items = [{"sample": each, "condition": ["intact"]} for each in numbers]
        taken = {"items": items, "count": len(items), "at": at, "purpose": "analysis"}
        field.act(who, f"form/{form}", "received", taken)

    received("dock", *samples)
    field.act("dock", f"form/{form}", "forwarded", data)
    received("third", child)
    said = {"at": at, "reasons": ["other"]}

    def left() -> set[str]:
        with field.ledger.database.reading() as connection:
            return set(connection.execute(sa.select(schema.unanswered.c.sample)).scalars())

    field.act("third", f"form/{form}", "rejected", {"samples": [samples[1], child], **said})
    field.act("third", f"form/{form}", "voided", {"sample": samples[1], "reason": "lost"})
    assert left() == set(samples)
    shown = field.get("clerk", f"/forms/{form}").get_json()
    assert {each["sample"]: each["void"] for each in shown["samples"]}[samples[1]] is None
    assert any("was voided on" in each["sentence"] for each in shown["findings"] if each["rule"] == "RC-21")
    field.act("dock", f"form/{form}", "rejected", {"samples": samples, **said})
    assert left() == set()
    other = field.number("sample")
    items = [{"sample": samples[1], "child": other, "item": "slide", "condition": ["opened"]}]
    field.act("third", f"form/{form}", "forwarded", {**data, "items": items, "to": LAB})
    assert field.get("dock", f"/samples/{other}").status_code == 404


def test_nobody_stops_looking_for_samples_on_which_their_own_firm_decided(field: Field) -> None:
    """The sender rejects what lies in a ditch, and the laboratory's list misses it no more."""
    lot, samples = field.lot(1)
    form = field.open_form()
    field.collect(form, lot, samples[0])
    said = {"samples": samples, "at": Moment(field.clock(), -300).text()}
    asked = {"act": "rejected", "data": {**said, "reasons": ["other"]}}
    told = field.post("quality", "/readiness", asked).get_json()
    assert (told["ready"], {each["rule"] for each in told["findings"]}) == (False, {"RC-21"})
    field.act("quality", f"form/{form}", "rejected", {**said, "reasons": ["other"]})
    field.act("quality", f"form/{form}", "disposed", {**said, "how": "destroyed"})
    with field.ledger.database.reading() as connection:
        assert unanswered.open_forms(connection, FIRM, 9, 9) == ([form], 0)


def test_a_sender_who_opened_its_own_envelope_has_broken_its_seal() -> None:
    """Looked into at a depot and closed again, it would travel on under a seal that keeps nothing."""
    story = visit("shipped")
    story.docked(by=CLERK, at="2026-12-01T18:00:00-05:00")
    story.docked()
    assert rules(story, "CU-05") == ["CU-05"]


@pytest.mark.parametrize("by_hand", [False, True])
def test_a_sender_does_not_put_off_the_hour_from_which_its_envelope_is_missed(by_hand: bool) -> None:
    """It went astray, the clerk had signed that it is expected next year, and no list ever named it."""
    at = "2026-12-03T16:00:00-06:00"
    driven = {"by_hand": True, "tracking": None, "service_days": 0} if by_hand else {}
    story = visit("shipped", shipped=driven | {"expected_receipt": "2027-12-01T10:30:00-06:00"})
    (hit,) = findings(story.case(at=at), "SH-10")
    assert "2026-12-02 10:30" in hit.sentence
    found = due_list.chase(story.case(at=at), (), ())
    (due,) = [each for each in found if each.kind == "not received"]
    assert due.overdue
    sooner = visit("shipped", shipped=driven | {"expected_receipt": "2026-12-02T09:00:00-06:00"})
    (hit,) = findings(sooner.case(at=at), "SH-10")
    assert "2026-12-02 09:00" in hit.sentence


def test_a_sender_does_not_shorten_the_weekend_before_the_dock() -> None:
    """Three days outside the door and 145 hours of age are gone, by the word of who shipped too late."""
    story = visit("shipped")
    story.taken_in(by=CLERK)
    delivered, opened = "2026-12-04T18:15:00-06:00", "2026-12-07T09:00:00-06:00"
    story.docked(dock={"delivered": delivered, "seal_state": "broken"}, at=opened)
    assert rules(story, "RC-01", "RC-08", "SH-02") == ["RC-01", "RC-08", "SH-02"]


def test_a_sender_does_not_take_the_place_of_the_laboratory_that_saw_a_broken_seal() -> None:
    """The first taking-in counts: signed by the sender, it puts what the laboratory saw aside."""
    story = visit("shipped")
    story.taken_in(by=CLERK)
    story.taken_in(seal_state="broken")
    assert rules(story, "RC-01", "CU-02") == ["RC-01"]


def test_another_organization_does_not_check_the_pump_of_a_firm() -> None:
    """Each organization has a PUMP-1 of its own: a reading of the laboratory's is no reading
    of the firm's.
    """
    story = unread()
    story.pump_checked(by=CUSTODIAN)
    story.pump_checked(by=CUSTODIAN, when="after", flow="14.8", at=f"{DAY}T16:30:00-05:00")
    assert rules(story, "PV-02") == ["PV-02"]


@pytest.mark.parametrize("act", ["pump_checked", "outdoor_ruled_out"])
def test_a_check_of_that_morning_signed_weeks_later_is_told_as_late(act: str) -> None:
    """An empty field is filled in before the audit, and nothing shows that it was not written on the day."""
    promised("dates something back", "named as a late entry (CU-15)")
    story = unread()
    getattr(story, act)(said=WEEKS_LATER)
    (late,) = findings(story.case(at=WEEKS_LATER), "CU-15")
    assert late.severity == "warn"
    assert f"what was {act.replace('_', ' ')} on" in late.sentence


def test_a_call_of_last_month_signed_today_is_told_as_late() -> None:
    """Who forgot to tell of a recall writes a date before the day on which it was due."""
    story = visit("shipped")
    story.notified(story.lots[0], at="2026-12-03T10:00:00-06:00", said=WEEKS_LATER)
    assert [each.severity for each in findings(story.case(at=WEEKS_LATER), "CU-15")] == ["warn"]


def test_what_is_checked_tomorrow_is_no_check() -> None:
    """A time after the ledger's own is told of every act that says when it was done."""
    story = unread()
    story.pump_checked(at=f"{DAY}T16:30:00-05:00", when="after", said=f"{DAY}T10:00:00-05:00")
    assert rules(story, "CU-09") == ["CU-09"]


def excused(story: Story) -> list[str]:
    """Whether the quality role, in the office, may allow that there is no outdoor control."""
    story.excepted("OC-01", story.form, reason="outdoor_impossible")
    return rules(story, "OC-16")


def indoors() -> Story:
    """A visit without an outdoor control."""
    story = visit("opened")
    for each in range(2):
        story.collected(each)
    return story


def test_who_watched_a_packing_was_not_on_site() -> None:
    """The office excuses its own visit: a witness of anything at all passed for one who stood
    in the storm.
    """
    story = indoors()
    packed = story.held()
    story.say("witnessed", {"statements": [packed.digest]}, {}, by=QUALITY, at=f"{DAY}T15:00:00-05:00")
    assert excused(story) == ["OC-16"]


def test_who_checked_a_pump_in_the_office_was_not_on_site() -> None:
    """Pumps are checked at the bench in the morning."""
    story = indoors()
    story.pump_checked(by=QUALITY)
    assert excused(story) == ["OC-16"]


def test_a_laboratory_does_not_say_that_no_control_could_be_collected() -> None:
    """An obliging laboratory, a thousand miles away, says that it stormed there."""
    story = indoors()
    story.outdoor_ruled_out(by=CUSTODIAN)
    assert excused(story) == ["OC-16"]


def test_who_watched_the_collection_was_on_site() -> None:
    """A second person who stood beside it knows, as before."""
    story = indoors()
    seen = next(entry for entry in story.state().entries if entry.act == "collected")
    story.say("witnessed", {"statements": [seen.digest]}, {}, by=QUALITY, at=f"{DAY}T10:00:00-05:00")
    assert excused(story) == []


@pytest.mark.parametrize("how", ["from hand to hand", "at a dock", "unopened"])
@pytest.mark.parametrize("is_of_the_form", [False, True])
def test_what_a_laboratory_received_that_was_not_addressed_has_not_arrived(
    is_of_the_form: bool, how: str
) -> None:
    """The envelope is lost, a second laboratory signs that it has it, and nobody looks for it any more; or
    the first one accepts what only the other says to have.
    """
    late = "2026-12-07T12:00:00-06:00"
    story = visit("shipped")
    named = list(story.samples[1:3])
    story.second_laboratory()
    if is_of_the_form:  # of the first sample, which it is to have under another number
        story.forwarded(0)
    if how == "from hand to hand":
        story.received(named, by=SECOND_CUSTODIAN, at="2026-12-02T10:35:00-06:00", purpose="analysis")
    elif how == "at a dock":
        story.docked(named, by=SECOND_CUSTODIAN)
    else:
        story.taken_in(by=SECOND_CUSTODIAN)
    form, case = story.state(), story.case(at=late)
    assert [form.has_arrived(form.samples[each]) for each in named] == [False] * 2
    assert form.envelopes[story.envelope].arrived is None
    due = [each for each in due_list.chase(case, (), ()) if each.kind == "not received"]
    assert [(each.about, each.overdue) for each in due] == [(story.envelope, True)]
    assert rules(story, "SH-10", at=late) == ["SH-10"]
    story.accepted(named, said=late, at=late)
    assert "RC-21" in rules(story, "RC-21", at=late)
    assert {form.samples[each].status for each in named} == {"shipped"}


@pytest.mark.parametrize("who", ["dock", "inspector"])
def test_a_void_on_another_form_counts_only_from_whom_it_would_count_there(field: Field, who: str) -> None:
    """The laboratory voids, on another form of the firm, a cassette that it never had: the serial that both
    forms name is then on one sample, the number collected twice on one form, and the kit complete.
    """
    lot, samples = field.lot(3)
    first = field.open_form()
    field.collect(first, lot, samples[0], serial="K-77")
    field.collect(first, lot, samples[2])
    second = field.open_form()
    field.collect(second, lot, samples[1], serial="K-77")
    field.collect(second, lot, samples[2])
    kit = {
        "samples": [field.number("sample")],
        "to": field.people["inspector"].key.kid,
        "visit": "2026-12-01",
    }
    field.act("keeper", f"lot/{lot}", "issued", kit)
    field.clock.advance(days=1)

    def told() -> set[str]:
        shown = field.get("clerk", f"/forms/{second}").get_json()
        return {each["rule"] for each in shown["findings"]} & {"CL-01", "CL-04", "CL-13"}

    assert told() == {"CL-01", "CL-04", "CL-13"}
    for sample in (samples[0], samples[2], kit["samples"][0]):
        field.act(who, f"form/{first}", "voided", {"sample": sample, "reason": "lost"})
    assert told() == (set() if who == "inspector" else {"CL-01", "CL-04", "CL-13"})
