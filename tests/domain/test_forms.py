"""Who holds what: the fold of one form, act by act, on hard days, and on any nonsense that is well formed."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from itertools import permutations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bailee.domain import forms, pairing
from bailee.domain.acts.table import ON_CHAIN
from bailee.domain.custody import Form, Sample
from bailee.domain.facts import plain
from bailee.domain.moments import Moment
from builders import (
    ANALYST,
    CARRIER,
    CLERK,
    CUSTODIAN,
    DAY,
    FIRM,
    INSPECTOR,
    LAB,
    LAB_QUALITY,
    QUALITY,
    SECOND_INSPECTOR,
    Person,
    Step,
    Story,
    visit,
)
from thorough import often

NEXT = "2026-12-02"


def told(form: Form, code: str | None = None) -> list[tuple[str, str | None]]:
    """Oddities as (code, sample)."""
    return [(odd.code, odd.sample) for odd in form.oddities if code in (None, odd.code)]


def holders(sample: Sample) -> list[str | None]:
    """Who held it, in order."""
    return [link.kid for link in sample.links]


def summary(form: Form) -> object:
    """Everything a reader sees, without the places in the log, which depend on who uploads first."""
    return (
        {
            number: (
                sample.status,
                sample.envelope,
                sample.condition,
                sample.lab_number,
                [claim.entry.digest for claim in sample.claims],
                sample.void.entry.digest if sample.void else None,
                [
                    (
                        link.kid,
                        link.since,
                        link.until,
                        link.received.digest,
                        link.given and link.given.entry.digest,
                        link.gap,
                        [(keeping.secured, keeping.since, keeping.until) for keeping in link.keeping],
                    )
                    for link in sample.links
                ],
            )
            for number, sample in sorted(form.samples.items())
        },
        {
            number: (
                [each.said.entry.digest for each in envelope.sealings],
                envelope.shipped and envelope.shipped.entry.digest,
            )
            for number, envelope in sorted(form.envelopes.items())
        },
        [(odd.code, odd.entry.digest, odd.sample) for odd in form.oddities],
    )


# The journey, step by step: status and holders after each.
_JOURNEY: dict[Step, tuple[str | None, list[str | None]]] = {
    "opened": (None, []),
    "collected": ("collected", [INSPECTOR.kid]),
    "held": ("collected", [INSPECTOR.kid]),
    "relinquished": ("collected", [INSPECTOR.kid]),
    "handed_over": ("collected", [INSPECTOR.kid, CLERK.kid]),
    "kept": ("collected", [INSPECTOR.kid, CLERK.kid]),
    "sealed": ("sealed", [INSPECTOR.kid, CLERK.kid]),
    "shipped": ("shipped", [INSPECTOR.kid, CLERK.kid, None]),
    "docked": ("received", [INSPECTOR.kid, CLERK.kid, None, CUSTODIAN.kid]),
    "accepted": ("accepted", [INSPECTOR.kid, CLERK.kid, None, CUSTODIAN.kid]),
}


@pytest.mark.parametrize("step", _JOURNEY)
def test_the_journey_of_an_orderly_visit(step: Step) -> None:
    """The custody record would name the wrong person, or miss one."""
    status, expected = _JOURNEY[step]
    story = visit(step)
    form = story.state()
    assert told(form) == []
    assert form.visit == date(2026, 12, 1)
    assert len(form.samples) == (0 if status is None else 3)
    for sample in form.samples.values():
        assert (sample.status, holders(sample)) == (status, expected)
        for earlier, later in zip(sample.links, sample.links[1:], strict=False):
            assert earlier.until is not None
            assert earlier.until <= later.since
        assert sample.links[-1].until is None or step == "relinquished"


def test_times_and_ways_of_keeping_on_an_orderly_visit() -> None:
    """The record would show gaps where there were none."""
    form = visit("accepted").state()
    sample = next(iter(form.samples.values()))
    first, clerk, carrier, dock = sample.links

    def clock(moment: Moment | None) -> str:
        assert moment
        return moment.text()[11:]

    assert sample.stopped is not None
    assert (clock(first.since), clock(first.until)) == ("09:17:00-05:00", "11:30:00-05:00")
    assert first.since == sample.stopped
    assert (clock(clerk.since), clock(clerk.until)) == ("11:36:00-05:00", "15:30:00-05:00")
    assert (clock(carrier.since), clock(carrier.until)) == ("15:30:00-05:00", "10:40:00-06:00")
    assert (clerk.gap, dock.gap) == (timedelta(minutes=6), None)
    assert [keeping.secured for keeping in first.keeping] == ["locked"]
    assert [keeping.secured for keeping in clerk.keeping] == ["restricted", "sealed"]
    assert [(keeping.secured, clock(keeping.until)) for keeping in carrier.keeping] == [
        ("sealed", "10:40:00-06:00")
    ]
    assert carrier.by_carrier
    assert not clerk.by_carrier
    assert first.given is not None
    assert first.given.entry.act == "relinquished"
    assert sample.lab_number == f"Q-{sample.number[1:6]}"
    assert sample.condition == ("intact",)


# Two people at once


def _two_inspectors() -> Story:
    """Both saw the form opened and went offline; the second one's phone has its own clock and count."""
    story = visit("opened")
    story.lot(samples=4)
    seen = story.chains[f"form/{story.form}"][0].leaf
    one: dict[str, Any] = {"after": seen}
    two: dict[str, Any] = {"after": seen, "by": SECOND_INSPECTOR}
    story.collected(0, **one)
    story.held(samples=[story.samples[0]], **one)
    story.collected(1, **one)
    story.collected(3, **two)
    story.collected(4, "outdoor", **two)
    story.relinquished([story.samples[3]], to_kid=INSPECTOR.kid, at=f"{DAY}T11:00:00-05:00", **two)
    return story


