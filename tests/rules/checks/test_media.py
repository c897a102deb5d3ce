"""The media lot. Days and limits: common practice, no source, unless a check says otherwise."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from bailee.domain.numbers import grouped
from builders import DAY, INSPECTOR, MEDIA_KEEPER, QUALITY, Story, findings, visit


def test_a_cassette_of_an_unknown_lot_stops_the_envelope() -> None:
    """Without its lot neither expiry nor recall of a cassette can ever be checked."""
    story = Story()
    story.lot()
    unknown = story.number("lot")
    story.opened()
    story.collected(0, lot=unknown)
    story.collected(1)
    (found,) = findings(story.case(sealing=story.sealing()), "ML-01")
    assert (found.severity, found.about, found.area) == ("block", story.samples[0], "media")
    assert grouped(story.samples[0]) in found.sentence
    assert grouped(unknown) in found.sentence


def test_an_unknown_lot_found_after_shipping_is_a_flag() -> None:
    """What has left cannot be held back: it must be shown, not blocked for ever."""
    story = visit("shipped")
    found, *_ = findings(replace(story.case(), lots={}), "ML-01")
    assert found.severity == "flag"


@pytest.mark.parametrize(
    ("expiry", "started", "zone", "expired"),
    [
        # domain catalog 4.5, vectors EXP-01 to EXP-03: the day of the site counts, the printed day included.
        ("2026-11-30", "2026-12-01T05:00:00+00:00", "America/Los_Angeles", False),
        ("2026-11", "2026-11-30T23:59:00-05:00", "America/New_York", False),
        ("2026-11-30", "2026-12-01T00:00:00-05:00", "America/New_York", True),
        ("2026-11", "2026-12-01T00:00:00-05:00", "America/New_York", True),
        ("2028-02", "2028-02-29T12:00:00-05:00", "America/New_York", False),
        ("2026-11-30", "2026-12-01T05:00:00+00:00", "America/New_York", True),
    ],
)  # fmt: skip
def test_expiry_is_judged_on_the_day_of_the_site(expiry: str, started: str, zone: str, expired: bool) -> None:
    """A good sample is thrown away, or an expired one used, if midnight is taken from the wrong clock."""
    story = visit("collected", lot={"expiry": expiry}, opened={"zone": zone}, first={"started": started})
    found = [each for each in findings(story.case(), "ML-02") if each.concerns(story.samples[0])]
    assert [each.severity for each in found] == (["block"] if expired else [])
    if expired:
        assert grouped(story.samples[0]) in found[0].sentence
        assert "(1 day)" in found[0].sentence
        assert "2026-11-30" in found[0].sentence


@pytest.mark.parametrize(
    ("grace", "expiry", "hits"), [(0, "2026-11-30", 1), (1, "2026-11-30", 0), (1, "2026-11-29", 1)]
)
def test_days_of_grace_are_counted_from_the_last_good_day(grace: int, expiry: str, hits: int) -> None:
    """A firm that allows a day must not be given two, nor none."""
    story = visit("collected", policy={"expiry_grace_days": grace}, lot={"expiry": expiry})
    assert len(findings(story.case(), "ML-02")) == hits


def test_an_expired_cassette_is_a_flag_once_it_has_left_and_a_warning_once_excepted() -> None:
    """A true bad fact is recorded and shown; a second person may allow it, the collector may not."""
    gone = visit("shipped", lot={"expiry": "2026-11-30"})
    assert {each.severity for each in findings(gone.case(), "ML-02")} == {"flag"}
    story = visit("kept", lot={"expiry": "2026-11-30"})
    story.excepted("ML-02", story.samples[0], reason="lab_accepts")
    others, allowed = findings(story.case(), "ML-02")
    assert (allowed.about, allowed.severity) == (story.samples[0], "warn")
    assert QUALITY.name in allowed.excepted
    assert (others.about, others.severity) == (story.form, "block")
    assert others.samples == tuple(story.samples[1:])


def test_one_exception_for_each_sample_is_one_finding() -> None:
    """Three cassettes of one old lot, each allowed by the same person for the same reason, are three warnings
    to acknowledge.
    """
    story = visit("kept", lot={"expiry": "2026-11-30"})
    signed = [story.excepted("ML-02", each, reason="lab_accepts") for each in story.samples]
    (found,) = findings(story.case(), "ML-02")
    assert (found.severity, found.samples) == ("warn", tuple(story.samples))
    assert found.excepted.endswith(f"(entries {signed[0].n}, {signed[1].n} and {signed[2].n})")
    alone = visit("kept", lot={"expiry": "2026-11-30"})
    (stops,) = findings(alone.case(), "ML-02")
    assert stops.acts[-1] == {"act": "excepted", "about": None, "rule": "ML-02", "reason": None}


def test_the_collector_cannot_except_an_expired_cassette_by_signing_on_another_form() -> None:
    """An exception written on a colleague's form would excuse its own signer (segregation: SI-11)."""
    story = visit("kept", lot={"expiry": "2026-11-30"})
    story.opened(by=QUALITY)
    story.excepted("ML-02", story.samples[0], by=INSPECTOR)
    assert {each.severity for each in findings(story.case(), "ML-02")} == {"block"}


