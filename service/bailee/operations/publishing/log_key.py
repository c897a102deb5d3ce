"""Where the log's private key is, and how it is opened: a file of the service, or a token.

Everything that is signed in the log's name, checkpoints and the ends in auditors' files, is signed by what
comes from here.
"""

from __future__ import annotations

from pathlib import Path

from bailee.config import Settings
from bailee.errors import Unavailable
from bailee.signing import token
from bailee.signing.keys import LogKey, SigningKey
from bailee.signing.token import TokenKey


def open_log_key(settings: Settings) -> LogKey:
    """The log's key. Raises `Unavailable` ("no-log-key" for a file), `Malformed`, and as `TokenKey` does."""
    place = settings.log_key_place
    if place.startswith(token.SCHEME):
        return TokenKey(place)
    try:
        return SigningKey.from_pem(Path(place).read_bytes())
    except OSError as error:
        raise Unavailable(
            f"The log's key {place} cannot be read: restore it, or correct the folder.", code="no-log-key"
        ) from error
