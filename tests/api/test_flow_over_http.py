"""The calculation over HTTP. Figures: arithmetic; 5 % and 10 % from county-filed air sampling plans."""

from __future__ import annotations

from typing import Any

import pytest

from field import Field
from grounds import on_any

pytestmark = on_any  # all that these ask of a database, others ask of PostgreSQL


def ask(field: Field, status: int = 200, **query: Any) -> dict[str, Any]:
    """What the inspector is told."""
    answer = field.client.get("/flow", query_string=query, headers=field.people["inspector"].bearer)
    assert answer.status_code == status, answer.text
    return dict(answer.get_json())


def test_a_run_is_told_with_all_its_figures(field: Field) -> None:
    """A phone that asks gets other figures than the report will carry."""
    told = ask(field, before="15.0", after="14.25", run_s=300)

    assert (told["mean_l_min"], told["drift_pct"], told["volume_l"]) == ("14.625", "-5.00", "73.13")
    # 1 / (0.073125 m3 x part read), rounded half up
    assert [(e["fraction"], e["fs_m3"], e["reported"]) for e in told["limits"]] == [
        ("1", "13.68", "14"), ("0.5", "27.35", "27"), ("0.25", "54.70", "55"), ("0.15", "91.17", "91"),
    ]  # fmt: skip
    assert told["findings"] == []


def test_the_rules_speak_before_there_is_a_sample(field: Field) -> None:
    """The pump goes back to the van and the flow is found wanting at sealing."""
    told = ask(field, before="15.0", after="13.4", fraction="25 %,1")

    assert {f["rule"]: f["severity"] for f in told["findings"]} == {"PV-03": "warn", "PV-05": "block"}
    assert all(f["remedy"] for f in told["findings"])
    assert [e["fraction"] for e in told["limits"]] == ["0.25", "1"]


def test_the_firm_s_own_thresholds_count(field: Field) -> None:
    """A firm that allows 15 % is told to throw a good sample away, or the other way round."""
    root = field.roots["harrow-field"]
    said = root.sign("org/harrow-field", "policy_set", {"policy": {"edition": 1, "drift_block_pct": "15"}})
    field.ok(field.send(said), root)

    assert [f["rule"] for f in ask(field, before="15.0", after="13.4")["findings"]] == ["PV-03", "PV-04"]


def test_a_blank_has_no_figures_and_divides_by_nothing(field: Field) -> None:
    """A field blank stops the service, or gets a concentration."""
    for query in (
        {"run_s": 0},
        {},
        {"before": "0", "after": "0"},
        {"before": "15", "after": "15", "run_s": 0},
    ):
        told = ask(field, **query)
        assert [e["fs_m3"] for e in told["limits"]] == [None] * 4
        assert told["notes"]
    assert ask(field)["volume_l"] is None


@pytest.mark.parametrize(
    "query",
    [
        {"before": "15,0"},
        {"before": "-1"},
        {"before": "15", "fraction": "25"},
        {"before": "15", "fraction": "1,"},
        {"before": "15", "run_s": -1},
        {"before": "15", "run_s": "5:00"},
        {"flow": "15"},
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(field: Field, query: dict[str, str]) -> None:
    """A comma for a point becomes another volume without a word."""
    told = ask(field, 422, **query)

    assert told["detail"]


def test_a_stranger_is_not_answered(field: Field) -> None:
    """Thresholds of a firm would be read through its calculator."""
    assert field.client.get("/flow", query_string={"before": "15"}).status_code == 401
