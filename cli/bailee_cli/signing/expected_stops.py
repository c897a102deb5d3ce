"""What the rule book will stop or warn of, from the answers given and what is on record: told before the
signature.

The ledger judges the very act that would be signed. Where it cannot be asked, nothing is told.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Final

from bailee.asking import written
from bailee.asking.slip import Slip
from bailee.domain.acts.form import Collected
from bailee.domain.acts.table import name_of
from bailee.errors import BaileeError
from bailee_cli.device.session import Session
from bailee_cli.terminal import prompts

Told = Mapping[str, Sequence[str]]
"""What was found: what will `stop` the envelope, and what will `warn`."""
NOTHING: Final[Told] = {"stop": (), "warn": ()}
_WORDS: Final[Mapping[str, tuple[str, str]]] = {
    "refuse": ("stop", "This will stop the envelope"),
    "block": ("stop", "This will stop the envelope"),
    "warn": ("warn", "This will be warned of"),
}
"""By severity."""


def of_cassette(session: Session, form: str, data: Mapping[str, Any]) -> Told:
    """What would stop the envelope with this cassette in it, and what would be warned of."""
    return of(session, name_of(Collected), form, data)


def of(session: Session, act: str, form: str, data: Mapping[str, Any]) -> Told:
    """The same of a sample that this act collects; the same answers are judged once."""
    asked = json.dumps({"act": act, "data": written.as_signed(data), "form": form})
    if asked not in session.judged:
        try:
            found = session.service.post("/readiness", json.loads(asked))["findings"]
        except BaileeError:
            found = []  # no network, or not to be judged: it is signed, and judged when it arrives
        told: dict[str, list[str]] = {name: [] for name in NOTHING}
        for each in found:
            if each["severity"] in _WORDS:
                which, says = _WORDS[each["severity"]]
                told[which].append(f"{says} ({each['rule']}): {each['sentence']}")
        session.judged[asked] = told
    return session.judged[asked]


def settle(session: Session, stops: Callable[[], Iterable[str]]) -> None:
    """Ask it back at a terminal where all was typed, and no screen is shown."""
    if prompts.may_ask(session):
        remedy = "Sign it if it is so."
        prompts.settle(session, lambda: (Slip("will-stop", "act", each, each, remedy) for each in stops()))
