"""One decorator that makes a view: it reads body and query through pydantic, answers JSON, and knows its own
OpenAPI.

The body is validated from the raw bytes, never through a lenient JSON reader. `openapi` builds the OpenAPI
3.1 document from the routes themselves, so the two cannot drift.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable, Mapping
from http import HTTPStatus
from typing import Any, Final

from flask import Flask, Response, request
from pydantic import BaseModel, ConfigDict
from pydantic.json_schema import models_json_schema
from werkzeug.exceptions import UnsupportedMediaType
from werkzeug.routing import IntegerConverter, Map

from bailee.api import asking, problems
from bailee.api.problems import Problem
from bailee.api.shapes import unwrapped
from bailee.domain import numbers
from bailee.frozen import field, frozen

JSON: Final = "application/json"
_REF: Final = "#/components/schemas/{model}"


GROUPS: Final = {
    "write": "The only way in: statements that a device has signed.",
    "questions": "What would happen, asked before anything is signed. Nothing is written.",
    "custody": "What is on record of forms, samples, envelopes, lots and organizations.",
    "log": "What the log shows of itself for verifying or copying it, and whether the service is well.",
    "paper": "Papers, labels and files to take away.",
}
"""The groups of operations, in the order of the document."""

LARGEST: Final = 2**53
"""The largest whole number in any path, query or body: what every reader of JSON keeps exactly, and every
database takes."""


class WholeNumberConverter(IntegerConverter):
    """A whole number in a path, `<int:name>`: ASCII digits, at most `LARGEST`.

    Anything else is no address of this service.
    """

    regex = "[0-9]{1,16}"

    def __init__(self, known: Map) -> None:
        super().__init__(known, max=LARGEST)


class Asked(BaseModel):
    """Base of request bodies: strict, no unknown members."""

    model_config = ConfigDict(strict=True, extra="forbid")


class Query(BaseModel):
    """Base of query strings: text is turned into numbers and booleans; no unknown names."""

    model_config = ConfigDict(extra="forbid")


@frozen
class Operation:
    """What one view takes and gives.

    `answers` maps a status to a model, or to a media type for other content.
    """

    view: Callable[..., Any]
    summary: str
    tag: str
    answers: Mapping[int, type[BaseModel] | str]
    body: type[BaseModel] | None = None
    query: type[BaseModel] | None = None
    errors: tuple[int, ...] = ()
    public: bool = False
    path: Mapping[str, dict[str, Any]] = field(default_factory=dict)


def operation(
    summary: str,
    *,
    tag: str,
    answers: Mapping[int, type[BaseModel] | str],
    body: type[BaseModel] | None = None,
    query: type[BaseModel] | None = None,
    errors: tuple[int, ...] = (),
    public: bool = False,
) -> Callable[[Callable[..., Any]], Callable[..., Response]]:
    """Make a view. It is called with path arguments, and `body`, `query`, `asker` when it has them."""

    def decorate(view: Callable[..., Any]) -> Callable[..., Response]:
        operation = Operation(view, summary, tag, answers, body, query, errors, public)

        def answer(**arguments: Any) -> Response:
            if not public:
                arguments["asker"] = asking.asker()
            if query is not None:
                arguments["query"] = query.model_validate(request.args.to_dict())
            if body is not None:
                if request.mimetype != JSON:
                    raise UnsupportedMediaType
                arguments["body"] = body.model_validate_json(request.get_data(cache=False))
            return _response(view(**arguments), next(iter(answers)))

        answer.__name__, answer.__doc__ = view.__name__, view.__doc__
        answer.operation = operation  # type: ignore[attr-defined]
        return answer

    return decorate


def _response(out: Any, status: int) -> Response:
    if isinstance(out, tuple):
        out, status = out
    if isinstance(out, BaseModel):
        return Response(out.model_dump_json(), status, content_type=JSON)
    assert isinstance(out, Response)
    return out


def openapi(app: Flask, version: str) -> dict[str, Any]:
    """The OpenAPI 3.1 document of all operations of `app`."""
    found = [
        (rule, made)
        for rule in app.url_map.iter_rules()
        if (made := getattr(app.view_functions[rule.endpoint], "operation", None))
    ]
    models: list[tuple[type[BaseModel], Any]] = [(Problem, "serialization")]
    for _, each in found:
        models += [(each.body, "validation")] if each.body else []
        models += [(model, "serialization") for model in each.answers.values() if not isinstance(model, str)]
    refs, schemas = models_json_schema(list(dict.fromkeys(models)), ref_template=_REF)
    for schema in schemas["$defs"].values():
        if "description" in schema:
            schema["description"] = unwrapped(schema["description"])
    paths: dict[str, dict[str, Any]] = {}
    for rule, each in sorted(found, key=lambda pair: pair[0].rule):
        path = re.sub(r"<(?:[^:<>]+:)?([^<>]+)>", r"{\1}", rule.rule)
        for method in sorted((rule.methods or set()) - {"HEAD", "OPTIONS"}):
            paths.setdefault(path, {})[method.lower()] = _item(rule, each, refs)
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Bailee",
            "version": version,
            "description": (
                "A custody ledger for air samples. Statements are signed on devices and registered by POST"
                " /entries; everything else is a question."
            ),
            "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
        },
        "tags": [{"name": name, "description": says} for name, says in GROUPS.items()],
        "paths": paths,
        "components": {
            "schemas": schemas["$defs"],
            "responses": {_problem(status): _shared(status, refs) for status in _problems(paths)},
            "securitySchemes": {
                "device": {
                    "type": "http",
                    "scheme": "bearer",
                    "bearerFormat": "custody-access+jwt",
                    "description": "A token of five minutes, signed by an enrolled key (/guide/formats, 14).",
                }
            },
        },
    }


def _item(rule: Any, each: Operation, refs: Mapping[Any, dict[str, Any]]) -> dict[str, Any]:
    responses: dict[str, Any] = {}
    for status, answer in each.answers.items():
        content = (
            {answer: {"schema": _raw(answer)}}
            if isinstance(answer, str)
            else {JSON: {"schema": refs[answer, "serialization"]}}
        )
        responses[str(status)] = {"description": HTTPStatus(status).phrase, "content": content}
    expected = {*each.errors, *((400, 413, 415, 422) if each.body else ()), *((422,) if each.query else ())}
    expected |= set() if each.public else {401, 403}
    expected |= {404, 422} if rule.arguments else set()
    expected |= {429, 503}  # too many of them, or the database does not answer
    for status in sorted(expected):
        responses[str(status)] = {"$ref": f"#/components/responses/{_problem(status)}"}
    item: dict[str, Any] = {
        "operationId": rule.endpoint.rpartition(".")[2],
        "summary": each.summary,
        "tags": [each.tag],
        "responses": responses,
        "security": [] if each.public else [{"device": []}],
    }
    if document := inspect.getdoc(each.view):
        item["description"] = unwrapped(document)
    parameters = [_path_parameter(name, rule) for name in sorted(rule.arguments)]
    if each.query:
        schema = each.query.model_json_schema()
        parameters += [
            {"name": name, "in": "query", "required": name in schema.get("required", ()), "schema": shape}
            for name, shape in schema["properties"].items()
        ]
    if parameters:
        item["parameters"] = parameters
    if each.body:
        item["requestBody"] = {"required": True, "content": {JSON: {"schema": refs[each.body, "validation"]}}}
    return item


def _problem(status: int) -> str:
    return f"Problem{status}"


def _problems(paths: Mapping[str, Mapping[str, Any]]) -> list[int]:
    """Statuses that operations share."""
    answers = (
        answer for item in paths.values() for each in item.values() for answer in each["responses"].items()
    )
    return sorted({int(status) for status, said in answers if "$ref" in said})


def _shared(status: int, refs: Mapping[Any, dict[str, Any]]) -> dict[str, Any]:
    """What every operation that may answer so says of it, once."""
    codes = ", ".join(f"`{code}`" for code in problems.codes(status))
    return {
        "description": f"{HTTPStatus(status).phrase}. Codes, among others: {codes}.",
        "content": {"application/problem+json": {"schema": refs[Problem, "serialization"]}},
    }


def _raw(media: str) -> dict[str, Any]:
    if media.startswith("text/") or media == "image/svg+xml":
        return {"type": "string"}
    return {} if media == JSON else {"type": "string", "format": "binary"}


def _path_parameter(name: str, rule: Any) -> dict[str, Any]:
    if isinstance(rule._converters[name], WholeNumberConverter):  # noqa: SLF001 — werkzeug has no public way to ask
        schema: dict[str, Any] = {"type": "integer", "minimum": 0, "maximum": LARGEST}
    elif name in numbers.LETTERS:
        letter = numbers.LETTERS[name]
        schema = {"type": "string", "pattern": f"^{letter}[{numbers.ALPHABET}]{{{numbers.LENGTH - 1}}}$"}
    else:
        schema = {"type": "string", "minLength": 1, "maxLength": 64}
    return {"name": name, "in": "path", "required": True, "schema": schema}
