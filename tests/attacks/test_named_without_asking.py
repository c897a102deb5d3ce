"""A stranger names others as parties of forms of his own, or claims their numbers there: it hides nothing of
theirs and costs them little.

What it costs is counted in rows, questions and lines of our program, never in time, which another machine
would measure differently. No standard says what a service must bear: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import cost
import pytest
from operator_hands import Fields
from promises import promised

from bailee.domain.moments import Moment
from bailee.operations import brief
from bailee.signing import signed_statement
from bailee.store.number_index import MOST_UNINVITED
from field import FIRM, LAB, OUTSIDER, Field


@pytest.fixture
def field(make_field: Fields) -> Field:
    """Firm and laboratory, and a third organization with an inspector and a clerk, which is no party of
    anything of theirs.
    """
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
    data = {
        "edition": 1,
        "parties": {"firm": OUTSIDER, "lab": lab},
        "visit": "2026-12-01",
        "zone": "America/New_York",
    }
    field.act("third", f"form/{form}", "opened", data)
    return form


def now(field: Field) -> str:
    """Now, on the firm's clocks."""
    return Moment(field.clock(), -300).text()


def sealing(field: Field, form: str, envelope: str, samples: list[str]) -> dict[str, Any]:
    """What is said when an envelope is closed now."""
    return {
        "envelope": envelope,
        "seal": field.number("seal"),
        "samples": samples,
        "count": len(samples),
        "total": len(samples),
        "forms": [form],
        "at": now(field),
        "across_opening": True,
        "record_enclosed": True,
    }


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


def lot_of_the_inspector(field: Field, count: int) -> tuple[str, list[str]]:
    """A lot whose cassettes were handed to the firm's inspector by name, so that a stranger's claim of one
    counts for nothing.
    """
    lot, _ = field.lot(count)
    samples = [field.number("sample") for _ in range(count)]
    issued = {"samples": samples, "to": field.people["inspector"].key.kid}
    field.act("keeper", f"lot/{lot}", "issued", issued)
    return lot, samples


def claims(field: Field, form: str, lot: str, samples: Sequence[str], times: int = 1) -> None:
    """The stranger says so often of each of these samples that he ran it, closed it in an envelope and sent
    it on.
    """
    at = now(field)
    for sample in samples:
        for _ in range(times):
            field.collect(form, lot, sample, who="third")
            said = sealing(field, form, field.number("envelope"), [sample])
            field.act("third clerk", f"form/{form}", "sealed", said)
            item = {
                "sample": sample,
                "child": field.number("sample"),
                "item": "slide",
                "condition": ["opened"],
            }
            sent = {"items": [item], "count": 1, "to": OUTSIDER, "purpose": "analysis", "at": at}
            field.act("third", f"form/{form}", "forwarded", sent)


@pytest.mark.slow
def test_a_recall_costs_what_was_said_and_not_its_cube(field: Field) -> None:
    """Whoever recalls a lot would wait for minutes, because a stranger repeated himself about one cassette of
    it.
    """
    lot, samples = field.lot(1)
    field.collect(field.open_form(), lot, samples[0])
    form = strange(field)
    steps = []
    for _ in range(2):
        claims(field, form, lot, samples, times=8)
        steps.append(cost.of(field, lambda: field.get("keeper", f"/lots/{lot}/uses").get_json()))
    assert steps[1].steps < 2.5 * steps[0].steps, steps
    assert steps[1].lines < 2.5 * steps[0].lines, steps
    [used] = field.get("keeper", f"/lots/{lot}/uses").get_json()["uses"]
    assert used["form"] != form


def test_where_a_lot_was_used_costs_whoever_may_not_see_it_nothing_that_grows_with_it(field: Field) -> None:
    """By the time it takes, a competitor would read how much a firm samples."""
    lot, samples = field.lot(12)
    form = field.open_form()
    strange(field)
    costs = []
    for half in (samples[:6], samples[6:]):
        for sample in half:
            field.collect(form, lot, sample)
        costs.append(cost.of(field, lambda: field.get("third", f"/lots/{lot}/uses")))
    assert field.get("third", f"/lots/{lot}/uses").status_code == 404
    assert costs[0] == costs[1]


