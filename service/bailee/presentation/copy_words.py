"""Copies that were issued, in words: which paper, which version, up to where it reads."""

from __future__ import annotations

from typing import Final

from bailee.domain.acts.form import Copied
from bailee.domain.custody import Form

_PAPERS: Final = {"record": "Custody record", "result": "Result", "blind": "Blind copy"}


def issued(form: Form) -> list[Copied]:
    """Every copy that was issued, in order."""
    return [entry.body for entry in form.ordered if isinstance(entry.body, Copied)]


def line(body: Copied) -> str:
    """One of them."""
    named = f"{_PAPERS[body.of]} {body.reference}" if body.reference else _PAPERS[body.of]
    return f"{named}, version {body.version}; covers entries up to {body.entries}"


def copies(form: Form) -> tuple[str, ...]:
    """All of them, a line each."""
    return tuple(map(line, issued(form)))