def test_two_phones_offline_tell_one_story_whichever_uploads_first() -> None:
    """The firm and the laboratory would see different custody of one visit (scenario 1 of the trade)."""
    story = _two_inspectors()
    opened, *offline = story.chains[f"form/{story.form}"]
    first = [entry for entry in offline if entry.kid == INSPECTOR.kid]
    second = [entry for entry in offline if entry.kid == SECOND_INSPECTOR.kid]
    orders = set(permutations("1" * len(first) + "2" * len(second)))
    assert len(orders) == 20
    expected = summary(story.state())
    for order in orders:
        queues = {"1": iter(first), "2": iter(second)}
        merged = [opened, *(next(queues[device]) for device in order)]
        chain = [replace(entry, n=n) for n, entry in enumerate(merged, 1)]
        assert summary(forms.fold(story.form, chain)) == expected
    form = story.state()
    assert told(form) == []
    assert {number: holders(sample)[0] for number, sample in form.samples.items()} == {
        story.samples[0]: INSPECTOR.kid,
        story.samples[1]: INSPECTOR.kid,
        story.samples[3]: SECOND_INSPECTOR.kid,
        story.samples[4]: SECOND_INSPECTOR.kid,
    }


def test_one_cassette_claimed_by_two_is_kept_twice_and_said() -> None:
    """The second inspector's claim would vanish, although he may be the one with the glass."""
    story = visit("opened")
    story.collected(0)
    second = story.collected(0, by=SECOND_INSPECTOR, room="kitchen")
    sample = story.state().samples[story.samples[0]]
    assert [claim.entry.kid for claim in sample.claims] == [INSPECTOR.kid, SECOND_INSPECTOR.kid]
    assert told(story.state()) == [("claimed-twice", story.samples[0])]
    assert holders(sample) == [INSPECTOR.kid]
    # He settles it by a signed correction: it was another cassette.
    fresh = story.number("sample")
    story.corrected(second, "sample", fresh, by=SECOND_INSPECTOR)
    form = story.state()
    assert told(form) == []
    assert holders(form.samples[fresh]) == [SECOND_INSPECTOR.kid]


def test_a_slow_clock_does_not_put_a_statement_before_the_opening() -> None:
    """A second inspector whose phone is a day slow would make the whole form unreadable."""
    story = visit("opened")
    story.collected(0, by=SECOND_INSPECTOR, after=None, started="2026-11-30T09:00:00-05:00")
    form = story.state()
    assert form.visit == date(2026, 12, 1)
    assert told(form) == []


def test_collected_told_after_sealed_is_put_in_its_place() -> None:
    """A phone that finds a network in the evening would turn a sound sample into one
    that nobody collected.
    """
    story = visit("opened")
    seen = story.chains[f"form/{story.form}"][0].leaf
    for place in range(2):
        story.collected(place, by=CLERK)
    story.sealed(story.samples[:3])
    assert ("not-collected", story.samples[2]) in told(story.state())
    story.collected(2, "outdoor", after=seen, rec=f"{DAY}T18:00:00-05:00")
    form = story.state()
    late = form.samples[story.samples[2]]
    assert late.status == "sealed"
    assert holders(late) == [INSPECTOR.kid]
    assert told(form) == [("not-holder", late.number)]  # the clerk sealed what the inspector never gave


def test_collected_with_a_clock_that_runs_a_day_fast_still_begins_the_chain() -> None:
    """A wrong clock would make the sampler the last holder instead of the first."""
    story = visit("opened")
    seen = story.chains[f"form/{story.form}"][0].leaf
    sample = story.samples[0]
    story.received([sample], after=seen)
    story.collected(0, after=seen, started="2026-12-03T09:00:00-05:00")
    found = story.state().samples[sample]
    assert holders(found) == [INSPECTOR.kid, CLERK.kid]
    assert found.links[0].until == found.links[1].since
    assert told(story.state(), "not-collected") == [("not-collected", sample)]


