"""What the outbox holds goes to the service, and its answers are kept.

    POST /entries → check the answer → outbox.settle

An answer is believed only if the entry in it holds the very text that was signed. After something was
registered the device looks at the log's newest checkpoint and keeps it once it has proved to continue the one
before: every device is a small witness.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from bailee.domain.acts.organization import Founded
from bailee.domain.acts.table import name_of
from bailee.errors import BaileeError, Broken, Unavailable
from bailee.ledger import entry as entries
from bailee_cli.device import checkpoints, client
from bailee_cli.device.outbox import Kept
from bailee_cli.device.session import Session
from bailee_cli.terminal import layout, show

MOST_AT_ONCE: Final = 500
"""Statements the service takes in one request."""


def send(session: Session, *states: Any) -> list[Kept]:
    """Send statements in these states, in order, and keep the answers.

    Those left unsent are not in what is returned.

    A service that cannot be reached is said on the screen and is no error: everything signed stays in the
    outbox.
    """
    pending = session.outbox.unsettled(*states)
    settled: list[Kept] = []
    try:
        for group in _groups(pending):
            settled += _send_group(session, group)
        if any((kept.answer or {}).get("gap") for kept in settled):
            _explain(session)
            send_lacking(session)
        if any(kept.state == "registered" for kept in settled):
            _watch(session)
    except Unavailable as error:
        waiting = len(session.outbox.unsettled("waiting"))
        layout.warn(
            f"{error.sentence} Signed and saved on this device: {waiting} to send. Later: `bailee send`."
        )
    return settled


def send_lacking(session: Session) -> int:
    """Send once more, as the same bytes, what was called recorded here and is not on the ledger: the one who
    answered was not the ledger, or it was restored. Gives how many; what stands here stands.

    Nothing where nobody can be asked, or where the service knows no such key.
    """
    try:
        told = session.service.get("/devices/me")
        kept = session.outbox.registered_in([*told["gaps"], (told["highest"] + 1, None)])
        for group in _groups(kept):
            _answers(session, group)
    except BaileeError as error:
        if isinstance(error, Broken):
            raise
        return 0
    if kept:
        layout.warn(
            f"Sent again, for the ledger did not have it: {show.counted(len(kept), 'entry', 'entries')}."
        )
    return len(kept)


def _watch(session: Session) -> None:
    """What was just recorded is recorded, and is reported; an alarm comes after it."""
    try:
        checkpoints.look(session)
    except Broken as error:
        session.alarm = error.sentence


def _send_group(session: Session, group: Sequence[Kept]) -> list[Kept]:
    answers = _answers(session, group)
    for answer in answers:
        if answer["status"] == "refused" and answer["problem"].get("code") == client.KEY_ENDED:
            session.ended = answer["problem"]["detail"]
    session.outbox.settle((kept.seq, answer) for kept, answer in zip(group, answers, strict=True))
    fresh = {kept.seq: kept for kept in session.outbox.of_chains({kept.chain for kept in group})}
    return [fresh[kept.seq] for kept in group]


def _answers(session: Session, group: Sequence[Kept]) -> list[dict[str, Any]]:
    """What the service says of each, believed. Raises `Broken` for what answers something else."""
    body = {"statements": [{"statement": k.text, "disclosures": list(k.disclosures)} for k in group]}
    answers: list[dict[str, Any]] = session.service.post("/entries", body)["answers"]
    if len(answers) != len(group):
        raise Broken(
            "The service answered for another number of entries than it received.", code="bad-answer"
        )
    for kept, answer in zip(group, answers, strict=True):
        _require_own(kept, answer)
    return answers


def _groups(kept: Sequence[Kept]) -> Iterator[Sequence[Kept]]:
    return (kept[start : start + MOST_AT_ONCE] for start in range(0, len(kept), MOST_AT_ONCE))


def _explain(session: Session) -> None:
    """Show the ledger the founding that it refused before it was admitted: that text explains the number it
    has used up, and can never be recorded beside the one that stands.
    """
    for kept in session.outbox.unsettled("refused", "set aside"):
        if kept.act == name_of(Founded):
            session.service.post("/entries", {"statements": [{"statement": kept.text, "disclosures": []}]})


def _require_own(kept: Kept, answer: Mapping[str, Any]) -> None:
    try:
        is_own = _is_own(kept, answer)
    except (BaileeError, *client.MISREAD):
        is_own = False
    if not is_own:
        raise Broken(
            f"The service's answer does not contain what this device signed as number {kept.seq}. It"
            " stays in the outbox: call your administrator before you go on.",
            code="bad-answer",
            seq=kept.seq,
        )


def _is_own(kept: Kept, answer: Mapping[str, Any]) -> bool:
    """Whether an answer is about this statement, and can be kept and read again later."""
    if answer["status"] == "refused":
        return isinstance(answer["problem"]["detail"], str)
    entry = entries.read(answer["entry"])
    is_told = isinstance(answer.get("note") or "", str) and isinstance(answer.get("gap") or 0, int)
    return (
        is_told
        and not answer.get("problem")
        and entry.stmt == kept.text
        and entries.link(answer["entry"]) == answer["leaf"]
        and (entry.chain, entry.n) == (kept.chain, answer["n"])
        and answer["chain"] == kept.chain
    )