def test_numbers_that_a_stranger_claims_cost_the_lots_owner_a_line_each_and_no_question(field: Field) -> None:
    """A box whose every number was typed elsewhere would never open again in its keeper's hands."""
    lot, samples = lot_of_the_inspector(field, 24)
    form = strange(field, lab="quill-lab")
    costs = []
    for half in (samples[:12], samples[12:]):
        for sample in half:
            field.collect(form, lot, sample, who="third")
        costs.append(cost.of(field, lambda: field.get("keeper", f"/lots/{lot}")))
    told = field.get("keeper", f"/lots/{lot}").get_json()["claimed_elsewhere"]
    assert [each["sample"] for each in told] == sorted(samples)
    assert costs[0].questions == costs[1].questions


@pytest.mark.slow
def test_a_number_that_is_claimed_again_and_again_costs_as_much_as_was_said(field: Field) -> None:
    """Two thousand repetitions would be two million comparisons."""
    lot, samples = field.lot(1)
    form = strange(field)
    lines = []
    for _ in range(3):
        for _ in range(10):
            field.collect(form, lot, samples[0], who="third")
        lines.append(cost.of(field, lambda: field.get("keeper", f"/lots/{lot}")).lines)
    assert abs(lines[2] - 2 * lines[1] + lines[0]) < 10, lines  # each ten more cost what the ten before cost


@pytest.mark.slow
def test_forms_that_name_somebody_without_asking_are_looked_at_up_to_a_number_and_counted(
    field: Field,
) -> None:
    """A firm would wait a minute for its list, and a scheduler give up, because a stranger opened forms in
    its name.
    """
    promised("names yours on many forms of its own", "the newest 20 are looked at")
    lot, samples = field.lot(1)
    own = field.open_form()
    field.collect(own, lot, samples[0])
    forms: list[str] = []
    lines = []
    for more in (20, 5, 5):
        forms += [strange(field) for _ in range(more)]
        for form in forms[-more:]:
            field.collect(form, lot, samples[0], who="third")
        lines.append(cost.of(field, lambda: field.get("clerk", "/chase")).lines)
    assert field.get("clerk", "/chase").get_json()["left_out"] == 10
    assert lines[2] == lines[1]

    held = {"samples": samples, "secured": "locked", "where": "office", "since": now(field)}
    field.act("clerk", f"form/{forms[0]}", "held", held)  # and so answers that organization
    assert field.get("clerk", "/chase").get_json()["left_out"] == 0


def test_forms_that_name_somebody_without_asking_do_not_push_his_own_off_the_list(field: Field) -> None:
    """A laboratory would look for the envelope before it behind a hundred forms of somebody it never worked
    for.
    """
    promised("names yours on many forms of its own", "the newest 5 stand in your list")

    def listed(path: str = "/forms?limit=10") -> list[str]:
        return [each["form"] for each in field.get("dock", path).get_json()["forms"]]

    first = field.open_form()
    second = field.open_form()
    lines, forms = [], []
    for _ in range(2):
        forms += [strange(field, lab=LAB) for _ in range(6)]
        lines.append(cost.of(field, lambda: field.get("dock", "/forms?limit=10")).lines)
    assert lines[0] == lines[1]
    assert listed() == [*reversed(forms[-MOST_UNINVITED:]), *[second, first][: 10 - MOST_UNINVITED]]
    assert listed(f"/forms?before={forms[-3]}") == [*listed()[3:]]
    assert listed(f"/forms?before={forms[-3]}&limit=3") == [*listed()[3:6]]

    field.act("dock", f"form/{forms[0]}", "copied", {"of": "record", "version": 1, "entries": 1})
    assert listed("/forms?limit=99") == [*reversed(forms), second, first]  # now the laboratory has answered