def test_a_lot_without_expiry_stops_its_samples_and_its_issue() -> None:
    """A cassette of unknown age is used as if it were good (49 CFR 40.199(b)(9) by analogy)."""
    story = visit("collected", lot={"expiry": None})
    (found,) = findings(story.case(), "ML-03")
    assert (found.severity, found.about, found.samples) == ("block", story.form, tuple(story.samples))
    assert all(grouped(each) in found.sentence for each in story.samples)
    (at_issue,) = findings(replace(story.case(), forms={}), "ML-03")
    assert (at_issue.severity, at_issue.about) == ("block", story.lots[0])
    assert grouped(story.lots[0]) in at_issue.sentence
    shipped = visit("shipped", lot={"expiry": None})
    assert {each.severity for each in findings(shipped.case(), "ML-03")} == {"flag"}


@pytest.mark.parametrize(
    ("expiry", "words"),
    [
        ("2026-11-30", None),  # already out of date: that is ML-02
        ("2026-12-01", "0 days to go"),
        ("2026-12-02", "1 day to go"),
        ("2026-12-31", "30 days to go"),
        ("2027-01-01", None),
        (None, None),
    ],
)
def test_a_lot_within_thirty_days_of_its_expiry_is_noted(expiry: str | None, words: str | None) -> None:
    """The oldest lot is left on the shelf until it is waste."""
    story = visit("collected", lot={"expiry": expiry})
    found = findings(story.case(), "ML-05")
    alone = findings(replace(story.case(), forms={}), "ML-05")
    for each in (found, alone):
        assert [(f.severity, f.about) for f in each] == ([("note", story.lots[0])] if words else [])
        assert all(words is None or words in f.sentence for f in each)


def test_a_lot_is_near_its_expiry_by_the_last_day_it_was_used_and_by_its_owner_s_limit() -> None:
    """The note would change with the day on which somebody looks at an old record."""
    story = Story()
    story.policy(expiry_near_days=5)
    story.lot(expiry="2026-12-08")
    story.opened()
    story.collected(0, started=f"{DAY}T09:00:00-05:00")
    assert findings(story.case(at="2026-12-07T09:00:00-05:00"), "ML-05") == []
    story.opened(visit="2026-12-03")
    story.collected(1, started="2026-12-03T09:00:00-05:00")
    story.collected(2, started="2026-12-02T09:00:00-05:00")
    (found,) = findings(story.case(), "ML-05")
    assert "2026-12-03" in found.sentence
    alone = replace(story.case(), forms={})
    assert (
        findings(replace(alone, organizations={}), "ML-05") != []
    )  # nobody's limit known: the default of 30 days


