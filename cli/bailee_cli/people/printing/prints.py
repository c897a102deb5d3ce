"""What this device printed: how often a paper for ink, and for which envelope a record to enclose."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

from bailee.domain import numbers
from bailee_cli.device import profile
from bailee_cli.device.session import Session
from bailee_cli.terminal import show
from bailee_cli.terminal.progress import waiting

PDF: Final = "application/pdf"


def save(session: Session, path: str, output: Path, paper: str, **query: Any) -> None:
    """Write the paper and count it. `paper` tells it from others: what it is, and of which numbers."""
    name = f"prints/{paper}"
    nth = (session.outbox.recall(name) or 0) + 1
    with waiting("Drawing the paper"):
        content = session.service.get_bytes(path, PDF, **query, **({"nth": nth} if nth > 1 else {}))
    profile.replace_file(output, content)
    session.outbox.remember(name, nth)
    if nth > 1 and not session.json:
        show.say(f"Print {nth} of it on this device: marked as a reprint, for ink may be on another.")


def remember_enclosed(session: Session, seal: str, envelope: str) -> None:
    """Keep the number that was printed beside a seal: the envelope closed with it has that number."""
    session.outbox.remember(f"enclosed/{seal}", envelope)


def enclosed_in(session: Session, seal: str | None) -> str | None:
    """The envelope that the record printed for this seal names."""
    if seal is None:
        return None
    found: str | None = session.outbox.recall(f"enclosed/{numbers.read_seal(seal)}")
    return found
