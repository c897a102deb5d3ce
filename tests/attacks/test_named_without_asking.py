"""A stranger names others as parties of forms of his own, or claims their numbers there: it hides nothing of theirs and costs them little.

What it costs is counted in rows, questions and lines of our program, never in time, which another machine would measure differently.
No standard says what a service must bear: common practice, no source.
"""

from __future__ import annotations

from typing import Any

import pytest
from operator_hands import Fields

from bailee.domain.moments import Moment
from field import FIRM, OUTSIDER, Field


@pytest.fixture
def field(make_field: Fields) -> Field:
    """Firm and laboratory, and a third organization with an inspector and a clerk, which is no party of anything of theirs."""
    field = make_field()
    root = field.roots[OUTSIDER] = field.device("third root", OUTSIDER)
    field.ok(
        field.send(root.sign(f"org/{OUTSIDER}", "founded", {"name": "Third", "jwk": root.key.jwk})), root
    )
    for name, role in (("third", "inspector"), ("third clerk", "clerk")):
        field.people[name] = field.device(name, OUTSIDER)
        field.enroll(field.people[name], role)
    return field


def strange(field: Field, *, lab: str = FIRM) -> str:
    """A form of the stranger's own that makes somebody its laboratory who was not asked."""
    form = field.number("form")
    data = {"parties": {"firm": OUTSIDER, "lab": lab}, "visit": "2026-12-01", "zone": "America/New_York"}
    field.act("third", f"form/{form}", "opened", data)
    return form


def now(field: Field) -> str:
    """Now, on the firm's clocks."""
    return Moment(field.clock(), -300).text()


def sealing(field: Field, form: str, envelope: str, samples: list[str]) -> dict[str, Any]:
    """What is said when an envelope is closed now."""
    return {
        "envelope": envelope, "seal": field.number("seal"), "samples": samples, "count": len(samples), "total": len(samples),
        "forms": [form], "at": now(field), "across_opening": True, "record_enclosed": True,
    }  # fmt: skip


def test_who_repeats_that_an_envelope_was_sealed_takes_it_from_nobodys_list(field: Field) -> None:
    """The firm would never learn that its envelope still lies in the vehicle."""
    other = strange(field)  # opened long before, to be looked at last
    lot, samples = field.lot(1)
    form, envelope = field.open_form(), field.number("envelope")
    field.collect(form, lot, samples[0])
    field.hand_to_clerk(form, samples)
    said = sealing(field, form, envelope, samples)
    field.act("clerk", f"form/{form}", "sealed", said)
    field.collect(other, lot, samples[0], who="third")
    field.act("third clerk", f"form/{other}", "sealed", {**said, "forms": [other]})
    field.clock.advance(hours=72)

    told = field.get("clerk", "/chase").get_json()["items"]
    [own] = [each for each in told if each["kind"] == "not shipped"]
    assert (own["about"], own["overdue"], own["concerns"]) == (envelope, True, [FIRM])