# Hand to hand


def _given_and_taken(taken_at: str, **how: Any) -> tuple[Story, Form]:
    story = visit("relinquished")
    story.received(at=taken_at, **how)
    return story, story.state()


@pytest.mark.parametrize(
    ("at", "gap"),
    [(f"{DAY}T11:30:00-05:00", 0), (f"{DAY}T11:45:00-05:00", 15), (f"{DAY}T11:31:00-06:00", 61)],
)
def test_the_gap_between_giving_and_taking(at: str, gap: int) -> None:
    """An hour in which nobody held the samples would not be seen."""
    _, form = _given_and_taken(at)
    assert told(form) == []
    for sample in form.samples.values():
        assert sample.links[-1].gap == timedelta(minutes=gap)
        assert sample.given is None


def test_taking_without_giving_and_giving_without_taking() -> None:
    """One half of a hand-over would pass for the whole."""
    story = visit("held")
    story.received(story.samples[:1])
    form = story.state()
    assert told(form) == [("not-relinquished", story.samples[0])]
    assert holders(form.samples[story.samples[0]]) == [INSPECTOR.kid, CLERK.kid]
    form = visit("relinquished").state()
    for sample in form.samples.values():
        assert sample.given is not None
        assert sample.holder is not None
        assert sample.holder.kid == INSPECTOR.kid


def test_the_givers_half_told_late_completes_the_link() -> None:
    """A giver whose clock is three minutes fast would look like a break of custody."""
    story = visit("held")
    seen = story.chains[f"form/{story.form}"][-1].leaf
    story.received(story.samples[:3], at=f"{DAY}T11:30:00-05:00", after=seen)
    story.relinquished(story.samples[:3], at=f"{DAY}T11:33:00-05:00", after=seen)
    form = story.state()
    assert told(form) == []
    for sample in form.samples.values():
        giver, taker = sample.links
        assert (giver.kid, taker.kid) == (INSPECTOR.kid, CLERK.kid)
        assert giver.given is not None
        assert taker.given is None
        assert taker.until is None
        assert taker.gap == timedelta(minutes=-3)


def test_the_givers_half_told_after_the_next_hand_over_too() -> None:
    """The late half would be written onto the third person, who gave nothing away."""
    story = visit("held")
    one = story.samples[:1]
    seen = story.chains[f"form/{story.form}"][-1].leaf
    story.received(one, at=f"{DAY}T11:30:00-05:00", after=seen)
    story.relinquished(one, by=CLERK, to=FIRM, to_kid=QUALITY.kid, at=f"{DAY}T11:31:00-05:00")
    story.received(one, by=QUALITY, at=f"{DAY}T11:32:00-05:00")
    story.relinquished(one, at=f"{DAY}T11:50:00-05:00", after=seen)
    form = story.state()
    sample = form.samples[one[0]]
    assert told(form) == []
    assert holders(sample) == [INSPECTOR.kid, CLERK.kid, QUALITY.kid]
    assert [link.given.entry.kid if link.given else None for link in sample.links] == [
        INSPECTOR.kid,
        CLERK.kid,
        None,
    ]
    assert sample.links[-1].until is None


def test_another_receiver_than_the_one_meant_is_said() -> None:
    """Samples handed to the wrong person would look as planned."""
    story, form = _given_and_taken(f"{DAY}T11:36:00-05:00", by=SECOND_INSPECTOR)
    assert told(form) == [("other-receiver", number) for number in story.samples]
    assert holders(form.samples[story.samples[0]])[-1] == SECOND_INSPECTOR.kid


def test_giving_what_one_does_not_hold_is_said_and_leaves_the_holder_alone() -> None:
    """A stranger's statement would end the true holder's link."""
    story = visit("held")
    story.relinquished(story.samples[:1], by=SECOND_INSPECTOR)
    form = story.state()
    sample = form.samples[story.samples[0]]
    assert told(form) == [("not-holder", sample.number)]
    assert sample.holder is not None
    assert (sample.holder.kid, sample.holder.until, sample.holder.given) == (INSPECTOR.kid, None, None)


def test_counts_that_do_not_agree_are_said() -> None:
    """Five given and four taken would not be noticed until the microscope."""
    story = visit("held")
    story.relinquished(count=4)
    story.received(story.samples[:2], count=2)
    story.sealed(story.samples[:2], count=3)
    form = story.state()
    assert told(form, "count") == [("count", None), ("count", None), ("count", story.samples[2])]
    assert "relinquished but not received" in form.oddities[2].detail
    left = form.samples[story.samples[2]]
    assert left.given is not None
    assert holders(left) == [INSPECTOR.kid]


