"""A sample sent on over HTTP: the second laboratory becomes a party, and reads what it needs."""

from __future__ import annotations

import json
from typing import Any

import pytest

from bailee.domain.moments import Moment
from field import OUTSIDER, Device, Field, Visited
from grounds import After, on_any

pytestmark = on_any  # all that these ask of a database, others ask of PostgreSQL


def second_laboratory(field: Field) -> Device:
    """A third organization is founded, with a custodian."""
    root = field.roots[OUTSIDER] = field.device("third root", OUTSIDER)
    field.ok(
        field.send(root.sign(f"org/{OUTSIDER}", "founded", {"name": "Third Party", "jwk": root.key.jwk})),
        root,
    )
    field.people["third"] = field.device("third", OUTSIDER)
    field.enroll(field.people["third"], "custodian")
    return field.people["third"]


def sent_on(field: Field) -> tuple[str, str, str]:
    """A faultless visit whose first sample goes on: form, parent, child."""
    form, _, samples, _ = field.faultless()
    second_laboratory(field)
    child = field.number("sample")
    data: dict[str, Any] = {
        "items": [{"sample": samples[0], "child": child, "item": "slide", "condition": ["stained"]}],
        "count": 1,
        "to": OUTSIDER,
        "purpose": "analysis",
        "at": Moment(field.clock(), -360).text(),
    }
    assert field.get("third", f"/forms/{form}").status_code == 404
    field.act("dock", f"form/{form}", "forwarded", data, {"note": "for the mineral dust"})
    return form, samples[0], child


def test_the_second_laboratory_reads_custody_and_not_whose_house_it_is(after: After) -> None:
    """It must not learn whose house it is to count a trace; every proof holds without it."""
    field, (form, parent, child) = after(sent_on)
    told = field.get("third", f"/forms/{form}").get_json()
    assert told["private"] == {}
    assert told["withheld"] > 0
    assert {s["place"] for s in told["samples"]} == {None}
    state = field.get("third", f"/samples/{child}").get_json()["state"]
    assert (state["parent"], state["status"]) == (parent, "collected")
    assert field.get("dock", f"/samples/{parent}").get_json()["state"]["child"] == child
    assert field.get("inspector", f"/forms/{form}").get_json()["private"]["client"] == "Perpetua Example"


def test_the_second_laboratory_s_file_verifies_without_the_names(after: After) -> None:
    """What it gives to its auditor holds as well as the first laboratory's, and tells nobody whose house it
    is.
    """
    field, (form, _, _) = after(sent_on)
    text = field.get("third", f"/forms/{form}/bundle").text
    assert "Perpetua" not in text
    disclosed = [each["disclosures"] for each in json.loads(text)["entries"]]
    own = json.loads(field.get("dock", f"/forms/{form}/bundle").text)
    assert sum(map(len, disclosed)) < sum(len(each["disclosures"]) for each in own["entries"])


def test_the_second_laboratory_takes_it_over_and_says_so(after: After) -> None:
    """Both laboratories sign: the receipt stands on the same form, under the child's number."""
    field, (form, _, child) = after(sent_on)
    at = Moment(field.clock(), -420).text()
    items = [{"sample": child, "condition": ["opened"]}]
    field.act(
        "third", f"form/{form}", "received", {"items": items, "count": 1, "at": at, "purpose": "analysis"}
    )
    state = field.get("third", f"/samples/{child}").get_json()["state"]
    assert [link["organization"] for link in state["links"]] == ["quill-lab", OUTSIDER]


@pytest.mark.slow
def test_a_child_is_sealed_like_any_sample(after: After) -> None:
    """The first laboratory asks for readiness, and the envelope goes to the second one's dock."""
    field, (form, _, child) = after(sent_on)
    envelope, seal = field.number("envelope"), field.number("seal")
    body = {
        "envelope": envelope,
        "samples": [child],
        "total": 1,
        "across_opening": True,
        "record_enclosed": True,
        "seal": seal,
        "at": Moment(field.clock(), -360).text(),
    }
    told = field.post("dock", "/readiness", {"act": "sealed", "data": body}).get_json()
    assert told["ready"], told["findings"]
    assert told["statements"][0]["data"]["forms"] == [form]


def test_a_qualified_result_is_worded_where_the_form_is_read(visited: Visited) -> None:
    """The wording on the screen is the one on the paper, and who was called stands beside it."""
    field, (form, _, samples, _) = visited
    at = Moment(field.clock(), -360).text()
    decision = {"samples": samples, "at": at, "called": at, "qualified": True, "reasons": ["seal"]}
    field.act(
        "dock", f"form/{form}", "accepted", decision, {"called_person": "R. Example", "answer": "go on"}
    )
    told = field.get("inspector", f"/forms/{form}").get_json()
    answered = told["samples"][0]["decisions"][-1]
    assert (answered["called"], answered["whom"], answered["answer"]) == (at, "R. Example", "go on")
    assert told["samples"][0]["qualification"].startswith(
        "Qualified result. The laboratory qualified it: seal."
    )
    assert told["samples"][1]["decisions"][0]["called"] is None
