"""A store of the laboratory in words: how it keeps what lies in it, who put it there and took it out."""

from __future__ import annotations

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
    warmths = [measures.warmth_text(each) for each in (body.low_c, body.high_c) if each is not None]
    told += [" to ".join(warmths)] if warmths else []
    told += [f"keep until {wording.day(body.keep_until)}"] if body.keep_until else []
    return ", ".join(told)
