"""The hard scenarios of the trade, told as they happen, and the four answers the ledger owes.

Source of the scenarios and of the wanted answers: domain catalog, section 8 (worked out before the program;
common practice, no source). The verdicts stand in the order records, custody, media and sampling, comparison.
`complete` is what a verifier with an outside checkpoint says of untouched records.
"""

from __future__ import annotations

import socket
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest

from bailee.domain import measures
from bailee.domain.acts.form import Forwarded
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.errors import BadStatement
from bailee.ledger import checkpoint
from bailee.ledger.base64url import b64u
from bailee.ledger.fingerprint import fingerprint
from bailee.rules import clock_bounds, qualified
from bailee.rules.registry import Finding, evaluate
from bailee.rules.verdicts import Verdict, verdicts
from bailee.signing.signed_statement import Seen
from bailee.verify import bundle
from bailee.verify.result import BROKEN, INTACT
from bailee.verify.verifier import verify
from builders import (
    CLERK,
    CUSTODIAN,
    DAY,
    INSPECTOR,
    LAB,
    QUALITY,
    SECOND_CUSTODIAN,
    SECOND_INSPECTOR,
    Person,
    Story,
    visit,
)
from field import Visited
from log_simulator import AT, told
from spoiling import keep, log_it


def judged(story: Story) -> tuple[list[Finding], dict[str, Verdict]]:
    """All findings, and the four verdicts by area."""
    case = story.case()
    findings = evaluate(case)
    return findings, {each.area: each for each in verdicts(case, findings, records_state="complete")}


def answers(story: Story) -> list[str]:
    """The four states."""
    return [each.state for each in judged(story)[1].values()]


def graver_than_a_note(story: Story) -> dict[str, str]:
    """The worst severity of each rule that says more than a note."""
    found = [each for each in judged(story)[0] if each.severity != "note"]
    return {each.rule: each.severity for each in reversed(found)}


# 1. Two inspectors offline on one job


def offline(*, second_takes: int, uploads_first: str = "one") -> Story:
    """Both phones have seen only the opening; each collects without a network, and uploads in the evening."""
    story = Story()
    story.lot(issue=False)
    story.samples += [story.number("sample") for _ in range(3)]
    issued: dict[Person, list[str]] = {
        INSPECTOR: [story.samples[0], story.samples[2]],
        SECOND_INSPECTOR: [story.samples[1]],
    }
    for person, numbers in issued.items():
        story.on_lot("issued", samples=numbers, to=person.kid, visit=DAY, said="2026-11-30T16:00:00-05:00")
    seen = story.opened().leaf

    def first() -> None:
        story.collected(0, after=seen, rec=f"{DAY}T18:00:00-05:00")
        story.collected(2, "outdoor", after=seen, rec=f"{DAY}T18:00:01-05:00")

    def second() -> None:
        story.collected(
            second_takes,
            by=SECOND_INSPECTOR,
            pump="PUMP-2",
            after=seen,
            rec=f"{DAY}T18:00:02-05:00",
            room="kitchen",
            point="Point 9",
            started=f"{DAY}T09:25:00-05:00",
        )

    for upload in (first, second) if uploads_first == "one" else (second, first):
        upload()
    return story


def test_two_phones_offline_on_disjoint_cassettes_are_clear_whichever_uploads_first() -> None:
    """Scenario 1: an order of upload that changed the answer would make the faster network the better
    witness.
    """
    one, two = (offline(second_takes=1, uploads_first=first) for first in ("one", "two"))
    for story in (one, two):
        evening = {"rec": f"{DAY}T18:00:05-05:00", "after": story.state().entries[0].leaf}
        story.held(samples=[story.samples[0], story.samples[2]], **evening)
        story.held(samples=[story.samples[1]], by=SECOND_INSPECTOR, **evening)
        assert answers(story)[:2] == ["complete", "no fault found"]
        comparison = [each.rule for each in judged(story)[0] if each.area == "comparison"]
        assert comparison == ["PV-15"]  # each phone had a pump of its own, which is noted
    ordered = [[entry.data.get("sample") for entry in story.state().ordered] for story in (one, two)]
    assert ordered[0] == ordered[1]
    signed = [
        {(each.kid, each.seq, each.prev) for each in story.state().entries if each.act == "collected"}
        for story in (one, two)
    ]
    assert signed[0] == signed[1]  # nobody's own count is numbered anew


def test_two_phones_offline_on_one_cassette_block_it_and_keep_both() -> None:
    """Scenario 1: the same label on both lists; only the glass can say whose it is."""
    for first in ("one", "two"):
        story = offline(second_takes=0, uploads_first=first)
        findings, four = judged(story)
        (claim,) = [each for each in findings if each.rule == "CU-12"]
        assert (claim.severity, claim.about) == ("block", story.samples[0])
        assert claim.remedy.startswith("Both entries stay. Compare serials and photos;")
        assert len(story.state().samples[story.samples[0]].claims) == 2
        assert four["records"].state == "complete"
        assert four["custody"].state == "flagged"


