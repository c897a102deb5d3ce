"""Number and glass. Common practice, no source, unless a check says otherwise."""

from __future__ import annotations

import pytest

from bailee.domain.numbers import grouped
from bailee.rules.case import Bearing, Elsewhere
from bailee.rules.verdicts import verdicts
from builders import (
    BEFORE_AND_AFTER,
    CLERK,
    FIRM,
    INSPECTOR,
    LAB,
    QUALITY,
    SECOND_INSPECTOR,
    Person,
    Step,
    Story,
    findings,
    visit,
)


@pytest.mark.parametrize(
    ("serial", "wanted", "fires"), [("G-1", True, False), (None, True, True), (None, False, False)]
)
def test_a_cassette_without_its_serial_is_a_warning(serial: str | None, wanted: bool, fires: bool) -> None:
    """A printed code on the wrong cassette stays wrong, and nothing could show it."""
    for upto in ("collected", "shipped"):
        story = visit(upto, policy={"serial_required": wanted}, first={"serial": serial})
        found = findings(story.case(), "CL-03")
        assert [(each.severity, each.about) for each in found] == [("warn", story.samples[0])] * fires
        assert all(grouped(story.samples[0]) in each.sentence for each in found)


def test_one_serial_under_two_numbers_blocks_both_and_is_a_flag_once_gone() -> None:
    """One piece of glass would be analyzed as two rooms."""
    same = {"first": {"serial": "G-7"}, "second": {"serial": "G-7"}}
    story = visit("collected", **same)
    found = findings(story.case(sealing=story.sealing()), "CL-04")
    assert [(each.severity, each.about) for each in found] == [
        ("block", number) for number in sorted(story.samples[:2])
    ]
    for each in found:
        assert "G-7" in each.sentence
        assert grouped(story.samples[0]) in each.sentence
        assert grouped(story.samples[1]) in each.sentence
    story.voided(1)
    assert findings(story.case(), "CL-04") == []
    gone = visit("shipped", **same)
    gone.excepted("CL-04", gone.samples[0])
    assert [each.severity for each in findings(gone.case(), "CL-04")] == ["flag", "flag"]


@pytest.mark.parametrize(("same_lot", "severity"), [(True, "block"), (False, "note")])
def test_two_makers_may_number_alike_on_two_visits(same_lot: bool, severity: str) -> None:
    """Two boxes of two makers both hold a cassette 000001, and neither inspector did anything wrong."""
    story = Story()
    first = story.lot()
    second = story.lot()
    story.opened()
    story.collected(0, serial="000001", lot=first)
    story.opened()
    story.collected(3, serial="000001", lot=first if same_lot else second)
    found = findings(story.case(), "CL-04")
    assert [(each.severity, each.about) for each in found] == [
        (severity, number) for number in sorted((story.samples[0], story.samples[3]))
    ]


@pytest.mark.parametrize(
    ("org", "serial", "same_lot", "severities"),
    [
        (FIRM, "G-000001", True, ["block"]),
        (FIRM, "G-000001", False, ["note"]),
        (LAB, "G-000001", True, []),
        (FIRM, "G-00001", True, []),
    ],
)
def test_a_serial_collected_on_another_form_is_said_before_the_envelope_closes(
    org: str, serial: str, same_lot: bool, severities: list[str]
) -> None:
    """The clerk holds one visit, and only the ledger knows that this glass was somebody's
    bedroom last week.
    """
    story = visit("collected")
    other = story.number("sample")
    lot = story.lots[-1] if same_lot else story.number("lot")
    elsewhere = Elsewhere(serials={f"{org}/{serial}": (Bearing(other, lot),)})
    for sealing in (None, story.sealing()):
        found = findings(story.case(sealing=sealing, elsewhere=elsewhere), "CL-04")
        assert [each.severity for each in found] == severities
        for each in found:
            assert each.about == story.samples[0]
            assert "G-000001" in each.sentence
            assert grouped(other) in each.sentence
    gone = visit("shipped")
    elsewhere = Elsewhere(serials={f"{org}/{serial}": (Bearing(other, gone.lots[-1]),)})
    after = findings(gone.case(elsewhere=elsewhere), "CL-04")
    assert [each.severity for each in after] == ["flag"] * (serial == "G-000001" and org == FIRM)


