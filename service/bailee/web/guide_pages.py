"""The guides as pages, for everybody: who sets up a device has no key yet to enter with.

They say nothing about this ledger. Links between them lead to pages here, and raw HTML in a guide is text.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from typing import Final

from flask import Blueprint, render_template, url_for
from markdown_it import MarkdownIt
from markdown_it.token import Token
from markupsafe import Markup

from bailee import guides
from bailee.errors import Unknown

blueprint = Blueprint("guides", __name__, url_prefix="/guide")

_MARKDOWN: Final = MarkdownIt("commonmark", {"html": False}).enable("table")
_ROLES: Final = {
    "table_open": "table", "thead_open": "rowgroup", "tbody_open": "rowgroup",
    "tr_open": "row", "th_open": "columnheader", "td_open": "cell",
}  # fmt: skip
"""Said aloud, because a table whose cells stand below each other on a phone is none to a screen reader."""


@blueprint.get("")
def every() -> str:
    """Which there are, and for whom."""
    return render_template("guides.html", guides=list(guides.every()))


@blueprint.get("/<name>")
def one(name: str) -> str:
    """One of them. Raises `Unknown`."""
    found = guides.find(name)
    if found is None:
        near = guides.nearest(name)
        meant = f" Names like it: {', '.join(near)}." if near else ""
        raise Unknown(f"No guide is called {name!r}.{meant}", code="no-guide", nearest=near)
    return render_template("guide.html", guide=found, content=page(found.text))


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
        part.attrSet("href", url_for(".one", name=name, _anchor=address.partition("#")[2] or None))
