"""What an operator sees of a running service: a line for each request, a number in each problem, metrics.

The format of the metrics is read by prometheus-client's own parser of the Prometheus text format.
"""

from __future__ import annotations

import json
import logging
import re
from collections.abc import Iterator
from io import StringIO
from typing import Any

import httpx2
import pytest
from prometheus_client.parser import text_string_to_metric_families

from bailee import log_lines
from bailee.api.metrics import Metrics
from bailee.errors import Malformed
from bailee.signing import access
from field import FIRM, Field

MEMBERS = {"time", "level", "event", "request", "method", "route", "status", "ms"}


@pytest.fixture
def lines() -> Iterator[StringIO]:
    """What the service writes."""
    root = logging.getLogger()
    before = root.handlers, root.level
    written = StringIO()
    log_lines.write_to(written)
    yield written
    root.handlers, root.level = before


def said(lines: StringIO) -> list[dict[str, Any]]:
    """Each line, read."""
    return [json.loads(each) for each in lines.getvalue().splitlines()]


def sampled(field: Field) -> dict[tuple[str, tuple[tuple[str, str], ...]], float]:
    """What Prometheus reads, by name and labels."""
    metrics: Metrics = field.app.extensions["metrics"]
    address, end = metrics.serve("127.0.0.1:0")
    try:
        text = httpx2.get(f"http://{address}/metrics").text
    finally:
        end()
    return {
        (each.name, tuple(sorted(each.labels.items()))): each.value
        for family in text_string_to_metric_families(text)
        for each in family.samples
    }


def test_every_request_is_one_line_and_nobody_is_in_it(field: Field, lines: StringIO) -> None:
    """Who went where on which day would be kept beside the ledger, by whoever runs it."""
    form = field.open_form()
    field.get("inspector", f"/forms/{form}")
    field.get("inspector", "/forms/F0000000000A?who=Ines")
    made, read, missing = said(lines)
    assert (made["method"], made["route"], made["status"]) == ("POST", "/entries", 201)
    assert (read["method"], read["route"], read["status"]) == ("GET", "/forms/<form>", 200)
    assert missing["status"] >= 400
    assert missing["code"]
    for each in (made, read, missing):
        assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", each["time"])
        assert each.keys() - {"code"} == MEMBERS
    for secret in (form, FIRM, "Ines", "127.0.0.1", field.people["inspector"].key.kid):
        assert secret not in lines.getvalue()


def test_a_problem_bears_the_number_of_its_request(field: Field, lines: StringIO) -> None:
    """Somebody reports an error by telephone, and the operator would search for it by guessing times."""
    told = field.client.get("/forms/F0000000000A", headers={"X-Request-Id": "a-proxy-s-number-17"})
    assert told.headers["X-Request-Id"] == told.get_json()["request"] == "a-proxy-s-number-17"
    for false in ("short", "x" * 65, "a b c d e f g h", "<script>!", ""):
        told = field.client.get("/forms/F0000000000A", headers={"X-Request-Id": false})
        assert re.fullmatch("[0-9a-f]{12}", told.get_json()["request"])
    assert said(lines)[0]["request"] == "a-proxy-s-number-17"
    stranger = {"REMOTE_ADDR": "198.51.100.7"}
    told = field.client.get(
        "/health", headers={"X-Request-Id": "Perpetua-Example"}, environ_overrides=stranger
    )
    assert re.fullmatch("[0-9a-f]{12}", told.headers["X-Request-Id"])


def test_what_strangers_write_as_a_method_is_no_word_of_ours(field: Field, lines: StringIO) -> None:
    """Whoever asks would fill the memory with methods of their own making, and the journal with names."""
    field.client.open("/health", method="PERPETUA_EXAMPLE")
    assert [each["method"] for each in said(lines)] == ["other"]
    assert not [name for name, labels in sampled(field) if ("method", "PERPETUA_EXAMPLE") in labels]


def test_what_a_library_writes_has_no_path_in_it(lines: StringIO) -> None:
    """A server's own line names the page that somebody left, with the number of a form in it."""
    logging.getLogger("waitress").info("Client disconnected while serving %s", "/forms/FM9S346Q3D2R")
    (line,) = said(lines)
    assert line["event"] == "waitress"
    assert "FM9S346Q3D2R" not in lines.getvalue()


def test_an_error_nobody_foresaw_is_found_by_its_number_and_shows_no_value(
    field: Field, lines: StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A client's name in an error's message would lie in the journal of a machine for years."""

    def broken() -> str:
        raise ValueError("Mrs Marlow, 7 Invented Lane")

    monkeypatch.setattr(field.ledger.publisher, "shown", broken)
    told = field.client.get("/checkpoint").get_json()
    error, request = said(lines)
    assert error["event"] == "unexpected-error"
    assert error["error"] == "ValueError"
    assert any("broken" in each for each in error["at"])
    assert told["reference"] == error["request"] == request["request"]
    assert "Marlow" not in lines.getvalue()


def test_an_error_of_a_page_has_the_number_of_its_request_and_no_path(
    field: Field, lines: StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The number on the screen is in no line, and a line names which form somebody looked at."""

    def broken(*_: object) -> str:
        raise ValueError("Mrs Marlow, 7 Invented Lane")

    form = field.open_form()
    inspector = field.people["inspector"]
    now, browser = int(field.clock().timestamp()), field.app.test_client()
    token = access.issue_for_pages(inspector.key, FIRM, field.ledger.settings.origin, now)
    assert browser.post("/session", json={"token": token}).status_code == 200
    monkeypatch.setattr("bailee.web.pages.form_view", broken)
    told = browser.get(f"/pages/forms/{form}")
    assert told.status_code == 500
    error, asked = said(lines)[-2:]
    assert (error["event"], error["route"]) == ("unexpected-error", asked["route"])
    assert error["request"] == asked["request"] == told.headers["X-Request-Id"]
    assert not {word for word in (form, "Marlow") if word in lines.getvalue()}


def test_metrics_say_how_the_log_goes_and_count_requests(field: Field) -> None:
    """An alarm that is never sent, because the number it rests on stands still."""
    field.open_form()
    before = sampled(field)
    assert before["bailee_database_up", ()] == 1
    assert before["bailee_size", ()] == before["bailee_published_size", ()]
    assert before["bailee_frozen", ()] == 0
    home = (("disk", "home"),)
    assert 0 < before["bailee_disk_free_bytes", home] <= before["bailee_disk_size_bytes", home]
    field.open_form()
    field.ledger.sequencer.integrate()
    after = sampled(field)
    assert after["bailee_size", ()] > before["bailee_size", ()]
    entries = (("method", "POST"), ("route", "/entries"), ("status", "201"))
    counted = "bailee_requests_seconds_count", entries
    assert after[counted] == before[counted] + 1


def test_a_frozen_log_is_a_number_too(field: Field) -> None:
    """The one thing that must wake somebody would stand in no alarm."""
    field.open_form()
    field.ledger.sequencer.integrate()
    (field.ledger.settings.home / "restored.json").write_text("{}")
    assert sampled(field)["bailee_frozen", ()] == 1


def test_processes_of_one_home_are_watched_beside_each_other(field: Field) -> None:
    """The second process of a host would not start, or nobody see what it does."""
    metrics: Metrics = field.app.extensions["metrics"]
    first, end = metrics.serve("127.0.0.1:0")
    second, end_too = metrics.serve(first)
    assert int(second.rpartition(":")[2]) > int(first.rpartition(":")[2])
    end()
    end_too()
    with pytest.raises(Malformed):
        metrics.serve("everywhere")
