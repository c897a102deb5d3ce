"""A whole ledger in memory, with real keys: every act of a `Story` is signed by its person's device, logged
and proven.

    log = told("accepted")                       # a faultless visit, as `builders.visit` tells it
    found = verify(log.bundle(), log.trust(), AT)
    log.append(log.signed(CLERK, …, aud="…"))    # what an honest ledger would have refused

Keys come from fixed seeds and salts from counters, so the same story gives the same bytes. `Story` speaks in
invented digests; they are exchanged for the real ones before anything is signed. The log's operator can
misbehave: the methods below `# Misbehavior` leave a log whose tree is sound and whose contents are not.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from copy import deepcopy
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cache, cached_property
from hashlib import sha256
from typing import Any, Final

from bailee.domain.moments import Moment
from bailee.domain.statements import Recorded
from bailee.errors import BaileeError
from bailee.ledger import entry as entries
from bailee.ledger import merkle
from bailee.ledger.base64url import b64u
from bailee.ledger.checkpoint import Checkpoint, VerifierKey
from bailee.ledger.ends import End, Ends
from bailee.signing import disclosures, key_proof, notes, signed_statement
from bailee.signing.keys import SigningKey
from bailee.signing.signed_statement import Claims, Seen
from bailee.verify import bundle
from bailee.verify.bundle import Bundle, Earlier, Placed
from bailee.verify.verifier import Trust
from builders import FIRM, LAB, LAB_ROOT, PEOPLE, ROOT, STEPS, Person, Step, Story, _jwk

ORIGIN: Final = "ledger.example/log1"
EXPORTED: Final = datetime(2026, 12, 3, 9, 0, tzinfo=UTC)
AT: Final = Moment(EXPORTED, 0)

_PRIVATE: Final[Mapping[str, Sequence[str]]] = {
    "opened": ("client", "site", "contact"),
    "collected": ("place",),
}


def seeded(*name: str) -> SigningKey:
    """The key of this name, the same on every run."""
    return SigningKey.from_seed(sha256("/".join(name).encode()).digest())


class MemoryTiles:
    """Tile rows in a dictionary."""

    def __init__(self) -> None:
        self._rows: dict[tuple[int, int], bytes] = {}

    def read(self, level: int, index: int) -> bytes:
        """All hashes of that row."""
        return self._rows.get((level, index), b"")

    def grow(self, size: int, leaf: bytes) -> None:
        """One more leaf."""
        for tile in merkle.grow(self, size, [leaf]):
            self.put(tile)

    def put(self, tile: merkle.Tile) -> None:
        """Keep one row as it is now."""
        self._rows[tile.level, tile.index] = tile.hashes


@dataclass
class Device:
    """One person's phone or token: its key, its count and the digest of what it said last."""

    key: SigningKey
    seq: int = 0
    prev: str | None = None


@dataclass(frozen=True)
class Logged:
    """One entry of the log."""

    text: str
    disclosures: tuple[str, ...] = ()

    @cached_property
    def entry(self) -> entries.Entry:
        """The entry as read."""
        return entries.read(self.text)

    @cached_property
    def leaf(self) -> str:
        """Its hash, as the next entry names it."""
        return entries.link(self.text)


