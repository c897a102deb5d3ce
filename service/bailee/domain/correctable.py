"""What of a statement may be corrected: the names of its facts, inner ones with a dot, and their values.

    weather.sky, preparation.windows_closed_h, flow_after

A list is one fact, and so is an object of texts by key; facts within a list have no names of their own.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from functools import cache
from typing import Any, Final, get_args, get_origin

from bailee.domain import statements
from bailee.domain.facts import Facts, Member, Reader, members

NEVER: Final[Mapping[str, str]] = {
    "corrected": "a correction is not corrected: correct the first statement again",
    "excepted": "an exception is not corrected: who allows something else signs another one",
    "affirmed": "an affirmation is not corrected: affirm the other statement",
    "witnessed": "what a witness said is not corrected: the witness says it again",
    "erased": "what was erased is not corrected",
    "retention_held": "a retention is not corrected: release it",
    "retention_released": "a release is not corrected: hold again",
}
"""Acts that say something of other statements. Their signer answers for what they name; nobody may turn it into something else."""

_MISSING: Final = object()
_LIKE: Final = 0.6
_MOST_LIKE: Final = 3


@cache
def names(act: str) -> tuple[str, ...]:
    """The facts an act on a form may hold, in the order of their declaration; an object with named members as its members."""
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
    return [act for act in statements.ACTS["form"] if act not in NEVER and meant(act, said)]


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
    for member in members(statements.ACTS["form"][act]).values():
        inner = _inner(member)
        found[member.key] = member.read
        if inner:
            found |= {f"{member.key}.{each.key}": each.read for each in members(inner).values()}
    return found


def _inner(member: Member) -> type[Facts] | None:
    """The kind of facts a member holds, if it holds one object of them."""
    kinds = (member.kind,) if get_origin(member.kind) in (None, list, dict) else get_args(member.kind)
    return next((kind for kind in kinds if isinstance(kind, type) and issubclass(kind, Facts)), None)