def test_two_phones_on_one_cassette_are_settled_by_whoever_can_show_no_glass() -> None:
    """Scenario 1: the one who cannot show the glass corrects the number, and the first claim stands alone.

    Nothing is deleted.
    """
    story = offline(second_takes=0)
    wrong = next(e for e in story.state().entries if e.act == "collected" and e.kid == SECOND_INSPECTOR.kid)
    story.corrected(wrong, "sample", story.samples[1], reason="wrong_item", said=f"{DAY}T19:00:00-05:00")
    findings, four = judged(story)
    assert not [each for each in findings if each.rule in ("CU-12", "CL-01")]
    assert {(each.rule, each.about) for each in findings if each.rule == "CL-09"} == {
        ("CL-09", story.samples[1])
    }
    assert len(story.state().entries) == 5
    assert four["records"].state == "complete"


def test_one_pump_on_two_phones_lists_at_once_blocks_both_runs() -> None:
    """Scenario 1: two lists that nobody saw side by side until they were joined: one pump cannot have run in
    two rooms.
    """
    for pump, expected in (("PUMP-1", {"block"}), ("PUMP-2", set())):
        story = offline(second_takes=1)
        state = story.state()
        run = next(e for e in state.entries if e.act == "collected" and e.kid == SECOND_INSPECTOR.kid)
        for field, value in (("started", f"{DAY}T09:14:00-05:00"), ("pump", pump)):
            if run.data[field] != value:
                story.corrected(run, field, value, reason="misread", said=f"{DAY}T19:00:00-05:00")
        found = [each for each in judged(story)[0] if each.rule == "PV-10"]
        assert {each.severity for each in found} == expected
        assert {each.about for each in found} == (set(story.samples[:2]) if expected else set())


# 2. Cassettes swapped between two rooms


def swapped(*, bound: bool) -> Story:
    """Two cassettes change places between the pump and the label; the dock reads the serials on the glass."""
    serials = ("G-000001", "G-000002") if bound else (None, None)
    story = visit("shipped", first={"serial": serials[0]}, second={"serial": serials[1]})
    items = story.items(story.samples)
    items[0]["serial"], items[1]["serial"] = "G-000002", "G-000001"
    story.docked(items=items)
    return story


def test_glass_swapped_between_rooms_is_caught_when_the_serial_was_bound() -> None:
    """Scenario 2: both swapped samples are flagged, and the rest of the envelope stays clean."""
    story = swapped(bound=True)
    findings, four = judged(story)
    assert {(each.rule, each.about) for each in findings if each.severity == "flag"} == {
        ("RC-04", number) for number in story.samples[:2]
    }
    for each in findings[:2]:
        assert each.remedy.startswith("Put the samples on hold, photograph, and call the sampling firm,")
    assert [each.rule for each in findings if each.severity != "flag"] == [
        "RC-10"
    ]  # the sender is still to be called
    assert [each.state for each in four.values()] == [
        "complete",
        "flagged",
        "no fault found",
        "no fault found",
    ]


def test_glass_swapped_without_a_bound_serial_is_said_to_be_invisible() -> None:
    """Scenario 2: what cannot be seen must not look like what was checked."""
    story = swapped(bound=False)
    findings, four = judged(story)
    assert not [each for each in findings if each.rule == "RC-04"]
    (bare,) = [each for each in findings if each.rule == "CL-03"]
    assert bare.severity == "warn"
    assert "identity rests on the label only" in bare.sentence
    assert four["custody"].state == "noted"
    assert any("only the label (and photo, if any)" in each for each in four["custody"].not_checked)
    assert any("Labels exchanged by hand" in each for each in four["custody"].not_checked)


# 3. Envelope opened in transit


def test_an_envelope_opened_in_transit_breaks_custody_and_leaves_the_records_clean() -> None:
    """Scenario 3: the break is bounded by sealing and receipt, and a new seal at the dock never hides it."""
    story = visit("shipped")
    story.docked(dock={"seal": "OTHER-77", "seal_state": "void_showing"})
    story.on_hold(reasons=["seal"])
    for resealed in (False, True):
        if resealed:
            story.sealed(
                story.samples,
                by=CUSTODIAN,
                seal=story.number("seal"),
                forms=[story.form],
                total=3,
                at="2026-12-02T11:30:00-06:00",
            )
        findings, four = judged(story)
        assert {"RC-01", "RC-02", "CU-05"} <= {each.rule for each in findings if each.severity == "flag"}
        (leg,) = [each for each in findings if each.rule == "CU-05"]
        assert "2026-12-01 13:00 (-06:00) to receipt 2026-12-02 10:40 (-06:00)" in leg.sentence
        (seal,) = [each for each in findings if each.rule == "RC-01"]
        assert "then agree on a qualified result or new samples" in seal.remedy
        (number,) = [each for each in findings if each.rule == "RC-02"]
        assert f"seal on record {story.seal}; on receipt OTHER-77" in number.sentence
        assert [each.state for each in four.values()] == [
            "complete",
            "broken",
            "no fault found",
            "no fault found",
        ]


def test_what_came_out_of_an_opened_envelope_is_reported_as_it_was_found() -> None:
    """Scenario 3: hold, call, and then a qualified result with the words for it, or no result.

    Never a plain one.
    """
    story = visit("shipped")
    story.docked(dock={"seal": "OTHER-77", "seal_state": "void_showing"})
    story.on_hold(reasons=["seal"], called="2026-12-02T11:20:00-06:00")
    assert "RC-10" not in graver_than_a_note(story)
    story.accepted(at="2026-12-02T13:00:00-06:00")
    assert graver_than_a_note(story)["RC-16"] == "flag"
    story.accepted(qualified=True, reasons=["seal"], at="2026-12-02T13:30:00-06:00")
    findings, four = judged(story)
    assert "RC-16" not in {each.rule for each in findings}
    assert four["custody"].state == "broken"
    words = qualified.wording(story.state(), story.state().samples[story.samples[0]], findings)
    assert words.startswith("Qualified result.")
    assert "OTHER-77" in words
    assert "Sampling firm called on 2026-12-02 11:20 (-06:00)" in words


