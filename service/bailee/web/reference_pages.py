"""Pages to look something up in, for anybody, entered or not: the rules, and the interface for programs."""

from __future__ import annotations

import json

from flask import Blueprint, render_template

from bailee.api import published_log
from bailee.errors import Malformed, Unknown
from bailee.presentation import rule_book
from bailee.web.interface_page import Interface

blueprint = Blueprint("reference", __name__)


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
