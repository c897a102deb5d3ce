"""The chase list as a feed, and where a lot went."""

from __future__ import annotations

from datetime import timedelta

from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.ledger import entry as entries
from bailee.operations import maintenance
from bailee.signing import signed_statement
from bailee.store import schema, unanswered
from field import FIRM, LAB, Field, Visited


def at(field: Field, offset: int = -360) -> str:
    """Now, on a clock of that offset."""
    return Moment(field.clock(), offset).text()


def test_a_scheduler_polls_and_is_told_only_what_is_new(field: Field) -> None:
    """RFC 9110 13.1.2: an unchanged list costs an empty answer, and a changed one is never missed."""
    lot, samples = field.lot(3)
    form = field.open_form()
    for sample, kind in zip(samples, ("indoor", "indoor", "outdoor"), strict=True):
        field.collect(form, lot, sample, kind)
    field.hand_to_clerk(form, samples)
    nothing = field.get("clerk", "/chase")
    assert nothing.get_json() == {"overdue": 0, "left_out": 0, "items": []}
    envelope = field.number("envelope")
    field.seal(envelope, samples, field.number("seal"))
    first = field.get("clerk", "/chase")
    assert [each["kind"] for each in first.get_json()["items"]] == ["not shipped"]
    assert first.headers["ETag"] != nothing.headers["ETag"]
    field.clock.advance(hours=5)
    headers = {**field.people["clerk"].bearer, "If-None-Match": first.headers["ETag"]}
    again = field.client.get("/chase", headers=headers)
    assert (again.status_code, again.data) == (304, b"")
    field.clock.advance(hours=20)
    headers = {**field.people["clerk"].bearer, "If-None-Match": first.headers["ETag"]}
    late = field.client.get("/chase", headers=headers)
    assert (late.status_code, late.get_json()["overdue"]) == (200, 1)
    assert field.get("dock", "/chase").get_json()["items"] == []  # the laboratory has nothing to move yet


def test_a_recall_after_the_result_is_chased_by_whoever_gave_it_out_until_somebody_was_told(
    visited: Visited,
) -> None:
    """The visit was over, its form closed, and the laboratory's list stayed empty after the recall."""
    field, (form, *_) = visited
    field.act("dock", f"form/{form}", "copied", {"of": "result", "version": 1, "entries": 9})
    lot = field.get("clerk", f"/forms/{form}").get_json()["samples"][0]["lot"]
    field.clock.advance(minutes=1)
    field.act("keeper", f"lot/{lot}", "recalled", {"reason": "maker"})
    for _ in range(2):
        for reader in ("dock", "clerk"):
            (due,) = field.get(reader, "/chase").get_json()["items"]
            assert (due["kind"], due["about"]) == ("not notified", form)
        field.ledger.database.write(maintenance.rebuild)
    told = {"of": "recall", "about": lot, "to": "client", "how": "telephone", "at": at(field)}
    field.act("clerk", f"form/{form}", "notified", {**told, "at": "2026-11-01T10:00:00-06:00"})
    (due,) = field.get("dock", "/chase").get_json()["items"]
    assert due["kind"] == "not notified", "a notice dated before the recall tells nobody of it"
    field.act("clerk", f"form/{form}", "notified", told, {"called_person": "Perpetua Example"})
    assert field.get("dock", "/chase").get_json()["items"] == []
    with field.ledger.database.reading() as connection:
        assert unanswered.open_forms(connection, LAB, 9, 9) == ([], 0)
    newest = field.get("dock", f"/forms/{form}").get_json()
    assert "ML-13" not in {each["rule"] for each in newest["findings"]}
    assert "RC-18" in {each["rule"] for each in newest["findings"]}


