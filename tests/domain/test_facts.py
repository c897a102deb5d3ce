"""The reader of facts, beside pydantic in strict mode (a general-purpose reference library; only the server
installs it).
"""

from __future__ import annotations

import dataclasses
from decimal import Decimal
from typing import Annotated, Any, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from bailee.domain import facts
from bailee.domain.acts.form import Collected, Opened
from bailee.domain.facts import Facts, between, choices, like, members, plain, sized
from bailee.errors import NOT_KNOWN, BadFacts, BaileeError


class Inner(Facts, keys={"sha": "sha-256"}):
    sha: Annotated[str, like("[a-f]{2}", "two letters")]
    count: Annotated[int, between(1, 3)] = 1


class Outer(Facts):
    name: Annotated[str, sized(1, 4)]
    kind: Literal["slit", "circular"] | None = None
    each: Annotated[list[Inner], sized(0, 2)] = dataclasses.field(default_factory=list)
    by_name: dict[str, bool] = dataclasses.field(default_factory=dict)


class InnerModel(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid")

    sha: str = Field(alias="sha-256", pattern="^[a-f]{2}$")
    count: int = Field(1, ge=1, le=3)


class OuterModel(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid")

    name: str = Field(min_length=1, max_length=4)
    kind: Literal["slit", "circular"] | None = None
    each: list[InnerModel] = Field(default_factory=list, max_length=2)
    by_name: dict[str, bool] = Field(default_factory=dict)


class Growing(Facts, later=("counted",)):
    """Facts of which one is found out last."""

    name: Annotated[str, like("[a-z]{2}", "two letters")]
    counted: int
    taped: bool = False


class Closed(Facts):
    hold_h: int = 1


SCRAPS = st.recursive(
    st.sampled_from(
        [None, True, False, 0, 1, 3, 4, 1.0, "", "ab", "abc", "aa\n", "slit", "slits", "x" * 5, Decimal(1)]
    ),
    lambda inside: (
        st.lists(inside, max_size=3)
        | st.dictionaries(
            st.sampled_from(["name", "kind", "each", "by_name", "sha-256", "sha", "count", "x"]),
            inside,
            max_size=5,
        )
    ),
    max_leaves=12,
)
NEARLY = st.fixed_dictionaries(
    {"name": st.sampled_from(["ab", "", "abcd", "abcde", 1])},
    optional={
        "kind": st.sampled_from(["slit", None, "SLIT"]),
        "each": st.lists(
            st.fixed_dictionaries(
                {}, optional={"sha-256": st.sampled_from(["ab", "b", "aa\n"]), "count": SCRAPS}
            ),
            max_size=3,
        ),
        "by_name": st.dictionaries(st.text(max_size=2), st.sampled_from([True, False, 1]), max_size=2),
        "unknown": SCRAPS,
    },
)


@pytest.mark.slow
@given(SCRAPS | NEARLY)
def test_the_same_data_are_taken_and_refused_at_the_same_places(data: Any) -> None:
    """A statement that one program records and another refuses is a dispute about whether it
    was ever made.
    """
    try:
        expected, refusal = OuterModel.model_validate(data), None
    except ValidationError as error:
        expected, refusal = None, error
    if expected:
        assert plain(Outer.read(data)) == expected.model_dump(by_alias=True)
        return
    with pytest.raises(BaileeError) as raised:
        Outer.read(data)
    if isinstance(data, dict) and refusal:
        # Of a list that is too long and has bad items pydantic names the list, we the items.
        ours = {fault["at"].split("/")[1] for fault in raised.value.facts["errors"]}
        assert ours == {str(fault["loc"][0]) for fault in refusal.errors()}


@given(SCRAPS)
@pytest.mark.parametrize(
    "kind", [str, int, bool, list[int], dict[str, int], Literal["slit"], int | None], ids=str
)
def test_plain_types_are_as_strict_as_the_reference(kind: Any, data: Any) -> None:
    """A count of `true` or `1.0` cassettes would be read as 1 and signed on."""
    try:
        expected = TypeAdapter(kind, config=ConfigDict(strict=True)).validate_python(data)
    except ValidationError:
        with pytest.raises(BaileeError):
            facts.reader(kind)(data)
    else:
        assert facts.reader(kind)(data) == expected


def test_every_fault_of_an_act_is_told_at_once() -> None:
    """An inspector on a ladder would mend one slip per attempt."""
    with pytest.raises(BadFacts) as raised:
        Outer.read({"kind": "round", "each": [{"sha-256": "zz"}, {"count": 4}], "by_name": {"x": 1}})
    assert {fault["at"]: fault["says"] for fault in raised.value.facts["errors"]} == {
        "/name": "is missing",
        "/kind": "write one of slit, circular",
        "/each/0/sha-256": "write two letters",
        "/each/1/sha-256": "is missing",
        "/each/1/count": "write a whole number from 1 to 3",
        "/by_name/x": "write true or false",
    }


@pytest.mark.parametrize(
    "data",
    [
        {"name": "ab", "new": 1},
        {"name": "ab", "kind": "square"},
        {"name": "ab", "each": [{"sha-256": "ab", "new": 1}]},
        {"name": "abcdefg", "each": [{"sha-256": "ab"}, {"new": 1}]},
    ],
)
def test_what_a_program_has_no_word_for_is_told_apart_from_what_cannot_be(data: Any) -> None:
    """A later edition's fact would be passed over in silence, or its signer accused of a malformed one."""
    with pytest.raises(BadFacts) as refused:
        Outer.read(data)
    assert refused.value.code == NOT_KNOWN
    with pytest.raises(BadFacts) as refused:
        Outer.read({"name": "abcdefg", "each": [{"sha-256": "x", "count": 9}], "kind": 1})
    assert refused.value.code == "bad-facts"


def test_a_member_nobody_declared_is_refused_with_the_nearest_name() -> None:
    """A mistyped threshold would be ignored without a word."""
    with pytest.raises(BadFacts, match="did you mean hold_h"):
        Closed.read({"hold_hh": 2})


def test_what_was_said_does_not_change() -> None:
    """A rule that changed a fact would change the verdict of the next one."""
    said = Outer(name="ab")
    with pytest.raises(AttributeError):
        said.name = "cd"  # type: ignore[misc]
    assert said.given == frozenset({"name"})
    assert said != Outer(name="cd")
    assert hash(Closed()) == hash(Closed(hold_h=1))


def test_defaults_are_each_its_own() -> None:
    """One sample's list of things nearby would fill with those of the others."""
    one, other = Outer(name="a"), Outer(name="b")
    assert one.each == other.each == []
    assert one.each is not other.each


@pytest.mark.parametrize("values", [{}, {"name": "a", "nme": "b"}])
def test_facts_made_in_code_need_their_members_and_no_others(values: dict[str, Any]) -> None:
    """A member misspelled in a program would be lost without a word."""
    with pytest.raises(TypeError):
        Outer(**values)


def test_codes_and_keys_can_be_asked_for() -> None:
    """The command line would offer codes that no statement may have."""
    assert choices(Opened, "growth_reason") == (
        "hidden_extent", "spread", "clearance", "dispute", "client_request", "other"
    )  # fmt: skip
    assert members(Collected)["typed_volume_l"].key == "volume_l"


def test_a_draft_lacks_what_is_found_out_last_and_nothing_else() -> None:
    """An envelope would be judged as if somebody had counted, or as if nobody need say what lies in it."""
    so_far = Growing.draft({"name": "ab"})
    assert (so_far.name, so_far.taped, so_far.given) == ("ab", False, frozenset({"name"}))
    assert so_far == Growing.so_far(name="ab") != Growing(name="ab", counted=0)
    with pytest.raises(AttributeError):
        _ = so_far.counted
    with pytest.raises(BadFacts, match="name: is missing"):
        Growing.draft({"counted": 3})
    with pytest.raises(BadFacts, match="counted: is missing"):
        Growing.read({"name": "ab"})
    with pytest.raises(TypeError):
        Growing.so_far(counted=3)


@pytest.mark.parametrize("data", [{"name": "ab", "counted": "3"}, {"name": "A", "counted": 3}])
def test_what_is_wrong_is_wrong_in_a_draft_in_the_same_words(data: dict[str, Any]) -> None:
    """Whoever asks before signing would be told something else than whoever signs."""
    said = []
    for read in (Growing.read, Growing.draft):
        with pytest.raises(BadFacts) as refused:
            read(data)
        said.append(refused.value.facts["errors"])
    assert said[0] == said[1] != []


def test_a_draft_with_a_misspelled_member_is_refused() -> None:
    """The tape that somebody owned up to would be judged as a seal."""
    with pytest.raises(BadFacts, match="did you mean taped"):
        Growing.draft({"name": "ab", "counted": 3, "tapd": True})
