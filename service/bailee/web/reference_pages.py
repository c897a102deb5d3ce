"""Pages to look something up in, for anybody, entered or not: guides, rules, the interface for programs.

Who sets up a device has no key yet to enter with, and none of this says anything about this ledger. Links
between guides lead to pages here, and raw HTML in a guide is text.
"""

from __future__ import annotations

import itertools
import json
import re
from collections.abc import Sequence
from typing import Final

from flask import Blueprint, render_template, url_for
from markdown_it import MarkdownIt
from markdown_it.token import Token
from markupsafe import Markup

from bailee import guides
from bailee.api import published_log
from bailee.errors import Malformed, Unknown
from bailee.presentation import rule_book
from bailee.web.interface_page import Interface

blueprint = Blueprint("reference", __name__)

_MARKDOWN: Final = MarkdownIt("commonmark", {"html": False}).enable("table")
_ROLES: Final = {
    "table_open": "table", "thead_open": "rowgroup", "tbody_open": "rowgroup",
    "tr_open": "row", "th_open": "columnheader", "td_open": "cell",
}  # fmt: skip
"""Said aloud, because a table whose cells stand below each other on a phone is none to a screen reader."""


@blueprint.get("/guide")
def every_guide() -> str:
    """Which guides there are, and for whom."""
    return render_template("guides.html", guides=list(guides.every()))


@blueprint.get("/guide/<name>")
def guide(name: str) -> str:
    """One of them. Raises `Unknown`."""
    found = guides.find(name)
    if found is None:
        near = guides.nearest(name)
        meant = f" Names like it: {', '.join(near)}." if near else ""
        raise Unknown(f"No guide is called {name!r}.{meant}", code="no-guide", nearest=near)
    return render_template("guide.html", guide=found, content=page(found.text))


@blueprint.get("/rules")
def rules() -> str:
    """Every rule by its group."""
    return render_template("rules.html", groups=list(rule_book.by_group()), about=rule_book.ABOUT)


@blueprint.get("/rules/<code>")
def rule(code: str) -> str:
    """All that is known of one rule. Raises `Unknown` when there is none of this code."""
    try:
        found = rule_book.look_up(code)
    except Malformed as error:
        raise Unknown(error.sentence, code=error.code) from error
    return render_template("rule.html", rule=found, headings=rule_book.THRESHOLD_HEADINGS)


@blueprint.get("/api")
def interface() -> str:
    """Every operation, problem and schema, as the document for programs says them."""
    return render_template("interface.html", interface=Interface(json.loads(published_log.described())))


def page(text: str) -> Markup:
    """Markdown as HTML."""
    tokens = _MARKDOWN.parse(text)
    for token, after in itertools.pairwise(tokens):
        if role := _ROLES.get(token.type):
            token.attrSet("role", role)
        if token.type == "heading_open":
            token.attrSet("id", re.sub(r"[^a-z0-9]+", "-", after.content.lower()).strip("-"))
        for part in token.children or ():
            _lead(part)
    _name_columns(tokens)
    return Markup(_MARKDOWN.renderer.render(tokens, _MARKDOWN.options, {}))  # noqa: S704 - the library escapes


def _name_columns(tokens: Sequence[Token]) -> None:
    """A cell bears the heading of its column: on a phone it stands alone. A heading without words is none."""
    heads: list[str] = []
    column = 0
    for at, token in enumerate(tokens):
        match token.type:
            case "table_open":
                heads = []
            case "tr_open":
                column = 0
            case "th_open":
                heads.append(tokens[at + 1].content.replace("`", ""))
                if not heads[-1]:
                    token.tag = tokens[at + 2].tag = "td"
                    token.attrSet("role", "cell")
            case "td_open":
                if heads[column]:
                    token.attrSet("data-label", heads[column])
                column += 1


def _lead(part: Token) -> None:
    """A link to another guide leads to its page."""
    address = str(part.attrGet("href") or "")
    if name := guides.linked(address):
        part.attrSet("href", url_for(".guide", name=name, _anchor=address.partition("#")[2] or None))
