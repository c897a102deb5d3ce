"""Who answers in the service's place, or another log, shows a false time: nothing is signed for later by it.

That whoever checks a token may allow for a clock that is a little wrong: RFC 7519 4.1.4; how much, common
practice, no source.
"""

from __future__ import annotations

from datetime import timedelta

import httpx2
import pytest

from bailee.errors import Forged
from bailee.signing import access
from bailee_cli.device.client import TOKEN_AHEAD_S
from bailee_cli.device.session import Session
from town import Town


def told_a_time(town: Town, ahead: timedelta, heard: list[str]) -> Session:
    """An inspector's device, to which somebody in the middle answers with a time of their own."""

    def answer(request: httpx2.Request) -> httpx2.Response:
        heard.append(request.headers.get("Authorization", "").removeprefix("Bearer "))
        told = {"code": "token-expired", "detail": "Set the clock."}
        return httpx2.Response(401, json=told, headers={"Ledger-Time": (town.clock() + ahead).isoformat()})

    session = Session(home=town.folder / "homes", transport=httpx2.MockTransport(answer), clock=town.clock)
    return session.of("inspector", as_json=False)


@pytest.mark.parametrize("days", [3, 400])
def test_nobody_in_the_middle_is_given_a_token_for_later(settled: Town, days: int) -> None:
    """On a network without TLS one answer of 401 brings a token for all the firm sees, valid next year."""
    heard: list[str] = []
    session = told_a_time(settled, timedelta(days=days), heard)
    for _ in range(2):
        with pytest.raises(Forged):
            session.service.get("/forms")
    latest = max(access.read(each).iat for each in heard)
    assert latest <= settled.clock().timestamp() + 1
    assert len(heard) == 2


def test_a_phone_that_lost_a_day_is_still_let_in(settled: Town) -> None:
    """A dead battery puts a phone behind, and its owner asks the ledger all the same."""
    heard: list[str] = []
    session = told_a_time(settled, timedelta(hours=26), heard)
    with pytest.raises(Forged):
        session.service.get("/forms")
    first, second = (access.read(each).iat for each in heard)
    assert second - first == pytest.approx(26 * 3600, abs=2)
    assert second - first < TOKEN_AHEAD_S


def test_another_log_s_time_is_no_word_on_this_clock(settled: Town) -> None:
    """A watched log with a false clock would have the next visit signed as if by a clock that is wrong."""
    session = told_a_time(settled, timedelta(days=1), [])
    assert session.profile.service != "https://other.example"
    with pytest.raises(Forged):
        session.stranger("https://other.example").get("/health")
    assert session.skew == 0
    assert session.clock_news() == ""
    session.close()
    assert not (session.folder / "clock.json").exists()