# 4. Clock wrong by a day


def test_a_phone_a_day_slow_is_bounded_corrected_by_its_owner_and_never_redated() -> None:
    """Scenario 4: accepted as said, flagged as not believable, the true time bounded by what it had seen and
    by the upload.
    """
    story = Story()
    story.lot(samples=3, to=SECOND_INSPECTOR)
    seen = story.opened()
    entry = story.collected(
        0, by=SECOND_INSPECTOR, after=seen.leaf, pump="PUMP-2",
        started="2026-11-30T09:05:00-05:00", said="2026-11-30T09:11:00-05:00", rec=f"{DAY}T19:05:00-05:00",
    )  # fmt: skip
    findings, four = judged(story)
    (clock,) = [each for each in findings if each.rule == "CU-09"]
    assert clock.severity == "flag"
    assert "recorded on 2026-12-01 08:30:05 (-05:00)" in clock.sentence
    assert "and 2026-12-01 19:05 (-05:00)" in clock.sentence
    assert four["records"].state == "complete"
    assert four["custody"].state == "flagged"

    story.corrected(entry, "started", f"{DAY}T09:05:00-05:00", reason="clock", said=f"{DAY}T19:30:00-05:00")
    findings, _ = judged(story)
    assert [each.severity for each in findings if each.rule == "CU-09"] == [
        "flag"
    ]  # the statement was still signed so
    assert [each.severity for each in findings if each.rule == "CU-16"] == ["note"]
    assert story.state().samples[story.samples[0]].taken.started.text() == f"{DAY}T09:05:00-05:00"
    assert entry.data["started"] == "2026-11-30T09:05:00-05:00"


def a_day_wrong(days: int) -> Story:
    """All three runs by one phone whose clock is so many days wrong.

    It had seen the opening, recorded at 08:30:05.
    """
    story = Story()
    story.lot(samples=3)
    seen = story.opened()
    for place, kind in enumerate(("indoor", "indoor", "outdoor")):
        real = Moment.parse(f"{DAY}T09:05:00-05:00").instant + timedelta(hours=place, days=days)
        story.collected(
            place,
            kind,
            after=seen.leaf,
            started=Moment(real, -300).text(),
            said=Moment(real + timedelta(minutes=6), -300).text(),
            rec=f"{DAY}T19:05:0{place}-05:00",
        )
    return story


@pytest.mark.parametrize("days", [-1, 1])
def test_minutes_of_one_phone_keep_whatever_day_it_shows(days: int) -> None:
    """Scenario 4: the runs were 60 and 120 minutes apart on one wrong clock, and so they are paired.

    The day itself is flagged.
    """
    findings, four = judged(a_day_wrong(days))
    assert {each.severity for each in findings if each.rule in ("CU-08", "CU-09")} == {"flag"}
    assert four["records"].state == "complete"
    assert four["custody"].state == "flagged"
    assert four["comparison"].state == "no fault found"
    assert not [each for each in findings if each.rule in ("OC-02", "OC-03")]


@pytest.mark.parametrize(("limit_h", "fires"), [("27.25", True), ("27.27", False)])
def test_the_hold_of_a_phone_that_was_ahead_counts_from_the_worst_bound(limit_h: str, fires: bool) -> None:
    """Scenario 4: a phone a day ahead would make every sample a day younger.

    From the bound to the receipt it is 27 h 15 min 55 s.
    """
    story = a_day_wrong(1)
    first, *_ = story.state().samples.values()
    # Signed 6 minutes after the start, and no earlier than 08:30:05, when what the phone had seen was
    # recorded.
    assert clock_bounds.begun(story.state(), first).text() == f"{DAY}T08:24:05-05:00"
    story.policy(hold_warn_h=limit_h)
    story.sealed(by=INSPECTOR, at=f"{DAY}T19:10:00-05:00")
    story.shipped(by=INSPECTOR, handed_over=f"{DAY}T19:20:00-05:00")
    story.docked(at="2026-12-02T10:40:00-06:00")
    found = [each for each in judged(story)[0] if each.rule == "SH-02"]
    assert bool(found) is fires
    for each in found:
        assert "27 h 15 min" in each.sentence
        assert "The time entered is 2026-12-02 09:05 (-05:00)" in each.sentence
        assert "the earliest possible time is used" in each.sentence
    run = next(entry for entry in story.state().entries if entry.act == "collected")
    assert run.data["started"] == "2026-12-02T09:05:00-05:00"  # never re-dated
    story.corrected(run, "started", f"{DAY}T09:05:00-05:00", reason="clock", said="2026-12-02T08:00:00-05:00")
    assert (
        clock_bounds.begun(story.state(), next(iter(story.state().samples.values()))).text()
        == f"{DAY}T09:05:00-05:00"
    )


# 5. Lot recalled after shipping


