"""What of a statement may be corrected, by name."""

import pytest

from bailee.domain import corrections, statements
from bailee.domain.acts.table import ON_CHAIN
from bailee.errors import BadStatement

FORM = "form/F0000000000S"


@pytest.mark.parametrize("act", [act for act, row in ON_CHAIN["form"].items() if not row.fixed])
def test_every_name_is_one_the_act_has(act: str) -> None:
    """A name on the list would be refused when it is typed as listed."""
    for name in corrections.names(act):
        assert corrections.has(act, name)
        assert corrections.meant(act, name) == [name]


def test_inner_facts_have_dotted_names_and_lists_are_one() -> None:
    """`preparation.windows_closed_h` could not be named, or a name would point into a list where nothing can
    be corrected.
    """
    assert "preparation.windows_closed_h" in corrections.names("opened")
    assert "preparation" not in corrections.names("opened")
    assert corrections.has("opened", "preparation")
    assert "items" in corrections.names("received")
    assert not corrections.has("received", "items.sample")
    assert "lab_numbers" in corrections.names("accepted")
    assert not corrections.has("collected", "tracking")


def test_the_last_part_of_a_name_will_do() -> None:
    """Whoever reads "ventilation" on the form would have to know what it is part of."""
    assert corrections.meant("opened", "ventilation") == ["preparation.ventilation"]
    assert corrections.meant("received", "seal") == ["dock.seal"]
    assert corrections.meant("collected", "ventilation") == []
    assert corrections.acts_with("tracking") == ["shipped"]
    assert corrections.acts_with("reason") == [
        "outdoor_ruled_out",
        "unsealed",
        "voided",
        "copied",
    ]  # an exception's or correction's is never corrected


@pytest.mark.parametrize(
    ("act", "said", "near"),
    [
        ("collected", "flow_befor", "flow_before"),
        ("collected", "flow", "flow_before"),
        ("collected", "wether.sky", "weather.sky"),
        ("opened", "windows_closed", "preparation.windows_closed_h"),
        ("opened", "windows_close_h", "preparation.windows_closed_h"),
        ("shipped", "traking", "tracking"),
    ],
)
def test_a_slip_is_answered_with_names_like_it(act: str, said: str, near: str) -> None:
    """A mistyped name would be refused, and the person left to guess."""
    assert corrections.nearest(act, said)[0] == near


def test_a_name_like_no_other_has_no_likeness() -> None:
    """Nonsense would be suggested."""
    assert corrections.nearest("shipped", "xyzzy") == []


def test_a_value_is_set_beside_the_others() -> None:
    """One answer on the preparation of the site would wipe out the other answers."""
    data = {"preparation": {"windows_closed_h": "2", "ventilation": "normal"}, "near": ["fan"]}
    changed = corrections.with_value(data, "preparation.windows_closed_h", "12")
    assert changed == {"preparation": {"windows_closed_h": "12", "ventilation": "normal"}, "near": ["fan"]}
    assert data["preparation"] == {"windows_closed_h": "2", "ventilation": "normal"}
    assert corrections.with_value({"weather": None}, "weather.sky", "rain") == {"weather": {"sky": "rain"}}
    assert corrections.value(changed, "preparation.windows_closed_h") == "12"
    assert corrections.value(changed, "near.fan") is None


def correction(field: str, new: str) -> dict[str, object]:
    """A correction of one field."""
    return {"statement": "A" * 43, "field": field, "old": None, "new": new, "reason": "typing"}


@pytest.mark.parametrize("field", ["question", "client", "site", "contact", "note", "place", "flowafter"])
def test_a_private_or_unknown_field_is_never_written_into_the_log(field: str) -> None:
    """A client's name typed into a correction would stand in the log in clear, where nobody can erase it."""
    with pytest.raises(BadStatement, match="no member of any entry"):
        statements.parse(FORM, "corrected", correction(field, "Perpetua Example"))


@pytest.mark.parametrize("field", ["flow_after", "preparation.windows_closed_h", "tracking"])
def test_a_public_member_may_be_corrected(field: str) -> None:
    """Flow, hours and numbers are what corrections are for."""
    assert statements.parse(FORM, "corrected", correction(field, "14.9"))
