"""What the operator asks of a database: is every entry what it should be, make its indexes anew, keep a time
stamp.

`check` believes nothing but the entries' own bytes (`verify.log_audit`), and compares what the tables claim
with them. `rebuild` runs the same indexing that registering runs. A time stamp is made outside (RFC 3161),
over the newest checkpoint, and kept beside its tree head.
"""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy.engine import Connection

from bailee.errors import BaileeError, Unavailable, Unknown
from bailee.ledger import entry as entries
from bailee.ledger.checkpoint import Checkpoint, VerifierKey
from bailee.operations import erasing
from bailee.rules.remedies import act
from bailee.signing import notes, recording, timestamp
from bailee.store import claimed, log, number_index, time_stamps, tree
from bailee.verify import log_audit
from bailee.verify.authorship import Steps, unseen
from bailee.verify.log_audit import Audit, Trouble

__all__ = ["Trouble", "check", "checkpoint_to_stamp", "damage", "keep_stamp", "rebuild"]


def check(
    connection: Connection, log_key: VerifierKey, steps: Steps = unseen, found: Audit | None = None
) -> Iterator[Trouble]:
    """Everything that does not hold in the log, in order; nothing yielded means that nothing was found.

    `found` has read every entry afterwards, and says what was not checked.
    """
    found = found or Audit(log_key.name)
    yield from damage(connection, log_key, found, steps)
    yield from (Trouble(None, said) for said in (*_returned(connection, found), *_claimed(connection, found)))


def damage(
    connection: Connection, log_key: VerifierKey, found: Audit, steps: Steps = unseen
) -> Iterator[Trouble]:
    """What was altered or lost: entries, chains, tiles, the newest checkpoint.

    `found` has read every entry afterwards.
    """
    size = tree.size(connection)
    for logged in log.everything(connection, 0, size):
        if log_audit.leaf_of(logged.text) != logged.leaf:
            yield Trouble(logged.index, "The stored leaf hash is not that of the entry.")
        yield from (Trouble(logged.index, said) for said in found.read(logged.text, logged.disclosures))
        steps(found.size, size)
    if found.size != size:
        yield Trouble(None, f"The log should have {size} entries, and {found.size} are here.")
    yield from (Trouble(None, said) for said in _tree(connection, found, log_key))


def rebuild(connection: Connection, steps: Steps = unseen) -> int:
    """Make the index of numbers and parties anew from every entry; how many there were.

    Waiting entries are included.
    """
    number_index.clear(connection)
    count, size = 0, tree.size(connection)
    for chain_id, logged in log.every_chain(connection):
        number_index.index(
            connection, chain_id, recording.own_entry(entries.read(logged.text), logged.leaf, ())
        )
        count += 1
        steps(count, size)
    return count


def checkpoint_to_stamp(connection: Connection, origin: str) -> Checkpoint:
    """The checkpoint to be stamped. Raises `Unavailable` while the log is empty."""
    head = tree.newest_head(connection)
    if head is None:
        raise Unavailable("The log has no checkpoint yet: try again in a moment.", code="not-integrated")
    return Checkpoint(origin, head.size, head.root)


def keep_stamp(connection: Connection, origin: str, reply: bytes) -> int:
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


def _returned(connection: Connection, found: Audit) -> Iterator[str]:
    """Private fields that an old copy of the database brought back after they were erased."""
    return (each.sentence() for each in erasing.returned(connection, found.erased))


def _claimed(connection: Connection, found: Audit) -> Iterator[str]:
    """What the tables say beside the entries."""
    for name in claimed.wrong_heads(connection):
        yield f"The table of chains lets {name} end elsewhere than with its last entry."
    for kid in claimed.wrong_signers(connection, found.speakers):
        yield f"The table of signers has the key {kid} under another organization than the one it signed for."
    if gone := claimed.locks_missing(connection):
        yield (
            f"The database no longer refuses to change entries: {', '.join(gone)} is missing or switched off."
        )


def _tree(connection: Connection, found: Audit, log_key: VerifierKey) -> Iterator[str]:
    stored = tree.StoredTiles(connection)
    for level, index, hashes in found.tiles():
        if stored.read(level, index) != hashes:
            yield f"Tile {level}/{index} is not what the entries hash to."
    head, note = tree.newest_head(connection), tree.newest_note(connection)
    if head and head.size <= found.size and head.root != found.root(head.size):
        yield f"The newest signed size and root ({head.size} entries) are not those of the entries here."
    if note is None:
        return
    try:
        checkpoint = notes.open_checkpoint(note, [log_key])
    except BaileeError as error:
        yield error.sentence
        return
    if checkpoint.size > found.size or checkpoint.root != found.root(checkpoint.size):
        yield (
            f"The newest checkpoint ({checkpoint.size} entries) is not that of the entries here"
            f" ({found.size})."
        )
