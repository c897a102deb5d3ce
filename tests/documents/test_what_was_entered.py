"""What was entered on site, and what the laboratory counts by, stand on the custody record."""

import re

import pytest
from test_custody_record import record, text
from test_never_wrapped import divided, printed_lines

from builders import Story, visit

pytestmark = pytest.mark.slow


def read(story: Story) -> str:
    """The text of the record; nothing on it is divided."""
    pdf = record(story)
    assert divided(printed_lines(pdf), []) == []
    return text(pdf)


@pytest.mark.parametrize("kind", ["slit", "circular"])
def test_the_table_of_samples_names_the_kind_of_cassette(kind: str) -> None:
    """The laboratory counts a slit by traverses and a round trace otherwise, and would have to ask."""
    said = read(visit("collected", lot={"cassette": kind}))
    assert said.count(f"{kind} cassette") == 3


def test_the_unit_stands_beside_the_room() -> None:
    """Two bedrooms in two flats would be one and the same room on paper."""
    said = read(visit("collected", first={"unit": "B"}, outdoor={"serves": ["B", "C"]}))
    assert "unit B, bedroom, Point 1" in said
    assert "for units B, C" in said
    assert said.count("unit B,") == 1, "of the others no unit was entered"


def test_the_license_stands_with_its_state_and_its_last_day() -> None:
    """A state that licenses who samples asks for the number first, and it would be in no paper."""
    held = {"jurisdiction": "US-TX", "number": "MAC-0001", "valid_to": "2027-03-31"}
    said = read(visit("collected", opened={"license": held, "remediator": True}))
    assert "US-TX, No. MAC-0001, valid to 2027-03-31" in said
    assert "the sampling firm also remediates here" in said
    assert "US-TX: none held" in read(visit("collected", opened={"license": {"jurisdiction": "US-TX"}}))


def test_a_cavity_is_told_with_its_tube() -> None:
    """Ten feet of tube hold back spores that one foot lets through, and nobody could tell which it was."""
    cavity = {
        "opening": "drilled", "tube": "new", "tube_m": "1.5", "tube_mm": "6", "purge_s": 30,
        "side": "exterior",
    }  # fmt: skip
    said = read(visit("collected", first={"cavity": cavity}))
    assert "opening drilled, tube new" in said
    assert re.search(r"tube length 1\.5 m \([^)]+\), bore 6 mm, purged 30 s", said)
    assert "exterior wall" in said
    bare = read(visit("collected", first={"cavity": {"opening": "drilled"}}))
    assert "tube length" not in bare
