"""The guides as pages: open to everybody; links stay here, and nothing in them runs in a browser."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import TYPE_CHECKING

import pytest
from werkzeug.test import TestResponse

from bailee import guides
from bailee.web.reference_pages import page

if TYPE_CHECKING:
    from flask.testing import FlaskClient

    from conftest import Town

EVERY = [each.name for each in guides.every()]


@pytest.fixture
def stranger(town: Town) -> FlaskClient:
    """Somebody who has not entered, and perhaps never will."""
    return town.field.app.test_client()


class Seen(HTMLParser):
    """The text of a page, and the addresses that it leads to."""

    def __init__(self, answer: TestResponse) -> None:
        super().__init__()
        assert answer.status_code == 200, answer.text
        self.texts: list[str] = []
        self.links: list[str] = []
        self.feed(answer.text)

    def handle_data(self, data: str) -> None:
        """One piece of text."""
        self.texts.append(data)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """One element."""
        self.links += [value for name, value in attrs if tag == "a" and name == "href" and value]

    @property
    def text(self) -> str:
        """All of it."""
        return " ".join("".join(self.texts).split())


def test_who_has_no_key_yet_finds_the_guides(stranger: FlaskClient) -> None:
    """If this fails, a newcomer must enter to read how to get a key to enter with."""
    assert "/guide" in Seen(stranger.get("/")).links
    listed = Seen(stranger.get("/guide"))
    for each in guides.every():
        assert f"/guide/{each.name}" in listed.links
        assert each.sentence in listed.text


@pytest.mark.parametrize("name", EVERY)
def test_a_page_has_every_command_of_its_guide_and_leads_to_pages_that_are_there(
    stranger: FlaskClient, name: str
) -> None:
    """If this fails, somebody copies half a command from a phone, or a link ends at nothing."""
    found = guides.find(name)
    assert found is not None
    shown = Seen(stranger.get(f"/guide/{name}"))
    for block in re.findall(r"^```.*?\n(.*?)^```$", found.text, re.MULTILINE | re.DOTALL):
        assert " ".join(block.split()) in shown.text
    for link in shown.links:
        if link.startswith("/guide"):
            assert stranger.get(link).status_code == 200, link
        assert not link.endswith(".md"), link


def test_an_unknown_guide_is_answered_with_the_names_like_it(stranger: FlaskClient) -> None:
    """If this fails, a slip of the finger ends at "nothing here"."""
    answer = stranger.get("/guide/inspekter")
    assert answer.status_code == 404
    assert answer.content_type.startswith("text/html")
    assert "Names like it: inspector" in answer.text


def test_what_looks_like_html_in_a_guide_is_text(town: Town) -> None:
    """A guide mended carelessly would run in the browser of everybody who reads it.

    Source of what raw HTML is: CommonMark 0.31.2, 6.6.
    """
    with town.field.app.test_request_context("/guide"):
        shown = page(
            "# A\n\n<script>alert(1)</script>\n\n"
            "[x](javascript:alert(1)) `<b>` [f](formats.md#8-steps)\n"
        )  # fmt: skip
    assert "<script" not in shown
    assert 'href="javascript:' not in shown
    assert "<code>&lt;b&gt;</code>" in shown
    assert 'href="/guide/formats#8-steps"' in shown


def test_a_column_without_a_heading_has_none_on_a_phone_either(town: Town) -> None:
    """If this fails, a screen reader announces a heading that says nothing (axe-core: empty-table-header)."""
    with town.field.app.test_request_context("/guide"):
        shown = page("| code | |\n|---|---|\n| 0 | fine |\n")
    assert shown.count("<th ") == 1
    assert '<td role="cell">0</td>' not in shown
    assert '<td role="cell">fine</td>' in shown


def test_a_guide_is_under_the_same_policy_as_every_page(stranger: FlaskClient) -> None:
    """If this fails, the guides are the one place where somebody else's script would run."""
    answer = stranger.get("/guide/clerk")
    assert answer.headers["Content-Security-Policy"] == stranger.get("/").headers["Content-Security-Policy"]
    assert "default-src 'none'" in answer.headers["Content-Security-Policy"]
