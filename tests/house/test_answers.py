"""What `answers.py` asks is asked rightly, whatever is added to the service and to the command line."""

from __future__ import annotations

import pytest
from asked import ASKED, VERBS, VERBS_OF_ANYBODY, questions

from bailee.api.layer import openapi
from bailee_cli import main
from field import Field
from grounds import on_any


@on_any
def test_every_question_is_asked_with_all_that_it_needs(field: Field) -> None:
    """On the day on which two versions are to be compared, the question that was added last stops it."""
    document = openapi(field.app, "0")
    asked = [question.partition("?")[0] for question, _ in questions(document)]
    assert set(asked) == {
        "/openapi.json",
        *(path for path, item in document["paths"].items() if "get" in item),
    }
    assert set(ASKED) <= set(asked)


def test_a_question_that_lacks_something_is_named() -> None:
    """A refusal would be kept as the answer, and be the same in every version."""
    needs = {"parameters": [{"name": "day", "required": True}], "security": []}
    with pytest.raises(SystemExit, match="lacks day"):
        list(questions({"paths": {"/of-a-day": {"get": needs}}}))


def test_every_verb_that_is_typed_is_one() -> None:
    """A verb that was renamed is compared as a command that nobody knows, in both versions."""
    known = {verb for verbs in main.VERBS.values() for verb in verbs}
    assert {each.split()[0] for each in (*VERBS, *VERBS_OF_ANYBODY)} <= known
