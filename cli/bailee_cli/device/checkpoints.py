"""Watching the log: a device keeps the newest tree head it has checked, and notices when the log goes back on
it.
"""

from __future__ import annotations

import time
from dataclasses import asdict
from typing import TYPE_CHECKING, Final

from bailee.errors import Broken, Unknown
from bailee.ledger import proof
from bailee.ledger.base64url import b64u, unb64, unb64u
from bailee.signing import notes, vkeys
from bailee.signing.signed_statement import Seen
from bailee_cli.device.session import Session

if TYPE_CHECKING:
    from bailee.ledger.checkpoint import Checkpoint

AGAIN_S: Final = 3.0
"""A host that has just been started shows what it showed last until its first round is done."""


def look(session: Session) -> None:
    """Fetch the newest checkpoint, check it against the pinned log key and the last one seen, keep it.

    A log that has no checkpoint yet shows nothing, unless this device had seen one. Raises `Broken` when the
    note is not signed by the log this device joined, or does not continue what it had seen: for a smaller one
    it is asked twice.
    """
    before = session.outbox.seen()
    now = _newest(session)
    if before is not None and (now is None or now.size < before.size):
        time.sleep(AGAIN_S)
        now = _newest(session)
    if before is not None:
        _require_continued(session, before, now)
    if now is not None:
        session.outbox.remember("seen", asdict(Seen(now.size, b64u(now.root))))


def _newest(session: Session) -> Checkpoint | None:
    try:
        note = session.service.get_bytes("/checkpoint", "text/plain").decode("utf-8", "replace")
    except Unknown:
        return None
    now = notes.open_checkpoint(note, [vkeys.read_log(session.profile.log_key)])
    if now.origin != session.profile.origin:
        raise Broken(
            f"The service shows the log {now.origin}, and this device joined {session.profile.origin}.",
            code="origin",
        )
    return now


def _require_continued(session: Session, before: Seen, now: Checkpoint | None) -> None:
    if now is None or now.size < before.size:
        raise _shrunk(before, now.size if now else 0)
    old_root, size = unb64u(before.root), now.size
    path: list[bytes] = []
    if 0 < before.size < size:
        told = session.service.get("/proofs/consistency", first=before.size, second=size)
        path = [unb64(each) for each in told["proof"]]
    try:
        proof.check_consistency(before.size, size, path, old_root, now.root)
    except Broken as error:
        raise Broken(
            f"The log of {size} entries does not continue the one of {before.size} entries this device has"
            " seen. Leave this device as it is and call your administrator.",
            code="log-rewritten",
            seen=asdict(before),
            size=size,
        ) from error


def _shrunk(before: Seen, size: int) -> Broken:
    return Broken(
        f"The log shows {size} entries, and this device has already seen {before.size}: entries may be"
        " missing, or the ledger was restored from an old copy. Leave this device as it is and call your"
        " administrator.",
        code="log-shrunk",
        seen=asdict(before),
        size=size,
    )
