"""The table of samples: RFC 4180, and safe to open."""

from __future__ import annotations

import csv
import io

import pytest

from bailee.documents import samples_csv
from bailee.documents.samples_csv import COLUMNS, cell
from builders import DAY, Story, visit


def rows(story: Story) -> list[dict[str, str]]:
    """The table read back."""
    return list(csv.DictReader(io.StringIO(samples_csv.write(story.state(), story.case()), newline="")))


def test_one_line_a_sample_with_what_was_signed() -> None:
    """The laboratory would have to type the figures again, and mistype one."""
    story = visit()
    table = rows(story)
    assert [row["sample"] for row in table] == sorted(story.samples)
    row = next(row for row in table if row["sample"] == story.samples[0])
    body = story.state().samples[story.samples[0]].taken
    assert row["lot"] == body.lot
    assert (row["flow_before_lpm"], row["run_s"]) == (str(body.flow_before), str(body.run_s))
    assert row["started"] == body.started.text()
    assert (row["status"], row["seal_state"], row["condition"]) == ("accepted", "intact", "intact")
    assert row["lab_number"]
    assert row["outdoor_control"] in story.samples


def test_what_was_taken_in_unopened_was_received_then() -> None:
    """The report would date the receipt three days late (ISO/IEC 17025:2017 7.8.2.1: the date of receipt)."""
    story = visit("shipped")
    story.taken_in(at="2026-12-04T18:15:00-06:00")
    told = {(each["received"], each["status"], each["seal_state"]) for each in rows(story)}
    assert told == {("2026-12-04T18:15:00-06:00", "taken_in", "")}
    story.docked(at="2026-12-07T09:00:00-06:00")
    told = {(each["received"], each["status"], each["seal_state"]) for each in rows(story)}
    assert told == {("2026-12-04T18:15:00-06:00", "received", "intact")}


@pytest.mark.parametrize(("taken_in", "read"), [(3, "3"), (None, "1")])
def test_containers_stand_as_sealed_and_as_counted_first(taken_in: int | None, read: str) -> None:
    """The bag that did not come would be missing on the laboratory's desk too."""
    story = visit("shipped", sealed={"containers": 2})
    assert {(each["containers_sealed"], each["containers_received"]) for each in rows(story)} == {("2", "")}
    story.taken_in(containers=taken_in)
    story.docked(dock={"containers": 1})
    assert {(each["containers_sealed"], each["containers_received"]) for each in rows(story)} == {("2", read)}


def test_the_air_that_was_read_stands_beside_each_sample() -> None:
    """The laboratory would have to look for it on another paper (ISO/IEC 17025:2017 7.8.2.1)."""
    told = [(each["kind"], each["air_temperature_c"], each["air_humidity_pct"]) for each in rows(visit())]
    assert sorted(told) == [("indoor", "21.0", "45"), ("indoor", "21.0", "45"), ("outdoor", "9.0", "70")]


def test_of_a_surface_its_area_stands_and_no_run() -> None:
    """A tape would stand in the laboratory's table without what it was lifted from, or with other air."""
    story = visit("relinquished")
    story.surface_collected("tape")
    row = next(each for each in rows(story) if each["sample"] == story.samples[-1])
    told = {name: row[name] for name in ("medium", "material", "surface", "area_cm2", "mass_g", "room")}
    assert told == {
        "medium": "tape", "material": "drywall", "surface": "growth", "area_cm2": "4", "mass_g": "",
        "room": "kitchen",
    }  # fmt: skip
    assert row["started"] == f"{DAY}T09:50:00-05:00"
    assert not any(row[name] for name in ("kind", "lot", "run_s", "volume_l", "outdoor_control", "serial"))


def test_lines_end_and_cells_are_quoted_as_the_standard_says() -> None:
    """A place with a comma or a line break would move every cell behind it (RFC 4180 2.1, 2.6, 2.7)."""
    story = visit("opened")
    story.collected(0, disclosed={"place": 'north wall, "behind"\r\nthe desk'})
    text = samples_csv.write(story.state(), story.case())
    assert text.split("\r\n")[0] == ",".join(COLUMNS)
    assert text.endswith("\r\n")
    assert '"north wall, ""behind""\r\nthe desk"' in text
    assert rows(story)[0]["place"] == 'north wall, "behind"\r\nthe desk'


