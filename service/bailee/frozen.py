"""Values that never change: dataclasses whose classes cost next to nothing to make.

    @frozen
    class Hit:
        about: str
        entries: tuple[int, ...] = ()

`dataclass(frozen=True)` writes and compiles six functions for each class whenever a program starts, a third
of a millisecond. Here all classes share six functions, and a class costs a twentieth of that. It is a
dataclass all the same: `field`, `fields`, `replace`, `asdict`, `__post_init__` and `match` do what the
standard library says they do (dataclasses; PEP 557, PEP 681). Members are set when a value is made, and all
of them can be given there: there is no `init=False`, `kw_only` or `InitVar`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import MISSING, FrozenInstanceError, dataclass, field, fields
from operator import attrgetter
from typing import Any, Final, NamedTuple, TypeVar, dataclass_transform

__all__ = ["field", "frozen"]

Kind = TypeVar("Kind")


class _Members(NamedTuple):
    """What the shared functions know of a class: its members in order, their defaults, which count for
    equality, which are shown.
    """

    names: tuple[str, ...]
    every: frozenset[str]
    defaults: Mapping[str, Any]
    makers: tuple[tuple[str, Callable[[], Any]], ...]
    compared: Callable[[Any], Any]
    shown: tuple[str, ...]
    checked: bool


@dataclass_transform(frozen_default=True, field_specifiers=(field,))
def frozen(kind: type[Kind]) -> type[Kind]:
    """The class, made a class of values: equal and hashed by its members, never changed.

    Functions it has itself are left to it.
    """
    made = dataclass(init=False, repr=False, eq=False)(kind)
    known: Any = fields(made)  # type: ignore[arg-type]
    made.__members__ = _Members(  # type: ignore[attr-defined]
        names=tuple(each.name for each in known),
        every=frozenset(each.name for each in known),
        defaults={each.name: each.default for each in known if each.default is not MISSING},
        makers=tuple(
            (each.name, each.default_factory) for each in known if each.default_factory is not MISSING
        ),
        compared=attrgetter("__class__", *(each.name for each in known if each.compare)),
        shown=tuple(each.name for each in known if each.repr),
        checked=hasattr(made, "__post_init__"),
    )
    for name, function in _SHARED.items():
        if name not in vars(kind):
            setattr(made, name, function)
    return made


def _init(self: Any, /, *given: Any, **named: Any) -> None:
    names, every, defaults, makers, _, _, checked = self.__members__
    values = self.__dict__
    values.update(defaults)
    if given:
        values.update(zip(names, given, strict=False))
        if len(given) > len(names) or (named and not named.keys().isdisjoint(names[: len(given)])):
            raise TypeError(f"{type(self).__name__} is made from {', '.join(names)}, each given once")
    values.update(named)
    for name, make in makers:
        if name not in values:
            values[name] = make()
    if values.keys() != every:
        raise TypeError(f"{type(self).__name__} is made from {', '.join(names)}, not {', '.join(values)}")
    if checked:
        self.__post_init__()


def _repr(self: Any) -> str:
    shown = ", ".join(f"{name}={getattr(self, name)!r}" for name in self.__members__.shown)
    return f"{type(self).__qualname__}({shown})"


def _eq(self: Any, other: Any) -> Any:
    if type(self) is not type(other):
        return NotImplemented
    compared = self.__members__.compared
    return compared(self) == compared(other)


def _hash(self: Any) -> int:
    return hash(self.__members__.compared(self))


def _set(self: Any, name: str, _: object) -> None:
    raise FrozenInstanceError(f"{name} of {type(self).__name__} does not change")


def _delete(self: Any, name: str) -> None:
    raise FrozenInstanceError(f"{name} of {type(self).__name__} does not go away")


_SHARED: Final[Mapping[str, Callable[..., Any]]] = {
    "__init__": _init,
    "__repr__": _repr,
    "__eq__": _eq,
    "__hash__": _hash,
    "__setattr__": _set,
    "__delattr__": _delete,
}
