"""Single facts in questions: read by the very functions that read them in statements, and described for
OpenAPI.
"""

from __future__ import annotations

import builtins
import inspect
import re
import types
import typing
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Annotated, Any, Final, get_args, get_origin

from pydantic import PlainValidator, WithJsonSchema

from bailee.domain import facts, fields
from bailee.domain.moments import Moment
from bailee.errors import BaileeError


def _read(kind: Any) -> PlainValidator:
    return PlainValidator(_collected(facts.reader(kind)))


def _collected(read: facts.Reader) -> Callable[[Any], Any]:
    """`read`, with its sentence where pydantic collects the faults of a body."""

    def told(value: Any) -> Any:
        try:
            return read(value)
        except BaileeError as error:
            raise ValueError(error.sentence) from error

    return told


def _text(**more: Any) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", **more})


Tag = Annotated[str, _read(fields.Tag), _text(pattern=f"^{fields.TAG}$")]
Zone = Annotated[str, _read(fields.Zone), _text()]
At = Annotated[Moment, _read(fields.At), _text(format="date-time")]


def described(kind: type[facts.Facts], *, is_draft: bool = False) -> dict[str, Any]:
    """Facts as a JSON schema, from their class alone: members, which must stand there, and what kind of thing
    each is.

    What a text must look like is said by the fault when it does not.
    """
    needed = [
        member.key
        for name, member in facts.members(kind).items()
        if kind.defaults[name] is None and not (is_draft and name in kind.later)
    ]
    return {
        "type": "object",
        "title": kind.__name__,
        "description": unwrapped(inspect.getdoc(kind) or "").partition("\n")[0],
        "properties": {member.key: _schema(member.kind) for member in facts.members(kind).values()},
        "required": needed,
        "additionalProperties": False,
    }


def unwrapped(document: str) -> str:
    """A docstring as it is read elsewhere: one line a paragraph, lines that are set in stay as they are."""
    return re.sub(r"(?<=\S)\n(?=[^\s*-])", " ", document)


def _schema(kind: Any) -> dict[str, Any]:
    origin, inside = get_origin(kind), get_args(kind)
    match origin:
        case typing.Annotated:
            found = _schema(inside[0])
        case typing.Literal:
            found = {"enum": list(inside)}
        case typing.Union | types.UnionType:
            found = {"anyOf": [_schema(each) for each in inside]}
        case builtins.list:
            found = {"type": "array", "items": _schema(inside[0])}
        case builtins.dict:
            found = {"type": "object", "additionalProperties": _schema(inside[1])}
        case _ if isinstance(kind, type) and issubclass(kind, facts.Facts):
            found = described(kind)
        case _:
            found = {"type": _TYPES[kind]} if kind in _TYPES else {}
    return found


_TYPES: Final[dict[Any, str]] = {
    bool: "boolean",
    int: "integer",
    str: "string",
    types.NoneType: "null",
    Moment: "string",
    Decimal: "string",
    date: "string",
}
