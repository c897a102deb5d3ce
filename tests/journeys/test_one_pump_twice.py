"""One pump, two visits: what neither inspector sees on a form of their own is said as soon as both runs are
recorded.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain.numbers import grouped
from bailee.ledger import entry as entries
from bailee.operations import maintenance
from bailee.signing import signed_statement
from field import Field
from grounds import on_any

pytestmark = on_any  # all that these ask of a database, others ask of PostgreSQL


def said(field: Field, form: str) -> list[dict[str, Any]]:
    """What PV-10 says of a form to its clerk."""
    told = field.get("clerk", f"/forms/{form}").get_json()
    return [each for each in told["findings"] if each["rule"] == "PV-10"]


def correct(field: Field, form: str, entry: Any, member: str, old: object, new: object) -> None:
    """The inspector corrects a run."""
    digest = signed_statement.digest(entries.read(entry["entry"]).stmt)
    data = {"statement": digest, "field": member, "old": old, "new": new, "reason": "misread"}
    field.act("inspector", f"form/{form}", "corrected", data)


def test_a_pump_typed_on_two_visits_at_once_is_named_on_both_before_anything_is_sealed(field: Field) -> None:
    """Two inspectors type the same pump, each form alone looks clean, and the office hears of it when the
    sites are far away (domain catalog 8, scenario 1).
    """
    lot, samples = field.lot(4)
    first = field.open_form()
    began = field.run(lot, samples[0])["started"]
    field.collect(first, lot, samples[0], started=began)
    second = field.open_form()
    entry = field.collect(second, lot, samples[1], started=began)
    for form, mine, other, elsewhere in ((first, 0, 1, second), (second, 1, 0, first)):
        (found,) = said(field, form)
        assert (found["severity"], found["about"]) == ("block", samples[mine])
        assert grouped(samples[other]) in found["sentence"]
        assert grouped(elsewhere) in found["sentence"]
    field.hand_to_clerk(second, [samples[1]])
    assert not field.seal(field.number("envelope"), [samples[1]], field.number("seal"))["ready"]
    correct(field, second, entry, "pump", "P-7", "P-8")
    assert said(field, first) == said(field, second) == []


@pytest.mark.parametrize("member", ["pump", "started"])
def test_an_overlap_that_a_correction_brings_is_found_and_a_void_run_is_not(
    field: Field, member: str
) -> None:
    """What a person really meant counts, not what was typed first; and who looks anew finds the same."""
    lot, samples = field.lot(2)
    first, second = field.open_form(), field.open_form()
    now = field.run(lot, samples[0])
    long_ago = now["started"].replace("2026-", "2025-")
    typed = {"pump": "P-9"} if member == "pump" else {"started": long_ago}
    entry = field.collect(first, lot, samples[0], **{"started": now["started"], **typed})
    field.collect(second, lot, samples[1], started=now["started"])
    assert said(field, second) == []
    correct(field, first, entry, member, typed[member], now[member])
    assert [each["about"] for each in said(field, second)] == [samples[1]]
    field.ledger.database.write(maintenance.rebuild)
    assert [each["about"] for each in said(field, second)] == [samples[1]]
    field.act("inspector", f"form/{first}", "voided", {"sample": samples[0], "reason": "other"})
    assert said(field, second) == []


def test_a_run_that_a_correction_lengthens_past_the_full_hour_is_found_from_both_visits(field: Field) -> None:
    """The pump's timer said 20 minutes and somebody typed 20 seconds: corrected, it ran on into the next
    hour, where only the other visit looks.
    """
    lot, samples = field.lot(2)
    first, second = field.open_form(), field.open_form()
    entry = field.collect(first, lot, samples[0], started="2026-12-01T07:50:00-05:00", run_s=20)
    field.collect(second, lot, samples[1], started="2026-12-01T08:05:00-05:00")
    assert said(field, first) == said(field, second) == []
    correct(field, first, entry, "run_s", 20, 1200)
    assert [each["about"] for each in said(field, first)] == [samples[0]]
    assert [each["about"] for each in said(field, second)] == [samples[1]]


def test_the_second_run_may_begin_when_the_first_ends_also_across_the_hour(field: Field) -> None:
    """A pump that is carried next door is not in two places, and one that runs past the full hour is."""
    lot, samples = field.lot(2)
    first, second = field.open_form(), field.open_form()
    field.collect(first, lot, samples[0], started="2026-12-01T07:57:30-05:00")
    early, late = "2026-12-01T08:02:29-05:00", "2026-12-01T08:02:30-05:00"
    entry = field.collect(second, lot, samples[1], started=early)
    assert said(field, first)
    assert said(field, second)
    correct(field, second, entry, "started", early, late)
    assert said(field, first) == said(field, second) == []
