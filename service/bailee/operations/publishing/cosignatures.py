"""Collecting cosignatures: every configured cosigner is asked about the newest published checkpoint, until it
has cosigned it.

Unless cosignatures are required, the log never waits for a cosigner: the checkpoint is published first, and
cosignatures are added to the same note as they come. Where `required` is set, a checkpoint is shown to nobody
before so many have cosigned it. What is still to be asked follows from the note itself, so nothing is
forgotten over a restart; a cosigner that does not answer is asked again after a while that grows. A cosigner
that shows a checkpoint which this log signed and the database does not continue freezes the log (`guard`).
One that only says so could say anything: it is named as unreliable, and the log goes on.
"""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import suppress
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import Final, TypeVar
from urllib.parse import quote

from bailee.cosigning import request
from bailee.errors import BaileeError, Broken, Forged, Malformed, Unavailable
from bailee.ledger import merkle
from bailee.ledger.checkpoint import (
    MAX_NOTE_BYTES,
    Checkpoint,
    NoteSignature,
    SignedNote,
    VerifierKey,
    parse,
    print_note,
    read_note,
)
from bailee.ledger.merkle import EMPTY_ROOT
from bailee.operations.publishing.freeze import CODE as FROZEN
from bailee.operations.publishing.freeze import Guard
from bailee.operations.publishing.publish import Publisher
from bailee.signing import notes, vkeys
from bailee.store import tree
from bailee.store.database import Database

R = TypeVar("R")

_log = logging.getLogger(__name__)

PATIENCE_S: Final = 20.0
"""Seconds that the body of one answer may take; it is a few lines."""
_SILENCE_S: Final = 5.0
"""Seconds without a byte after which nobody is there."""
_FIRST_WAIT_S: Final = 2.0
_LONGEST_WAIT_S: Final = 300.0
_OURS: Final = frozenset({"database-away", "store-failed"})
"""Our own database fails: no cosigner is to blame."""
_AHEAD: Final = "cosigner-ahead"
"""It has seen what another host published meanwhile: nothing to look after."""
_ATTEMPTS: Final = 3
"""Requests in one round: the second has the size the cosigner named, the third is for a cosigner that moved
on in between."""

Post = Callable[[str, bytes], tuple[int, str]]
"""Sends a body to an address; status and text of the answer. Raises `Unavailable` when there is none."""
Get = Callable[[str], tuple[int, str]]
"""Fetches an address, in the same way."""


@dataclass(slots=True)
class ConfiguredCosigner:
    """One configured cosigner. Without `url` it comes by itself (`POST /checkpoint/cosignatures`)."""

    key: VerifierKey
    url: str | None
    size: int = 0
    wait_s: float = _FIRST_WAIT_S
    next_try: float = field(default=0.0)
    asking: threading.Lock = field(default_factory=threading.Lock)


def configured(settings: Iterable[str], origin: str) -> list[ConfiguredCosigner]:
    """Cosigners of the log `origin` from the settings, "VKEY URL" or "VKEY".

    Raises `Malformed` ("vkey", "weak-key").
    """
    found = []
    for each in settings:
        vkey, _, url = each.partition(" ")
        try:
            key = vkeys.read_cosigner(vkey)
        except Malformed as error:
            raise Malformed(
                f"The setting `cosigners` has {each!r}, which does not begin with a cosigner's public key:"
                f" {error.sentence}",
                code=error.code,
                **error.facts,
            ) from error
        if key.name == origin:
            said = (
                f"{origin} is this log's own name, and a cosigner needs another: two lines of one name do not"
                " count."
            )
            raise Malformed(said, code="vkey")
        found.append(ConfiguredCosigner(key, url.strip().rstrip("/") or None))
    return found