def test_a_lot_recalled_after_shipping_changes_media_and_nothing_else() -> None:
    """Scenario 5: one recall flags every sample used in good faith, custody stands, and lifting it is another
    event.
    """
    story = visit("accepted")
    before = answers(story)
    story.on_lot("recalled", reason="maker", said="2026-12-04T09:00:00-05:00")
    findings, four = judged(story)
    (recalled,) = [each for each in findings if each.rule == "ML-07"]
    assert (recalled.severity, recalled.samples) == ("flag", tuple(story.samples))
    assert "was recalled on 2026-12-04" in recalled.sentence
    assert ", after " in recalled.sentence
    assert "were collected on 2026-12-01" in recalled.sentence
    assert f"in envelope {grouped(story.envelope)}, held by {LAB}, for {LAB}" in recalled.sentence
    assert "notify the laboratory and the client" in recalled.remedy
    assert [each.state for each in four.values()] == [
        "complete",
        "no fault found",
        "flagged",
        "no fault found",
    ]
    story.on_lot("released", reason="mistake", said="2026-12-05T09:00:00-05:00", by=QUALITY)
    assert answers(story) == before
    assert [entry.act for entry in story.chains[f"lot/{story.lots[0]}"]][-2:] == ["recalled", "released"]


def test_one_recall_lists_everything_and_reaches_whoever_holds_the_samples(visited: Visited) -> None:
    """Scenario 5: the keeper recalls once.

    The list names sample, envelope and laboratory, and the dock reads it on its own form.
    """
    field, (form, envelope, samples, _) = visited
    before = field.get("dock", f"/forms/{form}").get_json()
    assert not [each for each in before["findings"] if each["rule"] == "ML-07"]
    lot = field.get("keeper", "/lots").get_json()["lots"][0]["lot"]
    field.act("keeper", f"lot/{lot}", "recalled", {"reason": "maker"})
    told = field.get("keeper", f"/lots/{lot}/uses").get_json()
    assert {each["sample"] for each in told["uses"]} == set(samples)
    assert (told["forms"], told["envelopes"], told["laboratories"]) == ([form], [envelope], [LAB])
    after = field.get("dock", f"/forms/{form}").get_json()
    (recalled,) = [each for each in after["findings"] if each["rule"] == "ML-07"]
    assert set(recalled["samples"]) == set(samples)
    assert after["length"] == before["length"]  # nothing on the form was touched


# 6. Sample sent on to a second laboratory


def sent_on(seal_state: str = "intact") -> Story:
    """The stained slide of one sample goes to a second laboratory, under a new number and a new seal."""
    story = visit("accepted")
    story.second_laboratory()
    story.held(by=CUSTODIAN, since="2026-12-02T11:05:00-06:00")
    story.forwarded(0)
    (child,) = story.samples[3:]
    envelope, seal = story.number("envelope"), story.number("seal")
    story.held(by=CUSTODIAN, since="2026-12-03T09:05:00-06:00")
    story.sealed(
        [child],
        by=CUSTODIAN,
        envelope=envelope,
        seal=seal,
        total=1,
        forms=[story.form],
        at="2026-12-03T10:00:00-06:00",
    )
    story.shipped(
        by=CUSTODIAN, envelope=envelope, handed_over="2026-12-03T15:00:00-06:00", expected_delivery=None,
        expected_receipt="2026-12-04T10:30:00-07:00", tracking="TRACK-0002",
    )  # fmt: skip
    story.docked(
        [child],
        by=SECOND_CUSTODIAN,
        at="2026-12-04T10:40:00-07:00",
        items=[{"sample": child, "condition": ["opened"]}],
        dock={
            "envelope": envelope,
            "seal": seal,
            "seal_state": seal_state,
            "delivered": "2026-12-04T10:30:00-07:00",
            "total": 1,
        },
    )
    return story


def test_a_slide_sent_on_is_the_same_glass_with_two_receipts() -> None:
    """Scenario 6: the child points to its parent, both laboratories sign, and the condition is said to be
    opened.
    """
    story = sent_on()
    state = story.state()
    parent, child = state.samples[story.samples[0]], state.samples[story.samples[3]]
    assert (parent.child, child.parent) == (child, parent)
    assert (parent.status, child.status) == ("forwarded", "received")
    assert child.collected is parent.collected
    assert [link.org for link in child.links] == ["quill-lab", "carrier", "third-lab"]
    assert child not in list(state.live)  # nothing was collected a second time
    (sent,) = [each.body for each in state.entries if isinstance(each.body, Forwarded)]
    assert (sent.purpose, sent.items[0].condition) == ("analysis", ["opened", "stained"])
    assert state.envelopes[child.envelope or ""].sealings[-1].body.seal != story.seal
    assert state.oddities == []
    assert graver_than_a_note(story) == {}
    assert answers(story) == ["complete", "no fault found", "no fault found", "no fault found"]
    story.accepted([child.number], by=SECOND_CUSTODIAN, at="2026-12-04T11:00:00-07:00")
    assert answers(story)[1] == "no fault found"


def test_the_second_journey_is_judged_like_the_first() -> None:
    """Scenario 6: a seal broken on the way to the second laboratory breaks custody of the child, and the
    others stay good.
    """
    story = sent_on("broken")
    findings, four = judged(story)
    grave = {(each.rule, each.about) for each in findings if each.severity == "flag"}
    second = story.state().samples[story.samples[3]].envelope
    assert grave == {("RC-01", second), ("CU-05", second)}
    assert four["custody"].state == "broken"
    (call,) = [each for each in findings if each.rule == "RC-10"]
    assert "2026-12-07 17:00 (-07:00)" in call.sentence  # the second laboratory's own calendar


