"""A ledger that meets what a later edition of the rule book says: it keeps nothing that it cannot judge, and
says that nothing is lost. Common practice, no source.
"""

from __future__ import annotations

from typing import Any

import pytest

from bailee.domain import statements
from field import FIRM, LAB, Field
from grounds import on_any

pytestmark = on_any  # all that these ask of a database, others ask of PostgreSQL

OPENED = {"parties": {"firm": FIRM, "lab": LAB}, "visit": "2026-12-01", "zone": "America/New_York"}
HELD = {"secured": "locked", "where": "office", "since": "2026-12-01T09:30:00-05:00"}


@pytest.mark.parametrize(
    ("who", "on", "act", "data", "says"),
    [
        ("inspector", "new", "opened", {"edition": 2, **OPENED}, "edition: is edition 2 of the rule book"),
        ("inspector", "form", "foretold", {"at": "2026-12-01T09:30:00-05:00"}, "'foretold' is not something"),
        ("inspector", "form", "held", {**HELD, "logger": "T-9"}, "logger: there is nothing of this name"),
        ("inspector", "form", "held", {**HELD, "where": "locker"}, "where: write one of person"),
        ("root", "org", "policy_set", {"policy": {"edition": 2}}, "policy/edition: is edition 2"),
    ],
)
def test_what_a_newer_program_says_is_sent_back_whole(
    field: Field, who: str, on: str, act: str, data: dict[str, Any], says: str
) -> None:
    """If this fails, an older ledger keeps what it cannot judge and calls the rest complete; or a device
    throws away what it was told is malformed.
    """
    form = field.open_form()
    chain = {"form": f"form/{form}", "new": f"form/{field.number('form')}", "org": f"org/{FIRM}"}[on]
    device = field.roots[FIRM] if who == "root" else field.people[who]
    before = field.head(chain)
    device.heads[chain] = before[1] if before[0] else ""
    answer = field.send(device.sign(chain, act, data))
    told = answer.get_json()
    assert (answer.status_code, told["code"]) == (422, "not-known")
    assert says in told["detail"]
    assert "This ledger knows edition 1 of the rule book." in told["detail"]
    assert "nothing was recorded and nothing is lost" in told["detail"]
    assert field.head(chain) == before


def test_a_ledger_under_an_older_program_says_so(field: Field, monkeypatch: pytest.MonkeyPatch) -> None:
    """If this fails, whoever puts back the program of last year shows forms without what was said this year,
    or ends in the middle of a request.
    """
    form = field.open_form()
    known = statements.parse

    def older(chain: str, act: str, data: Any) -> Any:
        return known(chain, act, {**data, "later": 1} if act == "opened" else data)

    monkeypatch.setattr(statements, "parse", older)
    answer = field.get("inspector", f"/forms/{form}")
    assert (answer.status_code, answer.get_json()["code"]) == (503, "not-known")
    assert "recorded by a program of a later edition of the rule book than 1" in answer.get_json()["detail"]
