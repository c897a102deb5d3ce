"""A number of one's own that others claim: on a form of their own its owner is told so, and learns nothing
about the stranger; on one's own form it is named, and makes no sample.
"""

from __future__ import annotations

from typing import Any

import pytest
import sqlalchemy as sa
from operator_hands import Fields
from stranger import Known, Stranger

from bailee.domain.moments import Moment
from bailee.ledger.checkpoint import parse_vkey
from bailee.store import schema
from bailee.verify import bundle
from bailee.verify.verifier import Trust, verify
from field import FIRM, LAB


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
    assert "on another form" in claimed["sentence"]
    assert "Check whether the cassette" in claimed["remedy"]
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


@pytest.mark.slow
def test_an_envelope_is_of_whose_cassettes_lie_in_it_and_not_of_who_used_its_number_first(
    make_field: Fields,
) -> None:
    """Common practice, no source: a stranger who sealed the number first would otherwise be given the
    laboratory's receipt.
    """
    field = make_field()
    lot, samples = field.lot(3)
    form, envelope, seal = field.open_form(), field.number("envelope"), field.number("seal")
    for sample, kind in zip(samples, ("indoor", "indoor", "outdoor"), strict=True):
        field.collect(form, lot, sample, kind)
    field.hand_to_clerk(form, samples)
    known = Known(form, lot, tuple(samples), envelope, seal, "AF-1")
    stranger = Stranger(field)
    for name in ("open", "collect", "seal", "ship"):
        stranger.act(name, 1, known)  # a form that names the laboratory, and one of the victims' cassettes
    assert field.seal(envelope, samples, seal)["ready"]
    assert field.ship(envelope)["ready"]

    def asked(**query: str) -> Any:
        return field.get("dock", f"/envelopes/{envelope}", query_string=query)

    assert asked().get_json()["forms"] == stranger.forms
    assert asked(samples=",".join(samples)).get_json()["forms"] == [form]
    assert asked(samples=samples[2]).get_json()["seal"] == seal
    assert asked(form=form).get_json()["samples"] == sorted(samples)
    assert asked(form=stranger.forms[0]).get_json()["forms"] == stranger.forms
    for inside in ("", field.number("sample")):
        told = asked(samples=inside)
        assert (told.status_code, told.get_json()["code"]) == (409, "several-senders")
        assert told.get_json()["forms"] == sorted([form, *stranger.forms])
    assert asked(form=field.number("form")).status_code == 404


def test_what_another_organization_collects_is_named_and_is_no_sample(make_field: Fields) -> None:
    """The firm's record would list a cassette that its people never had, and its own one would have a second
    claim; through the ledger, its pages and the auditor's file.
    """
    field = make_field()
    field.people["guest"] = field.device("guest", LAB)
    field.enroll(field.people["guest"], "inspector")
    lot, samples = field.lot(3)
    form = field.open_form()
    for sample, kind in zip(samples[:2], ("indoor", "outdoor"), strict=True):
        field.collect(form, lot, sample, kind)

    def read() -> Any:
        shown = field.get("clerk", f"/forms/{form}").get_json()["samples"]
        alone = [field.get("clerk", f"/samples/{each}") for each in samples]
        told = [(each.status_code, each.get_json().get("sample")) for each in alone]
        with field.ledger.database.reading() as connection:
            return shown, told, set(connection.execute(sa.select(schema.unanswered.c.sample)).scalars())

    before = read()
    run = field.run(lot, samples[0])
    asked = {"act": "collected", "form": form, "data": run}
    warned = field.post("guest", "/readiness", asked).get_json()
    assert "CL-16" in {each["rule"] for each in warned["findings"]}
    for sample in (samples[0], samples[2]):
        field.act("guest", f"form/{form}", "collected", field.run(lot, sample))
    surface = {
        "sample": field.number("sample"), "medium": "tape", "at": Moment(field.clock(), -300).text(),
        "room": "kitchen", "point": "P", "area": "complaint", "material": "drywall", "surface": "growth",
        "area_cm2": "4", "label_on": "body",
    }  # fmt: skip
    field.act("guest", f"form/{form}", "surface_collected", surface)
    assert read() == before
    assert field.get("clerk", f"/samples/{surface['sample']}").status_code == 404
    trust = Trust({}, (parse_vkey(field.ledger.vkey),))
    report = verify(bundle.read(field.get("clerk", f"/forms/{form}/bundle").text), trust, field.ledger.now())
    assert report.faults == ()
    (found,) = [each for each in report.findings if each.rule == "CL-16"]
    assert f"{LAB} signed that" in found.sentence
    assert f"{FIRM} collects on this form" in found.sentence
