"""The outbox: every statement this key has signed, kept before it is sent and after.

Rules:
1. Counter, link to the statement before and signed text are stored in one transaction *before* the text may
   leave. A process that dies in between leaves a signed statement that waits, never a counter used twice.
2. `BEGIN IMMEDIATE` gives one process at a time the next counter, so two windows of one person cannot fork
   the device.
3. What was signed is sent in order, as the same bytes each time. An answer lost on the way is asked for again
   and is the same.
4. A refused statement stays here, marked, with the reason. It holds nobody up: the statements after it
   already name it in `prev`, so the ledger sees its counter missing and says so, which is the truth. `send
   --again` tries it once more (a key enrolled in the meantime, a form opened by somebody else's phone).
5. Set aside, it is tried no more. It is never removed and its counter never used again: it is signed and it
   left this device, so whoever got it, or a later statement that names it, could show two texts under one
   counter, and that is a forked key. Its counter stays missing in the ledger, and the text is here for
   whoever asks what it said.

The outbox belongs to one key. Restoring an old copy of it would use counters twice; the ledger then shows a
device fork.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final, Literal

from bailee.disk import systems
from bailee.errors import Malformed, Unavailable
from bailee.frozen import frozen
from bailee.signing.signed_statement import Seen, digest

State = Literal["waiting", "registered", "refused", "set aside"]

_TABLES: Final = """
CREATE TABLE IF NOT EXISTS statement (
    seq INTEGER PRIMARY KEY, text TEXT NOT NULL, disclosures TEXT NOT NULL, chain TEXT NOT NULL,
    act TEXT NOT NULL, state TEXT NOT NULL DEFAULT 'waiting', answer TEXT
);
CREATE INDEX IF NOT EXISTS unsettled ON statement (seq) WHERE state <> 'registered';
CREATE TABLE IF NOT EXISTS head (chain TEXT PRIMARY KEY, n INTEGER NOT NULL, leaf TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS memory (name TEXT PRIMARY KEY, value TEXT NOT NULL);
"""


@frozen
class NextPlace:
    """Where the next statement goes: its counter, the id of the one before, and what the device had seen."""

    seq: int
    prev: str | None
    after: str | None
    seen: Seen | None


@frozen
class Unsigned:
    """An act about to be signed: its chain, its name, and how to sign it once its place is known."""

    chain: str
    act: str
    sign: Callable[[NextPlace], str]
    disclosures: tuple[str, ...] = ()


@frozen
class Kept:
    """A signed statement and what became of it. `answer` is the ledger's, once there is one."""

    seq: int
    text: str
    disclosures: tuple[str, ...]
    chain: str
    act: str
    state: State
    answer: dict[str, Any] | None

    @property
    def digest(self) -> str:
        """Its id."""
        return digest(self.text)

    @property
    def counts(self) -> bool:
        """Whether it counts, as far as this device knows: it waits, or was recorded without a remark."""
        return self.state == "waiting" or (self.state == "registered" and not (self.answer or {}).get("note"))


class Outbox:
    """The statements of one key, in a file of its own. Raises `Unavailable` when the file cannot be used."""

    def __init__(self, path: Path, kid: str) -> None:
        self._path = path
        self.has_signed = False  # anything since it was opened
        self._db = _open(path)
        with self._writing():
            for sentence in _TABLES.split(";"):
                self._db.execute(sentence)
            owner = self._recall("kid")
            if owner is None:
                self._remember("kid", kid)
        if owner not in (None, kid):
            self._db.close()
            raise Unavailable(
                f"{path} belongs to another key ({owner[:8]}…): use another name with --as for the new key.",
                code="other-key",
            )

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    def sign(self, drafts: Sequence[Unsigned]) -> list[Kept]:
        """Sign all of them, one after the other, and keep them: all or none. Durable when this returns."""
        kept = []
        with self._writing():
            seen = self.seen()
            for draft in drafts:
                row = self._db.execute("SELECT seq, text FROM statement ORDER BY seq DESC LIMIT 1").fetchone()
                seq, prev = (row[0] + 1, digest(row[1])) if row else (1, None)
                text = draft.sign(NextPlace(seq, prev, self.head(draft.chain), seen))
                self._db.execute(
                    "INSERT INTO statement (seq, text, disclosures, chain, act) VALUES (?, ?, ?, ?, ?)",
                    (seq, text, json.dumps(draft.disclosures), draft.chain, draft.act),
                )
                kept.append(Kept(seq, text, draft.disclosures, draft.chain, draft.act, "waiting", None))
        self.has_signed |= bool(kept)
        return kept

    def unsettled(self, *states: State) -> list[Kept]:
        """Statements in any of these states, in the order they were signed."""
        marks = ",".join("?" * len(states))
        return self._read(f"state IN ({marks}) ORDER BY seq", states)

    def newest(self, count: int) -> list[Kept]:
        """The last `count` statements, newest first."""
        return self._read("1 ORDER BY seq DESC LIMIT ?", [count])

    def of_chains(self, chains: Iterable[str]) -> list[Kept]:
        """Everything this key said on these chains, oldest first."""
        wanted = sorted(chains)
        return self._read(f"chain IN ({','.join('?' * len(wanted))}) ORDER BY seq", wanted)

    def registered_in(self, stretches: Sequence[tuple[int, int | None]]) -> list[Kept]:
        """What is recorded as far as this device knows, of these stretches of counters, oldest first; None:
        to the newest.
        """
        found = self._read("state = 'registered' ORDER BY seq", [])
        return [
            each
            for each in found
            if any(first <= each.seq and (last is None or each.seq <= last) for first, last in stretches)
        ]

    def settle(self, answers: Iterable[tuple[int, dict[str, Any]]]) -> None:
        """Keep the ledger's answers, by counter. What is registered stays registered."""
        with self._writing():
            for seq, answer in answers:
                state = "refused" if answer["status"] == "refused" else "registered"
                self._db.execute(
                    "UPDATE statement SET state = ?, answer = ? WHERE seq = ? AND state <> 'registered'",
                    (state, json.dumps(answer), seq),
                )
                if state == "registered":
                    self._saw(answer["chain"], answer["n"], answer["leaf"])

    def one(self, seq: int) -> Kept:
        """The statement under this counter. Raises `Malformed` when this device has not signed so many."""
        found = self._read("seq = ?", [seq])
        if not found:
            raise Malformed(
                f"This device has signed no entry {seq}: `bailee outbox --all` lists them.",
                code="no-statement",
                seq=seq,
            )
        return found[0]

    def set_aside(self, seq: int) -> None:
        """Try a refused statement no more.

        Raises `Malformed` for one that was not refused: what waits or is recorded stands.
        """
        self._turn(
            seq, "refused", "set aside", "was not refused: only what the ledger refused can be set aside"
        )

    def take_up(self, seq: int) -> None:
        """Let `send --again` try it after all. Raises `Malformed` for one that was not set aside."""
        self._turn(seq, "set aside", "refused", "was not set aside")

    def _turn(self, seq: int, before: State, after: State, otherwise: str) -> None:
        with self._writing():
            turned = self._db.execute(
                "UPDATE statement SET state = ? WHERE seq = ? AND state = ?", (after, seq, before)
            ).rowcount
        if not turned:
            raise Malformed(
                f"Number {seq} of this device {otherwise}.",
                code=f"not-{before.replace(' ', '-')}",
                seq=seq,
            )

    def told(self, chain: str, n: int, leaf: str) -> None:
        """Remember the newest entry of a chain by the service's bare word. The next word takes the place of
        one before, or a false number would be named for ever; nothing older than what this key has there
        itself does.
        """
        own = (
            "SELECT max(json_extract(answer, '$.n')) FROM statement WHERE chain = ? AND state = 'registered'"
        )
        with self._writing():
            ((newest,),) = self._db.execute(own, (chain,))
            if n >= (newest or 0):
                self._db.execute("INSERT OR REPLACE INTO head VALUES (?, ?, ?)", (chain, n, leaf))

    def head(self, chain: str) -> str | None:
        """Leaf hash of that entry."""
        return next((leaf for (leaf,) in self._rows("SELECT leaf FROM head WHERE chain = ?", (chain,))), None)

    def seen(self) -> Seen | None:
        """The newest checkpoint this device has checked."""
        text = self._recall("seen")
        return Seen(**json.loads(text)) if text else None

    def remember(self, name: str, value: Any) -> None:
        """Keep something read from the service for a place without a network."""
        with self._writing():
            self._remember(name, json.dumps(value))

    def recall(self, name: str) -> Any:
        """What was kept under this name, or None."""
        text = self._recall(name)
        return json.loads(text) if text else None

    def recall_all(self, beginning: str) -> dict[str, Any]:
        """What was kept under names that begin like this, by the rest of the name."""
        rows = self._rows("SELECT name, value FROM memory WHERE name GLOB ?", (f"{beginning}*",))
        return {name.removeprefix(beginning): json.loads(value) for name, value in rows}

    def forget(self, name: str) -> None:
        """Keep nothing under this name any more."""
        with self._writing():
            self._db.execute("DELETE FROM memory WHERE name = ?", (name,))

    @contextmanager
    def _writing(self) -> Iterator[None]:
        try:
            self._db.execute("BEGIN IMMEDIATE")
            try:
                yield
            except BaseException:
                if self._db.in_transaction:  # a full disk has ended it already, and is the cause to be shown
                    self._db.execute("ROLLBACK")
                raise
            self._db.execute("COMMIT")
        except sqlite3.Error as error:
            raise _unusable(self._path, str(error)) from error

    def _read(self, where: str, values: Sequence[Any]) -> list[Kept]:
        columns = "seq, text, disclosures, chain, act, state, answer"
        rows = self._rows(f"SELECT {columns} FROM statement WHERE {where}", values)  # noqa: S608 - our own words
        return [
            Kept(
                seq, text, tuple(json.loads(told)), chain, act, state, json.loads(answer) if answer else None
            )
            for seq, text, told, chain, act, state, answer in rows
        ]

    def _saw(self, chain: str, n: int, leaf: str) -> None:
        self._db.execute(
            "INSERT INTO head VALUES (?, ?, ?) ON CONFLICT (chain) DO UPDATE SET n = excluded.n, leaf ="
            " excluded.leaf WHERE excluded.n > head.n",
            (chain, n, leaf),
        )

    def _remember(self, name: str, text: str) -> None:
        self._db.execute("INSERT OR REPLACE INTO memory VALUES (?, ?)", (name, text))

    def _recall(self, name: str) -> Any:
        return next(
            (value for (value,) in self._rows("SELECT value FROM memory WHERE name = ?", (name,))), None
        )

    def _rows(self, sentence: str, values: Sequence[Any]) -> list[tuple[Any, ...]]:
        try:
            return self._db.execute(sentence, values).fetchall()
        except sqlite3.Error as error:
            raise _unusable(self._path, str(error)) from error


def _open(path: Path) -> sqlite3.Connection:
    try:
        # Personal fields lie in here: created for the owner alone, whatever the umask says.
        os.close(os.open(path, os.O_CREAT | os.O_WRONLY, 0o600))
        connection = sqlite3.connect(path, timeout=30, isolation_level=None)
        # With FULL a power cut just after COMMIT can bring the rollback journal back and undo it, and the
        # counter would be used twice; EXTRA also makes the deletion of the journal durable (SQLite, PRAGMA
        # synchronous).
        for pragma in ("synchronous=EXTRA", *systems.OF_SQLITE):
            connection.execute(f"PRAGMA {pragma}")
    except OSError as error:
        raise _unusable(path, error.strerror or str(error)) from error
    except sqlite3.Error as error:
        raise _unusable(path, str(error)) from error
    return connection


def _unusable(path: Path, why: str) -> Unavailable:
    return Unavailable(
        f"The outbox in {path.parent} cannot be used ({why}). Nothing was signed: free some space or check"
        " that folder, then try again.",
        code="outbox",
        folder=str(path.parent),
    )
