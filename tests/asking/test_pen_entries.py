"""What stands on a sheet, column by column: what it becomes, and why a line is left out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any

import pytest

from bailee.asking import pen_entries, pen_lines, pen_sheet
from bailee.asking.pen_entries import WrittenSheet
from bailee.domain import numbers
from bailee.domain.moments import Moment
from bailee.errors import BaileeError, Malformed

FORM, SAMPLE = numbers.issue("form", lambda _: "3"), numbers.issue("sample", lambda _: "3")
LOT = numbers.issue("lot", lambda _: "3")
SHEET = WrittenSheet(
    f"{FORM}-1", date(2026, 12, 1), "America/New_York", Moment.parse("2026-12-01T11:20:00-05:00"),
    lambda sample: {"lot": LOT, "nominal_flow": "15.0"} if sample == SAMPLE else None,
    "P-7", "M-3", {"sky": "clear", "wind": "light"}, None, (SAMPLE,),
)  # fmt: skip
RUN = {
    "sample": SAMPLE, "serial": "K-1", "kind": "IN", "room": "BED", "area": "COMP", "start": "10:00",
    "run": "5:00", "height": "4 ft", "covers": "yes", "point": "P1", "near": "VENT, PLNT",
}  # fmt: skip


def faults(line: str, said: Mapping[str, str], sheet: WrittenSheet = SHEET) -> list[tuple[str, str]]:
    """Column and sentence of what is wrong with a line."""
    values, found = pen_lines.read(sheet.name, line, said)
    found = found or pen_entries.entries(sheet, line, values, said)[1]
    return [(each.column, each.sentence) for each in found]


def data(line: str, said: Mapping[str, str], sheet: WrittenSheet = SHEET) -> list[Mapping[str, Any]]:
    """The facts that a line becomes."""
    assert faults(line, said, sheet) == []
    values, _ = pen_lines.read(sheet.name, line, said)
    return [each.data for each in pen_entries.entries(sheet, line, values, said)[0]]


def test_a_line_is_a_run_with_its_codes_in_words() -> None:
    """A code read as another room puts the sample where nobody took it."""
    (run,) = data("1", RUN)
    assert {name: run[name] for name in ("kind", "room", "area", "near", "run_s", "pump", "lot")} == {
        "kind": "indoor", "room": "bedroom", "area": "complaint", "near": ["supply_vent", "plants"],
        "run_s": 300, "pump": "P-7", "lot": LOT,
    }  # fmt: skip
    assert "weather" not in run
    (control,) = data("2", {**RUN, "kind": "OUT", "room": "", "area": ""})
    assert (control["room"], control["weather"]) == ("outdoors", {"sky": "clear", "wind": "light"})
    (blank,) = data("3", {"sample": SAMPLE, "kind": "BLK", "start": "10:00", "covers": "YES"})
    assert (blank["run_s"], "pump" in blank) == (0, False)


@pytest.mark.parametrize(
    ("spoilt", "column", "why"),
    [
        ({"sample": SAMPLE[:-1] + "0"}, "sample", "wrong check character"),
        ({"sample": numbers.issue("sample", lambda _: "4")}, "sample", "never issued"),
        ({"sample": FORM}, "sample", "scan the other label"),
        ({"kind": ""}, "kind", "no usual one"),
        ({"kind": "X"}, "kind", "none of: IN indoor, OUT outdoor, BLK blank"),
        ({"kind": "O"}, "kind", "none of: IN indoor"),
        ({"near": "VENT, 0"}, "near", "VENT supply vent"),
        ({"covers": "Y"}, "covers", "none of: YES yes, NO no"),
        ({"duplicate": "2"}, "duplicate", "another row"),
        ({"duplicate": "1"}, "duplicate", "another row"),
        ({"run": ""}, "run", "no run time"),
        ({"run": "five"}, "run", "not a run time"),
        ({"room": "OUT"}, "room", "do not agree"),
        ({"start": "25:00"}, "start", "not a time"),
        ({"start": "11:16"}, "start", "after line L was signed"),
        ({"start": ""}, "start", "no usual one"),
        ({"height": "4"}, "height", "with its unit"),
        ({"pump": "x", "serial": "?"}, "serial", "will not do"),
        ({"covers": ""}, "covers", "no usual one"),
        ({"kind": "BLK", "flow_before": "15.0"}, "line", "field blank"),
    ],
)
def test_what_cannot_be_is_named_by_its_column(spoilt: Mapping[str, str], column: str, why: str) -> None:
    """A person with six lines and one error would look for it in ninety columns."""
    (found,) = faults("1", {**RUN, **spoilt})
    assert found[0] == column
    assert why in found[1]


@pytest.mark.parametrize(
    ("line", "said", "columns"),
    [
        ("I", {"pump": "P-7", "before": "15.0"}, ["meter", "through", "before_at"]),
        ("J", {"in_c": "20"}, ["in_at"]),
        ("J", {"rain": "3"}, ["out_at"]),
        ("K", {"kept": "LOCK"}, ["where", "from"]),
        ("N", {"time": "12:00"}, ["to"]),
        ("H", {"windows": "26"}, ["ventilation"]),
        ("L", {"date": "2026-12-01", "time": "11:20", "utc": "five"}, ["utc"]),
        ("J", {"in_at": "10:00", "in_pct": "145"}, ["in_pct"]),
    ],
)
def test_half_a_line_is_no_entry(line: str, said: Mapping[str, str], columns: list[str]) -> None:
    """A check without its time, a keeping without its place: the rest would be filled in from memory."""
    assert [column for column, _ in faults(line, said)] == columns


def test_an_empty_line_is_nothing() -> None:
    """A sheet without a reading of the air would not be entered at all."""
    for line in ("I", "J", "K", "N"):
        assert data(line, {}) == []


def test_times_are_those_of_the_site() -> None:
    """Entered elsewhere, every run would move by the hours between."""
    (held,) = data("K", {"kept": "locked", "where": "VEH", "from": "23:40", "until": "2026-12-02 08:00"})
    assert (held["since"], held["until"]) == ("2026-12-01T23:40:00-05:00", "2026-12-02T08:00:00-05:00")
    assert held["paper"]["written_at"] == held["since"], "later than line L"
    july = replace(SHEET, day=date(2026, 7, 1), written=Moment.parse("2026-07-01T11:20:00-04:00"))
    (run,) = data("1", RUN, july)
    assert run["started"] == "2026-07-01T10:00:00-04:00"


@pytest.mark.parametrize(
    ("said", "column"),
    [
        ({"date": "2026-11-30", "time": "11:20"}, "date"),
        ({"date": "2026-12-03", "time": "11:20"}, "date"),
        ({"date": "2026-12-01", "time": "25:20"}, "time"),
        ({"date": "2026-12-01", "time": "19:01"}, "time"),  # a minute ahead, on the day of the sheet
        ({"date": "2026-12-01", "time": "11:20", "utc": "-06:00"}, "utc"),
    ],
)
def test_a_signature_that_cannot_be_carries_no_line(said: Mapping[str, str], column: str) -> None:
    """When it was written is what the sheet is worth."""
    values, _ = pen_lines.read(SHEET.name, "L", said)
    with pytest.raises(BaileeError) as caught:
        pen_entries.signed(SHEET.day, SHEET.zone, values, datetime(2026, 12, 2, tzinfo=UTC))
    assert caught.value.facts["column"] == column


def test_a_duplicate_is_named_by_its_row() -> None:
    """A second number of twelve characters written by hand is one more to get wrong."""
    twin = numbers.issue("sample", lambda _: "4")
    both = replace(SHEET, numbers={"1": SAMPLE, "2": twin})
    (run,) = data("1", {**RUN, "duplicate": "#2"}, both)
    assert run["duplicate_of"] == twin
    assert "duplicate_of" not in data("1", RUN, both)[0]


def test_what_is_relinquished_another_day_has_that_day() -> None:
    """Given on the morning after, it would be dated before it was collected."""
    given = {"time": "8:10", "to": "quill-lab", "purpose": "SHIP", "date": "2026-12-02"}
    assert data("N", given)[0]["at"] == "2026-12-02T08:10:00-05:00"
    assert data("N", {**given, "date": ""})[0]["at"] == "2026-12-01T08:10:00-05:00"
    assert [column for column, _ in faults("N", {"date": "2026-12-02"})] == ["time", "to"]


def _apart(one: str, other: str) -> int:
    """So many letters must change to make one code of the other."""
    row = list(range(len(other) + 1))
    for n, letter in enumerate(one, 1):
        before, row[0] = row[:], n
        for m, each in enumerate(other, 1):
            row[m] = min(before[m] + 1, row[m - 1] + 1, before[m - 1] + (letter != each))
    return row[-1]


def test_no_code_is_another_with_one_stroke_changed() -> None:
    """O for off and 0 for none are one sign in ink: the rule would judge another house."""
    asked = [cell for line in pen_sheet.order(1) for cell in pen_sheet.cells(line)]
    codes = {(key, code.removesuffix("s")) for cell in asked for key, code, _ in cell.ask.choices}
    assert len(codes) > 50
    for key, code in codes:
        assert key.isalpha(), key
        assert len(key) > 1, key
        near = [(key, other) for other, says in codes if says != code and _apart(key, other) < 2]
        assert near == []


def test_every_line_has_its_columns_and_no_other_line() -> None:
    """A letter on paper that nobody is asked for."""
    assert "".join(pen_sheet.order(1)) == "ABCDEFGHIJ123456KLMN"
    assert pen_sheet.numbers_of(2) == ("7", "8", "9", "10", "11", "12")
    for line in (*pen_sheet.order(1), *pen_sheet.order(2)):
        columns = [cell.column for cell in pen_sheet.cells(line)]
        assert len(columns) == len(set(columns)) > 0
    for wrong in ("Z", "0", "01", "121", ""):
        with pytest.raises(Malformed, match=f"no line '{wrong}'"):
            pen_sheet.cells(wrong)


@pytest.mark.parametrize("line", ["1" * 5000, "\u0661", "\u00b2", "01", "+1", "0", "121", ""])
def test_what_is_no_row_of_a_sheet_is_none(line: str) -> None:
    """A file with a column of five thousand digits, or another script's, would end in a traceback."""
    assert not pen_sheet.is_cassette(line)
    assert pen_sheet.is_cassette("120")