def test_keeping_is_said_by_the_holder_of_that_time() -> None:
    """Hours in a locked vehicle could not be added later, or a stranger could vouch for them."""
    story = visit("handed_over")
    story.held(
        secured="possession",
        since=f"{DAY}T09:20:00-05:00",
        until=f"{DAY}T09:50:00-05:00",
        samples=story.samples,
    )
    story.held(by=ANALYST, samples=story.samples[:1])
    form = story.state()
    inspector, clerk = form.samples[story.samples[0]].links
    assert [keeping.secured for keeping in inspector.keeping] == ["locked", "possession"]
    assert clerk.keeping == []
    assert told(form) == [("not-holder", story.samples[0])]


def test_held_without_names_means_all_that_i_hold() -> None:
    """A clerk's word about his own shelf would count for the inspector's vehicle."""
    story = visit("held")
    story.relinquished(story.samples[:2])
    story.received(story.samples[:2])
    story.held(by=CLERK)
    samples = story.state().samples
    assert [[k.secured for k in samples[n].links[-1].keeping] for n in story.samples] == [
        ["restricted"],
        ["restricted"],
        ["locked"],
    ]


# Envelopes


def test_opened_again_and_sealed_again() -> None:
    """The forgotten outdoor control could not be added, or the first seal would vanish from the record."""
    story = visit("kept")
    story.sealed(story.samples[:2])
    story.unsealed()
    form = story.state()
    assert told(form) == []
    assert {s.status for s in form.samples.values()} == {"collected"}
    first = form.envelopes[story.envelope].sealing
    assert first is not None
    assert first.opened is not None
    kept = form.samples[story.samples[0]].links[-1].keeping[-1]
    assert (kept.secured, kept.until) == ("sealed", Moment.parse(f"{DAY}T14:20:00-05:00"))
    second_seal = story.number("seal")
    story.sealed(seal=second_seal, at=f"{DAY}T14:30:00-05:00")
    form = story.state()
    envelope = form.envelopes[story.envelope]
    assert [sealing.body.seal for sealing in envelope.sealings] == [story.seal, second_seal]
    assert envelope.sealings[1].opened is None
    assert {s.status for s in form.samples.values()} == {"sealed"}
    assert told(form) == []


def test_a_sample_taken_out_and_sealed_elsewhere_is_not_missing_from_the_first_envelope() -> None:
    """A cassette moved to a second envelope would be reported lost from the first."""
    story = visit("sealed")
    story.unsealed()
    other = story.number("envelope")
    story.sealed(story.samples[:2], at=f"{DAY}T14:30:00-05:00")
    story.sealed(story.samples[2:], envelope=other, at=f"{DAY}T14:31:00-05:00")
    story.shipped()
    story.docked(story.samples[:2])
    form = story.state()
    assert [form.samples[n].status for n in story.samples] == ["received", "received", "sealed"]
    assert form.samples[story.samples[2]].envelope == other
    assert told(form) == []


def test_one_sample_in_two_envelopes_is_said() -> None:
    """One cassette could be in two parcels."""
    story = visit("sealed")
    story.sealed(story.samples[:1], envelope=story.number("envelope"), at=f"{DAY}T14:30:00-05:00")
    assert told(story.state()) == [("two-envelopes", story.samples[0])]


def test_sealing_what_one_does_not_hold_or_that_nobody_collected_is_said() -> None:
    """The manifest could list cassettes the clerk never had."""
    story = visit("collected")
    stranger = story.number("sample")
    story.sealed([story.samples[0], stranger])
    form = story.state()
    assert told(form) == [
        ("not-holder", story.samples[0]),
        ("not-collected", stranger),
        ("not-holder", stranger),
    ]
    assert form.samples[stranger].status == "sealed"


@pytest.mark.parametrize("sealed", [False, True])
def test_shipping_without_a_standing_seal_is_said(*, sealed: bool) -> None:
    """The carrier's leg would count as sealed although the envelope was open."""
    story = visit("sealed" if sealed else "kept")
    if sealed:
        story.unsealed()
    story.shipped()
    form = story.state()
    assert told(form) == [("not-sealed", None)]
    for sample in form.samples.values():
        assert all(
            keeping.until for link in sample.links for keeping in link.keeping if keeping.secured == "sealed"
        )
        assert not any(link.keeping for link in sample.links if link.by_carrier)


def test_shipping_twice_and_opening_what_was_not_sealed_are_said() -> None:
    """A second tracking number would replace the first without a trace."""
    story = visit("shipped")
    first = story.state().envelopes[story.envelope].shipped
    story.shipped(tracking="TRACK-0002")
    other = story.number("envelope")
    story.unsealed(envelope=other)
    form = story.state()
    assert told(form) == [("already-shipped", None), ("not-sealed", None)] or told(form) == [
        ("not-sealed", None),
        ("already-shipped", None),
    ]
    shipped = form.envelopes[story.envelope].shipped
    assert shipped is not None
    assert first is not None
    assert shipped.entry is first.entry
    assert other not in form.envelopes


