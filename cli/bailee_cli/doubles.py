"""What was said already: nobody signs one thing twice because a command was typed again.

The ledger would record both, as it must: they are two true statements, and which one was meant nobody could tell later.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, Final

from bailee.domain.moments import Moment
from bailee.errors import BadMoment, Malformed
from bailee.signing import disclosures, signed_statement

if TYPE_CHECKING:
    from bailee_cli.acting import Act
    from bailee_cli.outbox import Kept, Outbox

_ONCE: Final = {
    "collected": ("sample",),
    "voided": ("sample",),
    "shipped": ("envelope",),
    "issued": ("samples",),
}
"""Acts that can be done once to the thing in this member, and the member."""

_TIMES: Final = frozenset(
    {"at", "since", "until", "started", "stopped", "handed_over", "expected_delivery", "expected_receipt"}
)
_SOON: Final = timedelta(minutes=10)
"""A command that is typed again is typed again soon; the same said later is said of a later time."""


def refuse_double(outbox: Outbox, said: Act, now: datetime) -> None:
    """Raise `Malformed` when this key said the same before and it waits to be sent, or said once what can be done only once."""
    for kept in reversed(outbox.of_chains([said.chain])):
        if kept.act != said.act or kept.state in ("refused", "set aside"):
            continue
        claims = signed_statement.read(kept.text).claims
        at = datetime.fromtimestamp(claims.iat, now.tzinfo)
        private = disclosures.reveal(kept.disclosures, claims.private, claims.data)
        is_same = _same(claims.data, said.data) and private == {
            name: value for name, value in said.private.items() if value
        }
        if kept.state == "waiting" and is_same and now - at < _SOON:
            raise _double(kept, "the same", "Nothing was signed again.")
        member = _ONCE.get(said.act)
        if (
            member
            and all(claims.data.get(each) == said.data.get(each) for each in member)
            and not _ended(outbox, kept)
        ):
            how = (
                "Correct it with `bailee correct`."
                if kept.state == "registered"
                else "Send it, then correct it with `bailee correct`."
            )
            raise _double(kept, "that", f"Nothing was signed again. {how}")


def _double(kept: Kept, what: str, then: str) -> Malformed:
    where = (
        f"recorded as entry {(kept.answer or {}).get('n')}"
        if kept.state == "registered"
        else "and waits here: `bailee send` sends it"
    )
    return Malformed(
        f"You said {what} already: {kept.act.replace('_', ' ')}, statement {kept.seq} of this device, {where}. {then}",
        code="said-already",
        seq=kept.seq,
    )


def _same(before: Mapping[str, Any], now: Mapping[str, Any]) -> bool:
    """Whether two statements say the same of the same time or of none in particular."""
    if any(before.get(name) != now.get(name) for name in (before.keys() | now.keys()) - _TIMES):
        return False
    return all(_near(before.get(name), now.get(name)) for name in _TIMES & (before.keys() | now.keys()))


def _near(before: Any, now: Any) -> bool:
    if before is None or now is None:
        return before is now
    try:
        apart = Moment.parse(before).instant - Moment.parse(now).instant
    except BadMoment:
        return False
    return abs(apart) < _SOON


def _ended(outbox: Outbox, kept: Kept) -> bool:
    """Whether something was said since that makes it possible again: an envelope that was opened, or came back."""
    later = (
        each
        for each in outbox.of_chains([kept.chain])
        if each.seq > kept.seq and each.state in ("waiting", "registered")
    )
    return kept.act == "shipped" and any(each.act in ("unsealed", "received") for each in later)