def test_answered_forms_are_not_read_any_more(visited: Visited) -> None:
    """A firm with ten thousand finished visits must not read them all to learn that nothing waits."""
    field, (form, _, samples, _) = visited
    with field.ledger.database.reading() as connection:
        assert unanswered.open_forms(connection, FIRM, 9, 9) == ([], 0)
    other = field.open_form()
    lot, more = field.lot(2)
    field.collect(other, lot, more[0])
    field.collect(other, lot, more[1], "outdoor")
    with field.ledger.database.reading() as connection:
        assert unanswered.open_forms(connection, FIRM, 9, 9) == ([other], 0)
        assert unanswered.open_forms(connection, LAB, 9, 9) == ([other], 0)
        assert unanswered.open_forms(connection, "third-party", 9, 9) == ([], 0)
    field.act("inspector", f"form/{other}", "voided", {"sample": more[0], "reason": "dropped"})
    field.act("inspector", f"form/{other}", "voided", {"sample": more[1], "reason": "dropped"})
    with field.ledger.database.reading() as connection:
        assert unanswered.open_forms(connection, FIRM, 9, 9) == ([], 0)
    assert form != other
    assert samples


def test_of_too_many_open_forms_the_oldest_are_read(field: Field) -> None:
    """The envelope that has waited longest would drop off the list, and nobody ever ask for it again."""
    lot, samples = field.lot(3)
    forms = []
    for sample in samples:
        forms.append(field.open_form())
        field.collect(forms[-1], lot, sample)
    with field.ledger.database.reading() as connection:
        assert unanswered.open_forms(connection, FIRM, 2, 2) == (forms[:2], 1)


def test_rebuilding_makes_the_same_indexes(visited: Visited) -> None:
    """An index that a rebuild changes was wrong before or is wrong after."""
    field, _ = visited
    lot, samples = field.lot(2)
    field.collect(field.open_form(), lot, samples[0])

    def rows() -> dict[str, list[tuple[object, ...]]]:
        with field.ledger.database.reading() as connection:
            return {
                table.name: sorted(map(tuple, connection.execute(table.select())), key=str)
                for table in (schema.unanswered, schema.mention, schema.party)
            }

    before = rows()
    assert before["unanswered"]
    field.ledger.database.write(maintenance.rebuild)
    assert rows() == before


def test_where_a_recalled_lot_went(visited: Visited) -> None:
    """The media keeper tells two laboratories and thirty clients within the hour, or nobody knows whom to
    tell.
    """
    field, (form, envelope, samples, _) = visited
    with field.ledger.database.reading() as connection:
        lot = next(
            m.other for m in field.ledger.books.spoken(connection, samples, FIRM) if m.what == "collected"
        )
    other = field.open_form()
    _, more = field.lot(1)
    field.collect(other, str(lot), more[0])
    field.act("keeper", f"lot/{lot}", "recalled", {"reason": "maker"})
    told = field.get("keeper", f"/lots/{lot}/uses").get_json()
    assert told["recalled"] is True
    assert {each["sample"] for each in told["uses"]} == {*samples, more[0]}
    assert (told["forms"], told["envelopes"], told["laboratories"]) == ([form, other], [envelope], [LAB])
    by_sample = {each["sample"]: each for each in told["uses"]}
    assert by_sample[samples[0]]["envelopes"] == [envelope]
    assert by_sample[more[0]]["envelopes"] == []


def test_a_laboratory_sees_where_a_lot_came_to_it(visited: Visited) -> None:
    """It is told of a recall by telephone, and must find the samples on its own shelf.

    The box itself is not its affair.
    """
    field, _ = visited
    with field.ledger.database.reading() as connection:
        lot = next(row.number for row in connection.execute(schema.mention.select()) if row.what == "used")
    told = field.get("dock", f"/lots/{lot}/uses").get_json()
    assert (told["recalled"], len(told["uses"])) == (None, 3)
    unused, _ = field.lot(1)
    assert field.get("keeper", f"/lots/{unused}/uses").get_json()["uses"] == []
    assert field.get("dock", f"/lots/{unused}/uses").status_code == 404


def test_a_sample_brought_into_the_lot_by_a_correction_is_found(field: Field) -> None:
    """The lot was typed wrongly and corrected: the recall must reach the sample all the same, and the wrong
    lot's recall too.
    """
    first, samples = field.lot(1)
    second, _ = field.lot(1)
    form = field.open_form()
    entry = field.collect(form, first, samples[0])
    digest = signed_statement.digest(entries.read(entry["entry"]).stmt)
    correction = {
        "statement": digest,
        "field": "lot",
        "old": first,
        "new": second,
        "reason": "typing",
    }
    field.act("inspector", f"form/{form}", "corrected", correction)
    for lot in (first, second):
        told = field.get("keeper", f"/lots/{lot}/uses").get_json()
        assert [each["sample"] for each in told["uses"]] == samples


