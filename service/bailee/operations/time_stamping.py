"""Having the newest checkpoint stamped by an authority outside (RFC 3161), and keeping what it answers."""

from __future__ import annotations

from sqlalchemy.engine import Connection

from bailee.errors import Unavailable, Unknown
from bailee.ledger.checkpoint import Checkpoint
from bailee.rules.remedies import act
from bailee.signing import timestamp
from bailee.store import time_stamps, tree


def newest(connection: Connection, origin: str) -> Checkpoint:
    """The checkpoint to be stamped. Raises `Unavailable` while the log is empty."""
    head = tree.newest_head(connection)
    if head is None:
        raise Unavailable("The log has no checkpoint yet: try again in a moment.", code="not-integrated")
    return Checkpoint(origin, head.size, head.root)


def keep(connection: Connection, origin: str, reply: bytes) -> int:
    """Keep the token in an authority's reply; the size of the log it is over.

    Raises `Malformed`, `Broken` for a reply without a token, `Unknown` when it is over none of this log's
    checkpoints.
    """
    token = timestamp.token_in(reply)
    imprint = timestamp.read(token).imprint
    for head in tree.heads(connection):
        if timestamp.imprint_of(Checkpoint(origin, head.size, head.root).body()) == imprint:
            time_stamps.keep(connection, head.size, token)
            return head.size
    raise Unknown(
        "This time stamp is over none of this log's checkpoints: ask for one over the newest.",
        code="unknown-checkpoint",
        acts=[act("ask_time_stamp")],
    )
