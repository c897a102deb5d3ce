"""Auditor's files that grow in one direction: what a verifier does with twice as much must be twice the work
and no more.

    file = grown("entries", 500)                        # 500 statements more than a faultless visit has
    verify(file.bundle, file.trust, AT)

Every direction is one way in which somebody who writes on a form, in an organization or on a lot can make a
file long; all signatures and proofs hold, but where the direction itself is one of faults. Nothing is taken
from a clock.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from bailee.domain.moments import Moment
from bailee.ledger import entry as entries
from bailee.ledger import merkle
from bailee.ledger.base64url import b64u
from bailee.signing import signed_statement
from bailee.signing.signed_statement import Seen
from bailee.verify.bundle import Bundle, TimeStampToken
from bailee.verify.verifier import Trust
from builders import (
    CLERK,
    CUSTODIAN,
    DAY,
    FIRM,
    INSPECTOR,
    MEDIA_KEEPER,
    QUALITY,
    ROOT,
    SECOND_INSPECTOR,
    Person,
)
from log_simulator import Logged, LogSimulator, seeded

HOUR: Final = f"{DAY}T11:00:00-05:00"


@dataclass(frozen=True)
class Grown:
    """A file, what an auditor brings to check it, and the log from which it comes."""

    bundle: Bundle
    trust: Trust
    log: LongLog


class LongLog(LogSimulator):
    """A log that remembers where its chains end and hashes its tree once, at the end: long ones are quickly
    made.
    """

    def __init__(self) -> None:
        self._ends: dict[str, tuple[int, str, str]] = {}
        self._hashed = 0
        self.sees = False
        super().__init__()

    def seen(self) -> Seen | None:
        """The newest tree head while `sees`; otherwise devices without a network."""
        if not self.sees or not self.log:
            return None
        self.hash_all()
        return Seen(len(self.log), b64u(merkle.root(self.tiles, len(self.log))))

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
        """As in any log; the tree is hashed when somebody asks."""
        last, leaf, latest = self._ends.get(chain, (0, "", ""))
        moment = rec.instant.isoformat(timespec="milliseconds")[:-6] + "Z" if rec else latest
        entry = entries.Entry(chain, last + 1, leaf or None, max(moment, latest), text)
        logged = Logged(entries.write(entry), tuple(told))
        self._ends[chain] = (entry.n, entries.link(logged.text), entry.rec)
        self.log.append(logged)
        return len(self.log) - 1

    def hash_all(self) -> None:
        """Bring the tree up to the newest entry."""
        leaves = [entries.leaf_hash(each.text.encode()) for each in self.log[self._hashed :]]
        for tile in merkle.grow(self.tiles, self._hashed, leaves):
            self.tiles.put(tile)
        self._hashed = len(self.log)

    def bundle(self, form: str | None = None) -> Bundle:
        """The auditor's file of the form."""
        self.hash_all()
        return super().bundle(form)

    def say_often(
        self, count: int, act: str, data: Callable[[int], Mapping[str, Any]], *, by: Person, said: str = HOUR
    ) -> None:
        """The same act on the form, `count` times."""
        for number in range(count):
            self.add(f"form/{self.form}", act, data(number), by=by, said=said)


def grown(direction: str, count: int) -> Grown:
    """A visit up to the collected samples, and `count` more of something: one of `DIRECTIONS`."""
    log = LongLog()
    log.lot()
    log.opened()
    for place, kind in enumerate(("indoor", "indoor", "outdoor")):
        log.collected(place, kind)
    more = DIRECTIONS[direction](log, count)
    made = log.bundle()
    return Grown(more(made) if more else made, log.trust(), log)


_Then = Callable[[Bundle], Bundle] | None


def _held(log: LongLog, _: int = 0) -> dict[str, Any]:
    return {
        "samples": [log.samples[0]],
        "secured": "possession",
        "where": "vehicle",
        "since": f"{DAY}T09:30:00-05:00",
    }


def _entries(log: LongLog, count: int) -> _Then:
    log.say_often(count, "held", lambda _: _held(log), by=INSPECTOR)
    return None


def _unnamed(log: LongLog, count: int) -> _Then:
    """Nobody says which samples: all that the signer holds."""
    log.say_often(count, "held", lambda _: {**_held(log), "samples": ...}, by=INSPECTOR)
    return None


def _samples(log: LongLog, count: int) -> _Then:
    for _ in range(count):
        number = log.number("sample")
        log.collected(number, started=f"{DAY}T10:00:00-05:00", serial=None)
    return None