@pytest.mark.parametrize(
    ("recalled", "rule", "severity"),
    [
        ("2026-12-01T09:11:55-05:00", "ML-06", "block"),  # recorded 09:12:00, the very start
        ("2026-12-01T09:11:56-05:00", "ML-07", "flag"),  # a second later: used in good faith
        ("2026-11-20T09:00:00-05:00", "ML-06", "block"),
        ("2026-12-05T09:00:00-05:00", "ML-07", "flag"),
    ],
)
def test_a_recall_is_judged_by_whether_the_cassette_was_used_before_it(
    recalled: str, rule: str, severity: str
) -> None:
    """A cassette used against a recall and one used in good faith are two different faults."""
    story = visit("collected")
    story.on_lot("recalled", reason="maker", said=recalled)
    found = [each for each in findings(story.case(), "ML-06", "ML-07") if each.concerns(story.samples[0])]
    assert [(each.rule, each.severity) for each in found] == [(rule, severity)]
    assert grouped(story.samples[0]) in found[0].sentence
    assert grouped(story.lots[0]) in found[0].sentence
    assert "maker" in found[0].sentence


def test_a_recall_after_shipping_names_envelope_and_laboratory_of_every_sample() -> None:
    """Domain catalog 8, scenario 5: those who hold the samples are not told, and report them as good."""
    story = visit("accepted")
    story.on_lot("recalled", reason="quality", said="2026-12-10T09:00:00-05:00")
    (found,) = findings(story.case(), "ML-07")
    assert (found.about, found.samples) == (story.form, tuple(story.samples))
    for each in (*story.samples, story.envelope):
        assert grouped(each) in found.sentence
    assert "quill-lab" in found.sentence
    assert "2026-12-10 14:00" in found.sentence
    assert findings(story.case(), "ML-06") == []


@pytest.mark.parametrize("recalled", ["2026-11-20T09:00:00-05:00", "2026-12-10T09:00:00-05:00"])
def test_a_lifted_recall_speaks_no_more(recalled: str) -> None:
    """Samples would stay under suspicion after the lot was cleared."""
    story = visit("collected")
    story.on_lot("recalled", reason="storage", said=recalled)
    assert findings(story.case(), "ML-06", "ML-07") != []
    story.on_lot("released", reason="checked", said="2026-12-11T09:00:00-05:00", by=QUALITY)
    assert findings(story.case(), "ML-06", "ML-07") == []


def test_a_recalled_lot_looked_at_alone_must_not_be_issued() -> None:
    """The media keeper would hand out cassettes that the maker called back."""
    story = Story()
    story.lot(issue=False)
    assert findings(story.case(), "ML-06") == []
    story.on_lot("recalled", reason="maker", said="2026-11-20T09:00:00-05:00", by=MEDIA_KEEPER)
    (found,) = findings(story.case(), "ML-06")
    assert (found.severity, found.about) == ("block", story.lots[0])
    assert "2026-11-20 14:00" in found.sentence


@pytest.mark.parametrize(
    ("expiry", "hits"), [("2026-11-30", 0), ("2026-12-01", 1), ("2026-12-02", 0), (None, 0)]
)
def test_a_lot_that_expired_on_the_way_is_only_noted(expiry: str | None, hits: int) -> None:
    """The laboratory would reject a sample that was collected in date and received the day after."""
    story = visit("accepted", lot={"expiry": expiry})
    found = findings(story.case(), "ML-08")
    assert [each.severity for each in found] == ["note"] * hits
    assert all("2026-12-01" in each.sentence and "2026-12-02" in each.sentence for each in found)
    assert findings(visit("shipped", lot={"expiry": expiry}).case(), "ML-08") == []


@pytest.mark.parametrize(("policy", "hits"), [({}, 1), ({"same_lot_wanted": False}, 0)])
def test_lots_mixed_within_one_visit_are_shown(policy: dict[str, Any], hits: int) -> None:
    """Indoor and outdoor would differ because their media do, and nobody would think of it."""
    story = Story()
    story.policy(**policy)
    first, second = story.lot(), story.lot()
    story.opened()
    story.collected(0, lot=first)
    story.collected(3, "outdoor", lot=second)
    found = findings(story.case(), "ML-11")
    assert [(each.severity, each.about) for each in found] == [("warn", story.form)] * hits
    assert all("2 lots" in each.sentence and grouped(story.samples[3]) in each.sentence for each in found)
    story.voided(3)
    assert findings(story.case(), "ML-11") == []