@pytest.mark.parametrize(
    ("signed", "heads", "start", "meant"),
    [
        ("18:00", {}, "5:50", ["2026-12-01 17:50"]),
        ("18:00", {"I": {"before_at": "17:40", "after_at": None}}, "5:50", ["2026-12-01 17:50"]),
        ("18:00", {}, "17:50", []),
        ("18:00", {"J": {"in_at": "5:45", "out_at": "late"}}, "5:50", []),
        ("17:55", {}, "5:58", []),  # at 17:58 it would have begun after the signature
    ],
)
def test_a_start_half_a_day_from_the_ink_is_asked_back(
    signed: str, heads: Mapping[str, Any], start: str, meant: list[str]
) -> None:
    """The only cassette of an evening would be signed as one of the early morning."""
    sheet = replace(SHEET, written=Moment.parse(f"2026-12-01T{signed}:00-05:00")).with_ink(heads)
    said = {**RUN, "start": start}
    values, _ = pen_lines.read(sheet.name, "1", said)
    (entry,) = pen_entries.entries(sheet, "1", values, said)[0]
    found = [(column, slip) for column, slip in pen_entries.slips_of(sheet, entry, (), FORM)]
    assert [(column, slip.meant) for column, slip in found] == [("start", each) for each in meant]
    assert all("the other times on the sheet are" in slip.sentence for _, slip in found)