def _unnamed_of_many(log: LongLog, count: int) -> _Then:
    """Half samples, half statements that mean every one of them."""
    _samples(log, count // 2)
    return _unnamed(log, count // 2)


def _handled(log: LongLog, count: int) -> _Then:
    """One sample given to and fro, each time in another envelope that is opened again."""
    for _ in range(count // 4):
        _hand_overs(log, 2)
        _envelopes(log, 2)
    return None


def _excepted_again(log: LongLog, count: int) -> _Then:
    """Samples that all want an exception, and as many exceptions by whoever may not allow them."""
    _samples(log, count // 2)
    for number in range(count // 2):
        about = log.samples[-1 - number % 3]
        data = {"rule": "PV-10", "about": about, "reason": "no_alternative"}
        log.add(f"form/{log.form}", "excepted", data, by=INSPECTOR, said=HOUR)
    return None


def _devices(log: LongLog, count: int) -> _Then:
    """Each enrolled, and each says one thing on the form."""
    for number in range(count):
        person = Person(FIRM, "inspector", f"Inspector {number:05}")
        key = log.device(person).key
        data = {
            "kid": key.kid,
            "role": "inspector",
            "jwk": key.jwk,
            "proof": log.proof_of(person),
            "identity_check": "in_person",
        }
        log.add(
            f"org/{FIRM}",
            "enrolled",
            data,
            by=ROOT,
            said="2026-01-05T10:00:00-05:00",
            disclosed={"person": person.name},
        )
        log.add(f"form/{log.form}", "held", _held(log), by=person, said=HOUR)
    return None


def _hand_overs(log: LongLog, count: int) -> _Then:
    """To and fro between two people: both halves of each."""
    people = (INSPECTOR, CLERK)
    for number in range(count // 2):
        giver, taker = people[number % 2], people[(number + 1) % 2]
        log.relinquished([log.samples[0]], by=giver, to_kid=taker.kid, at=HOUR)
        item = {"sample": log.samples[0], "condition": ["intact"]}
        log.add(
            f"form/{log.form}",
            "received",
            {"items": [item], "count": 1, "purpose": "shipping", "at": HOUR},
            by=taker,
            said=HOUR,
        )
    return None


def _lone_halves(log: LongLog, count: int) -> _Then:
    """Received again and again, and never given; then given, once for every one of them."""
    item = {"sample": log.samples[0], "condition": ["intact"]}
    for number in range(count // 2):
        taker = (CLERK, SECOND_INSPECTOR)[number % 2]
        log.add(
            f"form/{log.form}",
            "received",
            {"items": [item], "count": 1, "purpose": "shipping", "at": HOUR},
            by=taker,
            said=HOUR,
        )
    for number in range(count // 2):
        giver = (INSPECTOR, CLERK, SECOND_INSPECTOR)[min(number, 1 + number % 2)]
        log.relinquished([log.samples[0]], by=giver, to_kid=None, at=HOUR)
    return None


def _envelopes(log: LongLog, count: int) -> _Then:
    """Sealed and opened again."""
    for _ in range(count // 2):
        log.sealed([log.samples[0]], by=INSPECTOR, at=HOUR)
        log.unsealed(by=INSPECTOR, at=HOUR)
    return None


def _many_envelopes(log: LongLog, count: int) -> _Then:
    """Each sealed and none opened."""
    for _ in range(count):
        log.sealed(
            [log.samples[0]], by=INSPECTOR, at=HOUR, envelope=log.number("envelope"), seal=log.number("seal")
        )
    return None


def _arrivals(log: LongLog, count: int) -> _Then:
    """A dock that opens the same envelope again and again."""
    log.sealed(by=INSPECTOR)
    for _ in range(count):
        log.docked([log.samples[0]])
    return None


def _takings_in(log: LongLog, count: int) -> _Then:
    """A laboratory that signs for the same envelope again and again, and opens it in between."""
    log.sealed(by=INSPECTOR)
    for number in range(count):
        log.docked([log.samples[0]]) if number % 2 else log.taken_in()
    return None


def _corrections(log: LongLog, count: int) -> _Then:
    """One fact, to and fro."""
    target = next(each for each in log.chains[f"form/{log.form}"] if each.act == "collected")
    values = (target.data["dust"], "heavy")
    for number in range(count):
        data = {
            "statement": target.digest,
            "field": "dust",
            "old": values[number % 2],
            "new": values[(number + 1) % 2],
            "reason": "typing",
        }
        log.add(f"form/{log.form}", "corrected", data, by=INSPECTOR, said=HOUR, refs=(target.digest,))
    return None


def _exceptions(log: LongLog, count: int) -> _Then:
    log.say_often(
        count,
        "excepted",
        lambda _: {"rule": "ME-01", "about": log.samples[0], "reason": "no_alternative"},
        by=QUALITY,
    )
    return None


def _decisions(log: LongLog, count: int) -> _Then:
    for number in range(count):
        act = ("accepted", "rejected")[number % 2]
        data: dict[str, Any] = {"samples": log.samples[:1], "at": HOUR}
        data |= {"reasons": ["other"]} if number % 2 else {"lab_numbers": {log.samples[0]: f"Q-{number}"}}
        log.add(f"form/{log.form}", act, data, by=CUSTODIAN, said=HOUR)
    return None


def _affirmations(log: LongLog, count: int) -> _Then:
    target = next(each for each in log.chains[f"form/{log.form}"] if each.act == "collected")
    log.say_often(count, "affirmed", lambda _: {"statements": [target.digest]}, by=SECOND_INSPECTOR)
    return None


def _witnesses(log: LongLog, count: int) -> _Then:
    target = next(each for each in log.chains[f"form/{log.form}"] if each.act == "collected")
    log.say_often(count, "witnessed", lambda _: {"statements": [target.digest]}, by=SECOND_INSPECTOR)
    return None


def _air(log: LongLog, count: int) -> _Then:
    """The air read again and again, outdoors in a shower."""
    data = {"where": "outdoors", "at": f"{DAY}T09:40:00-05:00", "rain_ended_h": "0.5"}
    log.say_often(count, "conditions_read", lambda _: data, by=INSPECTOR)
    return None


def _surfaces(log: LongLog, count: int) -> _Then:
    """Swabs of one wall, none of which says of what or where."""
    numbers = [log.number("sample") for _ in range(count)]
    data = {"medium": "swab", "at": f"{DAY}T09:40:00-05:00", "quantified": True}
    log.say_often(count, "surface_collected", lambda each: data | {"sample": numbers[each]}, by=INSPECTOR)
    return None


def _changes(log: LongLog, count: int) -> _Then:
    """People who walk in and out between the samples and their control."""
    data = {"what": "people", "at": f"{DAY}T09:35:00-05:00"}
    states = ("none", "present")
    log.say_often(count, "building_changed", lambda each: data | {"now": states[each % 2]}, by=INSPECTOR)
    return None


def _requests(log: LongLog, count: int) -> _Then:
    """A firm that asks again and again, of all samples and of one."""
    data = {"due": "2026-12-07"}
    log.say_often(count, "requested", lambda each: data | {"purchase": f"P-{each}"}, by=CLERK)
    return None


def _stores(log: LongLog, count: int) -> _Then:
    """A laboratory that takes one sample out day after day, and puts it back."""
    at, sample = f"{DAY}T18:00:00-06:00", log.samples[0]
    taken = {"items": [{"sample": sample, "condition": ["intact"]}], "at": at}
    log.add(f"form/{log.form}", "received", taken, by=CUSTODIAN, said=HOUR)
    data = {"samples": [sample], "store": "FR-1", "at": at}
    for _ in range(count // 2):
        log.say_often(1, "stored", lambda _: {**data, "secured": "locked"}, by=CUSTODIAN)
        log.say_often(1, "withdrawn", lambda _: {**data, "purpose": "analysis"}, by=CUSTODIAN)
    return None


def _copies(log: LongLog, count: int) -> _Then:
    log.say_often(
        count, "copied", lambda each: {"of": "record", "version": each + 1, "entries": 4}, by=CUSTODIAN
    )
    return None


def _numbers(log: LongLog, count: int) -> _Then:
    """A lot issued one number at a time."""
    for _ in range(count):
        log.on_lot(
            "issued",
            samples=[log.number("sample")],
            to=INSPECTOR.kid,
            visit=DAY,
            said="2026-11-30T16:00:00-05:00",
        )
    return None


def _recalls(log: LongLog, count: int) -> _Then:
    for number in range(count):
        act, why = (("recalled", "storage"), ("released", "checked"))[number % 2]
        log.on_lot(act, by=(MEDIA_KEEPER, QUALITY)[number % 2], reason=why, said="2026-11-30T16:00:00-05:00")
    return None


def _settings(log: LongLog, count: int) -> _Then:
    """Equipment, training and calendars of one organization."""
    for number in range(count // 3):
        log.equipment(f"METER-{number % 7}")
        log.trained(INSPECTOR)
        log.calendar("carrier", "America/New_York", carrier=f"carrier-{number}")
    return None


def _without_effect(log: LongLog, count: int) -> _Then:
    """Statements of administration that change nothing."""
    for _ in range(count):
        log.enrolled(INSPECTOR)
    return None


def _earlier(log: LongLog, count: int) -> _Then:
    """Every statement names another tree head."""
    log.sees = True
    log.say_often(count, "held", lambda _: _held(log), by=INSPECTOR)
    return None


def _disclosures(log: LongLog, count: int) -> _Then:
    for number in range(count):
        log.add(
            f"form/{log.form}",
            "held",
            _held(log),
            by=INSPECTOR,
            said=HOUR,
            disclosed={f"note_{each}": f"invented {number}" for each in range(20)},
        )
    return None


def _contradictions(log: LongLog, count: int) -> _Then:
    pairs = []
    for _ in range(count):
        told = log.add(f"form/{log.form}", "held", _held(log), by=INSPECTOR, said=HOUR)
        first = log.log[-1].entry.stmt
        device = log.device(INSPECTOR)
        seq, prev = device.seq, signed_statement.read(first).claims.prev
        data = {**_held(log), "where": "office"}
        other = log.signed(INSPECTOR, f"form/{log.form}", "held", data, said=HOUR, seq=seq, prev=prev)
        device.seq, device.prev = seq, signed_statement.digest(first)
        assert told
        pairs.append((first, other))
    return lambda made: replace(made, conflicts=tuple(sorted(pairs)))


def _forged(log: LongLog, count: int) -> _Then:
    """Every statement signed by a key that nobody enrolled."""
    stranger = seeded("nobody")
    for _ in range(count):
        log.append(
            f"form/{log.form}",
            log.signed(INSPECTOR, f"form/{log.form}", "held", _held(log), said=HOUR, key=stranger),
        )
    return None


def _altered(log: LongLog, count: int) -> _Then:
    """No proof of any entry fits."""
    log.say_often(count, "held", lambda _: _held(log), by=INSPECTOR)
    return lambda made: replace(
        made, entries=tuple(replace(each, proof=each.proof[::-1]) for each in made.entries)
    )


def _elsewhere(log: LongLog, count: int) -> _Then:
    """Every statement refers to another that is not here, and had seen an entry that is not here."""
    for number in range(count):
        named = (b64u(number.to_bytes(32, "big")),)
        text = log.signed(
            INSPECTOR, f"form/{log.form}", "held", _held(log), said=HOUR, refs=named, after=named[0]
        )
        log.append(f"form/{log.form}", text, rec=Moment.parse(HOUR))
    return None


def _organizations(log: LongLog, count: int) -> _Then:
    """The log speaks of many organizations that the file does not hold."""
    return lambda made: replace(
        made, ends=log.ends(*log.leaned_on(log.form), never=[f"org/somebody-{each}" for each in range(count)])
    )


def _tokens(log: LongLog, count: int) -> _Then:
    """Time stamps that nobody can read."""
    return lambda made: replace(made, tokens=(TimeStampToken(1, b"\x30\x80" * 20),) * count)


DIRECTIONS: Final[Mapping[str, Callable[[LongLog, int], _Then]]] = {
    "entries": _entries,
    "unnamed samples": _unnamed,
    "unnamed of many": _unnamed_of_many,
    "handled": _handled,
    "excepted again": _excepted_again,
    "samples": _samples,
    "devices": _devices,
    "hand-overs": _hand_overs,
    "lone halves": _lone_halves,
    "one envelope": _envelopes,
    "envelopes": _many_envelopes,
    "arrivals": _arrivals,
    "takings in": _takings_in,
    "corrections": _corrections,
    "exceptions": _exceptions,
    "decisions": _decisions,
    "affirmations": _affirmations,
    "witnesses": _witnesses,
    "air": _air,
    "surfaces": _surfaces,
    "changes": _changes,
    "requests": _requests,
    "stores": _stores,
    "copies": _copies,
    "issued numbers": _numbers,
    "recalls": _recalls,
    "settings": _settings,
    "without effect": _without_effect,
    "earlier heads": _earlier,
    "disclosures": _disclosures,
    "contradictions": _contradictions,
    "forged": _forged,
    "altered": _altered,
    "elsewhere": _elsewhere,
    "organizations": _organizations,
    "time stamps": _tokens,
}
"""By name: what makes a file long, and what is done to it afterwards."""
