"""The cautions on the page of a visit: there before the first cassette, gone when they would only hide the
samples.
"""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

from bailee.domain import cautions

if TYPE_CHECKING:
    from conftest import Town


def page(town: Town, form: str) -> str:
    """The page of a visit as its clerk sees it, in plain characters."""
    client = town.field.app.test_client()
    client.post("/session", json={"token": town.token()})
    answer = client.get(f"/pages/forms/{form}")
    assert answer.status_code == 200, answer.text
    return html.unescape(answer.text)


def test_a_visit_without_samples_shows_the_cautions(town: Town) -> None:
    """Whoever opens the visit on a phone at the door sees nothing about live wires near water."""
    shown = page(town, town.field.open_form())

    assert [each.says for each in cautions.ON_SITE if each.says not in shown] == []
    assert cautions.DEFER in shown


def test_a_visit_with_samples_does_not(town: Town) -> None:
    """A clerk scrolls past twelve cautions to find the missing outdoor control."""
    assert cautions.DEFER not in page(town, town.bare)
