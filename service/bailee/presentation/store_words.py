"""A store of the laboratory in words: how it keeps what lies in it, who put it there and took it out."""

from __future__ import annotations

from decimal import Decimal

from bailee.domain import measures
from bailee.domain.acts.form import Stored, Withdrawn
from bailee.domain.custody import Link
from bailee.presentation import words
from bailee.rules import wording


def came(link: Link) -> str:
    """How it came into the store, or out of it; empty where it came otherwise."""
    match link.received.body:
        case Stored() as body:
            return f"keeps it, {kept(body)}"
        case Withdrawn() as body:
            return f"withdrew it from store {body.store} for {body.purpose}"
        case _:
            return ""


def row(body: Stored | Withdrawn) -> str:
    """What stands where a store would sign."""
    how = f", {kept(body)}" if isinstance(body, Stored) else ""
    return f"Store {body.store}{how}. {words.NO_STORE_SIGNATURE}."


def kept(body: Stored) -> str:
    """Its way, its temperatures, until when."""
    told = [words.SECURED[body.secured]]
    told += filter(None, [limits(body.low_c, body.high_c)])
    told += [f"keep until {wording.day(body.keep_until)}"] if body.keep_until else []
    return ", ".join(told)


def limits(low: Decimal | None, high: Decimal | None) -> str:
    """Between which temperatures it is kept; empty where nobody said."""
    if low is None:
        return "" if high is None else f"at most {measures.warmth_text(high)}"
    if high is None:
        return f"at least {measures.warmth_text(low)}"
    return f"{measures.warmth_text(low)} to {measures.warmth_text(high)}"
