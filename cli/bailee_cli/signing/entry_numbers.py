"""Entries of a form as a person names them: by the entry number that every screen shows, or by the id where
there is no network to look it up.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from bailee.domain.numbers import grouped
from bailee.errors import Malformed
from bailee.ledger import entry as entries
from bailee.signing import signed_statement
from bailee_cli.device.session import Session

_ID: Final = re.compile(r"[A-Za-z0-9_-]{43}", re.ASCII)
_NUMBER: Final = re.compile(r"[0-9]{1,6}", re.ASCII)


def ids(session: Session, form: str, typed: Iterable[str], *, offline: bool) -> list[str]:
    """The ids of these entries. Raises `Malformed` ("no-entry") for what names none."""
    named = list(typed)
    known: dict[str, str] = {}
    if any(_NUMBER.fullmatch(each) for each in named):
        known = _own(session, form)
        if not (offline or known.keys() >= {each for each in named if _NUMBER.fullmatch(each)}):
            known |= _recorded(session, form)
    found = []
    for each in named:
        if _ID.fullmatch(each):
            found.append(each)
        elif each in known:
            found.append(known[each])
        else:
            raise Malformed(_none(form, each, offline=offline), code="no-entry")
    return found


def _none(form: str, typed: str, *, offline: bool) -> str:
    if not _NUMBER.fullmatch(typed):
        said = f"{typed!r} is not an entry number: write it like 3, as the screen shows it beside the entry."
    elif offline:
        said = (
            f"Without a network the entry number {typed} cannot be looked up: enter the entry's id of 43"
            " characters, which `bailee outbox` on the device that signed it lists."
        )
    else:
        said = f"Form {grouped(form)} has no entry {typed}."
    return f"{said} Nothing was signed."


def _own(session: Session, form: str) -> dict[str, str]:
    """Those that this device signed and the ledger recorded."""
    signed = session.outbox.of_chains([f"form/{form}"])
    return {str(each.answer["n"]): each.digest for each in signed if each.answer and each.answer.get("n")}


def _recorded(session: Session, form: str) -> dict[str, str]:
    """All of them, from the form's file."""
    told = session.service.get(f"/forms/{form}/bundle")["entries"]
    read = [entries.read(each["entry"]) for each in told]
    return {str(each.n): signed_statement.digest(each.stmt) for each in read if each.chain == f"form/{form}"}
