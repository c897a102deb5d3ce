"""Corrections: the old value stays in the log, the new one is what the fold reads.

A correction is followed when it comes from somebody who may make it, names a value that really stands there, and leaves a
well-formed act. Otherwise it is kept and reported as not followed; nothing is ever re-dated or lost.

Who may (49 CFR 40.205, by analogy: whoever left it out supplies it; the rest is common practice, no source):

- nobody of another organisation than the one that made the statement;
- what was read and seen at the run of a cassette only whoever took it, or the quality or admin role of that organisation;
- a decision only a role that may decide;
- everything else anybody of that organisation whose role corrects at all; rule CU-16 tells when it was a colleague.

A role is that of the enrolment, which never changes, so the same entries have the same meaning for ever.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType
from typing import Final

from bailee.domain import correctable, statements
from bailee.domain.form_acts import Corrected
from bailee.domain.organisations import MAY
from bailee.domain.statements import Recorded
from bailee.errors import BadStatement
from bailee.frozen import frozen

SEEN: Final[frozenset[str]] = frozenset(
    {
        "kind", "started", "stopped", "run_s", "pump_stop", "short_run", "flow_before", "flow_after", "flow_corrected", "volume_l",
        "pump", "meter", "temperature_c", "pressure_hpa", "covers_on", "room", "point", "unit", "space", "area", "near", "near_m",
        "height_m", "distance_m", "gps_distance_m", "weather", "dust", "aggressive",
    }
)  # fmt: skip
"""Facts of `collected` that only the one at the pump read or saw: flow, times, place. Lot, label and serial can be read off later."""

VOUCHING: Final[frozenset[str]] = frozenset({"quality", "admin"})
"""Roles that may correct what somebody else of their organisation saw (common practice, no source)."""

_DECISIONS: Final = frozenset({"accepted", "on_hold", "rejected"})
_NOBODY: Final[Mapping[str, str]] = MappingProxyType({})


@frozen
class Correction:
    """One correction and what became of it; `why_not` is empty when it was followed."""

    entry: Recorded
    body: Corrected
    target: Recorded | None
    why_not: str


@frozen
class Signer:
    """Whoever corrects. `role` is empty when nobody knows it; `made_it`: the statement to correct is this person's own."""

    org: str
    role: str
    made_it: bool


def effective(
    entries: Sequence[Recorded],
    owners: Mapping[str, str] = _NOBODY,
    roles: Mapping[str, str] = _NOBODY,
) -> tuple[list[Recorded], list[Correction]]:
    """`entries` with followed corrections applied to data and body, and every correction in order.

    `owners`: by key, the first key of the same person. `roles`: by key, the role it was enrolled in.
    """
    current = {entry.digest: entry for entry in entries}
    found: list[Correction] = []
    for entry in entries:
        if isinstance(entry.body, Corrected):
            target = current.get(entry.body.statement)
            made_it = target is not None and owners.get(entry.kid, entry.kid) == owners.get(
                target.kid, target.kid
            )
            signer = Signer(entry.org, roles.get(entry.kid, ""), made_it)
            corrected, why_not = _follow(signer, entry.body, target)
            found.append(Correction(entry, entry.body, target, why_not))
            if corrected is not None:
                current[corrected.digest] = corrected
    return [current[entry.digest] for entry in entries], found


def why_not(act: str, org: str, field: str, by: Signer) -> str:
    """Why somebody may not correct this fact of an act that `org` stated, in words that say who may; empty when they may."""
    if by.org != org:
        return f"only the organisation that made a statement may correct it, which is {org}"
    if act in correctable.NEVER or by.made_it:
        return correctable.NEVER.get(act, "")
    if by.role and by.role not in MAY["corrected"]:
        return f"a {by.role.replace('_', ' ')} key corrects nothing; {who(act, org, field)} may"
    return _why_not_a_colleague(act, org, field, by)


def _why_not_a_colleague(act: str, org: str, field: str, by: Signer) -> str:
    if _is_seen(act, field) and by.role not in VOUCHING:
        return f"only whoever took the sample saw that; besides, {_roles(VOUCHING)} of {org} may correct it"
    if act in _DECISIONS and by.role not in MAY[act]:
        return f"only {who(act, org, field)} may correct that decision"
    return ""


def who(act: str, org: str, field: str, person: str = "whoever said it") -> str:
    """Who may correct this fact of an act that `person` of `org` stated, in words."""
    if _is_seen(act, field):
        return f"{person}, or {_roles(VOUCHING)} of {org}"
    if act in _DECISIONS:
        return f"{person}, or {_roles(MAY[act])} of {org}"
    return f"anybody of {org}"


def _follow(by: Signer, body: Corrected, target: Recorded | None) -> tuple[Recorded | None, str]:
    if target is None:
        return None, "it names a statement that is not on this form"
    if refused := why_not(target.act, target.org, body.field, by):
        return None, refused
    if correctable.value(target.data, body.field) != body.old:
        return None, f"the statement does not say {body.old!r} at {body.field}"
    if not correctable.has(target.act, body.field):
        return None, f"a statement of this act ({target.act.replace('_', ' ')}) has no {body.field}"
    data = correctable.with_value(target.data, body.field, body.new)
    try:
        return replace(target, data=data, body=statements.parse(target.chain, target.act, data)), ""
    except BadStatement as error:
        return None, error.sentence


def _is_seen(act: str, field: str) -> bool:
    return act == "collected" and field.partition(".")[0] in SEEN


def _roles(roles: frozenset[str]) -> str:
    return f"the {' or '.join(sorted(roles))} role"
