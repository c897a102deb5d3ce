"""A number of one's own lot that a stranger writes on a form of his own: its owner is told so, and learns nothing about the stranger."""

from __future__ import annotations

from operator_hands import Fields
from stranger import Known, Stranger


def test_the_owner_of_a_lot_is_told_that_a_number_was_claimed_elsewhere_and_neither_where_nor_by_whom(
    make_field: Fields,
) -> None:
    """Common practice, no source: whoever hands out numbers must learn that one is in other hands."""
    field = make_field()
    form, envelope, samples, seal = field.faultless()
    lot = field.get("keeper", f"/samples/{samples[0]}").get_json()["lot"]["lot"]
    told = field.get("keeper", f"/lots/{lot}").get_json()
    assert told["claimed_elsewhere"] == []
    known = Known(form, lot, tuple(samples), envelope, seal, "AF-1")
    stranger = Stranger(field)
    stranger.act("open", 2, known)
    stranger.act("collect", 1, known)
    stranger.act("collect", 1, known)  # twice is once

    after = field.get("keeper", f"/lots/{lot}")
    [claimed] = after.get_json()["claimed_elsewhere"]
    assert (claimed["sample"], claimed["on"]) == (samples[1], field.clock().date().isoformat())
    assert "claimed elsewhere" in claimed["sentence"]
    assert "Look whether the cassette" in claimed["remedy"]
    assert not any(word in after.text for word in (*stranger.forms, "third"))
    assert {**after.get_json(), "claimed_elsewhere": []} == told
    assert field.get("keeper", f"/samples/{samples[1]}").get_json()["form"] == form


def test_a_list_of_forms_that_a_stranger_fills_up_is_read_on_to_its_end(make_field: Fields) -> None:
    """Common practice, no source: a page that names what follows it can be read on, whatever lies on it."""
    field = make_field()
    forms = [field.open_form() for _ in range(2)]
    stranger = Stranger(field)
    known = Known(forms[0], "", (), "", "", "")
    for _ in range(3):
        stranger.act("open", 1, known)  # in the laboratory's name, without asking it
    newest = field.get("dock", "/forms?limit=3").get_json()["forms"]
    assert [each["form"] for each in newest] == stranger.forms[::-1]
    older = field.get("dock", f"/forms?limit=3&before={newest[-1]['form']}").get_json()["forms"]
    assert [each["form"] for each in older] == forms[::-1]
