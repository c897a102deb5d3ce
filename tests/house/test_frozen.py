"""Values of ours behave as frozen dataclasses of the standard library do (dataclasses; PEP 557): it is the
reference throughout.
"""

from __future__ import annotations

import copy
import pickle
from dataclasses import FrozenInstanceError, asdict, dataclass, fields, replace
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bailee.frozen import field, frozen


def _visit(maker: Any) -> Any:
    @maker
    class Visit:
        """A class as they occur here: needed, given, made and hidden members."""

        form: str
        samples: int
        where: str = "desk"
        notes: tuple[str, ...] = field(default_factory=tuple)
        secret: str = field(default="", repr=False, compare=False)

    Visit.__qualname__ = "Visit"
    return Visit


OURS, THEIRS = _visit(frozen), _visit(dataclass(frozen=True))
NAMES = tuple(each.name for each in fields(THEIRS))
VALUES = st.one_of(st.text(max_size=2), st.integers(0, 2), st.just(()))


@frozen
class Kept:
    """Where pickle finds it."""

    text: str


def _outcome(maker: Any, given_: tuple[Any, ...], named: dict[str, Any]) -> Any:
    try:
        made = maker(*given_, **named)
    except TypeError:
        return TypeError
    return repr(made), asdict(made), hash(made) == hash(copy.copy(made))


@given(st.lists(VALUES, max_size=7), st.dictionaries(st.sampled_from([*NAMES, "color"]), VALUES))
def test_made_from_what_a_dataclass_is_made_from(positions: list[Any], named: dict[str, Any]) -> None:
    """A fact given twice, forgotten or mistyped in our own code would be taken without a word."""
    assert _outcome(OURS, tuple(positions), named) == _outcome(THEIRS, tuple(positions), named)


@given(st.tuples(*[VALUES] * 5), st.tuples(*[VALUES] * 5))
def test_equal_when_a_dataclass_is(one: tuple[Any, ...], other: tuple[Any, ...]) -> None:
    """Two statements that say the same would count as two, or two that differ as one."""
    assert (OURS(*one) == OURS(*other)) == (THEIRS(*one) == THEIRS(*other))
    assert (len({OURS(*one), OURS(*other)}) == 1) == (len({THEIRS(*one), THEIRS(*other)}) == 1)


def test_values_of_two_classes_are_never_equal() -> None:
    """A number of one kind would stand for a number of another kind."""
    assert _visit(frozen)("VF", 1) != OURS("VF", 1)
    assert OURS("VF", 1) != SimpleNamespace(form="VF", samples=1)


def test_nothing_of_a_value_changes() -> None:
    """What was read and checked would be altered between the check and its use."""
    value = OURS("VF", 1)
    for name in ("form", "color"):
        with pytest.raises(FrozenInstanceError):
            setattr(value, name, "changed")
        with pytest.raises(FrozenInstanceError):
            delattr(value, name)
    assert value == OURS("VF", 1)


def test_the_standard_library_sees_a_dataclass() -> None:
    """`replace` and `match` would not do in our code what everybody knows of them."""
    changed = replace(OURS("VF", 1), samples=2, notes=("wet",))
    assert changed == OURS("VF", 2, notes=("wet",))
    match changed:
        case OURS(form, samples):
            assert (form, samples) == ("VF", 2)
    with pytest.raises(TypeError):
        replace(changed, color="red")
    assert pickle.loads(pickle.dumps(Kept("said"))) == copy.deepcopy(Kept("said")) == Kept("said")


def test_each_value_has_its_own_of_what_is_made_for_it() -> None:
    """Notes of one form would turn up in the next."""

    @frozen
    class Noted:
        notes: list[str] = field(default_factory=list)

    Noted().notes.append("wet")
    assert Noted().notes == []


def test_what_a_class_says_itself_is_left_to_it() -> None:
    """A check of a value would be skipped, or a secret printed, because a shared function took its place."""

    @frozen
    class Secret:
        text: str

        def __post_init__(self) -> None:
            if not self.text:
                raise ValueError

        def __repr__(self) -> str:
            return "Secret()"

    with pytest.raises(ValueError, match=r"^$"):
        Secret("")
    assert repr(Secret("key")) == "Secret()"