def test_one_laboratory_number_for_two_samples_is_recorded_and_found_on_other_forms(visited: Visited) -> None:
    """RC-15 over the whole ledger; and the mistake itself must not stop the laboratory from recording."""
    field, (form, _, samples, _) = visited
    decision = {"samples": samples, "at": at(field), "lab_numbers": dict.fromkeys(samples, "Q-7")}
    field.act("dock", f"form/{form}", "accepted", decision)
    lot, more = field.lot(1)
    other = field.open_form()
    field.collect(other, lot, more[0])
    alone = {"samples": more, "at": at(field), "lab_numbers": {more[0]: "Q-7"}}
    field.act("dock", f"form/{other}", "accepted", alone)
    for number, about in ((form, samples), (other, more)):
        told = field.get("dock", f"/forms/{number}").get_json()
        (one,) = (f for f in told["findings"] if f["rule"] == "RC-15")
        assert {*one["samples"], one["about"]} - {number} == set(about)


def test_a_requested_result_is_chased_by_both_houses_after_all_was_answered(visited: Visited) -> None:
    """Every sample was accepted, so the form left every list, and the day of the result with it."""
    field, (form, *_) = visited
    day = (field.clock() + timedelta(days=2)).date().isoformat()
    field.act("clerk", f"form/{form}", "requested", {"due": day})
    for _ in range(2):
        for reader in ("dock", "clerk"):
            (due,) = field.get(reader, "/chase").get_json()["items"]
            assert (due["kind"], due["about"], due["due"], due["overdue"]) == ("result due", form, day, False)
        field.ledger.database.write(maintenance.rebuild)
    field.clock.advance(days=4)
    assert field.get("clerk", "/chase").get_json()["overdue"] == 1
    length = field.get("dock", f"/forms/{form}").get_json()["length"]
    own = {"of": "result", "version": 1, "entries": length}
    asked = {"chain": f"form/{form}", "act": "copied", "data": own}
    told = field.post("clerk", "/permission", asked).get_json()
    assert told["may"] is False
    assert (
        "Only a laboratory of the form issues its result, and harrow-field is the sampling firm"
        in told["why_not"]
    )
    clerk = field.people["clerk"]
    clerk.heads[f"form/{form}"] = field.head(f"form/{form}")[1]
    refused = field.send(clerk.sign(f"form/{form}", "copied", own))
    assert (refused.status_code, refused.get_json()["code"]) == (403, "wrong-organization")
    assert field.post("dock", "/permission", asked).get_json()["may"] is True
    assert field.get("dock", "/chase").get_json()["overdue"] == 1
    field.act("dock", f"form/{form}", "copied", own)
    assert field.get("dock", "/chase").get_json()["items"] == []
    with field.ledger.database.reading() as connection:
        assert unanswered.open_forms(connection, LAB, 9, 9) == ([], 0)


def test_what_is_accepted_after_the_result_is_owed_a_result_of_its_own(visited: Visited) -> None:
    """Rejected by mistake, reported without it, accepted after all: and nobody counts it."""
    field, (form, _, samples, _) = visited
    said = {"samples": samples[:1], "at": at(field)}
    field.act("dock", f"form/{form}", "rejected", {**said, "reasons": ["other"]})
    day = (field.clock() + timedelta(days=2)).date().isoformat()
    field.act("clerk", f"form/{form}", "requested", {"due": day})
    length = field.get("dock", f"/forms/{form}").get_json()["length"]
    field.act("dock", f"form/{form}", "copied", {"of": "result", "version": 1, "entries": length})
    assert field.get("clerk", "/chase").get_json()["items"] == []
    field.act("dock", f"form/{form}", "accepted", {**said, "at": at(field)})
    for _ in range(2):
        (due,) = field.get("clerk", "/chase").get_json()["items"]
        assert (due["kind"], due["about"]) == ("result due", form)
        assert grouped(samples[0]) in due["sentence"]
        field.ledger.database.write(maintenance.rebuild)


