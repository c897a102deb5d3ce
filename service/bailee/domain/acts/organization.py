"""Who may speak, and by which rules: the acts on `org/<id>`."""

from __future__ import annotations

from dataclasses import field
from typing import Annotated, Literal

from bailee.domain.facts import Facts, Json, Reads, at_least, sized
from bailee.domain.fields import (
    At,
    Celsius,
    ClockTime,
    Day,
    Digest,
    Hectopascals,
    OrganizationId,
    Role,
    Tag,
)  # fmt: skip
from bailee.domain.policy import Policy


class Jwk(Facts):
    """Public Ed25519 key (RFC 8037 2)."""

    crv: Literal["Ed25519"]
    kty: Literal["OKP"]
    x: Digest


class Founded(Facts):
    """First statement of an organization, signed by its own root key, whose thumbprint outsiders pin."""

    name: Annotated[str, sized(1, 80)]
    jwk: Jwk
    recovery: Digest | None = None


class Enrolled(Facts):
    """A key may speak in a role. `proof` shows that its owner holds it. Private: person, device.

    `same_as` names another key of the same person, whose name it takes over: what one of them holds, the
    other may give.
    """

    kid: Digest
    jwk: Jwk
    role: Role
    proof: Annotated[str, sized(0, 1024)]
    identity_check: Literal["in_person", "video", "document", "known"] | None = None
    same_as: Digest | None = None


class Revoked(Facts):
    """A key may speak no longer; what it said up to `last_good_seq` stands. Private: note."""

    kid: Digest
    reason: Literal["lost", "stolen", "left", "replaced", "doubt"]
    since: At
    last_good_seq: Annotated[int, at_least(0)]


class Rotated(Facts):
    """Signed by the old key: from now on `kid` speaks in its place and role.

    What the old key said up to its counter `last_seq` stands, however late it arrives; nothing beyond it
    does. Private: device.
    """

    kid: Digest
    jwk: Jwk
    proof: Annotated[str, sized(0, 1024)]
    last_seq: Annotated[int, at_least(0)]


class Lost(Facts):
    """A root key that is gone, and its last counter that is certainly its owner's."""

    kid: Digest
    last_good_seq: Annotated[int, at_least(0)]


class Recovered(Facts):
    """Signed by the recovery key that `founded` names, which brings itself as `recovery_jwk`: every root key
    is lost, `kid` is the new one.

    It ends all root keys: those in `lost` after their count, the others at once. `recovery` names the next
    recovery key; null keeps this one. Private: person, device.
    """

    recovery_jwk: Jwk
    kid: Digest
    jwk: Jwk
    proof: Annotated[str, sized(0, 1024)]
    since: At
    lost: Annotated[list[Lost], sized(0, 50)] = field(default_factory=list)
    recovery: Digest | None = None


class Endorsed(Facts):
    """We know the organization `org` by the root key `root`.

    Whoever trusts us may weigh it; it makes nobody's key stand.
    """

    org: OrganizationId
    root: Digest


class PolicySet(Facts):
    """Thresholds of this organization from now on; those left out have the default of the edition named."""

    policy: Annotated[Policy, Reads(Policy.from_data)]


class CalendarSet(Facts):
    """Opening hours and closed days from now on, in the shape of `calendars.Calendar.from_data`.

    Of a carrier also its name, and by when it takes and brings envelopes: `cutoff` at the origin, `delivery`
    at the dock.
    """

    which: Literal["lab", "office", "carrier"]
    carrier: Tag | None = None
    cutoff: ClockTime | None = None
    delivery: ClockTime | None = None
    calendar: dict[str, Json]


class EquipmentSet(Facts):
    """A pump or flow meter of this organization, by the number it bears, and its newest certificate.

    `calibrated_c`, `calibrated_hpa`: temperature and pressure at which a meter reads true.
    """

    kind: Literal["pump", "meter"]
    id: Tag
    certified: Day | None = None
    valid_to: Day | None = None
    calibrated_c: Celsius | None = None
    calibrated_hpa: Hectopascals | None = None


class Trained(Facts):
    """The person of this key was trained to sample on that day; `valid_to` is the last day it counts.

    Private: note.
    """

    kid: Digest
    on: Day
    valid_to: Day | None = None


class LicensingSet(Facts):
    """Jurisdictions in which a sampler needs a license, as this organization knows them from now on."""

    jurisdictions: Annotated[list[Tag], sized(0, 500)]
