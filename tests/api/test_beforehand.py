"""Questions before somebody signs a name or a number: over HTTP, for other programs than ours."""

from __future__ import annotations

import pytest

from field import FIRM, LAB, Field


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("quil-lab", LAB), ("QUILL-LAB", LAB), ("nolab", LAB), ("harow-field", FIRM), (LAB, LAB)],
)
def test_a_name_like_it_is_found(field: Field, typed: str, meant: str) -> None:
    """If this fails, somebody who mistypes a laboratory is told only that it does not exist."""
    assert field.get("inspector", f"/organizations?like={typed}").get_json()["nearest"][0] == meant


def test_what_is_like_nothing_finds_nothing(field: Field) -> None:
    """If this fails, a stranger's word is answered with names that nobody meant."""
    assert field.get("inspector", "/organizations?like=zzzz").get_json()["nearest"] == []


def test_strangers_do_not_get_to_list_organizations(field: Field) -> None:
    """If this fails, anybody on the network learns who works with whom."""
    assert field.get(None, "/organizations?like=quill").status_code == 401


def test_a_window_names_the_laboratories_that_may_be_meant(field: Field) -> None:
    """If this fails, another program plans a journey to a dock that does not exist, with hours that were
    assumed.
    """
    asked = "&carrier=acorn-freight&handed_over=2026-11-25T16:30&zone=America/New_York"
    told = field.get("clerk", f"/window?lab=quil-lab{asked}")
    assert told.status_code == 404
    assert told.get_json()["nearest"] == [LAB]
    assert field.get("clerk", f"/window?lab={LAB}{asked}").status_code == 200


def test_a_lot_is_asked_about_by_its_owner_alone(field: Field) -> None:
    """If this fails, a competitor reads how many cassettes a firm has left."""
    number, _ = field.lot(3)
    assert field.get("keeper", f"/lots/{number}/issuing?count=1").status_code == 200
    assert field.get("dock", f"/lots/{number}/issuing?count=1").status_code == 404