def test_a_sample_is_not_its_own_double() -> None:
    """A cassette re-entered on a second form is CL-01, and must not be called two cassettes as well."""
    story = visit("collected")
    own = Elsewhere(serials={f"{FIRM}/G-000001": (Bearing(story.samples[0], story.lots[-1]),)})
    assert findings(story.case(elsewhere=own), "CL-04") == []


@pytest.mark.parametrize(("place", "fires"), [("body", False), ("cover", True), ("bag", True), (None, False)])
def test_a_label_that_comes_off_is_a_warning(place: str | None, fires: bool) -> None:
    """The cover is thrown away with the label, and a nameless cassette lies on the bench."""
    for upto in ("collected", "shipped"):
        story = visit(upto, first={"label_on": place})
        found = findings(story.case(), "CL-06")
        assert [(each.severity, each.about) for each in found] == [("warn", story.samples[0])] * fires
        assert all(str(place) in each.sentence for each in found)


@pytest.mark.parametrize(
    ("by_hand", "of", "limit", "severity"),
    [
        (0, 5, "20", None),
        (1, 5, "20", "note"),
        (1, 4, "20", "warn"),
        (2, 5, "40", "note"),
        (2, 5, "39.9", "warn"),
        (5, 5, "20", "warn"),
    ],
)
def test_typed_numbers_are_noted_and_many_of_them_warned_of(
    by_hand: int, of: int, limit: str, severity: str | None
) -> None:
    """A clerk who types instead of scanning makes three errors in a thousand, and nobody looks (Garza 2025,
    read).
    """
    story = Story()
    story.policy(typed_warn_pct=limit)
    story.lot(samples=of)
    story.opened()
    for index in range(of):
        story.collected(index, entered="typed" if index < by_hand else "scan")
    for case in (story.case(), story.case(sealing=story.sealing())):
        found = findings(case, "CL-07")
        assert [(each.severity, each.about) for each in found] == (
            [(severity, story.form)] if severity else []
        )
        assert all(f"{by_hand} of {of} numbers" in each.sentence and limit in each.sentence for each in found)


@pytest.mark.parametrize(
    ("prints", "why", "words"),
    [
        (1, None, ""),
        (None, None, ""),
        (2, "damaged", "2 times (damaged)"),
        (3, None, "3 times and no reason"),
    ],
)
def test_a_label_printed_again_is_a_warning(prints: int | None, why: str | None, words: str) -> None:
    """Two labels with one number are two cassettes with one name (Karcher 2014, read: relabeling is
    dangerous).
    """
    for upto in ("collected", "shipped"):
        story = visit(upto, first={"label_prints": prints, "label_reprinted": why})
        found = findings(story.case(), "CL-08")
        assert [(each.severity, each.about) for each in found] == (
            [("warn", story.samples[0])] if words else []
        )
        assert all(words in each.sentence for each in found)


def renamed(upto: Step, by: Person) -> tuple[Story, str, str]:
    """A cassette that was given another number after its collection: old and new."""
    story = visit(upto)
    old, new = story.samples[0], story.number("sample")
    claim = story.state().samples[old].claims[0].entry
    story.corrected(claim, "sample", new, by=by, reason="wrong_item")
    return story, old, new


