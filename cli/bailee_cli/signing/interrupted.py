"""Answers to the questions of a visit or a cassette, kept as they are given until it is signed: Ctrl-C, a no
or a flat battery costs none of them. What was typed as an option, or is taken from elsewhere, is not kept.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any, Final, Literal

from bailee.asking.written import BareRun
from bailee_cli.device.session import Session
from bailee_cli.signing import scans

_RAN: Final = "run_s"
_ENDED: Final = "ended"


class Interrupted:
    """What was answered about one thing, in this run and in the one before; `about` is the label that was
    scanned, or nothing.
    """

    def __init__(
        self, session: Session, verb: Literal["open", "collect"], about: str, begun: scans.Begun | None
    ) -> None:
        self._session, self._verb, self.about = session, verb, about
        self._kept: dict[str, str] = dict(begun.besides) if begun else {}

    @property
    def answers(self) -> dict[str, Any]:
        """What was answered before."""
        told = {name: text for name, text in self._kept.items() if name.startswith(scans.ANSWERED)}
        return {name.removeprefix(scans.ANSWERED): json.loads(text) for name, text in told.items()}

    @property
    def ended(self) -> datetime:
        """When the run ended, if nobody says when it began: the moment of the command to which it was
        answered how long it ran.
        """
        before = self._kept.get(_ENDED)
        return datetime.fromisoformat(before) if before else self._session.now

    def keep(self, answers: Mapping[str, Any], besides: Collection[str]) -> None:
        """Keep these answers, but for those `besides`."""
        own = {
            name: value
            for name, value in answers.items()
            if name not in besides and not isinstance(value, BareRun)  # still to be asked back
        }
        kept = {f"{scans.ANSWERED}{name}": json.dumps(value) for name, value in own.items()}
        if _RAN in answers:
            kept[_ENDED] = self.ended.isoformat()
        if kept != self._kept:
            self._kept = kept
            scans.keep(self._session, self._verb, self.about, (), kept)

    def move(self, about: str) -> None:
        """They are about another label."""
        if about != self.about:
            scans.clear(self._session, self._verb, self.about)
            self.about = about
            scans.keep(self._session, self._verb, about, (), self._kept)
