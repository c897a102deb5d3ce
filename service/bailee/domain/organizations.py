"""What an organization's chain means: its keys and their roles, its policy, its calendars.

Rules of the fold:
1. `founded` comes first and makes its own key `root`.
2. Only a key that stands, in a role whose act it is, is heard; only a root key may enroll or revoke a root
   key, so that a stolen administrator's phone cannot lock the owners out. What another key says here, and a
   policy or calendar that cannot be used, is kept in `ignored` and changes nothing.
3. A key stands from the entry that enrolls it to the entry that revokes it, or by which it hands its role to
   its successor. Nothing is ever removed. What is in doubt then, `authorization.doubt` says.
4. `recovered` is heard from the recovery key alone, which has no other voice. It ends every root key and
   makes a new one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, time

from bailee.domain.acts.organization import (
    CalendarSet,
    Endorsed,
    Enrolled,
    EquipmentSet,
    Founded,
    LicensingSet,
    PolicySet,
    Recovered,
    Revoked,
    Rotated,
    Trained,
)
from bailee.domain.acts.privacy import Erased
from bailee.domain.acts.table import ROWS
from bailee.domain.facts import Facts
from bailee.domain.fields import Role, a_role
from bailee.domain.opening_hours.calendars import Calendar
from bailee.domain.policy import Policy
from bailee.domain.statements import Recorded
from bailee.errors import Malformed
from bailee.frozen import field, frozen


@frozen
class Revocation:
    """The entry that ended a key: when the ledger heard of it, since when in the owner's words, the last good
    counter.

    `successor` names the key to which it handed its role, when it did so itself; then nobody else ever had
    it.
    """

    n: int
    rec: datetime
    since: str
    last_good_seq: int
    reason: str
    successor: str | None = None


@frozen
class Key:
    """One device key of one person. `person` and `device` are private fields, empty when erased or withheld.

    `owner` is the first key of the same person: a name for whoever holds several, in turn or at once.
    """

    kid: str
    x: str
    role: Role
    enrolled_n: int
    identity_check: str | None
    person: str = ""
    device: str = ""
    revocation: Revocation | None = None
    owner: str = ""


@frozen
class Organization:
    """The state of `org/<id>` after some entry.

    `root` is the key it was founded with, `recovery` the key that may make another; `endorsed` are root keys
    of other organizations, by their id. `calendars` by "lab", "office" or "carrier/<name>"; `carrier_times`
    by the latter: cut-off and delivery time. `hours_rec` is when the ledger heard of each calendar.
    `equipment` by kind and number, `training` by key: all that was said, newest last. `licensing` is None
    until it was ever set.
    """

    id: str
    name: str
    root: str
    keys: Mapping[str, Key]
    policy: Policy = field(default_factory=Policy.of)
    policy_n: int = 0
    calendars: Mapping[str, Calendar] = field(default_factory=dict)
    carrier_times: Mapping[str, tuple[time | None, time | None]] = field(default_factory=dict)
    hours_rec: Mapping[str, datetime] = field(default_factory=dict)
    equipment: Mapping[tuple[str, str], tuple[EquipmentSet, ...]] = field(default_factory=dict)
    training: Mapping[str, tuple[Trained, ...]] = field(default_factory=dict)
    licensing: frozenset[str] | None = None
    length: int = 0
    ignored: tuple[int, ...] = ()
    recovery: str | None = None
    endorsed: Mapping[str, str] = field(default_factory=dict)

    @property
    def receives(self) -> bool:
        """Whether it is set up to take samples in, as a laboratory is: it has said when its dock is open, or
        has people for it.

        Then the thresholds it states are limits for those who send.
        """
        at_the_dock = any(key.role in ("custodian", "analyst") for key in self.keys.values())
        return at_the_dock or "lab" in self.calendars

    @property
    def owners(self) -> Mapping[str, str]:
        """By key: the first key of the same person."""
        return {kid: key.owner or kid for kid, key in self.keys.items()}

    @property
    def roles(self) -> Mapping[str, Role]:
        """By key: the role it was enrolled in."""
        return {kid: key.role for kid, key in self.keys.items()}

    def _owner(self, kid: str) -> str:
        return self.keys[kid].owner or kid

    def person(self, kid: str) -> str:
        """Printed name of a signer, or the start of the key's name when that is not disclosed."""
        key = self.keys.get(kid)
        return key.person if key and key.person else f"key {kid[:8]}"

    def day_at(self, instant: datetime) -> date:
        """The day it is at its office then; without office hours, in universal time."""
        office = self.calendars.get("office")
        return office.local_date(instant) if office else instant.astimezone(UTC).date()

    def certificate(self, kind: str, number: str, on: date) -> EquipmentSet | None:
        """What counted on a day for a pump or meter: the newest word about it whose certificate is not dated
        later.
        """
        said = self.equipment.get((kind, number), ())
        return next((each for each in reversed(said) if each.certified is None or each.certified <= on), None)

    def trained(self, kid: str, on: date) -> Trained | None:
        """The newest training of a person that was not after that day, whichever of the person's keys it was
        said of.
        """
        said = [
            each
            for one, told in self.training.items()
            if kid in self.keys and self._owner(one) == self._owner(kid)
            for each in told
        ]
        return max((each for each in reversed(said) if each.on <= on), key=lambda each: each.on, default=None)


def fold(entries: Iterable[Recorded]) -> Organization:
    """State after all `entries` (in order of `n`, the first being `founded`)."""
    stream = iter(entries)
    first = next(stream)
    founded = first.body
    assert isinstance(founded, Founded)
    root = Key(
        first.kid,
        founded.jwk.x,
        "root",
        first.n,
        "known",
        first.disclosed.get("person", ""),
        first.disclosed.get("device", ""),
    )
    state = Organization(
        first.chain.partition("/")[2],
        founded.name,
        first.kid,
        {first.kid: root},
        length=1,
        recovery=founded.recovery,
    )
    for entry in stream:
        state = apply(state, entry)
    return state


