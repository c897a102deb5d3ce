"""Where the log's private key is, and how it is opened: a file of the service, or a token.

Everything that is signed in the log's name, checkpoints and the ends in auditors' files, is signed by what
comes from here.
"""

from __future__ import annotations

from contextlib import AbstractContextManager
from pathlib import Path
from typing import Final

from bailee.config import Settings
from bailee.disk import durable
from bailee.errors import Unavailable
from bailee.signing import token
from bailee.signing.keys import LogKey, SigningKey
from bailee.signing.token import Refusals, TokenKey


def open_log_key(settings: Settings) -> LogKey:
    """The log's key. Raises `Unavailable` ("no-log-key" for a file), `Malformed`, and as `TokenKey` does."""
    place = settings.log_key_place
    if place.startswith(token.SCHEME):
        return TokenKey(place, KeptRefusals(settings.home))
    try:
        return SigningKey.from_pem(Path(place).read_bytes())
    except OSError as error:
        raise Unavailable(
            f"The log's key {place} cannot be read: restore it, or correct the folder.", code="no-log-key"
        ) from error


_REFUSED_FILE: Final = "pin-refused"
_LOCK_FILE: Final = "pin-refused.lock"


class KeptRefusals(Refusals):
    """The same for every process of a ledger, those that are started later included: in its folder, until the
    file with the PIN is written anew. Of the PIN nothing is kept, only which file and when it was written.
    """

    def __init__(self, home: Path) -> None:
        super().__init__()
        self._kept, self._lock = home / _REFUSED_FILE, home / _LOCK_FILE

    def turn(self) -> AbstractContextManager[object]:
        """One process after the other."""
        return durable.alone(self._lock)

    def knows(self, file: Path, pin: str) -> bool:
        """Whether it was refused here, or that file as it is now by any process."""
        try:
            return super().knows(file, pin) or self._kept.read_text("utf-8") == _written(file)
        except OSError:
            return False

    def note(self, file: Path, pin: str) -> None:
        """It was refused."""
        super().note(file, pin)
        durable.write(self._kept, _written(file).encode())

    def forget(self) -> None:
        """One was taken."""
        super().forget()
        self._kept.unlink(missing_ok=True)


def _written(file: Path) -> str:
    found = file.stat()
    return f"{file} {found.st_ino} {found.st_mtime_ns}"
