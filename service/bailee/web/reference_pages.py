"""Pages to look something up in, for anybody, entered or not: the rules."""

from __future__ import annotations

from flask import Blueprint, render_template

from bailee.presentation import rule_book

blueprint = Blueprint("reference", __name__)


@blueprint.get("/rules")
def rules() -> str:
    """Every rule by its group."""
    return render_template("rules.html", groups=list(rule_book.by_group()), about=rule_book.ABOUT)


@blueprint.get("/rules/<code>")
def rule(code: str) -> str:
    """All that is known of one rule. Raises `Malformed` when there is none of this code."""
    return render_template("rule.html", rule=rule_book.look_up(code), headings=rule_book.THRESHOLD_HEADINGS)
