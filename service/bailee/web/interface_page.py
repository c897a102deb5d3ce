"""The interface for people: what the OpenAPI document says, laid out for a template. It knows no route."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from bailee.frozen import frozen

_SCHEMAS: Final = "#/components/schemas/"
_RESPONSES: Final = "#/components/responses/"
_BOUNDS: Final = {
    "minimum": "at least {}",
    "maximum": "at most {}",
    "minLength": "{} or more characters",
    "maxLength": "at most {} characters",
    "minItems": "{} or more of them",
    "maxItems": "at most {} of them",
    "pattern": "written as {}",
    "format": "{}",
    "default": "otherwise {}",
}
"""What a schema says of a value beside its type, in words."""

Text = tuple[tuple[str, str], ...]
"""Words, each with the name of the schema it leads to; empty where it leads nowhere."""


@frozen
class MemberLine:
    """A parameter of a request, or a member of a schema. `place` is `path` or `query`, empty for a member."""

    name: str
    kind: Text
    is_required: bool
    says: str = ""
    place: str = ""


@frozen
class Content:
    """What a request or an answer holds: media type, shape, and examples as they are sent."""

    media: str
    kind: Text
    examples: tuple[str, ...] = ()


@frozen
class Answer:
    """One status of an operation. `problem` names its entry among the problems, empty where it is none."""

    status: str
    says: str
    contents: tuple[Content, ...]
    problem: str = ""


@frozen
class Described:
    """One operation. `who` says who may ask."""

    name: str
    method: str
    path: str
    summary: str
    says: tuple[str, ...]
    who: str
    parameters: tuple[MemberLine, ...]
    body: tuple[Content, ...]
    answers: tuple[Answer, ...]


@frozen
class Shape:
    """One schema: what it means, its members, or what it is where it has none."""

    name: str
    says: tuple[str, ...]
    members: tuple[MemberLine, ...]
    kind: Text
    examples: tuple[str, ...]


class Interface:
    """A whole document, read for people."""

    def __init__(self, document: Mapping[str, Any]) -> None:
        self._document = document
        self._parts: Mapping[str, Any] = document["components"]
        self.title = str(document["info"]["title"])
        self.version = str(document["info"]["version"])
        self.says = str(document["info"]["description"])
        self.ways_in = {
            name: str(each["description"]) for name, each in self._parts["securitySchemes"].items()
        }

    def groups(self) -> Iterator[tuple[str, str, list[Described]]]:
        """Each group of operations with what it is for, in the order of the document."""
        for tag in self._document["tags"]:
            yield tag["name"], tag["description"], [
                self._operation(method, path, item)
                for path, items in self._document["paths"].items()
                for method, item in items.items()
                if tag["name"] in item["tags"]
            ]  # fmt: skip

    def problems(self) -> list[Answer]:
        """Answers that several operations share."""
        return [self._answer(name[-3:], each) for name, each in self._parts["responses"].items()]

    def shapes(self) -> list[Shape]:
        """Every schema."""
        return [_shape(name, each) for name, each in self._parts["schemas"].items()]

    def _operation(self, method: str, path: str, item: Mapping[str, Any]) -> Described:
        ways = [self.ways_in[name] for each in item["security"] for name in each]
        return Described(
            item["operationId"],
            method.upper(),
            path,
            item["summary"],
            _paragraphs(item),
            " ".join(ways) or "No key needed.",
            tuple(_parameter(each) for each in item.get("parameters", ())),
            _contents(item.get("requestBody", {})),
            tuple(self._answer(status, each) for status, each in item["responses"].items()),
        )

    def _answer(self, status: str, said: Mapping[str, Any]) -> Answer:
        shared = str(said.get("$ref", "")).removeprefix(_RESPONSES)
        said = self._parts["responses"][shared] if shared else said
        return Answer(status, said["description"], _contents(said), shared)


def kind(schema: Mapping[str, Any]) -> Text:
    """What a value is: `whole number, at least 0`, `list of FormLine`, `text or nothing`."""
    bounds = [
        says.format(value if isinstance(value, str) else json.dumps(value))
        for name, says in _BOUNDS.items()
        if (value := schema.get(name)) is not None
    ]
    return (*_type(schema), *((f", {bound}", "") for bound in bounds))


def _type(schema: Mapping[str, Any]) -> Text:
    if "$ref" in schema:
        name = str(schema["$ref"]).removeprefix(_SCHEMAS)
        return ((name, name),)
    if "enum" in schema or "const" in schema:
        return ((" or ".join(json.dumps(each) for each in schema.get("enum", [schema.get("const")])), ""),)
    if "anyOf" in schema:
        return tuple(_joined([kind(each) for each in schema["anyOf"]]))
    inner = schema.get("items", schema.get("additionalProperties"))
    if isinstance(inner, Mapping):
        return (("list of " if "items" in schema else "by name: ", ""), *kind(inner))
    return ((_TYPES.get(schema.get("type", ""), "any JSON value"), ""),)


_TYPES: Final = {
    "string": "text",
    "integer": "whole number",
    "number": "number",
    "boolean": "true or false",
    "object": "object",
    "array": "list",
    "null": "null",
}


def _joined(kinds: Sequence[Text]) -> Iterator[tuple[str, str]]:
    for number, each in enumerate(kinds):
        if number:
            yield " or ", ""
        yield from each


def _shape(name: str, schema: Mapping[str, Any]) -> Shape:
    required = schema.get("required", ())
    members = tuple(
        MemberLine(each, kind(said), each in required, said.get("description", ""))
        for each, said in schema.get("properties", {}).items()
    )
    return Shape(name, _paragraphs(schema), members, () if members else kind(schema), _examples(schema))


def _parameter(said: Mapping[str, Any]) -> MemberLine:
    schema = said["schema"]
    return MemberLine(said["name"], kind(schema), said["required"], schema.get("description", ""), said["in"])


def _contents(said: Mapping[str, Any]) -> tuple[Content, ...]:
    return tuple(
        Content(media, kind(each["schema"]), _examples(each["schema"]))
        for media, each in said.get("content", {}).items()
    )


def _examples(schema: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(json.dumps(each, indent=2, ensure_ascii=False) for each in schema.get("examples", ()))


def _paragraphs(said: Mapping[str, Any]) -> tuple[str, ...]:
    """A description by paragraphs, each on one line."""
    return tuple(" ".join(part.split()) for part in said.get("description", "").split("\n\n") if part.strip())
