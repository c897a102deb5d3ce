"""Facts with declared members: what may stand in plain data, read with every fault of it at once.

    class Counted(Facts):
        remaining: Annotated[int, Between(0, 100_000)]
        voided: int = 0

    Counted.read({"remaining": 5})      # read from data: strict, nothing may stand there that nobody declared
    Counted(remaining=5)                # made from values that were read before, and taken as they are

A member may be text, a whole number, true or false, one of some codes, a list, an object of texts by key,
other facts, any of these or nothing (`X | None`), or anything at all (`Json`). What else it must be stands
beside it in `Annotated`. What nobody declared, a member or a code, was misspelled or is of a later edition:
the error has the code `NOT_KNOWN` then, whatever else is wrong. A reading function may make any value of a
text. Classes are read from their annotations on first use, so a program that reads nothing pays nothing.
"""

from __future__ import annotations

import dataclasses
import inspect
import re
import types
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sized
from functools import cache
from typing import (
    Annotated,
    Any,
    ClassVar,
    Final,
    Literal,
    Self,
    Union,
    dataclass_transform,
    get_args,
    get_origin,
)

from bailee.errors import NOT_KNOWN, BadFacts, BaileeError, Malformed
from bailee.frozen import frozen

Reader = Callable[[Any], Any]
Json = Any
"""Whatever JSON can say: kept as it stands."""

_NEEDED: Final = object()
_MEMBERS: Final[dict[type[Facts], Mapping[str, Member]]] = {}


@frozen
class Reads:
    """The member is read by this function of our own, which raises a `BaileeError` with a sentence when it
    cannot.
    """

    reader: Reader


@frozen
class Check:
    """Says what is wrong with a value that was read; an empty sentence when nothing is."""

    why_not: Callable[[Any], str]


def between(least: int, most: int, what: str = "a whole number") -> Check:
    """A number within bounds, both included."""
    return Check(lambda number: "" if least <= number <= most else f"write {what} from {least} to {most}")


def at_least(least: int, what: str = "a whole number") -> Check:
    """A number not below a bound."""
    return Check(lambda number: "" if number >= least else f"write {what} of at least {least}")


def sized(least: int, most: int | None = None, what: str = "entries") -> Check:
    """A text or list of a length within bounds, both included."""
    wanted = f"at least {least}" if most is None else f"{least} to {most}"

    def why_not(value: Sized) -> str:
        fits = least <= len(value) and (most is None or len(value) <= most)
        return "" if fits else f"write {wanted} {'characters' if isinstance(value, str) else what}"

    return Check(why_not)


def like(pattern: str, wanted: str) -> Check:
    """A text that matches wholly."""
    return Check(lambda text: "" if re.fullmatch(pattern, text) else f"write {wanted}")