def test_a_cassette_given_another_number_is_stopped_until_the_quality_role_signs() -> None:
    """Mislabels are found among the relabeled later on (Karcher 2014, read).

    One person alone must not do it.
    """
    story, old, new = renamed("collected", INSPECTOR)
    (found,) = findings(story.case(), "CL-09")
    assert (found.severity, found.about) == ("block", new)
    for each in (grouped(old), grouped(new), INSPECTOR.name, "wrong item"):
        assert each in found.sentence
    for signer in (INSPECTOR, SECOND_INSPECTOR, CLERK):
        story.excepted("CL-09", new, by=signer)
        assert [each.severity for each in findings(story.case(), "CL-09")] == ["block"]
    story.excepted("CL-09", new, by=QUALITY)
    (signed,) = findings(story.case(), "CL-09")
    assert (signed.severity, QUALITY.name in signed.excepted) == ("warn", True)


def test_a_new_number_given_by_the_quality_role_is_a_warning() -> None:
    """The person whose signature is wanted would be asked to sign twice."""
    story, _, new = renamed("collected", QUALITY)
    assert [(each.severity, each.about) for each in findings(story.case(), "CL-09")] == [("warn", new)]


def test_a_corrected_height_is_no_new_number_and_one_not_followed_changes_none() -> None:
    """Every small correction would stop the envelope."""
    story = visit("collected")
    claim = story.state().samples[story.samples[0]].claims[0].entry
    story.corrected(claim, "height_m", "1.4")
    story.corrected(claim, "sample", story.number("sample"), old=story.samples[1])
    assert findings(story.case(), "CL-09") == []


def test_a_new_number_after_shipping_is_a_flag() -> None:
    """What has left cannot be held back; that it was renamed must stay visible."""
    story = Story()
    story.lot()
    story.opened()
    story.corrected(story.collected(0), "sample", story.number("sample"))
    assert [each.severity for each in findings(story.case(), "CL-09")] == ["block"]
    story.sealed()
    story.shipped()
    assert [each.severity for each in findings(story.case(), "CL-09")] == ["flag"]


@pytest.mark.parametrize(
    ("owner", "fires"),
    [("harrow-field", False), (LAB, False), ("other-firm", True)],  # a laboratory may supply the cassettes
)
def test_a_label_of_an_organization_that_is_no_party_stops_the_envelope(owner: str, fires: bool) -> None:
    """A cassette from somebody else's kit has somebody else's lot, recall and issue."""
    for upto, severity in BEFORE_AND_AFTER:
        story = visit(upto, lot={"by": Person(owner, "media_keeper", "Keeper")})
        found = findings(story.case(), "CL-10")
        assert [(each.severity, each.about) for each in found] == [
            (severity, number) for number in sorted(story.samples)
        ] * fires
        assert all("harrow-field" in each.sentence and "other-firm" in each.sentence for each in found)


def test_a_borrowed_cassette_may_be_allowed_by_a_second_person() -> None:
    """A cassette lent on paper could never be sent in."""
    story = visit("collected", lot={"by": Person("other-firm", "media_keeper", "Keeper")})
    story.excepted("CL-10", story.samples[0], by=INSPECTOR)
    assert {each.severity for each in findings(story.case(), "CL-10")} == {"block"}
    story.excepted("CL-10", story.samples[0], reason="documented_elsewhere")
    by_sample = {each.about: each.severity for each in findings(story.case(), "CL-10")}
    assert by_sample == {story.samples[0]: "warn", story.samples[1]: "block", story.samples[2]: "block"}


def test_serials_of_visits_that_are_not_here_are_said_to_be_unchecked() -> None:
    """A used cassette taken a second time would look new, and the verdict as if somebody had compared."""
    alone, asked = (
        "for sample numbers, serials and seals.",
        "Serials used twice: each organization's",
    )
    for serial, expected in (("G-1", True), (None, False)):
        story = visit("accepted", first={"serial": serial}, second={"serial": None}, outdoor={"serial": None})
        for elsewhere, count in ((None, (1, 0)), (Elsewhere(), (0, expected))):
            unchecked = verdicts(story.case(elsewhere=elsewhere), [], records_state="own log")[1].not_checked
            assert tuple(sum(said in line for line in unchecked) for said in (alone, asked)) == count