def test_only_a_duplicate_marked_at_collection_is_a_split() -> None:
    """Scenario 6: a trace is not split like water.

    Two cassettes side by side are, if whoever took them said so.
    """
    for marked in (True, False):
        story = visit("collected", lot={"samples": 4})
        parent = story.state().samples[story.samples[0]].taken
        said = {"duplicate_of": parent.sample, "duplicate": "side_by_side"} if marked else {}
        story.collected(
            3, point=parent.point, room=parent.room, started=parent.started.text(), pump="PUMP-2", **said
        )
        found = {each.rule: each.severity for each in judged(story)[0] if each.rule[:2] in ("BD", "SL")}
        assert found == ({} if marked else {"SL-08": "warn"})


# 7. Wrong outdoor control attached


def test_yesterday_s_outdoor_control_stops_the_envelope_and_a_correction_keeps_the_old_link() -> None:
    """Scenario 7: caught before that of sealing.

    After shipping the correction re-links, and the old value stays to be read.
    """
    yesterday = {"started": "2026-11-30T09:42:00-05:00", "said": f"{DAY}T09:48:00-05:00"}
    story = visit("kept", outdoor=yesterday)
    blocked = evaluate(story.case(sealing=story.sealing()))
    assert {each.rule for each in blocked if each.severity == "block"} == {"OC-02", "SE-01"}
    assert all("outdoor control" in each.sentence for each in blocked if each.rule == "OC-02")
    story.sealed()
    story.shipped()
    findings, four = judged(story)
    assert {each.severity for each in findings if each.rule == "OC-02"} == {"flag"}
    assert four["comparison"].state == "flagged"
    entry = next(e for e in story.state().entries if e.data.get("kind") == "outdoor")
    story.corrected(entry, "started", f"{DAY}T09:42:00-05:00", reason="misread", said=f"{DAY}T16:00:00-05:00")
    findings, four = judged(story)
    assert [each for each in findings if each.rule == "OC-02"] == []
    (made,) = [each for each in findings if each.rule == "CU-16"]
    assert f"from 2026-11-30 09:42 (-05:00) to {DAY} 09:42 (-05:00)" in made.sentence
    assert four["comparison"].state == "no fault found"
    assert entry.data["started"] == "2026-11-30T09:42:00-05:00"


def test_the_laboratory_s_copy_is_given_out_again_under_a_version_and_the_file_says_which_counts() -> None:
    """Scenario 7: after the correction the laboratory's copy is out of date until it confirms with a new
    version; both stay to be read.
    """
    yesterday = {"started": "2026-11-30T09:42:00-05:00", "said": f"{DAY}T09:48:00-05:00"}
    log = told("opened")
    log.collected(0)
    log.collected(1)
    log.collected(2, "outdoor", **yesterday)
    log.conditions_read()
    log.conditions_read("outdoors")
    log.held()
    log.relinquished()
    log.received()
    log.held(by=CLERK)
    for step in (log.sealed, log.shipped, log.docked, log.accepted):
        step()
    first = log.copied(1)
    entry = next(e for e in log.state().entries if e.data.get("kind") == "outdoor")
    made = log.corrected(
        entry, "started", f"{DAY}T09:42:00-05:00", reason="misread", said="2026-12-02T13:00:00-05:00"
    )
    before = verify(log.bundle(), log.trust(), AT)
    (old,) = [each for each in before.findings if each.rule == "RC-18"]
    assert old.severity == "flag"
    assert f"Version 1 of the custody record of quill-lab (entry {first.n})" in old.sentence
    assert f"the correction of started (entry {made.n})" in old.sentence
    second = log.copied(2, reason="correction", said="2026-12-02T12:30:00-06:00")
    report = verify(log.bundle(), log.trust(), AT)
    assert report.faults == ()
    (which,) = [each for each in report.findings if each.rule == "RC-18"]
    assert which.severity == "note"
    assert f"(entry {second.n}) counts. It replaced version 1 (entry {first.n})." in which.sentence
    assert [each.state for each in report.verdicts] == ["intact", "noted", "no fault found", "no fault found"]
    assert which.sentence in [each.sentence for each in judged(log)[0]]  # what dock and firm are shown


def test_next_door_s_outdoor_control_stops_the_envelope() -> None:
    """Scenario 7: the control of the house next door lies in the envelope, and the visit has none
    of its own.
    """
    story = Story()
    story.lot(samples=3)
    story.opened()
    story.collected(0)
    story.collected(1)
    story.opened()
    story.collected(2, "outdoor")
    findings = evaluate(story.case(sealing=story.sealing(kid=INSPECTOR.kid)))
    assert {"OC-01", "OC-10"} <= {each.rule for each in findings if each.severity == "block"}


def test_without_the_right_outdoor_control_there_is_no_comparison() -> None:
    """Scenario 7: the right one does not exist, and the answer is none and not a guess."""
    story = visit("accepted")
    story.voided(2, reason="wrong_place", by=CUSTODIAN, said="2026-12-03T09:00:00-06:00")
    assert answers(story)[3] == "none"


# 8. Inspector's phone lost