class Cosigners:
    """`clock` gives seconds since 1970.

    `required`: how many cosignatures a checkpoint needs before it is shown. More than half of those that can
    be asked, so that what was shown and what is asked for after a failover have a cosigner in common. Raises
    `Malformed` ("bad-settings") otherwise.
    """

    def __init__(
        self,
        database: Database,
        guard: Guard,
        publisher: Publisher,
        cosigners: list[ConfiguredCosigner],
        sign: Callable[[Checkpoint], str],
        origin: str,
        clock: Callable[[], float],
        post: Post,
        get: Get,
        required: int = 0,
    ) -> None:
        asked = [each for each in cosigners if each.url]
        if required and not len(asked) < 2 * required <= 2 * len(asked):
            raise Malformed(
                f"cosigners_required is {required}, and {len(asked)} cosigners have an address: require more"
                " than half of these, so that a second history would always meet one that saw the first.",
                code="bad-settings",
            )
        self.required = required
        self._database = database
        self._guard = guard
        self._publisher = publisher
        self._cosigners = cosigners
        self._sign = sign
        self._origin = origin
        self._clock = clock
        self._post = post
        self._get = get
        self._asked = not asked

    def ask_before_signing(self) -> None:
        """Once in a process, ask every cosigner what it saw; one that does not answer is passed over.

        Without this, a machine put back as a whole, high-water file and all, would sign a second history
        before it hears of the first.
        """
        if self._asked:
            return
        for each in self._cosigners:
            if each.url:
                self._try(each, self._newest_note())
        self._asked = True

    def hear(self) -> None:
        """Ask what they saw, before the first signature after the lead was taken: as many must answer as are
        required.

        Raises `Unavailable`: `log-frozen` when one shows what this log signed and the database does not
        continue, else `not-cosigned`.
        """
        if self.required:
            self._from_enough(self._listen, "answered")

    def seen(self) -> dict[str, str | None]:
        """The newest note of this log that each cosigner shows, by its name, for a repair; None of one that
        does not answer.

        Nobody is believed: the caller looks whether this log signed it.
        """
        found: dict[str, str | None] = {}
        for each in self._cosigners:
            if each.url:
                found[each.key.name] = None
                with suppress(Unavailable):
                    status, note = self._get(self._newest_of(each))
                    found[each.key.name] = note if status == HTTPStatus.OK else ""
        return found

    def collect(self, note: str) -> str:
        """The note with as many cosignatures as are required. Raises `Unavailable`, as `hear` does."""
        if not self.required:
            return note
        lines = self._from_enough(lambda each: self._ask(each, note), "cosigned")
        return print_note(read_note(note).with_signatures([line for found in lines for line in found]))

    def is_due(self) -> bool:
        """Whether anybody is to be asked now."""
        return any(self._is_due(each, self._publisher.shown()) for each in self._cosigners)

    def round(self) -> None:
        """Ask everybody who has not cosigned the newest checkpoint and whose turn it is."""
        for each in self._cosigners:
            note = self._publisher.shown()
            if note and self._is_due(each, note):
                self._try(each, note)

    def accept(self, note: str) -> int:
        """Take the cosignatures out of a note that a cosigner brings; how many.

        Raises `Malformed`, `Broken`.
        """
        signed = read_note(note)
        checkpoint = parse(signed.text)
        with self._database.reading() as connection:
            own = tree.note_at(connection, checkpoint.size)
        if own is None or read_note(own).text != signed.text:
            raise Malformed(
                "This is no checkpoint of this log. Fetch the newest one and cosign that.", code="checkpoint"
            )
        lines = [line for each in self._cosigners for line in _valid(signed, each.key)]
        if lines:
            self._publisher.add_signatures(checkpoint.size, lines)
        return len(lines)

    def _is_due(self, cosigner: ConfiguredCosigner, note: str | None) -> bool:
        if cosigner.url is None or note is None or self._clock() < cosigner.next_try:
            return False
        return not read_note(note).by(cosigner.key)

    def _from_enough(self, ask: Callable[[ConfiguredCosigner], R], done: str) -> list[R]:
        """Ask all at once, until as many have answered as are required."""
        asked = [each for each in self._cosigners if each.url]
        pool = ThreadPoolExecutor(len(asked), "cosigners")
        found, missed = [], []
        try:
            for each in as_completed([pool.submit(ask, each) for each in asked]):
                try:
                    found.append(each.result())
                except BaileeError as error:
                    if error.code == FROZEN or error.code in _OURS:
                        raise
                    missed.append(error.sentence)
                if len(found) == self.required:
                    return found
        finally:
            pool.shutdown(wait=False, cancel_futures=True)
        raise Unavailable(
            f"{f'{len(found)} of {len(asked)} cosigners' if found else 'No cosigner'} {done}; {self.required}"
            " must. Nothing new is published until"
            f" {'then' if self.required - len(found) > 1 else 'one more does' if found else 'one does'}:"
            f" {'; '.join(sorted(set(missed)))}.",
            code="not-cosigned",
        )

    def _listen(self, cosigner: ConfiguredCosigner) -> None:
        status, note = self._get(self._newest_of(cosigner))
        if status == HTTPStatus.NOT_FOUND:  # it has seen nothing of this log
            return
        if status != HTTPStatus.OK:
            raise Unavailable(f"{cosigner.key.name} answered {status}", code="cosigner")
        with self._database.reading() as connection:
            self._guard.object_for(cosigner.key.name, note, connection)

    def _newest_of(self, cosigner: ConfiguredCosigner) -> str:
        return f"{cosigner.url}{request.NEWEST}?origin={quote(self._origin, safe='')}"

    def _try(self, cosigner: ConfiguredCosigner, note: str) -> None:
        try:
            if lines := self._ask(cosigner, note):
                self._publisher.add_signatures(parse(read_note(note).text).size, lines)
        except BaileeError as error:
            if error.code in _OURS:
                raise
            cosigner.next_try = self._clock() + cosigner.wait_s
            cosigner.wait_s = min(2 * cosigner.wait_s, _LONGEST_WAIT_S)
            if error.code != _AHEAD:
                _log.warning("cosigner %s: %s", cosigner.key.name, error.sentence)
        else:
            cosigner.wait_s = _FIRST_WAIT_S

    def _ask(self, cosigner: ConfiguredCosigner, note: str) -> list[NoteSignature]:
        """Its cosignature of the note; none of an empty log, which is only asked about."""
        with cosigner.asking:
            return self._persuade(cosigner, note)

    def _persuade(self, cosigner: ConfiguredCosigner, note: str) -> list[NoteSignature]:
        size = parse(read_note(note).text).size
        old = min(cosigner.size, size)  # what it said last is only a hint, and may have been nonsense
        for _ in range(_ATTEMPTS):
            with self._database.reading() as connection:
                path = merkle.consistency_path(tree.StoredTiles(connection), old, size)
            status, text = self._post(f"{cosigner.url}{request.PATH}", request.write(old, path, note))
            if status == HTTPStatus.OK:
                cosigner.size = size
                return _lines(text, note, cosigner.key) if size else []
            if status not in (HTTPStatus.CONFLICT, HTTPStatus.UNPROCESSABLE_ENTITY):
                raise Unavailable(f"it answered {status}: {text.strip()[:200]}", code="cosigner")
            theirs = _size(text) if status == HTTPStatus.CONFLICT else old
            if (
                theirs == old or theirs > size
            ):  # the same size and another root, no proof, or more than this note
                self._weigh_objection(cosigner, theirs, size)
            old = cosigner.size = min(theirs, size)
        raise Unavailable("its size changes from answer to answer", code="cosigner")

    def _weigh_objection(self, cosigner: ConfiguredCosigner, theirs: int, size: int) -> None:
        """Freeze the log if the cosigner can show what it says.

        Raises `Unavailable` in any case: it has not cosigned.

        It may also speak of what another process of this log has published meanwhile.
        """
        with self._database.reading() as connection:
            if size < theirs <= tree.size(connection):
                raise Unavailable("it has seen a newer checkpoint of this log already", code=_AHEAD)
        status, note = self._get(self._newest_of(cosigner))
        said = f"unreliable: it objects to {size} entries with {theirs}"
        if status != HTTPStatus.OK:
            raise Unavailable(
                f"{said}, and shows no checkpoint that this log signed ({status})", code="cosigner"
            )
        with self._database.reading() as connection:
            try:
                self._guard.object_for(cosigner.key.name, note, connection)
            except (Broken, Forged, Malformed) as error:
                raise Unavailable(
                    f"{said}, and what it shows was not signed by this log: {error.sentence}", code="cosigner"
                ) from error
        raise Unavailable(f"{said}, and shows a checkpoint that this log continues", code="cosigner")

    def _newest_note(self) -> str:
        """What the log signed last; before the first time the empty log, which costs nothing to sign."""
        with self._database.reading() as connection:
            note = tree.newest_note(connection)
        return note or self._sign(Checkpoint(self._origin, 0, EMPTY_ROOT))