def test_a_new_sample_is_chased_until_its_firm_collected_it_on_another_visit(visited: Visited) -> None:
    """The rejected one left every list with its rejection, and nobody went back to the room."""
    field, (form, _, samples, _) = visited
    why = {"samples": samples[:1], "at": at(field), "reasons": ["condition"], "resample": "asked"}
    field.act("dock", f"form/{form}", "rejected", why)
    for _ in range(2):
        for reader in ("dock", "clerk"):
            (due,) = field.get(reader, "/chase").get_json()["items"]
            assert (due["kind"], due["about"], due["overdue"]) == ("not collected again", samples[0], False)
        field.ledger.database.write(maintenance.rebuild)
    field.clock.advance(days=10)
    assert "RC-24" in rules(field, form)
    lot, (new, outdoor) = field.lot(2)
    later = field.open_form()
    field.collect(later, lot, new, replaces=samples[0], replaces_form=form)
    field.collect(later, lot, outdoor, "outdoor")
    kinds = {each["kind"] for each in field.get("dock", "/chase").get_json()["items"]}
    assert "not collected again" not in kinds
    assert "RC-24" not in rules(field, form)
    assert "CL-15" not in rules(field, later)
    told = field.get("clerk", f"/forms/{later}").get_json()["samples"]
    assert {each["sample"]: each["replaces"] for each in told} == {new: samples[0], outdoor: None}
    field.ledger.database.write(maintenance.rebuild)
    assert "RC-24" not in rules(field, form)
    with field.ledger.database.reading() as connection:
        assert unanswered.open_forms(connection, LAB, 9, 9) == ([form, later], 0)
    field.act(
        "dock", f"form/{form}", "disposed", {"samples": samples[:1], "how": "destroyed", "at": at(field)}
    )
    with field.ledger.database.reading() as connection:
        assert unanswered.open_forms(connection, LAB, 9, 9) == ([later], 0)


def test_a_sample_that_stands_on_another_visit_is_not_replaced_unseen(visited: Visited) -> None:
    """Two results of one room, each clean on its own form."""
    field, (form, _, samples, _) = visited
    lot, (new,) = field.lot(1)
    later = field.open_form()
    field.collect(later, lot, new, replaces=samples[0], replaces_form=form)
    assert "CL-15" in rules(field, later)


def rules(field: Field, form: str) -> set[str]:
    """What the rules say of a form to its clerk."""
    return {each["rule"] for each in field.get("clerk", f"/forms/{form}").get_json()["findings"]}


def test_what_was_relinquished_and_nobody_received_is_chased_by_both(field: Field) -> None:
    """The clerk's list said that nothing waits, while four cassettes lay on the desk, not signed for."""
    lot, samples = field.lot(2)
    form = field.open_form()
    for sample in samples:
        field.collect(form, lot, sample)
    said = {"samples": samples, "count": 2, "to": FIRM, "to_kid": field.people["clerk"].key.kid}
    said |= {"purpose": "shipping", "at": Moment(field.clock(), -300).text()}
    field.act("inspector", f"form/{form}", "relinquished", said)
    for reader in ("clerk", "inspector"):
        (due,) = field.get(reader, "/chase").get_json()["items"]
        assert (due["kind"], due["about"], due["overdue"]) == (
            "not taken",
            samples[0],
            False,
        )
        assert "Inspector Person relinquished" in due["sentence"]
        assert "to Clerk Person on" in due["sentence"]
    field.clock.advance(hours=24)
    assert field.get("clerk", "/chase").get_json()["overdue"] == 1
    items = [{"sample": each, "condition": ["intact"]} for each in samples]
    taken = {"items": items, "count": 2, "at": Moment(field.clock(), -300).text(), "purpose": "shipping"}
    field.act("clerk", f"form/{form}", "received", taken)
    assert "not taken" not in {each["kind"] for each in field.get("clerk", "/chase").get_json()["items"]}
