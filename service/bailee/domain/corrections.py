"""Corrections: the old value stays in the log, the new one is what the fold reads.

A correction is followed when it comes from somebody who may make it, names a value that really stands there,
and leaves a well-formed act. Otherwise it is kept and reported as not followed; nothing is ever re-dated or
lost.

Who may (49 CFR 40.205, by analogy: whoever left it out supplies it; the rest is common practice, no source):

- nobody of another organization than the one that made the statement;
- what was read and seen at the run of a cassette only whoever took it, or the quality or admin role of that
  organization;
- a decision only a role that may decide;
- everything else anybody of that organization whose role corrects at all; rule CU-16 tells when it was a
  colleague.

A role is that of the enrollment, which never changes, so the same entries have the same meaning for ever.

What of a statement may be corrected: the names of its facts, inner ones with a dot, and their values.

    weather.sky, preparation.windows_closed_h, flow_after

A list is one fact, and so is an object of texts by key; facts within a list have no names of their own.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cache
from types import MappingProxyType
from typing import Any, Final, get_args, get_origin

from bailee.domain import statements
from bailee.domain.acts.form import Corrected
from bailee.domain.acts.table import ON_CHAIN, ROWS, name_of
from bailee.domain.facts import Facts, Member, Reader, members
from bailee.domain.fields import a_role
from bailee.domain.moments import Moment
from bailee.domain.statements import Recorded
from bailee.errors import BadMoment, BadStatement
from bailee.frozen import frozen

_MISSING: Final = object()
_TIME: Final = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?[+-]\d\d:\d\d")
"""What may be a time as statements have it."""
_LIKE: Final = 0.6
_MOST_LIKE: Final = 3


@cache
def names(act: str) -> tuple[str, ...]:
    """The facts an act on a form may hold, in the order of their declaration.

    An object with named members as its members.
    """
    known = _readers(act)
    return tuple(name for name in known if not any(other.startswith(f"{name}.") for other in known))


def has(act: str, field: str) -> bool:
    """Whether an act has a fact of this full name, or an object of it."""
    return field in _readers(act)


def meant(act: str, said: str) -> list[str]:
    """The facts a name may mean: that of the full name, else those whose last part it is."""
    return [said] if has(act, said) else [name for name in names(act) if name.rpartition(".")[2] == said]


def acts_with(said: str) -> list[str]:
    """The acts on a form that have a fact which this name may mean, and may be corrected."""
    return [act for act, row in ON_CHAIN["form"].items() if not row.fixed and meant(act, said)]


def nearest(act: str, said: str) -> list[str]:
    """The facts of an act whose names look like this one, the likest first."""
    last = {name.rpartition(".")[2]: name for name in reversed(names(act))}
    within = [name for name in names(act) if said in name]
    import difflib

    full = difflib.get_close_matches(said, names(act), _MOST_LIKE, _LIKE)
    inner = difflib.get_close_matches(said.rpartition(".")[2], last, _MOST_LIKE, _LIKE)
    return list(dict.fromkeys([*within, *full, *(last[each] for each in inner)]))[:_MOST_LIKE]


def reader(act: str, field: str) -> Reader:
    """How a value at a full name is read; the function raises a `BaileeError` that says what to write."""
    return _readers(act)[field]


def value(data: Mapping[str, Any], field: str) -> Any:
    """What stands at a name; None when nothing does."""
    found: Any = data
    for step in field.split("."):
        found = found.get(step, _MISSING) if isinstance(found, Mapping) else _MISSING
    return None if found is _MISSING else found


def with_value(data: Mapping[str, Any], field: str, new: Any) -> dict[str, Any]:
    """A copy of the data with another value at a name; the other members of an object stay."""
    changed: dict[str, Any] = copy.deepcopy(dict(data))
    place = changed
    *parents, last = field.split(".")
    for step in parents:
        inner = place.get(step)
        place[step] = inner if isinstance(inner, dict) else {}
        place = place[step]
    place[last] = new
    return changed


@cache
def _readers(act: str) -> Mapping[str, Reader]:
    found: dict[str, Reader] = {}
    for member in members(ROWS[act].facts).values():
        inner = _inner(member)
        found[member.key] = member.read
        if inner:
            found |= {f"{member.key}.{each.key}": each.read for each in members(inner).values()}
    return found


def _inner(member: Member) -> type[Facts] | None:
    """The kind of facts a member holds, if it holds one object of them."""
    kinds = (member.kind,) if get_origin(member.kind) in (None, list, dict) else get_args(member.kind)
    return next((kind for kind in kinds if isinstance(kind, type) and issubclass(kind, Facts)), None)


VOUCHING: Final[frozenset[str]] = frozenset({"quality", "admin"})
"""Roles that may correct what somebody else of their organization saw (common practice, no source)."""

_NOBODY: Final[Mapping[str, str]] = MappingProxyType({})


@frozen
class Correction:
    """One correction and what became of it; `why_not` is empty when it was followed."""

    entry: Recorded
    body: Corrected
    target: Recorded | None
    why_not: str


@frozen
class Corrector:
    """Whoever corrects.

    `role` is empty when nobody knows it; `made_it`: the statement to correct is this person's own.
    """

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
            signer = Corrector(entry.org, roles.get(entry.kid, ""), made_it)
            corrected, why_not = _follow(signer, entry.body, target)
            found.append(Correction(entry, entry.body, target, why_not))
            if corrected is not None:
                current[corrected.digest] = corrected
    return [current[entry.digest] for entry in entries], found


def why_not(act: str, org: str, field: str, by: Corrector) -> str:
    """Why somebody may not correct this fact of an act that `org` stated, in words that say who may.

    Empty when they may.
    """
    if field == "edition":
        return "the edition of the rule book was set when the form was opened"
    if by.org != org:
        return f"only the organization that signed an entry may correct it, which is {org}"
    row = ROWS[act]
    if row.fixed or by.made_it:
        return row.fixed
    if by.role and by.role not in ROWS[name_of(Corrected)].may:
        return f"{a_role(by.role)} key corrects nothing; {who(act, org, field)} may"
    return _why_not_a_colleague(act, org, field, by)


def _why_not_a_colleague(act: str, org: str, field: str, by: Corrector) -> str:
    if _is_seen(act, field) and by.role not in VOUCHING:
        return (
            f"only the inspector who collected the sample saw that; besides, {_roles(VOUCHING)} of {org} may"
            " correct it"
        )
    if ROWS[act].is_decision and by.role not in ROWS[act].may:
        return f"only {who(act, org, field)} may correct that decision"
    return ""


def who(act: str, org: str, field: str, person: str = "its signer") -> str:
    """Who may correct this fact of an act that `person` of `org` stated, in words."""
    if _is_seen(act, field):
        return f"{person}, or {_roles(VOUCHING)} of {org}"
    if ROWS[act].is_decision:
        return f"{person}, or {_roles(ROWS[act].may)} of {org}"
    return f"any person of {org}"


def in_words(value: Any) -> str:
    """A value of a statement as a sentence says it: `indoor`, `yes`, `none`, `sky: rain, mowing: no`; a time
    as every sentence shows it.
    """
    match value:
        case str() if _TIME.fullmatch(value):
            return _clock(value)
        case None:
            return "nothing"
        case bool():
            return "yes" if value else "no"
        case Mapping():
            return ", ".join(f"{_plain(name)}: {in_words(each)}" for name, each in value.items()) or "none"
        case [*items]:
            return ", ".join(map(in_words, items)) or "none"
    return str(value) or "(empty)"


def quoted(value: Any) -> str:
    """The same, with a text in quotation marks, so that a person sees where it begins and ends."""
    is_text = isinstance(value, str) and not _TIME.fullmatch(value)
    return f"'{value}'" if is_text else in_words(value)


def _clock(text: str) -> str:
    try:
        return Moment.parse(text).clock
    except BadMoment:  # of a correction that does not count: shown as it was signed
        return text


def _plain(name: str) -> str:
    return name.replace("_", " ")


def _follow(by: Corrector, body: Corrected, target: Recorded | None) -> tuple[Recorded | None, str]:
    if target is None:
        return None, "it is about an entry that is not on this form"
    if refused := why_not(target.act, target.org, body.field, by):
        return None, refused
    if value(target.data, body.field) != body.old:
        other = "has something" if body.old is None else f"does not have {quoted(body.old)}"
        return None, f"the entry {other} at {body.field}"
    if not has(target.act, body.field):
        return None, f"an entry of this act ({target.act.replace('_', ' ')}) has no {body.field}"
    data = with_value(target.data, body.field, body.new)
    try:
        return replace(target, data=data, body=statements.parse(target.chain, target.act, data)), ""
    except BadStatement as error:
        return None, error.sentence


def _is_seen(act: str, field: str) -> bool:
    return field.partition(".")[0] in ROWS[act].seen


def _roles(roles: frozenset[str]) -> str:
    return f"the {' or '.join(sorted(roles))} role"
