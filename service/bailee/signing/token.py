"""The log's key on a token that never gives it away: a hardware module, or one in software, through PKCS#11.

Where it is, is said by an address (RFC 7512), and so is where its PIN stands: in a file, never in the
address. The token signs Ed25519 (PKCS#11 3.0, CKM_EDDSA), so that nobody who verifies sees a difference.
"""

from __future__ import annotations

import hashlib
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from threading import Lock
from typing import Any, Final
from urllib.parse import unquote, unquote_to_bytes

from bailee.errors import BaileeError, Forged, Malformed, Unavailable
from bailee.frozen import frozen
from bailee.signing import keys

SCHEME: Final = "pkcs11:"
WRONG_PIN: Final = "wrong-pin"
"""The code of an error about the PIN: a person must mend it before the token is asked again."""
_IN_PATH: Final = frozenset({"token", "object", "id"})
_IN_QUERY: Final = frozenset({"module-path", "pin-source"})
_LIKE: Final = "pkcs11:token=LOG;object=LOG?module-path=/usr/lib/MODULE.so&pin-source=file:/etc/bailee/pin"
_ASKED: Final = b"Bailee asks whether this token holds both halves of the log's key.\n"
"""Signed when a token is opened. It has one line: no checkpoint, no list of ends, no statement."""


@frozen
class TokenAddress:
    """Which token, which key on it (`object` is its label), by which module, and the file of the PIN."""

    module: str
    pin: Path
    token: str
    object: str | None
    id: bytes | None


def read_address(text: str) -> TokenAddress:
    """Read a PKCS#11 address (RFC 7512). Raises `Malformed` ("log-key-address")."""
    path, _, query = text.removeprefix(SCHEME).partition("?")
    found: dict[str, str] = {}
    for part, known, between in ((path, _IN_PATH, ";"), (query, _IN_QUERY, "&")):
        for each in filter(None, part.split(between)):
            name, _, value = each.partition("=")
            if name in ("pin-value", "pin"):
                raise _misspelled("it holds the PIN itself. Write the PIN into a file for the service alone")
            if name not in known or name in found or not value:
                raise _misspelled(f"{name or each} is not known there, stands twice or is empty")
            found[name] = value
    lacking = sorted({"token", "module-path", "pin-source"} - found.keys())
    if lacking or not found.keys() & {"object", "id"}:
        raise _misspelled(f"it lacks {', '.join(lacking) or 'object, the label of the key'}")
    return TokenAddress(
        unquote(found["module-path"]),
        Path(unquote(found["pin-source"]).removeprefix("file:")),
        unquote(found["token"]),
        unquote(found["object"]) if "object" in found else None,
        unquote_to_bytes(found["id"]) if "id" in found else None,
    )


class Refusals:
    """Which PIN the token refused last: it is not tried again, since somebody signs every half second and
    tokens lock themselves. Known as long as this process runs.
    """

    def __init__(self) -> None:
        self._last = b""

    def turn(self) -> AbstractContextManager[object]:
        """Nobody else tries a PIN meanwhile."""
        return nullcontext()

    def knows(self, file: Path, pin: str) -> bool:
        """Whether this PIN, read from this file, was refused."""
        del file
        return self._last == _digest(pin)

    def note(self, file: Path, pin: str) -> None:
        """It was refused."""
        del file
        self._last = _digest(pin)

    def forget(self) -> None:
        """One was taken."""
        self._last = b""