def test_a_form_without_samples_is_a_line_of_names() -> None:
    """An empty file would look like a failed download."""
    assert samples_csv.write(visit("opened").state(), visit("opened").case()) == ",".join(COLUMNS) + "\r\n"


@pytest.mark.parametrize(
    "text", ["=1+1", '=HYPERLINK("x")', "+cmd", "-2+3", "@SUM(A1)", "\tx", "\r=1", "--1", "+", "-", "=-1"]
)
def test_nothing_typed_becomes_a_formula(text: str) -> None:
    """A remark typed on a phone could run a command on the desk of whoever opens the table (common practice,
    no source).
    """
    assert cell(text) == f"'{text}"


@pytest.mark.parametrize("text", ["-5", "+3", "-5.0", "0.5", "P-7", "a=b", "", "AF-1002003"])
def test_numbers_and_ordinary_text_stay_as_they_are(text: str) -> None:
    """A temperature below zero would be text, and no spreadsheet could compute with it."""
    assert cell(text) == text
    assert cell(None) == ""


def test_what_is_requested_stands_beside_each_sample() -> None:
    """The laboratory's own system would enter the order of the first sample for all of them."""
    story = visit()
    story.requested(due="2026-12-07", cost_center="4711")
    story.requested([story.samples[0]], analysis="spore count", priority="rush", purchase="PO-7")
    told = {
        row["sample"]: tuple(row[name] for name in ("analysis", "turnaround", "due", "purchase", "priority"))
        for row in rows(story)
    }
    assert told[story.samples[0]] == ("spore count", "standard", "2026-12-07", "PO-7", "rush")
    assert told[story.samples[1]] == ("direct-exam", "standard", "2026-12-07", "", "")
    assert {row["cost_center"] for row in rows(story)} == {"4711"}


def test_the_store_stands_beside_each_sample() -> None:
    """Whoever looks for a sample would open every refrigerator."""
    story = visit()
    story.stored(story.samples[:1], keep_until="2027-03-01")
    told = {row["sample"]: (row["store"], row["keep_until"], row["held_by"]) for row in rows(story)}
    assert told[story.samples[0]] == ("FR-1", "2027-03-01", "store FR-1")
    assert told[story.samples[1]][:2] == ("", "")


def test_limits_stand_while_it_is_in_the_store_and_why_it_was_withdrawn_while_it_is_out() -> None:
    """A laboratory that reads the table only could not say how warm a sample was kept, nor why it is out."""
    story = visit()
    first, second, third = story.samples

    def told() -> list[tuple[str, str, str]]:
        here = {row["sample"]: row for row in rows(story)}
        names = ("store_low_c", "store_high_c", "withdrawn_for")
        return [tuple(here[each][name] for name in names) for each in (first, second, third)]  # type: ignore[misc]

    story.stored([first, second], low_c="-5", high_c="8")
    story.stored([third], high_c="8")
    assert told() == [("-5", "8", ""), ("-5", "8", ""), ("", "8", "")]
    story.withdrawn([second, third], purpose="review")
    assert told() == [("-5", "8", ""), ("", "", "review"), ("", "", "review")]
    story.stored([second], at="2026-12-02T15:00:00-06:00")
    assert told()[1] == ("", "", "")
    story.withdrawn([first], purpose="disposal")
    story.disposed([first])
    assert told()[0] == ("", "", "disposal")


def test_what_it_replaces_stands_beside_the_new_sample() -> None:
    """The report would show one room twice, and not say why."""
    story = visit("opened")
    story.collected(0)
    story.collected(1, replaces=story.samples[0])
    told = {row["sample"]: row["replaces"] for row in rows(story)}
    assert told == {story.samples[0]: "", story.samples[1]: story.samples[0]}