def test_the_dock_finds_one_missing_and_later_finds_it() -> None:
    """A cassette found at the bottom of the parcel would make the other four missing."""
    story = visit("shipped")
    story.docked(story.samples[:2])
    form = story.state()
    assert [form.samples[n].status for n in story.samples] == ["received", "received", "missing"]
    story.docked(story.samples[2:], at=f"{NEXT}T11:00:00-06:00")
    form = story.state()
    assert [form.samples[n].status for n in story.samples] == ["received"] * 3
    assert told(form) == []
    envelope = form.envelopes[story.envelope]
    assert len(envelope.arrivals) == 2
    assert envelope.docked is envelope.arrivals[0].said


def test_the_dock_finds_what_nobody_sent() -> None:
    """A cassette without a record would be taken for one that belongs."""
    story = visit("shipped")
    stranger = story.number("sample")
    story.docked([*story.samples, stranger])
    form = story.state()
    assert told(form) == [("not-collected", stranger), ("not-in-envelope", stranger)]
    assert holders(form.samples[stranger]) == [CUSTODIAN.kid]


def test_an_envelope_carried_to_the_dock_without_shipping_is_said() -> None:
    """A missing leg between clerk and laboratory would not show."""
    story = visit("sealed")
    story.docked()
    form = story.state()
    assert told(form) == [("not-sealed", None)]
    assert holders(form.samples[story.samples[0]])[-1] == CUSTODIAN.kid


def test_shipping_told_after_the_dock_takes_its_place_before_it() -> None:
    """A clerk's late upload with a fast clock would give the samples back to the carrier."""
    story = visit("sealed")
    seen = story.chains[f"form/{story.form}"][-1].leaf
    story.docked(after=seen)
    late = story.shipped(handed_over="2026-12-03T15:30:00-05:00", after=seen)
    form = story.state()
    assert told(form) == []
    for sample in form.samples.values():
        assert sample.status == "received"
        assert holders(sample) == [INSPECTOR.kid, CLERK.kid, None, CUSTODIAN.kid]
        assert sample.links[2].received is late
    shipped = form.envelopes[story.envelope].shipped
    assert shipped is not None
    assert shipped.entry is late


def test_a_parcel_that_comes_back_needs_no_word_from_the_carrier() -> None:
    """The clerk who takes back a returned parcel would be told that custody is broken."""
    story = visit("shipped")
    story.received(story.samples, at="2026-12-04T09:00:00-05:00")
    form = story.state()
    assert told(form) == []
    assert holders(form.samples[story.samples[0]]) == [INSPECTOR.kid, CLERK.kid, None, CLERK.kid]


def test_what_the_dock_saw_of_the_seal_is_kept_when_it_is_sealed_again() -> None:
    """A new seal at the laboratory would hide that the first one was broken."""
    story = visit("shipped")
    story.docked(dock={"seal_state": "broken", "seal": None})
    fresh = story.number("seal")
    story.sealed(by=CUSTODIAN, seal=fresh, samples=story.samples, at=f"{NEXT}T12:00:00-06:00")
    envelope = story.state().envelopes[story.envelope]
    arrival = envelope.arrivals[0]
    assert arrival.sealing is not None
    assert arrival.sealing.body.seal == story.seal
    assert envelope.sealing is not None
    assert envelope.sealing.body.seal == fresh


# What became of it


@pytest.mark.parametrize(
    ("act", "status"), [("accepted", "accepted"), ("on_hold", "on_hold"), ("rejected", "rejected")]
)
def test_the_laboratorys_decision(act: str, status: str) -> None:
    """A rejected sample would be analyzed."""
    story = visit("docked")
    getattr(story, act)(story.samples[:1])
    form = story.state()
    assert [form.samples[n].status for n in story.samples] == [status, "received", "received"]
    decision = form.samples[story.samples[0]].decision
    assert decision is not None
    assert decision.entry.act == act
    assert told(form) == []


def test_a_later_decision_replaces_an_earlier_and_keeps_the_number() -> None:
    """A sample put on hold would lose its laboratory number, or stay on hold for ever."""
    story = visit("accepted")
    number = story.samples[0]
    story.on_hold([number], at=f"{NEXT}T12:00:00-06:00")
    assert story.state().samples[number].status == "on_hold"
    story.accepted([number], lab_numbers={}, at=f"{NEXT}T13:00:00-06:00")
    sample = story.state().samples[number]
    assert (sample.status, sample.lab_number) == ("accepted", f"Q-{number[1:6]}")