@dataclass_transform(kw_only_default=True, frozen_default=True, field_specifiers=(dataclasses.field,))
class Facts:
    """Base of everything read.

    `given` are the names of the members that were given; the others keep their default.
    """

    __slots__ = ("__dict__", "given")

    given: frozenset[str]
    keys: ClassVar[Mapping[str, str]]
    later: ClassVar[frozenset[str]]
    defaults: ClassVar[Mapping[str, Callable[[], Any] | None]]

    def __init_subclass__(
        cls,
        *,
        keys: Mapping[str, str] = types.MappingProxyType({}),
        later: Collection[str] = (),
    ) -> None:
        """`keys` are the names in the data of members called otherwise here.

        `later` are members that a draft may still lack: what is found out last, or reckoned from the rest.
        """
        cls.later = frozenset(later)
        cls.keys = {name: keys.get(name, name) for name in cls.__annotations__}
        cls.defaults = {name: _default(vars(cls).get(name, _NEEDED)) for name in cls.__annotations__}

    def __init__(self, **values: Any) -> None:
        _fill(self, values, ())

    @classmethod
    def so_far(cls, **values: Any) -> Self:
        """Made from values that were read before, as far as they are known: members of `later` may be
        missing.
        """
        made = cls.__new__(cls)
        _fill(made, values, cls.later)
        return made

    @classmethod
    def read(cls, data: Any) -> Self:
        """Facts from plain data.

        Raises `BadFacts` with every fault in `facts["errors"]` as {"at", "says"}.
        """
        return cls._read(data, ())

    @classmethod
    def draft(cls, data: Any) -> Self:
        """Facts as far as they are known: the same, but members of `later` may be missing.

        Asking for a missing member is an `AttributeError`.
        """
        return cls._read(data, cls.later)

    @classmethod
    def _read(cls, data: Any, lacking: Collection[str]) -> Self:
        if not isinstance(data, Mapping):
            raise Malformed("write an object with named members")
        values: dict[str, Any] = {}
        faults: list[dict[str, str]] = []
        code = None
        for name, member in members(cls).items():
            if member.key in data:
                try:
                    values[name] = member.read(data[member.key])
                except BaileeError as error:
                    faults += _faults(member.key, error)
                    code = NOT_KNOWN if error.code == NOT_KNOWN else code
            elif cls.defaults[name] is None and name not in lacking:
                faults.append({"at": f"/{member.key}", "says": "is missing"})
        known = cls.keys.values()
        if strange := [key for key in data if key not in known]:
            faults += [{"at": f"/{key}", "says": _unknown(key, known)} for key in strange]
            code = NOT_KNOWN
        if not faults:
            made = cls.__new__(cls)
            _fill(made, values, lacking)
            faults = [{"at": "", "says": sentence} for sentence in made.contradictions()]
            if not faults:
                return made
        raise bad_facts(faults, code)

    def contradictions(self) -> Iterator[str]:
        """What no member says alone and cannot all be true, as sentences.

        A kind that knows of any says so.
        """
        return iter(())

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"{type(self).__name__}.{name} is signed and does not change")

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other) and self.__dict__ == other.__dict__

    def __hash__(self) -> int:
        return hash((type(self), *self.__dict__.values()))

    def __repr__(self) -> str:
        said = ", ".join(f"{name}={value!r}" for name, value in self.__dict__.items() if name in self.given)
        return f"{type(self).__name__}({said})"


def _fill(made: Facts, values: Mapping[str, Any], lacking: Collection[str]) -> None:
    for name, default in made.defaults.items():
        if name in values:
            made.__dict__[name] = values[name]
        elif default:
            made.__dict__[name] = default()
        elif name not in lacking:
            raise TypeError(f"{type(made).__name__} needs {name}")
    if strange := values.keys() - made.defaults.keys():
        raise TypeError(f"{type(made).__name__} has no {', '.join(sorted(strange))}")
    object.__setattr__(made, "given", frozenset(values))


@frozen
class Member:
    """One declared member: its name in the data, its type, what stands beside the type, how it is read."""

    key: str
    kind: Any
    beside: tuple[Any, ...]
    read: Reader


def members(kind: type[Facts]) -> Mapping[str, Member]:
    """The members of a kind of facts by their names here, in the order of their declaration."""
    if kind not in _MEMBERS:
        hints = inspect.get_annotations(kind, eval_str=True)
        _MEMBERS[kind] = {name: _member(key, hints[name]) for name, key in kind.keys.items()}
    return _MEMBERS[kind]


def choices(kind: type[Facts], name: str) -> tuple[str, ...]:
    """The codes a member may have, or the items of its list."""
    return tuple(_codes(members(kind)[name].kind))


def plain(value: Any) -> Any:
    """Facts as JSON would say them: by their keys in the data, moments, days and decimals as text."""
    match value:
        case Facts():
            return {key: plain(getattr(value, name)) for name, key in value.keys.items()}
        case dict():
            return {name: plain(each) for name, each in value.items()}
        case list():
            return [plain(each) for each in value]
        case None | bool() | int() | str():
            return value
        case _:
            return str(value)


@cache
def reader(kind: Any) -> Reader:
    """How a value of this type is read.

    The function raises a `BaileeError` whose sentence says what to write.
    """
    origin, inside = get_origin(kind), get_args(kind)
    if origin:
        return _INSIDE[origin](*inside)
    return kind.read if isinstance(kind, type) and issubclass(kind, Facts) else _PLAIN[kind]


def _member(key: str, hint: Any) -> Member:
    bare, *beside = get_args(hint) if get_origin(hint) is Annotated else (hint,)
    return Member(key, bare, tuple(beside), reader(hint))