class TokenKey:
    """A key on a token, to be used as `SigningKey` is. One thread signs at a time: a session is of one."""

    def __init__(self, text: str, refusals: Refusals | None = None) -> None:
        """Open the token; a PIN that `refusals` know is not tried.

        Raises `Malformed` ("log-key-address", "bad-key"), `Unavailable` ("no-token-part", "no-token",
        "no-token-key", "wrong-pin", "token-failed").
        """
        self._address = read_address(text)
        self._turn = Lock()
        self._refusals = refusals or Refusals()
        self._key, self.public = self._opened()
        self.kid = keys.kid_of(self.public)
        try:
            keys.verify(self.public, self.sign(_ASKED), _ASKED)
        except Forged as error:
            raise Malformed(
                f"The two halves of {self._named} do not fit each other: name the key by its id as well.",
                code="bad-key",
            ) from error

    @property
    def _named(self) -> str:
        what = self._address.object or f"with the id {(self._address.id or b'').hex()}"
        return f"the key {what} on the token {self._address.token}"

    def sign(self, message: bytes) -> bytes:
        """Ed25519 signature, 64 bytes; a token that was away is opened once more.

        Raises `Unavailable` as opening does.
        """
        import pkcs11

        with self._turn:
            try:
                return self._signed(message)
            except pkcs11.PKCS11Error:
                key, public = self._opened()
            if public != self.public:
                raise self._unavailable("is another one than when the service began: put the old one back")
            self._key = key
            try:
                return self._signed(message)
            except pkcs11.PKCS11Error as error:
                raise self._unavailable(f"does not sign ({_said(error)}): see to the token") from error

    def _signed(self, message: bytes) -> bytes:
        from pkcs11 import Mechanism

        return bytes(self._key.sign(message, mechanism=Mechanism.EDDSA))

    def _unavailable(self, what: str) -> Unavailable:
        sentence = f"{self._named} {what}."
        return Unavailable(sentence[0].upper() + sentence[1:], code="token-failed")

    def _opened(self) -> tuple[Any, bytes]:
        """The private half, which stays there, and the public one."""
        try:
            import pkcs11
        except ModuleNotFoundError as error:
            raise Unavailable(
                "The log's key is on a token: to reach it, in the checkout: pip install '.[token]'.",
                code="no-token-part",
            ) from error
        try:
            with self._refusals.turn():
                return self._found(pkcs11)
        except BaileeError:
            raise
        except pkcs11.PKCS11Error as error:
            raise _refusal(pkcs11, error, self._address, self._named) from error

    def _found(self, pkcs11: Any) -> tuple[Any, bytes]:
        where = self._address
        token = pkcs11.lib(where.module).get_token(token_label=where.token)
        pin = _pin(where.pin)
        if self._refusals.knows(where.pin, pin):
            raise _wrong_pin(where)
        try:
            session = token.open(user_pin=pin)
        except pkcs11.UserAlreadyLoggedIn:  # for this process, by a session before
            session = token.open()
        except (pkcs11.PinIncorrect, pkcs11.PinInvalid, pkcs11.PinLenRange, pkcs11.PinExpired) as error:
            self._refusals.note(where.pin, pin)
            raise _wrong_pin(where) from error
        self._refusals.forget()
        named = {"label": where.object, "id": where.id}
        private = session.get_key(object_class=pkcs11.ObjectClass.PRIVATE_KEY, **named)
        public = session.get_key(object_class=pkcs11.ObjectClass.PUBLIC_KEY, **named)
        point = bytes(public[pkcs11.Attribute.EC_POINT]) if _is_edwards(pkcs11, private, public) else b""
        raw = point.removeprefix(b"\x04\x20")  # PKCS#11 3.0, 6.3.5: as an octet string of DER, or bare
        if len(raw) != 32:
            raise Malformed(
                f"{self._named[0].upper()}{self._named[1:]} is of another kind; Ed25519 is needed.",
                code="bad-key",
            )
        return private, raw


def _is_edwards(pkcs11: Any, *halves: Any) -> bool:
    return all(each.key_type == pkcs11.KeyType.EC_EDWARDS for each in halves)


def _digest(pin: str) -> bytes:
    return hashlib.sha256(pin.encode()).digest()


def _pin(file: Path) -> str:
    try:
        return file.read_text("utf-8").strip()
    except (OSError, UnicodeDecodeError) as error:
        raise Unavailable(
            f"The PIN of the log's token cannot be read in {file}: restore the file, or correct pin-source.",
            code=WRONG_PIN,
        ) from error


def _wrong_pin(where: TokenAddress) -> Unavailable:
    return Unavailable(
        f"The token {where.token} refuses the PIN in {where.pin}: correct that file, which is not tried again"
        " before it is written anew, because tokens lock themselves.",
        code=WRONG_PIN,
    )


def _refusal(pkcs11: Any, error: Exception, where: TokenAddress, named: str) -> BaileeError:
    """What somebody at the machine can do about it."""
    if isinstance(error, pkcs11.PinLocked):
        return Unavailable(
            f"The token {where.token} has locked itself after wrong PINs: unlock it with its own program.",
            code=WRONG_PIN,
        )
    if isinstance(error, (pkcs11.NoSuchToken, pkcs11.TokenNotPresent, pkcs11.MultipleTokensReturned)):
        return Unavailable(
            f"There is not one token {where.token} that {where.module} can reach: plug it in, or correct"
            " `log_key` in the settings.",
            code="no-token",
        )
    if isinstance(error, (pkcs11.NoSuchKey, pkcs11.MultipleObjectsReturned)):
        return Unavailable(
            f"There is not one pair with the name of {named}: a private and a public half are needed. List"
            " what is there, and correct `log_key` in the settings.",
            code="no-token-key",
        )
    return Unavailable(
        f"The token {where.token} cannot be used by {where.module} ({_said(error)}): see to the token.",
        code="token-failed",
    )


def _said(error: Exception) -> str:
    return str(error) or type(error).__name__


def _misspelled(why: str) -> Malformed:
    return Malformed(
        f"The address of the log's key cannot be used: {why}. It looks like {_LIKE}", code="log-key-address"
    )