def test_a_lost_phone_leaves_what_was_there_good_and_quarantines_what_comes_later() -> None:
    """Scenario 8: recorded before is good; re-entered from paper is late and witnessed.

    What the lost key says later is flagged.
    """
    story = visit("opened")
    story.collected(0)
    last = story.collected(1)
    story.revoked(INSPECTOR, since=f"{DAY}T10:00:00-05:00", last_good_seq=last.seq)
    assert [each for each in judged(story)[0] if each.rule == "SI-02"] == []
    late = story.collected(2, "outdoor", by=SECOND_INSPECTOR, pump="PUMP-1", said="2026-12-02T12:00:00-05:00")
    (entry,) = [each for each in judged(story)[0] if each.rule == "CU-15"]
    assert (entry.severity, entry.entries) == ("warn", (late.n,))
    story.say("witnessed", {"statements": [late.digest]}, {}, by=CLERK, at="2026-12-02T12:05:00-05:00")
    (entry,) = [each for each in judged(story)[0] if each.rule == "CU-15"]
    assert f"{CLERK.name} signed as witness" in entry.sentence
    stolen = story.held(said="2026-12-03T03:00:00-05:00")
    findings, four = judged(story)
    (quarantined,) = [each for each in findings if each.rule == "SI-02"]
    assert (quarantined.severity, quarantined.area, quarantined.entries) == ("flag", "records", (stolen.n,))
    assert "revoked (lost) from 2026-12-01 10:00 (-05:00) on" in quarantined.sentence
    assert quarantined in four["records"].findings
    assert four["records"].sentence.endswith("1 flag.")


# 9. Envelope re-opened by the clerk


def test_an_envelope_re_opened_for_the_forgotten_outdoor_control_is_clean_with_a_warning() -> None:
    """Scenario 9: same holder, reason, new seal; the record shows it, and nothing is held against anybody."""
    story = visit("held")
    packed, forgotten = story.samples[:2], story.samples[2:]
    story.relinquished(packed)
    story.received()
    story.held(by=CLERK)
    story.sealed(packed, total=2)
    story.unsealed()
    story.relinquished(forgotten, at=f"{DAY}T14:22:00-05:00")
    story.received(at=f"{DAY}T14:24:00-05:00")
    story.sealed(seal=story.number("seal"), at=f"{DAY}T14:30:00-05:00")
    story.shipped()
    story.docked(dock={"seal": story.state().envelopes[story.envelope].sealings[-1].body.seal})
    story.accepted()
    (again,) = [each for each in judged(story)[0] if each.rule == "SE-09"]
    first, last = story.state().envelopes[story.envelope].sealings
    assert last.body.seal != first.body.seal
    assert last.body.seal in again.sentence
    assert graver_than_a_note(story) == {"SE-09": "warn"}
    assert answers(story) == ["complete", "noted", "no fault found", "no fault found"]


def test_an_envelope_opened_by_the_sender_after_the_pick_up_is_not_believed() -> None:
    """Scenario 9: what the carrier has cannot be opened in the office.

    A second envelope is the honest way.
    """
    story = visit("shipped")
    story.unsealed(at=f"{DAY}T16:00:00-05:00")
    assert graver_than_a_note(story)["CU-07"] == "flag"


def test_what_was_forgotten_after_the_pick_up_goes_in_a_second_envelope_of_the_same_job() -> None:
    """Scenario 9: two envelopes, each with its own seal, and the comparison is whole.

    The one left out is only warned of.
    """
    story = visit("held")
    packed, forgotten = story.samples[:2], story.samples[2:]
    story.relinquished()
    story.received()
    story.held(by=CLERK)
    story.sealed(packed, total=2)
    story.shipped()
    second, seal = story.number("envelope"), story.number("seal")
    story.sealed(forgotten, envelope=second, seal=seal, total=1, at=f"{DAY}T15:45:00-05:00")
    story.shipped(envelope=second, tracking="TRACK-0002", handed_over=f"{DAY}T16:00:00-05:00")
    story.docked(packed, dock={"total": 2})
    story.docked(forgotten, dock={"envelope": second, "seal": seal, "total": 1})
    story.accepted()
    findings, four = judged(story)
    assert not [each for each in findings if each.severity in ("block", "flag")]
    assert [each.rule for each in four["comparison"].findings] == ["SE-13"]
    assert four["records"].state == "complete"


# 10. Five stated, four in the box


def test_one_cassette_of_five_missing_flags_that_one_and_leaves_four_good() -> None:
    """Scenario 10: the seal is whole and the count is wrong, so the fault lies at packing.

    Four samples are good.
    """
    story = Story()
    story.lot(samples=5)
    story.opened()
    for place, kind in enumerate(("indoor", "indoor", "indoor", "indoor", "outdoor")):
        story.collected(place, kind)
    for where in ("indoors", "outdoors"):
        story.conditions_read(where, at=f"{DAY}T10:19:00-05:00")
    story.held(since=f"{DAY}T10:20:00-05:00")
    story.relinquished()
    story.received()
    story.held(by=CLERK)
    story.sealed()
    story.shipped()
    lost = story.samples[3]
    story.docked([number for number in story.samples if number != lost], dock={"total": 4})
    story.accepted([number for number in story.samples if number != lost])
    findings, four = judged(story)
    assert {each.about for each in findings if each.severity == "flag"} == {lost, story.envelope}
    (count,) = [each for each in findings if each.rule == "RC-03"]
    assert "manifest 5" in count.sentence
    assert grouped(lost) in count.sentence
    assert not [each for each in findings if each.rule in ("RC-01", "RC-02", "CU-05")]
    assert {s.number: s.status for s in story.state().live if s.status != "accepted"} == {lost: "missing"}
    assert [each.state for each in four.values()] == [
        "complete",
        "flagged",
        "no fault found",
        "no fault found",
    ]

    story.voided(3, reason="lost", by=CUSTODIAN, said="2026-12-04T09:00:00-06:00")
    (closed,) = [each for each in judged(story)[0] if each.rule == "RC-06"]
    assert "voided" in closed.sentence