def post(url: str, body: bytes) -> tuple[int, str]:
    """Send a body over HTTP, with short patience; no more is read than a note may have.

    Raises `Unavailable`.
    """
    return _exchange("POST", url, body, {"Content-Type": "text/plain"})


def get(url: str) -> tuple[int, str]:
    """Fetch over HTTP, in the same way."""
    return _exchange("GET", url, b"", {})


def _exchange(method: str, url: str, body: bytes, headers: dict[str, str]) -> tuple[int, str]:
    import httpx2

    until = time.monotonic() + PATIENCE_S
    # As it comes over the wire: what unpacks to more than it is would be measured too late.
    headers = {**headers, "Accept-Encoding": "identity"}
    try:
        with httpx2.stream(method, url, content=body, headers=headers, timeout=_SILENCE_S) as answer:
            content = b""
            for part in answer.iter_raw():
                content += part
                if len(content) > MAX_NOTE_BYTES:
                    raise Unavailable("it answers more than a checkpoint can have", code="cosigner")
                if time.monotonic() > until:
                    raise Unavailable(f"its answer takes longer than {PATIENCE_S:.0f} s", code="cosigner")
            return answer.status_code, content.decode("utf-8", "replace")
    except (httpx2.HTTPError, httpx2.InvalidURL, ValueError) as error:
        raise Unavailable(f"it did not answer ({type(error).__name__})", code="cosigner") from error


def _lines(text: str, note: str, cosigner: VerifierKey) -> list[NoteSignature]:
    lines = _valid(request.read_lines(text, note), cosigner)
    if not lines:
        raise Unavailable("its answer holds no cosignature of its own", code="cosigner")
    return lines


def _valid(note: SignedNote, cosigner: VerifierKey) -> list[NoteSignature]:
    """The cosigner's line in the note; of several the newest. Raises `Broken`."""
    notes.cosigned_at(note, cosigner)
    return list(note.by(cosigner)[-1:])


def _size(text: str) -> int:
    size = text.removesuffix("\n")
    if not (size.isascii() and size.isdigit() and len(size) < 19):
        raise Unavailable("it answered 409 without a size", code="cosigner")
    return int(size)
