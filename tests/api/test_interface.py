"""The interface as a whole: its document is true, every error has one shape, and any input gets an answer."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from openapi_spec_validator import validate

from bailee.api import problems
from bailee.api.layer import openapi
from bailee.labels.sheet import Layout
from field import Field
from grounds import SqliteGround, on_any
from thorough import often


@on_any
@pytest.mark.slow
def test_the_document_is_valid_openapi(field: Field) -> None:
    """Whoever generates a client from it must not be stopped by the document itself (OpenAPI 3.1,
    openapi-spec-validator).
    """
    document = field.client.get("/openapi.json").get_json()
    assert document["openapi"] == "3.1.0"
    validate(document)


@on_any
def test_every_code_with_a_status_of_its_own_is_told_with_that_status(field: Field) -> None:
    """A program that handles 409 must know which conflicts there are."""
    shared = openapi(field.app, "0")["components"]["responses"]
    for code, status in problems.BY_CODE.items():
        assert f"`{code}`" in shared[f"Problem{status}"]["description"]
    assert "`unknown`" in shared["Problem404"]["description"]
    assert "`not-json`" in shared["Problem400"]["description"]


@on_any
def test_every_route_outside_the_pages_is_in_the_document(field: Field) -> None:
    """An address that is not described is one nobody tests."""
    document = openapi(field.app, "0")
    described = {(path, method) for path, item in document["paths"].items() for method in item}
    served = set()
    for rule in field.app.url_map.iter_rules():
        if not rule.endpoint.startswith(("pages.", "sign.")) and rule.endpoint != "log.document":
            path = "".join(f"{{{part}}}" if dynamic else part for dynamic, part in rule._trace if part != "|")
            served |= {(path, method.lower()) for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}}
    assert described == served


@on_any
def test_every_question_about_a_number_says_that_it_may_be_claimed_by_several(field: Field) -> None:
    """A program that asks about a sample or an envelope must expect that two say it is theirs."""
    for path, item in openapi(field.app, "0")["paths"].items():
        if "{sample}" in path or "{envelope}" in path:
            assert "409" in item["get"]["responses"], path


@on_any
def test_the_places_of_a_sheet_are_in_the_document(field: Field) -> None:
    """A program that goes on with a sheet learns how many labels it may skip only by being refused."""
    asked = openapi(field.app, "0")["paths"]["/lots/{lot}/labels.pdf"]["get"]["parameters"]
    (skip,) = [each["schema"] for each in asked if each["name"] == "skip"]
    most = max(each.value.places for each in Layout)
    assert (skip["minimum"], skip["maximum"]) == (0, most - 1)


@on_any
def test_no_description_breaks_a_line_where_the_source_does(field: Field) -> None:
    """Who reads the interface on a phone gets lines that end in the middle of a sentence."""

    def descriptions(node: Any) -> Iterator[str]:
        if isinstance(node, dict):
            told = node.get("description")
            yield from (told,) if isinstance(told, str) else ()
            yield from (each for value in node.values() for each in descriptions(value))
        elif isinstance(node, list):
            yield from (each for value in node for each in descriptions(value))

    told = list(descriptions(openapi(field.app, "0")))
    assert len(told) > 100
    for each in told:
        assert not re.search(r"[^.:\n]\n\w", each), each


@on_any
@pytest.mark.parametrize(
    ("method", "path", "body", "status"),
    [
        ("get", "/nothing", None, 404),
        ("delete", "/entries", None, 405),
        ("post", "/entries", b"{", 400),
        ("post", "/entries", b"", 400),
        ("post", "/entries", b"[]", 422),
        ("post", "/entries", b'{"statement": 7}', 422),
        ("post", "/entries", b'{"statement": "x.y.z"}', 422),
        ("post", "/entries", b'{"statement": "x", "more": 1}', 422),
        ("get", "/proofs/inclusion?index=0", None, 422),
        ("get", "/proofs/inclusion?index=9&size=3", None, 422),
        ("get", "/proofs/inclusion?index=0&size=999999", None, 404),
        ("get", "/proofs/consistency?first=4&second=3", None, 422),
        ("get", "/organizations/nobody", None, 401),
        ("get", "/tile/9/000", None, 404),
    ],
)
def test_every_error_has_one_shape(
    field: Field, method: str, path: str, body: bytes | None, status: int
) -> None:
    """A program that reads errors must not need to know which layer made them (RFC 9457)."""
    answer = field.client.open(
        path, method=method.upper(), data=body, content_type="application/json" if body is not None else None
    )
    told = answer.get_json()
    assert answer.status_code == status
    assert answer.content_type == "application/problem+json"
    assert {"type", "title", "status", "detail", "code", "now"} <= set(told)
    assert told["status"] == status
    assert "Traceback" not in answer.text


@on_any
def test_another_media_type_is_refused(field: Field) -> None:
    """A form post from a page elsewhere must not reach the ledger."""
    answer = field.client.post(
        "/entries", data="statement=x", content_type="application/x-www-form-urlencoded"
    )
    assert (answer.status_code, answer.content_type) == (415, "application/problem+json")


@on_any
def test_a_fault_of_ours_tells_no_inside(field: Field, monkeypatch: pytest.MonkeyPatch) -> None:
    """A stack trace on a phone helps nobody and tells an attacker much."""
    monkeypatch.setattr(field.ledger.register.__class__, "register", lambda *_: 1 / 0)
    answer = field.client.post("/entries", json={"statement": "x"})
    told = answer.get_json()
    assert (answer.status_code, told["code"]) == (500, "internal")
    assert "ZeroDivision" not in answer.text
    assert told["reference"] in told["detail"]


_ROUND = settings(
    max_examples=often(4, thorough=15),
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
    database=None,
)


@pytest.fixture(scope="module")
def lively(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """An application with a whole visit in it, for one round of generated requests."""
    import schemathesis  # slow to read: only who asks for it waits

    folder: Path = tmp_path_factory.mktemp("lively")
    field, _ = SqliteGround().after(Field.faultless, folder)
    field.ledger.sequencer.integrate()
    schema = schemathesis.openapi.from_wsgi("/openapi.json", field.app)
    yield schema, field
    field.ledger.database.close()


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_generated_requests_get_the_answers_the_document_promises(lively: Any) -> None:
    """Input nobody thought of must get a described answer, never a 500 (schemathesis, generated from the
    document).
    """
    from schemathesis.checks import positive_data_acceptance

    schema, field = lively
    counted = 0
    for operation in schema.get_all_operations():

        def ask(case: Any) -> None:
            # No schema can say "signed" or "with the right check character": such input may be refused with
            # 422.
            case.call_and_validate(
                headers=field.people["clerk"].bearer, excluded_checks=[positive_data_acceptance]
            )

        given(case=operation.ok().as_strategy())(_ROUND(ask))()
        counted += 1
    assert counted >= 20
