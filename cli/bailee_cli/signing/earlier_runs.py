"""The runs that went before one, as far as they are known here: those of its visit as the ledger shows it,
and what this device signed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any, Final

from bailee.domain import corrections
from bailee.domain.acts.form import Collected, Corrected, Opened, Voided
from bailee.domain.acts.table import name_of
from bailee_cli.device.session import Session
from bailee_cli.signing.acts import data_of, signed_at

if TYPE_CHECKING:
    from bailee_cli.device.outbox import Kept

_LAST: Final = 200
"""So many statements back a run may still share a pump or a box with the next one."""


def known(session: Session, form: str, seen: Mapping[str, Any] | None) -> list[Mapping[str, Any]]:
    """The data of each, with its form; none that is void. Of what the ledger shows, its word counts."""
    shown = {each["sample"]: {"form": form, **each} for each in (seen or {}).get("samples", ())}
    there = [each for each in shown.values() if each["started"] and not each["void"]]
    return [*there, *(each for each in _own(session) if each["sample"] not in shown)]


def opened(session: Session, form: str) -> datetime | None:
    """When this device opened the form, if it did."""
    on_form = session.outbox.of_chains([f"form/{form}"])
    return next((signed_at(each) for each in on_form if each.act == name_of(Opened) and each.counts), None)


def signed(session: Session, act: str) -> list[Mapping[str, Any]]:
    """What this device said with this act, the oldest first, each with its form and its own corrections."""
    found: dict[str, Mapping[str, Any]] = {}
    for kept, data in _newest(session):
        if kept.act == act:
            found[kept.digest] = {"form": kept.chain.removeprefix("form/"), **data}
        elif kept.act == name_of(Corrected) and data["statement"] in found:
            before = found[data["statement"]]
            found[data["statement"]] = corrections.with_value(before, data["field"], data["new"])
    return list(found.values())


def _own(session: Session) -> list[Mapping[str, Any]]:
    """What this device collected; none that is void."""
    void = {data["sample"] for kept, data in _newest(session) if kept.act == name_of(Voided)}
    return [each for each in signed(session, name_of(Collected)) if each["sample"] not in void]


def _newest(session: Session) -> Iterator[tuple[Kept, Mapping[str, Any]]]:
    for kept in reversed(session.outbox.newest(_LAST)):
        if kept.counts:
            yield kept, data_of(kept)