def test_the_missing_cassette_is_searched_for_and_found() -> None:
    """Scenario 10: the finding says where to look.

    Found in the kit it is received late, and the first count stays as a warning.
    """
    story = visit("shipped")
    lost = story.samples[1]
    story.docked([number for number in story.samples if number != lost], dock={"total": 2})
    (search,) = [each for each in judged(story)[0] if each.rule == "RC-06"]
    assert all(
        place in search.remedy for place in ("packing", "kit", "vehicle", "every envelope open that day")
    )
    story.docked([lost], dock={"total": 1}, at="2026-12-03T09:00:00-06:00")
    found = {each.rule: each for each in judged(story)[0]}
    assert "RC-06" not in found
    assert found["RC-03"].severity == "warn"
    assert f"Found later: {grouped(lost)}" in found["RC-03"].sentence
    assert story.state().samples[lost].status == "received"


# 11. Delivered Friday 18:15, scanned Monday 09:00


def over_the_weekend(seal_state: str) -> Story:
    """Sealed and shipped on Thursday, delivered Friday 18:15, opened Monday 09:00."""
    story = visit(
        "sealed", sealed={"at": "2026-12-03T14:00:00-05:00"}, kept={"said": f"{DAY}T11:40:00-05:00"}
    )
    story.shipped(handed_over="2026-12-03T15:30:00-05:00")
    story.docked(
        at="2026-12-07T09:00:00-06:00",
        dock={"delivered": "2026-12-04T18:15:00-06:00", "seal_state": seal_state},
    )
    story.accepted(at="2026-12-07T09:30:00-06:00")
    return story


def test_a_weekend_at_a_shut_dock_is_covered_by_a_whole_seal() -> None:
    """Scenario 11: 62 h 45 min nobody stood beside it, and the sealed container is the fifth way to keep
    custody.
    """
    story = over_the_weekend("intact")
    findings, four = judged(story)
    (gap,) = [each for each in findings if each.rule == "RC-08"]
    assert gap.severity == "warn"
    assert "62 h 45 min" in gap.sentence
    assert four["records"].state == "complete"
    assert four["custody"].state == "noted"


def test_a_weekend_at_a_shut_dock_without_a_whole_seal_is_a_break() -> None:
    """Scenario 11: with the seal broken the same weekend is time in which anybody could have been at it."""
    story = over_the_weekend("broken")
    findings, four = judged(story)
    (gap,) = [each for each in findings if each.rule == "RC-08"]
    assert gap.severity == "flag"
    assert "62 h 45 min later. No entry shows how it was secured for that time" in gap.sentence
    assert gap.remedy.startswith("The laboratory enters where the envelope was from delivery on")
    assert four["custody"].state == "broken"


def test_where_the_box_stood_over_the_weekend_is_the_laboratory_s_word() -> None:
    """Scenario 11: the laboratory says afterwards that it stood in a locked room.

    The statement is late, and it is kept with the link.
    """
    story = over_the_weekend("intact")
    story.held(
        by=CUSTODIAN, secured="restricted", where="laboratory", since="2026-12-04T18:15:00-06:00",
        until="2026-12-07T09:00:00-06:00", said="2026-12-07T09:40:00-06:00",
    )  # fmt: skip
    late = [each for each in judged(story)[0] if each.rule == "CU-15"]
    assert "Custodian One" in late[-1].sentence
    link, *_ = [each for each in story.state().samples[story.samples[0]].links if each.org == LAB]
    assert [(each.secured, each.where) for each in link.keeping] == [("restricted", "laboratory")]
    assert "RC-08" in {each.rule for each in judged(story)[0]}  # the gap itself stays to be read


# 12. Insider with database rights


def test_without_a_head_held_outside_a_removed_tail_is_clean_and_said_to_be_unseen() -> None:
    """Scenario 12: the verifier cannot see that six entries are gone, and the screen must say
    that it cannot.
    """
    log = told("accepted")
    held = checkpoint.parse(checkpoint.read_note(log.note()).text)
    last = log.log[-1]
    paper = replace(log.trust(), printed={last.entry.n: last.leaf})
    assert verify(log.bundle(), paper, AT).state == INTACT
    for _ in range(6):
        log.remove(len(log.log) - 1)
    report = verify(log.bundle(), log.trust(), AT)
    assert report.state == INTACT
    assert any("tail" in each.code for each in report.not_checked)
    # The paper in the client's binder shows an entry that is not there, and names it.
    (gone,) = verify(log.bundle(), paper, AT).faults
    assert (gone.code, gone.place.n) == ("printed-entry", last.entry.n)
    assert f"The paper shows entry {last.entry.n} as {fingerprint(last.leaf)[:34]}" in gone.sentence
    # The laboratory's phone holds the head it had seen, and what it signs next says so.
    text = keep(log, CUSTODIAN, seen=Seen(held.size, b64u(held.root)))
    report = verify(log_it(log, text), log.trust(), AT)
    assert report.state == BROKEN
    (longer,) = [each for each in report.faults if each.code == "seen-later"]
    assert str(held.size) in longer.sentence