def apply(state: Organization, entry: Recorded) -> Organization:
    """State after one more entry."""
    state = replace(state, length=entry.n)
    try:
        body = entry.body
        said = _recovered(state, entry, body) if isinstance(body, Recovered) else _meaning(state, entry)
    except Malformed:
        said = None
    return said or replace(state, ignored=(*state.ignored, entry.n))


def _meaning(state: Organization, entry: Recorded) -> Organization | None:
    """The state after an entry that counts; None when it changes nothing."""
    signer = state.keys.get(entry.kid)
    if signer is None or signer.revocation or why_not(state, signer, entry.act, entry.body):
        return None
    match entry.body:
        case Enrolled() | Revoked() | Rotated():
            keys = _keys(state, entry, signer)
            return replace(state, keys={**state.keys, **keys}) if keys else None
        case Erased():
            return state  # the name is gone from whatever is read from now on
        case Endorsed() as body if body.org != state.id:
            return replace(state, endorsed={**state.endorsed, body.org: body.root})
        case _:
            return _setting(state, entry)


def _setting(state: Organization, entry: Recorded) -> Organization | None:
    """The state after somebody set something that is not a key."""
    match entry.body:
        case PolicySet() as body:
            return replace(state, policy=body.policy, policy_n=entry.n)
        case CalendarSet() as body:
            name = body.which if body.which != "carrier" else f"carrier/{body.carrier or ''}"
            return replace(
                state,
                calendars={**state.calendars, name: Calendar.from_data(body.calendar)},
                carrier_times={**state.carrier_times, name: (body.cutoff, body.delivery)},
                hours_rec={**state.hours_rec, name: entry.rec},
            )
        case EquipmentSet() as body:
            which = (body.kind, body.id)
            said = (*state.equipment.get(which, ()), body)
            return replace(state, equipment={**state.equipment, which: said})
        case Trained() as body if body.kid in state.keys:
            trained = (*state.training.get(body.kid, ()), body)
            return replace(state, training={**state.training, body.kid: trained})
        case LicensingSet() as body:
            return replace(state, licensing=frozenset(body.jurisdictions))
        case _:
            return None


def is_identity_check(state: Organization, body: Enrolled) -> bool:
    """Whether an enrollment of a known key only says how its owner was identified, which nobody had said
    before (SI-07).
    """
    known = state.keys.get(body.kid)
    unchecked = known is not None and known.identity_check is None and known.revocation is None
    return bool(unchecked and known and body.identity_check and body.role == known.role)


def _keys(state: Organization, entry: Recorded, signer: Key) -> dict[str, Key]:
    """The keys that begin or end with this entry, as they are afterwards."""
    match entry.body:
        case Enrolled() as body if body.kid not in state.keys:
            other = state.keys.get(body.same_as or "")
            key = Key(
                body.kid,
                body.jwk.x,
                body.role,
                entry.n,
                body.identity_check,
                entry.disclosed.get("person", other.person if other else ""),
                entry.disclosed.get("device", ""),
                owner=(other.owner or other.kid) if other else "",
            )
            return {key.kid: key}
        case Enrolled() as body if is_identity_check(state, body):
            return {body.kid: replace(state.keys[body.kid], identity_check=body.identity_check)}
        case Revoked() as body if (ending := state.keys.get(body.kid)) and not ending.revocation:
            ended = Revocation(entry.n, entry.rec, body.since.text(), body.last_good_seq, body.reason)
            return {ending.kid: replace(ending, revocation=ended)}
        case Rotated() as body if body.kid not in state.keys:
            ended = Revocation(entry.n, entry.rec, entry.at.text(), body.last_seq, "replaced", body.kid)
            new = Key(
                body.kid, body.jwk.x, signer.role, entry.n, signer.identity_check, signer.person,
                entry.disclosed.get("device", signer.device), owner=signer.owner or signer.kid,
            )  # fmt: skip
            return {signer.kid: replace(signer, revocation=ended), new.kid: new}
        case _:
            return {}


def _recovered(state: Organization, entry: Recorded, body: Recovered) -> Organization | None:
    if entry.kid != state.recovery or body.kid in state.keys:
        return None
    good = {each.kid: each.last_good_seq for each in body.lost}
    keys = {
        kid: (
            replace(
                key, revocation=Revocation(entry.n, entry.rec, body.since.text(), good.get(kid, 0), "lost")
            )
            if key.role == "root" and not key.revocation
            else key
        )
        for kid, key in state.keys.items()
    }
    keys[body.kid] = Key(
        body.kid, body.jwk.x, "root", entry.n, "known",
        entry.disclosed.get("person", ""), entry.disclosed.get("device", ""),
    )  # fmt: skip
    return replace(state, keys=keys, recovery=body.recovery or state.recovery)


def why_not(state: Organization, key: Key, act: str, body: Facts) -> str:
    """Why this key's role may not say this, in a sentence; empty when it may. Any key may revoke itself."""
    target = state.keys.get(body.kid) if isinstance(body, Revoked) else None
    if target is not None and target.kid == key.kid:
        return ""
    row = ROWS[act]
    if key.role not in row.may:
        may = ", ".join(sorted(role.replace("_", " ") for role in row.may))
        return f"{a_role(key.role).capitalize()} may not sign {row.words}; these may: {may}."
    role = body.role if isinstance(body, Enrolled) else target.role if target else None
    if role == "root" and key.role != "root":
        return "Only a root key may enroll or revoke a root key."
    return ""
