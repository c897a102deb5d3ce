"""Whose limit it was: a firm is told when it is its laboratory's threshold that a finding rests on, and not
its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Final

from bailee.domain.acts.form import Sealed
from bailee.domain.custody import Form
from bailee.rules.case import Case
from bailee.rules.wording import listed

_UNITS: Final = {
    "h": "h",
    "min": "min",
    "s": "s",
    "m": "m",
    "pct": "%",
    "lpm": "L/min",
    "l": "L",
    "c": "\N{DEGREE SIGN}C",
    "days": "days",
}


def whose(case: Case, about: str, crossed: Sequence[str]) -> str:
    """A sentence to add when the laboratory is the stricter one in a threshold that was crossed; otherwise
    nothing.

    ` This is the laboratory's limit of 48 h (hold_warn_h); the firm's own is 72 h.`
    """
    form = next(_forms(case, about), None) if crossed else None
    if form is None:
        return ""
    joint = case.joint(form)
    stricter = [name for name in crossed if joint.is_lab(name)]
    if not stricter:
        return ""
    theirs = listed([f"{figure(name, getattr(joint.policy, name))} ({name})" for name in stricter])
    ours = listed([figure(name, getattr(joint.firm, name)) for name in stricter])
    return f" This is the laboratory's limit of {theirs}; the firm's own is {ours}."


def figure(name: str, value: Decimal | int | bool) -> str:  # noqa: FBT001 - the value of a threshold
    """A threshold as a person reads it: `48 h`, `5 %`, `yes`, `3`."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    unit = _UNITS.get(name.rpartition("_")[2], "")
    return f"{value} {unit}".rstrip()


def _forms(case: Case, about: str) -> Iterator[Form]:
    """Forms a finding may be about: by their own number, a sample, an envelope, or a lot that their samples
    came from.
    """
    yield from case.about(about)
    yield from (form for form in case.forms.values() if _is_proposed(case, form, about))


def _is_proposed(case: Case, form: Form, about: str) -> bool:
    """An envelope about to be sealed is on no form yet."""
    closing = case.draft(Sealed)
    return (
        closing is not None
        and about == closing.body.envelope
        and any(number in form.samples for number in closing.body.samples)
    )