def test_a_device_that_had_seen_a_removed_entry_names_it() -> None:
    """Scenario 12: the laboratory's receipt is such a head: its next statement follows an entry that is not
    here (CU-14).
    """
    story = visit("docked")
    chain = story.chains[f"form/{story.form}"]
    seen = chain[-1].leaf
    del chain[-6:]
    story.accepted(story.samples, after=seen)
    (missing,) = [each for each in judged(story)[0] if each.rule == "CU-14"]
    assert (missing.severity, missing.area) == ("flag", "records")
    assert CUSTODIAN.name in missing.sentence
    assert "had seen an entry" in missing.sentence
    assert "that is not here" in missing.sentence
    assert "compare it with another copy or checkpoint of this ledger" in missing.remedy


# 13. Battery dies at 3 min 20 s


def test_a_short_run_is_usable_and_says_what_it_drew() -> None:
    """Scenario 13: 200 s at 15.0 L/min is 50.0 L.

    Less sensitive, not spoilt, and custody has nothing to do with it.
    """
    story = visit("accepted", first={"run_s": 200, "flow_after": "15.0"})
    findings, four = judged(story)
    about = [each for each in findings if each.about == story.samples[0]]
    assert {each.rule: each.severity for each in about}["PV-08"] == "warn"
    assert not [each for each in findings if each.severity in ("block", "flag")]
    cassette = story.state().samples[story.samples[0]].taken
    assert cassette.flow_before is not None
    assert cassette.flow_after is not None
    volume = measures.volume_liters(
        measures.mean_flow(cassette.flow_before, cassette.flow_after), Decimal(cassette.run_s)
    )
    assert (volume, measures.detection_limit(volume, Decimal(1))) == (Decimal("50.0"), Decimal(20))
    assert [each.state for each in four.values()] == ["complete", "no fault found", "noted", "noted"]
    assert {each.rule for each in four["comparison"].findings} == {
        "OC-09",
        "PV-13",
    }  # less air than the outdoor control


def test_five_minutes_written_for_a_run_of_three_twenty_are_asked_about() -> None:
    """Scenario 13: the scans lie 200 s apart, so 300 s and 75 L cannot be written down.

    What the pump did can.
    """
    story = visit("opened")
    scans = {"started": f"{DAY}T09:12:00-05:00", "stopped": f"{DAY}T09:15:20-05:00"}
    with pytest.raises(BadStatement, match="PV-09"):
        story.collected(0, run_s=300, **scans)
    with pytest.raises(BadStatement, match="PV-01"):
        story.collected(0, run_s=200, volume_l="75.0", **scans)
    story.collected(
        0, run_s=200, flow_before="15.0", flow_after="15.0", volume_l="50.0", pump_stop="battery", **scans
    )
    assert story.state().samples[story.samples[0]].taken.volume_l == Decimal(50)
    assert {each.rule: each.severity for each in judged(story)[0] if each.rule == "PV-14"} == {
        "PV-14": "warn"
    }


# 14. License lapsed the day before


def test_a_license_lapsed_the_day_before_is_nobody_s_custody() -> None:
    """Scenario 14: found at booking it stops the envelope.

    Found later the records and custody are clean, and media is flagged.
    """
    lapsed = {"jurisdiction": "US-NY", "number": "L-0001", "valid_to": "2026-11-30"}
    booking = visit("opened", opened={"license": lapsed})
    assert [each.severity for each in evaluate(booking.case()) if each.rule == "VP-06"] == ["block"]
    story = visit("accepted", opened={"license": lapsed})
    assert graver_than_a_note(story) == {"VP-06": "flag"}
    (license_,) = [each for each in judged(story)[0] if each.rule == "VP-06"]
    assert "expiration date 2026-11-30, 1 day before the visit on 2026-12-01" in license_.sentence
    assert "Your administrator decides under the rules that apply." in license_.remedy
    assert answers(story) == ["complete", "no fault found", "flagged", "no fault found"]
    assert [
        each
        for each in evaluate(visit("accepted", opened={"license": lapsed | {"valid_to": DAY}}).case())
        if each.rule == "VP-06"
    ] == []


# 15. Dispute five years later, firm closed


def test_five_years_later_the_file_alone_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    """Scenario 15: no login, no network, no firm: who received, secured and gave each sample, by whose key,
    under the policy of then.
    """

    def no_network(*_args: object) -> None:
        pytest.fail("the verifier asked the network")

    monkeypatch.setattr(socket, "socket", no_network)
    log = told("accepted")
    text = bundle.write(log.bundle())
    later = Moment.parse("2031-12-01T09:00:00-05:00")
    report = verify(bundle.read(text), log.trust(), later)
    assert report.state == INTACT
    assert report.faults == ()
    # Nothing becomes overdue when nobody is left to do it; the air was not read that day, and stays so.
    assert [each.rule for each in report.findings] == ["VP-15"]
    assert [each.state for each in report.verdicts] == [
        "intact",
        "no fault found",
        "noted",
        "no fault found",
    ]
    for sample in report.accounts:
        assert [holding.received.split(" ")[0] for holding in sample.holdings] == [
            "collected",
            "received",
            "was",
            "received",
        ]
        assert all(holding.kept or holding.given is None for holding in sample.holdings)
        assert [bool(holding.given) for holding in sample.holdings] == [True, True, True, False]
    assert {signer.org for signer in report.signers} == {"harrow-field", "quill-lab"}