def _default(said: Any) -> Any:
    """What makes the default of a member; None when it has none."""
    if said is _NEEDED:
        return None
    return said.default_factory if isinstance(said, dataclasses.Field) else lambda: said


def _codes(kind: Any) -> Iterator[str]:
    if get_origin(kind) is Literal:
        yield from get_args(kind)
    else:
        for inside in get_args(kind):
            yield from _codes(inside)


def _annotated(kind: Any, *beside: Any) -> Reader:
    read = next((each.reader for each in beside if isinstance(each, Reads)), None) or reader(kind)
    checks = tuple(each.why_not for each in beside if isinstance(each, Check))
    if not checks:
        return read

    def checked(value: Any) -> Any:
        found = read(value)
        for why_not in checks:
            if sentence := why_not(found):
                raise Malformed(sentence)
        return found

    return checked


def _exactly(kind: type, wanted: str) -> Reader:
    def read(value: Any) -> Any:
        if type(value) is not kind:  # a truth value is a number to isinstance
            raise Malformed(wanted)
        return value

    return read


def _one_of(*codes: str) -> Reader:
    wanted = f"write one of {', '.join(codes)}" if len(codes) > 1 else f"write {codes[0]}"

    def read(value: Any) -> Any:
        if not isinstance(value, str) or value not in codes:
            raise Malformed(wanted, code=NOT_KNOWN if isinstance(value, str) else None)
        return value

    return read


def _or_nothing(kind: Any, nothing: type[None]) -> Reader:
    assert nothing is type(None)
    read = reader(kind)
    return lambda value: None if value is None else read(value)


def _list(kind: Any) -> Reader:
    read = reader(kind)

    def listed(value: Any) -> list[Any]:
        if not isinstance(value, list):
            raise Malformed("write a list")
        return _each(enumerate(value), read)

    return listed


def _object(key: Any, kind: Any) -> Reader:
    read_key, read = reader(key), reader(kind)

    def read_all(value: Any) -> dict[str, Any]:
        if not isinstance(value, dict):
            raise Malformed("write an object with named members")
        keys = _each(((key, key) for key in value), read_key)
        return dict(zip(keys, _each(value.items(), read), strict=True))

    return read_all


def _each(pairs: Iterable[tuple[object, Any]], read: Reader) -> list[Any]:
    found: list[Any] = []
    faults: list[dict[str, str]] = []
    code = None
    for place, value in pairs:
        try:
            found.append(read(value))
        except BaileeError as error:
            faults += _faults(place, error)
            code = NOT_KNOWN if error.code == NOT_KNOWN else code
    if faults:
        raise bad_facts(faults, code)
    return found


def _faults(place: object, error: BaileeError) -> list[dict[str, str]]:
    """The faults of a value as those of the place it stands at."""
    if isinstance(error, BadFacts):
        return [{"at": f"/{place}{fault['at']}", "says": fault["says"]} for fault in error.facts["errors"]]
    return [{"at": f"/{place}", "says": error.sentence.removesuffix(".")}]


def bad_facts(faults: list[dict[str, str]], code: str | None = None) -> BadFacts:
    """All faults at once; `code` is `NOT_KNOWN` where one of them is about what nobody declared."""
    return BadFacts(
        "; ".join(f"{fault['at'].removeprefix('/')}: {fault['says']}" for fault in faults),
        code=code,
        errors=faults,
    )


def _unknown(key: str, known: Collection[str]) -> str:
    import difflib

    near = difflib.get_close_matches(key, known, 1)
    return "there is nothing of this name" + (f", did you mean {near[0]}?" if near else "")


_INSIDE: Final[Mapping[Any, Callable[..., Reader]]] = {
    Annotated: _annotated,
    Literal: _one_of,
    Union: _or_nothing,
    types.UnionType: _or_nothing,
    list: _list,
    dict: _object,
}
_PLAIN: Final[Mapping[Any, Reader]] = {
    str: _exactly(str, "write text"),
    int: _exactly(int, "write a whole number"),
    bool: _exactly(bool, "write true or false"),
    Any: lambda value: value,
}