def test_a_void_sample_is_kept_and_no_longer_counted() -> None:
    """A dropped cassette would count as the outdoor control, or vanish from the record."""
    story = visit("collected")
    story.voided(0)
    story.voided(0, reason="pump_fault")
    unused = story.number("sample")
    story.voided(unused)
    form = story.state()
    void = form.samples[story.samples[0]].void
    assert void is not None
    assert plain(void.body)["reason"] == "dropped"
    assert [sample.number for sample in form.live] == story.samples[1:]
    assert form.samples[unused].status == "announced"
    assert told(form) == []


def test_disposal_is_final() -> None:
    """A destroyed sample would be shown as accepted or on the shelf."""
    story = visit("accepted")
    number = story.samples[0]
    story.disposed([number])
    form = story.state()
    sample = form.samples[number]
    assert (sample.status, told(form)) == ("disposed", [])
    assert sample.holder is not None
    assert sample.holder.until == Moment.parse(f"{NEXT}T11:15:00-06:00")
    story.accepted([number], at=f"{NEXT}T12:00:00-06:00")
    story.held(by=CUSTODIAN, samples=[number], since=f"{NEXT}T12:05:00-06:00")
    story.sealed([number], by=CUSTODIAN, at=f"{NEXT}T12:10:00-06:00")
    story.disposed([number], at=f"{NEXT}T12:20:00-06:00")
    form = story.state()
    assert told(form, "after-disposal") == [("after-disposal", number)] * 4
    assert form.samples[number].status == "disposed"
    assert form.samples[story.samples[1]].status == "accepted"


def test_exceptions_affirmations_and_corrections_are_gathered() -> None:
    """A finding that was allowed in writing would still stop the envelope."""
    story = visit("collected")
    target = story.chains[f"form/{story.form}"][1]
    exception = story.excepted("OC-01", story.form)
    story.affirmed(target)
    story.corrected(target, "room", "kitchen")
    form = story.state()
    assert [each.entry for each in form.exceptions] == [exception]
    assert form.affirmed == {target.digest}
    assert [each.why_not for each in form.corrections] == [""]
    collected = form.samples[story.samples[0]].collected
    assert collected is not None
    assert collected.room == "kitchen"
    assert [each.digest for each in form.ordered] == [each.digest for each in form.entries]


def test_a_form_opened_twice_is_said() -> None:
    """A second opening could change the parties of a form that has begun."""
    story = visit("collected")
    data = dict(story.chains[f"form/{story.form}"][0].data) | {"visit": "2026-12-24"}
    story.add(f"form/{story.form}", "opened", data, by=SECOND_INSPECTOR, said=f"{DAY}T12:00:00-05:00")
    form = story.state()
    assert told(form) == [("opened-twice", None)]
    assert form.visit == date(2026, 12, 1)


# Any nonsense that is well formed

_PEOPLE = (INSPECTOR, SECOND_INSPECTOR, CLERK, CUSTODIAN, ANALYST, LAB_QUALITY)
_BASE = Moment.parse(f"{DAY}T08:00:00-05:00")
_STORY = Story()
_SAMPLES = [_STORY.number("sample") for _ in range(4)]
_ENVELOPES = [_STORY.number("envelope") for _ in range(2)]
_SEALS = [_STORY.number("seal") for _ in range(2)]
_FORM, _LOT = _STORY.number("form"), _STORY.number("lot")

