"""One run of the command line: who is at the keyboard, with which key, speaking to which service.

Everything is opened when it is first asked for. Tests hand in a transport (so that no port is needed), a home
and a clock.
"""

from __future__ import annotations

import os
from contextlib import suppress
from datetime import UTC, datetime
from functools import cached_property
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from bailee.signing.keys import SigningKey
    from bailee_cli.device.client import LedgerClient
    from bailee_cli.device.outbox import Outbox
    from bailee_cli.device.profile import Profile


_CLOCK = "clock.json"
"""In a person's folder, while the clock of the device is known to be wrong."""

_ENDED = "ended"
"""In the memory of its outbox, once the service has said that the key has ended."""


def _now() -> datetime:
    return datetime.now(UTC)


class Session:
    """`clock` gives aware UTC; it is read once per command, through `now`.

    A plain class, and nothing imported above that a help page does not need: every scan of the day waits for
    it.
    """

    def __init__(
        self,
        name: str = "me",
        *,
        json: bool = False,
        home: Path | None = None,
        transport: Any = None,
        clock: Callable[[], datetime] = _now,
    ) -> None:
        self.name = name
        self.json = json
        self.home = home
        self.transport = transport
        self.clock = clock
        self.both = False  # sign it even if this device said something about the same thing already
        self.was_asked = False  # for a part of what is about to be signed, so that it is shown whole
        self.was_shown = False  # what is about to be signed, by whoever asked for it
        self.judged: dict[str, dict[str, list[str]]] = {}  # drafts, and what the ledger found about them
        self.shown: list[Any] = []  # what was found and shown before an answer was changed
        self.differs = False  # what was found at the dock, and what should be there
        self.seen: dict[str, Any] = {}  # forms, as the ledger showed them to this command
        self.asks: dict[str, Any] = {}  # what was asked for it, by member
        self.answered: dict[str, Any] = {}
        self.moments: dict[tuple[str, str | None], Any] = {}  # what a text meant, on the clock of a zone
        self.stands: set[tuple[str, str, str]] = set()  # what looked like a slip and is so
        self.is_saved = False  # what was answered, although nothing was signed
        self.anyway = False  # sign it even where it is surely a slip
        self.sheet = ""  # the pen form that it is typed from
        self.asked: list[LedgerClient] = []
        self._clock_told = False
        self.alarm = ""  # what the device noticed about the log, said after what its owner asked for

    def of(self, name: str, *, as_json: bool) -> Session:
        """The same for one person."""
        return Session(name, json=as_json, home=self.home, transport=self.transport, clock=self.clock)

    @cached_property
    def now(self) -> datetime:
        """The moment this command was given, in whole seconds."""
        return self.clock().replace(microsecond=0)

    @cached_property
    def folder(self) -> Path:
        """Where this person's key and outbox are."""
        from bailee_cli.device import profile as profiles

        return profiles.folder_of(self.home or profiles.home_folder(dict(os.environ)), self.name)

    @cached_property
    def profile(self) -> Profile:
        """Which service and organization."""
        from bailee_cli.device import profile as profiles

        return profiles.load(self.folder)

    @cached_property
    def key(self) -> SigningKey:
        """The signing key, unlocked."""
        from bailee_cli.device import profile as profiles

        return profiles.open_key(self.folder, _passphrase)

    @cached_property
    def outbox(self) -> Outbox:
        """What this key has signed."""
        from bailee_cli.device.outbox import Outbox

        return Outbox(self.folder / "outbox.sqlite", self.key.kid)

    @cached_property
    def service(self) -> LedgerClient:
        """The service, asked in this person's name."""
        return self.asking(self._client(self.profile.service, token=self._token))

    def stranger(self, address: str) -> LedgerClient:
        """A service, asked in nobody's name."""
        return self.asking(self._client(address))

    @property
    def told_by(self) -> str | None:
        """Address of the service whose answer was read last; None before any was."""
        return next((each.address for each in reversed(self.asked) if each.has_told), None)

    @property
    def skew(self) -> int:
        """By how many seconds the service's clock is ahead of this device's: by the newest answer, in this
        run or earlier.
        """
        measured = self._measured
        return measured if measured is not None else self._remembered.get("skew", 0)

    def clock_news(self, *, measured: bool = False) -> str:
        """How wrong this device's clock is, said once in a run and when worth saying; `measured`: only if
        a service answered in this run.
        """
        from bailee_cli.device.client import clock_sentence

        known = self._measured is not None
        if self._clock_told or (measured and not known):
            return ""
        said = clock_sentence(self.skew, "" if known else self._remembered.get("at", ""))
        self._clock_told = bool(said)
        return said

    @property
    def _measured(self) -> int | None:
        """By the person's own service alone: what another log shows as its time is no word on this clock."""
        own = [each for each in self.asked if self._is_own(each)]
        return next((each.skew for each in reversed(own) if each.skew is not None), None)

    def _is_own(self, service: LedgerClient) -> bool:
        profile = self.__dict__.get("profile")
        return profile is not None and service.address == profile.service

    @property
    def _remembered(self) -> dict[str, Any]:
        """What an earlier run measured, where the clock was found wrong."""
        import json

        try:
            found = json.loads((self.folder / _CLOCK).read_text("utf-8"))
            return {"skew": int(found["skew"]), "at": str(found["at"])}
        except (OSError, ValueError, LookupError, TypeError):
            return {}

    def _remember_clock(self) -> None:
        """Keep a wrong clock in mind for a place without a network; not in a folder that takes no file."""
        measured = self._measured
        if measured is None or not self.folder.is_dir():
            return
        import json

        from bailee_cli.device import profile as profiles
        from bailee_cli.device.client import clock_sentence

        kept = self.folder / _CLOCK
        with suppress(OSError):
            if clock_sentence(measured):
                known = {"skew": measured, "at": f"{self.now:%Y-%m-%d %H:%M} UTC"}
                profiles.replace_file(kept, json.dumps(known).encode())
            else:
                kept.unlink(missing_ok=True)

    @property
    def ended(self) -> str:
        """What the service said of the end of this key, in this run or earlier; empty: nothing."""
        kept = self.outbox.recall(_ENDED) or {}
        return str(kept.get("says", "")) if kept.get("kid") == self.key.kid else ""

    @ended.setter
    def ended(self, says: str) -> None:
        self.outbox.remember(_ENDED, {"kid": self.key.kid, "says": says})

    def _client(self, address: str, token: Callable[[], str] | None = None) -> LedgerClient:
        from bailee_cli.device.client import LedgerClient

        return LedgerClient(address, transport=self.transport, token=token, clock=self.clock)

    def asking(self, service: LedgerClient) -> LedgerClient:
        """Remember that this service is asked in this run."""
        self.asked.append(service)
        return service

    @property
    def has_signed(self) -> bool:
        """Whether this run has signed anything."""
        return "outbox" in self.__dict__ and self.outbox.has_signed

    def close(self) -> None:
        """Close what was opened."""
        self._remember_clock()
        if "service" in self.__dict__ and self.service.ended:
            self.ended = self.service.ended
        if "outbox" in self.__dict__:
            self.outbox.close()
        if "service" in self.__dict__:
            self.service.close()

    def _token(self) -> str:
        from bailee.signing import access
        from bailee_cli.device.client import TOKEN_AHEAD_S

        skew = self._measured or 0  # by the service's clock, once it is known
        now = int(self.clock().timestamp()) + (skew if skew <= TOKEN_AHEAD_S else 0)
        return access.issue(self.key, self.profile.org, self.profile.origin, now)


def _passphrase() -> str | None:
    given = os.environ.get("BAILEE_PASSPHRASE")
    if given is not None:
        return given
    return typed_passphrase("Passphrase of this key")


def typed_passphrase(question: str, *, twice: bool = False) -> str:
    """What is typed and not shown. Raises `Malformed` ("no-passphrase") where nobody can type it."""
    import sys

    import click

    from bailee.errors import Malformed

    try:
        return str(click.prompt(question, hide_input=True, confirmation_prompt=twice, err=True))
    except click.Abort:
        if sys.stdin.isatty():
            raise
        raise Malformed(
            "There is no terminal to type the passphrase at: put it into BAILEE_PASSPHRASE.",
            code="no-passphrase",
        ) from None