def test_forms_on_which_nobody_of_theirs_spoke_are_not_read_when_a_name_is_erased(field: Field) -> None:
    """A person who left could not be forgotten, and everybody's hand-overs would wait for it, because a
    stranger holds a hundred forms.
    """
    field.people["third quality"] = field.device("third quality", OUTSIDER)
    field.enroll(field.people["third quality"], "quality")
    root = field.roots[FIRM]
    enrolled = root.sign(f"org/{FIRM}", "trained", {"kid": field.people["clerk"].key.kid, "on": "2026-03-03"})
    field.ok(field.send(enrolled), root)
    statement = signed_statement.digest(enrolled["statement"])

    def too_many() -> None:
        signed = root.sign(f"org/{FIRM}", "person_erased", {"statement": statement, "count": 9})
        root.seq, root.prev = root.seq - 1, statement
        assert field.send(signed).get_json()["code"] == "wrong-count"

    lines = []
    for _ in range(3):
        form = strange(field)
        field.act("third quality", f"form/{form}", "retention_held", {"reason": "dispute"})
        lines.append(cost.of(field, too_many).lines)
    assert lines[2] == lines[1]


def test_exceptions_of_one_request_are_judged_on_one_reading_and_on_none_where_the_role_may_allow_nothing(
    field: Field, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three statements about a large form would keep the service busy for a quarter of a minute."""
    lot, samples = field.lot(1)
    form = field.open_form()
    field.collect(form, lot, samples[0])
    read: list[object] = []
    books = field.ledger.books
    whole = books.case
    monkeypatch.setattr(books, "case", lambda *given: (read.append(given), whole(*given))[1])
    about = {"rule": "CL-09", "about": form, "reason": "no_alternative"}

    for who, readings in (("quality", 1), ("inspector", 0)):
        read.clear()
        device = field.people[who]
        signed = [device.sign(f"form/{form}", "excepted", about, after=None) for _ in range(3)]
        answers = field.send(*signed).get_json()["answers"]
        assert [each["problem"] for each in answers] == [None] * 3
        assert len(read) == readings


def test_a_stranger_puts_no_visit_and_no_laboratory_on_the_phones_of_a_firm(field: Field) -> None:
    """In the basement the newest visit on the screen is a stranger's, and the samples go on his form."""
    promised("names yours on many forms of its own", "your phones take along only forms on which you signed")
    own = field.open_form()
    data = {"edition": 1, "visit": "2026-12-01", "zone": "America/New_York"}
    opened = data | {"parties": {"firm": FIRM, "lab": OUTSIDER}}
    field.act("third", f"form/{field.number('form')}", "opened", opened)
    told = field.get("inspector", "/brief").get_json()
    assert [each["form"] for each in told["forms"]] == [own]
    assert told["laboratories"] == [LAB]


def test_many_strangers_push_no_visit_off_the_phones_of_a_firm(
    field: Field, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Four of them with five forms each fill the list, and in the basement the firm's own visit is not there.

    With a shorter list one stranger does it.
    """
    monkeypatch.setattr(brief, "MOST_FORMS", MOST_UNINVITED)
    own = field.open_form()
    for _ in range(MOST_UNINVITED):
        strange(field)
    told = field.get("inspector", "/brief").get_json()
    assert [each["form"] for each in told["forms"]] == [own]


def test_a_laboratory_that_one_works_with_opens_a_visit_for_the_firm(field: Field) -> None:
    """It is on the phone before anybody of the firm has said a word on it."""
    own, theirs = field.open_form(), field.number("form")
    data = {"edition": 1, "visit": "2026-12-01", "zone": "America/New_York"}
    field.act("lab-quality", f"form/{theirs}", "opened", data | {"parties": {"firm": FIRM, "lab": LAB}})
    told = field.get("inspector", "/brief").get_json()
    assert {each["form"] for each in told["forms"]} == {own, theirs}