_some = st.lists(st.sampled_from(_SAMPLES), min_size=1, max_size=4, unique=True)
_one = st.sampled_from(_SAMPLES)
_envelope = st.sampled_from(_ENVELOPES)
_count = st.integers(0, 5)
_at = st.one_of(
    st.integers(-60, 60 * 40).map(lambda m: Moment(_BASE.instant + timedelta(minutes=m), -300).text()),
    st.sampled_from(["1970-01-01T00:00:00Z", "2199-12-31T23:59:59Z"]),
)
_kids = st.sampled_from([None, *(person.kid for person in _PEOPLE)])
_org = st.sampled_from([FIRM, LAB, "third-party"])
_decision = st.fixed_dictionaries(
    {"samples": _some, "at": _at, "lab_numbers": st.dictionaries(_one, st.just("Q-1"), max_size=2)}
)
_items = _some.map(lambda samples: [{"sample": each, "condition": ["wet"]} for each in samples])
_dock = st.fixed_dictionaries(
    {
        "envelope": _envelope,
        "seal": st.sampled_from([None, "???", *_SEALS]),
        "seal_state": st.sampled_from(["intact", "missing"]),
        "package": st.just(["sound"]),
        "total": _count,
    }
)
_ACTS: dict[str, st.SearchStrategy[dict[str, Any]]] = {
    "opened": st.fixed_dictionaries(
        {
            "edition": st.just(1),
            "parties": st.just({"firm": FIRM, "lab": LAB}),
            "visit": st.just(DAY),
            "zone": st.just("UTC"),
        }
    ),
    "collected": st.fixed_dictionaries(
        {
            "sample": _one,
            "lot": st.just(_LOT),
            "kind": st.sampled_from(["indoor", "outdoor"]),
            "started": _at,
            "run_s": st.sampled_from([0, 300, 86_400]),
            "covers_on": st.booleans(),
        }
    ),
    "pump_checked": st.fixed_dictionaries(
        {
            "pump": st.just("PUMP-1"),
            "meter": st.just("METER-1"),
            "at": _at,
            "flow": st.sampled_from(["0", "15.0"]),
            "when": st.just("before"),
            "through_cassette": st.just(True),
            "adjusted": st.booleans(),
        }
    ),
    "outdoor_ruled_out": st.fixed_dictionaries({"at": _at, "reason": st.just("storm")}),
    "surface_collected": st.fixed_dictionaries(
        {"sample": _one, "medium": st.sampled_from(["tape", "bulk"]), "at": _at}
    ),
    "building_changed": st.fixed_dictionaries(
        {"at": _at, "what": st.just("windows"), "now": st.sampled_from(["open", "closed"])}
    ),
    "stored": st.fixed_dictionaries(
        {
            "samples": st.lists(_one, min_size=1, max_size=2, unique=True),
            "store": st.sampled_from(["FR-1", "FR-2"]),
            "secured": st.just("locked"),
            "at": _at,
        }
    ),
    "withdrawn": st.fixed_dictionaries(
        {
            "samples": st.lists(_one, min_size=1, max_size=2, unique=True),
            "store": st.sampled_from(["FR-1", "FR-2"]),
            "purpose": st.just("analysis"),
            "at": _at,
        }
    ),
    "requested": st.fixed_dictionaries(
        {"due": st.sampled_from(["2026-12-04", "2026-12-07"])},
        optional={"samples": st.lists(_one, min_size=1, max_size=2, unique=True)},
    ),
    "lab_numbered": st.fixed_dictionaries(
        {
            "numbers": st.dictionaries(_one, st.sampled_from(["Q-1", "Q-2"]), min_size=1, max_size=2),
            "at": _at,
        }
    ),
    "conditions_read": st.fixed_dictionaries(
        {"at": _at, "where": st.just("outdoors"), "rain_ended_h": st.sampled_from(["0", "30"])}
    ),
    "held": st.fixed_dictionaries(
        {
            "samples": st.none() | _some,
            "secured": st.sampled_from(["view", "sealed"]),
            "where": st.just("office"),
            "since": _at,
            "until": st.none() | _at,
        }
    ),
    "relinquished": st.fixed_dictionaries(
        {"samples": _some, "count": _count, "to": _org, "to_kid": _kids, "at": _at}
    ),
    "received": st.one_of(
        st.fixed_dictionaries({"items": _items, "count": _count, "at": _at}),
        st.fixed_dictionaries({"items": _items | st.just([]), "count": _count, "at": _at, "dock": _dock}),
    ),
    "sealed": st.fixed_dictionaries(
        {
            "envelope": _envelope,
            "seal": st.sampled_from(_SEALS),
            "samples": _some,
            "count": _count,
            "total": _count,
            "forms": st.just([_FORM]),
            "at": _at,
            "across_opening": st.booleans(),
            "record_enclosed": st.booleans(),
        }
    ),
    "taken_in": st.fixed_dictionaries(
        {
            "envelope": _envelope,
            "seal": st.none(),
            "seal_state": st.sampled_from(["intact", "broken", "not_looked_at"]),
            "package": st.just(["sound"]),
            "where": st.just("laboratory"),
            "secured": st.sampled_from(["locked", "sealed"]),
            "at": _at,
        }
    ),
    "forwarded": st.fixed_dictionaries(
        {
            "items": (
                st.permutations(_SAMPLES).map(
                    lambda s: [{"sample": s[0], "child": s[1], "item": "slide", "condition": ["stained"]}]
                )
            ),
            "count": _count,
            "to": _org,
            "purpose": st.just("analysis"),
            "at": _at,
        }
    ),
    "unsealed": st.fixed_dictionaries(
        {"envelope": _envelope, "seal": st.just("?"), "reason": st.just("damage"), "at": _at}
    ),
    "shipped": st.fixed_dictionaries(
        {
            "envelope": _envelope,
            "carrier": st.just(CARRIER),
            "service": st.just("slow"),
            "service_days": st.just(1),
            "handed_over": _at,
        }
    ),
    "accepted": _decision,
    "on_hold": _decision,
    "rejected": _decision,
    "voided": st.fixed_dictionaries({"sample": _one, "reason": st.just("lost")}),
    "excepted": st.fixed_dictionaries({"rule": st.just("OC-01"), "about": _one, "reason": st.just("other")}),
    "affirmed": st.just({"statements": ["A" * 43]}),
    "witnessed": st.just({"statements": ["A" * 43]}),
    "erased": st.just({"statement": "A" * 43, "count": 2}),
    "retention_held": st.just({"reason": "dispute"}),
    "retention_released": st.just({"reason": "settled"}),
    "notified": st.fixed_dictionaries(
        {
            "of": st.just("recall"),
            "about": _one,
            "to": st.just("client"),
            "how": st.just("telephone"),
            "at": _at,
        }
    ),
    "copied": st.fixed_dictionaries(
        {
            "of": st.sampled_from(["record", "result"]),
            "version": st.integers(1, 3),
            "entries": st.integers(1, 20),
        }
    ),
    "disposed": st.fixed_dictionaries({"samples": _some, "how": st.just("destroyed"), "at": _at}),
}
_NEW_VALUES: list[Callable[[Any], Any]] = [
    lambda old: old,
    lambda old: None,
    lambda old: _SAMPLES[0],
    lambda old: _SAMPLES[:2],
    lambda old: _ENVELOPES[1],
    lambda old: {"deep": [old]},
    lambda old: "2199-12-31T23:59:59Z",
]