class LogSimulator(Story):
    """A `Story` that is also signed and logged. `log` is every entry by index."""

    def __init__(self, seed: int = 1, origin: str = ORIGIN) -> None:
        self.origin = origin
        self.log_key = seeded("log", origin)
        self.log: list[Logged] = []
        self.tiles = MemoryTiles()
        self.devices: dict[str, Device] = {}
        self._real: dict[str, str] = {}
        for person in (ROOT, LAB_ROOT, *PEOPLE):
            device = self.device(person)
            self._real[person.kid] = device.key.kid
            self._real[_jwk(person)["x"]] = device.key.jwk["x"]
        super().__init__(seed)

    def device(self, person: Person) -> Device:
        """That person's device."""
        return self.devices.setdefault(person.name, Device(seeded(person.org, person.name)))

    def add(
        self, chain: str, act: str, data: Mapping[str, Any], *, by: Person, said: str, **how: Any
    ) -> Recorded:
        """Tell one act, sign it and log it."""
        told = super().add(chain, act, data, by=by, said=said, **how)
        real = self._exchange(dict(told.data))
        if act == "enrolled":
            known = next((each for each in PEOPLE if each.kid == told.data["kid"]), None)
            real["proof"] = self.proof_of(known) if known else real["proof"]
        private = self._private(told)
        text = self.signed(
            by,
            chain,
            act,
            real,
            said=said,
            after=self._real.get(told.after or ""),
            refs=tuple(self._real[ref] for ref in told.refs),
            private=private,
        )
        index = self.append(chain, text, rec=Moment(told.rec, 0), told=private)
        self._real[told.digest] = signed_statement.digest(text)
        self._real[told.leaf] = self.log[index].leaf
        return told

    def _exchange(self, value: Any) -> Any:
        if isinstance(value, dict):
            return {name: self._exchange(each) for name, each in value.items()}
        if isinstance(value, list):
            return [self._exchange(each) for each in value]
        return self._real.get(value, value) if isinstance(value, str) else value

    def _private(self, told: Recorded) -> tuple[str, ...]:
        fields = dict(told.disclosed)
        names = [*_PRIVATE.get(told.act, ()), *(f"note_{place}" for place in range(told.private))]
        for name in [each for each in names if each not in fields][: told.private - len(fields)]:
            fields[name] = f"Invented {name} {told.n}"
        return tuple(
            b64u(
                json.dumps([b64u(sha256(f"{self.size}/{name}".encode()).digest()[:16]), name, value]).encode()
            )
            for name, value in sorted(fields.items())
        )

    # Signing and logging

    def proof_of(self, person: Person, org: str | None = None, key: SigningKey | None = None) -> str:
        """The new device shows that it holds its key."""
        return key_proof.issue(key or self.device(person).key, org or person.org, self.origin, 1_767_000_000)

    def signed(
        self,
        by: Person,
        chain: str,
        act: str,
        data: Mapping[str, Any],
        *,
        said: str,
        after: str | None = None,
        refs: Sequence[str] = (),
        private: Sequence[str] = (),
        key: SigningKey | None = None,
        **claims: Any,
    ) -> str:
        """The statement that `by`'s device signs next.

        `claims` replaces single claims; `key` signs in its place.
        """
        device = self.device(by)
        moment = Moment.parse(said)
        made = Claims(
            iss=by.org,
            aud=self.origin,
            sub=chain,
            act=act,
            iat=moment.epoch_seconds,
            tzo=said[-6:],
            seq=device.seq + 1,
            prev=device.prev,
            after=after,
            data=data,
            refs=tuple(refs),
            seen=self.seen(),
            private=tuple(sorted(disclosures.digest(each) for each in private)),
        )
        text = signed_statement.sign(key or device.key, replace(made, **claims))
        device.seq, device.prev = device.seq + 1, signed_statement.digest(text)
        return text

    def seen(self) -> Seen | None:
        """The tree head a device with a network has checked by now."""
        size = len(self.log)
        return Seen(size, b64u(merkle.root(self.tiles, size))) if size else None

    def append(
        self,
        chain: str,
        text: str,
        *,
        rec: Moment | None = None,
        told: Sequence[str] = (),
        n: int | None = None,
        prev: str | None = None,
    ) -> int:
        """Log a statement as the next entry of its chain, or as the operator pleases. Returns its index."""
        last = next((each for each in reversed(self.log) if each.entry.chain == chain), None)
        moment = (
            rec.instant.isoformat(timespec="milliseconds")[:-6] + "Z"
            if rec
            else max(e.entry.rec for e in self.log)
        )
        entry = entries.Entry(
            chain,
            n or (last.entry.n + 1 if last else 1),
            None if n == 1 else prev or (last.leaf if last else None),
            max(moment, last.entry.rec) if last and rec is None else moment,
            text,
        )
        self.log.append(Logged(entries.write(entry), tuple(told)))
        self.tiles.grow(len(self.log) - 1, entries.leaf_hash(self.log[-1].text.encode()))
        return len(self.log) - 1

    # Exporting

    @property
    def log_vkey(self) -> VerifierKey:
        """The key by which auditors know this log."""
        return notes.verifier_key(self.origin, self.log_key)

    def trust(self, **roots: str | None) -> Trust:
        """What an auditor brings; `roots` replaces (None: leaves out) the pinned root of an organization by
        its first word.
        """
        pinned = {ROOT.org: self.device(ROOT).key.kid, LAB_ROOT.org: self.device(LAB_ROOT).key.kid}
        for name, root in roots.items():
            org = next(each for each in pinned if each.startswith(name))
            pinned = (
                {**pinned, org: root} if root else {each: key for each, key in pinned.items() if each != org}
            )
        return Trust(pinned, (self.log_vkey,))

    def note(self, size: int | None = None) -> str:
        """The signed checkpoint of the first `size` entries, or of all."""
        size = len(self.log) if size is None else size
        return notes.sign(Checkpoint(self.origin, size, merkle.root(self.tiles, size)), self.log_key)

    def placed(self, index: int) -> Placed:
        """One entry with its proof to the newest checkpoint."""
        logged = self.log[index]
        path = merkle.inclusion_path(self.tiles, index, len(self.log))
        return Placed(index, logged.text, logged.disclosures, tuple(path))

    def bundle(self, form: str | None = None) -> Bundle:
        """The auditor's file of one form: its chain, all lots and both organizations, every tree head that
        was seen.
        """
        number = form or self.form
        wanted = self.leaned_on(number)
        placed = [self.placed(i) for i, each in enumerate(self.log) if each.entry.chain in wanted]
        roots = {FIRM: self.device(ROOT).key.kid, LAB: self.device(LAB_ROOT).key.kid}
        ends = self.ends(*wanted)
        return bundle.assemble(number, placed, self.note(), ends, self.earlier(placed), roots, EXPORTED)

    def leaned_on(self, form: str) -> set[str]:
        """The chains that belong into the file of a form."""
        return {f"form/{form}", f"org/{FIRM}", f"org/{LAB}"} | {f"lot/{lot}" for lot in self.lots}

    def ends(self, *chains: str, size: int | None = None, never: Sequence[str] = ()) -> str:
        """Where these chains end among the first `size` entries or all, signed by the log; `never`: it says
        that nobody wrote on them.
        """
        size = len(self.log) if size is None else size
        last = dict.fromkeys(chains, End(0, None))
        for each in self.log[:size]:
            with suppress(BaileeError):
                entry = each.entry
                if entry.chain in last and entry.n >= last[entry.chain].n:
                    last[entry.chain] = End(entry.n, each.leaf)
        return self.sign_ends(last | dict.fromkeys(never, End(0, None)), size)

    def sign_ends(self, last: Mapping[str, End], size: int | None = None) -> str:
        """The log's word on where these chains end, whether it is true or not."""
        size = len(self.log) if size is None else size
        checkpoint = Checkpoint(self.origin, size, merkle.root(self.tiles, size))
        return notes.sign_ends(Ends(checkpoint, last), self.log_key)

    def earlier(self, placed: Sequence[Placed]) -> list[Earlier]:
        """Every tree head that the statements name, proven to be continued by the newest checkpoint."""
        size = len(self.log)
        heads = {
            seen.size
            for each in placed
            if (seen := signed_statement.read(entries.read(each.text).stmt).claims.seen)
            and 0 < seen.size < size
        }
        return [
            Earlier(
                each, merkle.root(self.tiles, each), tuple(merkle.consistency_path(self.tiles, each, size))
            )
            for each in sorted(heads)
        ]

    def find(self, chain: str, n: int) -> int:
        """The index of an entry of a chain."""
        return next(i for i, each in enumerate(self.log) if (each.entry.chain, each.entry.n) == (chain, n))

    # Misbehavior of whoever holds the log's key

    def rewrite(self, index: int, text: str) -> None:
        """Exchange one entry and build the whole tree anew, as an operator can who thinks nobody kept a
        checkpoint.
        """
        self.log[index] = replace(self.log[index], text=text)
        self._regrow()

    def remove(self, index: int) -> None:
        """Take one entry out and build the whole tree anew."""
        del self.log[index]
        self._regrow()

    def rechain(self, index: int) -> None:
        """After `rewrite` or `remove`: make every later entry of the chain follow again."""
        chain = self.log[index].entry.chain
        previous: Logged | None = None
        for place, each in enumerate(self.log):
            if each.entry.chain == chain:
                if previous:
                    after = replace(each.entry, n=previous.entry.n + 1, prev=previous.leaf)
                    self.log[place] = replace(each, text=entries.write(after))
                previous = self.log[place]
        self._regrow()

    def _regrow(self) -> None:
        self.tiles = MemoryTiles()
        for size, each in enumerate(self.log):
            self.tiles.grow(size, entries.leaf_hash(each.text.encode()))


def told(upto: Step = "accepted") -> LogSimulator:
    """A faultless visit up to one step, as `builders.visit` tells it: two indoor cassettes, one outdoor, one
    lot.

    Telling takes forty times as long as copying; what was said and logged does not change and is shared.
    """
    found = _told(upto)
    said = {id(each): each for known in (*found.chains.values(), found.log) for each in known}
    return deepcopy(found, said)


@cache
def _told(upto: Step) -> LogSimulator:
    log = LogSimulator()
    log.lot()
    for step in STEPS[: STEPS.index(upto) + 1]:
        if step == "collected":
            log.collected(0)
            log.collected(1)
            log.collected(2, "outdoor")
        elif step == "kept":
            log.held(by=next(person for person in PEOPLE if person.role == "clerk"))
        else:
            getattr(log, "received" if step == "handed_over" else step)()
    return log
