"""A courier without a key: an envelope is carried across town by a person who signs on paper only.

That giver and receiver sign: county-filed sampling plans that follow EPA.
"""

from __future__ import annotations

import pypdfium2

from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from field import Field
from grounds import on_any

pytestmark = on_any  # all that these ask of a database, others ask of PostgreSQL


def read(field: Field, person: str, path: str) -> str:
    """What a paper says."""
    answer = field.get(person, path)
    assert (answer.status_code, answer.content_type) == (200, "application/pdf"), answer.text
    pages = pypdfium2.PdfDocument(answer.data)
    return " ".join(" ".join(page.get_textpage().get_text_range().split()) for page in pages)


def test_a_courier_without_a_key_leaves_a_slip_and_no_gap(field: Field) -> None:
    """The stretch across town would be a break in custody, or a name would be in the log for ever."""
    lot, samples = field.lot(3)
    form = field.open_form()
    for sample, kind in zip(samples, ("indoor", "indoor", "outdoor"), strict=True):
        field.collect(form, lot, sample, kind)
    field.hand_to_clerk(form, samples)
    envelope, seal = field.number("envelope"), field.number("seal")
    assert field.seal(envelope, samples, seal)["ready"]

    slip = read(field, "clerk", f"/envelopes/{envelope}/receipt-slip.pdf?slip=R-7&telephone=555-0137")
    assert slip.count("Slip R-7") == 2
    assert slip.count(grouped(envelope)) == 2
    assert slip.count(f"Custody seal {grouped(seal)}") == 2
    for private in ("Perpetua", "Invented"):
        assert private not in slip

    field.clock.advance(minutes=20)
    at = Moment(field.clock(), -300)
    body = {
        "envelope": envelope,
        "carrier": "by hand",
        "service": "by hand",
        "service_days": 0,
        "by_hand": True,
        "handed_over": at.text(),
        "expected_delivery": Moment(field.clock(), -300).text(),
        "courier": {"relation": "hired", "named": True, "id_seen": True, "slip": "R-7"},
        "classified": "not_regulated",
    }
    told = field.post("clerk", "/readiness", {"act": "shipped", "data": body}).get_json()
    assert told["ready"], told["findings"]
    for each in told["statements"]:
        field.act("clerk", each["sub"], each["act"], each["data"], {"courier_name": "Ann Porter"})

    field.clock.advance(minutes=50)
    field.dock(form, envelope, samples, seal)
    answer = field.get("dock", f"/forms/{form}").get_json()
    rules = {each["rule"] for each in answer["findings"]}
    assert not rules & {"CU-01", "CU-03", "CU-05", "SH-06", "SH-15", "SH-16"}, rules
    custody = next(each for each in answer["verdicts"] if each["area"] == "custody")
    assert custody["state"] != "broken"

    record = read(field, "dock", f"/forms/{form}/record.pdf")
    assert "Hand-carried by Ann Porter, hired courier; received it on" in record
    assert "slip R-7 signed in ink, identity document seen" in record
    assert "No carrier signature" not in record