@st.composite
def any_form(draw: st.DrawFn) -> Story:
    """Well-formed acts in any order, by anybody, at any time, with gaps, forks,
    references and corrections.
    """
    story = Story()
    story.opened(form=_FORM)
    chain = f"form/{_FORM}"
    for _ in range(draw(st.integers(1, 14))):
        entries = story.chains[chain]
        act = draw(st.sampled_from(["corrected", *_ACTS]))
        if act == "corrected":
            target = draw(st.sampled_from(entries))
            member = draw(st.sampled_from(sorted(target.data)))
            old = target.data[member]
            data = {
                "statement": target.digest,
                "field": member,
                "old": old,
                "new": draw(st.sampled_from(_NEW_VALUES))(old),
            }
            data["reason"] = "other"
        else:
            data = draw(_ACTS[act])
        person: Person = draw(st.sampled_from(_PEOPLE))
        story.add(
            chain,
            act,
            data,
            by=person,
            said=draw(_at),
            seq=draw(st.integers(1, 8)),
            after=draw(st.sampled_from([None, "unknown", *(entry.leaf for entry in entries)])),
            refs=draw(st.lists(st.sampled_from([entry.digest for entry in entries]), max_size=1)),
        )
    return story


def test_every_act_of_a_form_is_tried_below() -> None:
    """An act added later would never have been read out of order."""
    missed = {"corrected", *_ACTS} ^ set(ON_CHAIN["form"])
    assert not missed, (
        f"tests/domain/test_forms.py: _ACTS: write how {missed} is drawn, or take out what is no act"
    )


@pytest.mark.slow
@given(any_form())
@settings(max_examples=often(40, thorough=300))
def test_no_well_formed_statement_can_stop_the_reading_of_a_form(story: Story) -> None:
    """One strange but signed statement would make a whole form unreadable for ever, and hide its true bad
    facts.
    """
    chain = list(story.chains[f"form/{_FORM}"])
    form = story.state()
    assert form.visit
    assert story.chains[f"form/{_FORM}"] == chain
    for sample in form.samples.values():
        assert (sample.stopped is None) == (sample.collected is None and sample.surface is None)
        assert all(link.until for link in sample.links[:-1])
        assert all(link.received.n for link in sample.links)
        if sample.links:
            assert sample.holder is sample.links[-1]
    for envelope in form.envelopes.values():
        assert envelope.docked is None or envelope.arrivals
        assert envelope.sealing is None or envelope.sealing.body.envelope == envelope.number
    assert {sample.number for sample in form.live} <= set(form.samples)
    assert len(pairing.pairs(form)) == len(pairing.of_kind(form, "indoor"))
    assert {odd.entry.digest for odd in form.oddities} <= {entry.digest for entry in chain}
    assert summary(form) == summary(forms.fold(_FORM, chain))


@pytest.mark.slow
@given(any_form())
@settings(max_examples=often(25, thorough=150))
def test_nothing_said_about_a_sample_is_lost(story: Story) -> None:
    """A cassette named in a signed statement would be missing from the custody record, and no finding would
    name it. Of the firm alone are requests: another's makes nothing.
    """
    form = story.state()
    odd = {(each.entry.digest, each.sample) for each in form.oddities}
    for entry in form.ordered:
        if entry.act == "requested" and entry.org != FIRM:
            continue
        for member in ("samples", "items", "sample"):
            value = entry.data.get(member) or []
            named = [
                each["sample"] if isinstance(each, dict) else each
                for each in ([value] if isinstance(value, str) else value)
            ]
            lost = set(named) - set(form.samples)
            assert {(entry.digest, each) for each in lost} <= odd
