"""Corrections: the old value stays in the log, the new one is what the fold reads.

A correction is followed when it comes from the organisation that made the statement, names a value that really stands
there, and leaves a well-formed act. Otherwise it is kept and reported as not followed; nothing is ever re-dated or lost.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from bailee.domain import statements
from bailee.domain.form_acts import Corrected
from bailee.domain.statements import Recorded
from bailee.errors import BadStatement

_MISSING: Final = object()


@dataclass(frozen=True, slots=True)
class Correction:
    """One correction and what became of it; `why_not` is empty when it was followed."""

    entry: Recorded
    body: Corrected
    target: Recorded | None
    why_not: str


def effective(entries: Sequence[Recorded]) -> tuple[list[Recorded], list[Correction]]:
    """`entries` with followed corrections applied to data and body, and every correction in order."""
    current = {entry.digest: entry for entry in entries}
    found: list[Correction] = []
    for entry in entries:
        if isinstance(entry.body, Corrected):
            target = current.get(entry.body.statement)
            corrected, why_not = _follow(entry, entry.body, target)
            found.append(Correction(entry, entry.body, target, why_not))
            if corrected is not None:
                current[corrected.digest] = corrected
    return [current[entry.digest] for entry in entries], found


def _follow(entry: Recorded, body: Corrected, target: Recorded | None) -> tuple[Recorded | None, str]:
    if target is None:
        return None, "it names a statement that is not on this form"
    if target.org != entry.org:
        return None, "only the organisation that made a statement may correct it"
    if isinstance(target.body, Corrected):
        return None, "a correction is not corrected: correct the first statement again"
    if _value(target.data, body.field) != body.old:
        return None, f"the statement does not say {body.old!r} at {body.field}"
    data = _with(target.data, body.field, body.new)
    try:
        return replace(target, data=data, body=statements.parse(target.chain, target.act, data)), ""
    except BadStatement as error:
        return None, error.sentence


def _value(data: Mapping[str, Any], path: str) -> Any:
    value: Any = data
    for step in path.split("."):
        value = value.get(step, _MISSING) if isinstance(value, Mapping) else _MISSING
    return None if value is _MISSING else value


def _with(data: Mapping[str, Any], path: str, new: Any) -> dict[str, Any]:
    changed: dict[str, Any] = copy.deepcopy(dict(data))
    place = changed
    *parents, last = path.split(".")
    for step in parents:
        inner = place.get(step)
        place[step] = inner if isinstance(inner, dict) else {}
        place = place[step]
    place[last] = new
    return changed
