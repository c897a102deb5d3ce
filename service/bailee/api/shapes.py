"""Single facts in questions: read by the very functions that read them in statements, and described for OpenAPI."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Annotated, Any

from pydantic import PlainValidator, WithJsonSchema

from bailee.domain import facts, fields
from bailee.domain.acts import form as form_acts
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


SampleNumber = Annotated[str, _read(fields.SampleNumber), _text()]
EnvelopeNumber = Annotated[str, _read(fields.EnvelopeNumber), _text()]
SealNumber = Annotated[str, _read(fields.SealNumber), _text()]
Tag = Annotated[str, _read(fields.Tag), _text(pattern=f"^{fields.TAG}$")]
Zone = Annotated[str, _read(fields.Zone), _text()]
At = Annotated[Moment, _read(fields.At), _text(format="date-time")]
Celsius = Annotated[Decimal, _read(fields.Celsius), _text(pattern=f"^{fields.DECIMAL}$")]
Photo = Annotated[
    form_acts.Photo,
    _read(form_acts.Photo),
    WithJsonSchema(
        {
            "type": "object",
            "description": "A picture kept elsewhere, bound by its digest: SHA-256, size in bytes, media type.",
            "properties": {
                "sha-256": {"type": "string", "pattern": f"^{fields.DIGEST}$"},
                "size": {"type": "integer", "minimum": 1},
                "type": {"type": "string", "pattern": f"^{form_acts.PICTURE}$"},
            },
            "required": ["sha-256", "size", "type"],
        }
    ),
]
