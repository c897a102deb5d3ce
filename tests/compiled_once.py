"""An application and its database for every test, at a fraction of the time: what libraries
compile for each of them is compiled once in a process.

Werkzeug takes each address of each application that is made apart, and writes and compiles two functions for
it, five hundred in ours. What comes of that depends on the text of the address, on its defaults, and on the
kinds of parts that the application knows.

SQLAlchemy compiles each statement for each engine, and each test has an engine of its own. What comes of that
depends on the statement and on the kind of database.

A signature that was found genuine is not reckoned again: hundreds of files are the same visit with one thing
changed. What does not fit is tried each time.
"""

from __future__ import annotations

from hashlib import sha256
from typing import Any

from sqlalchemy.engine import Engine
from sqlalchemy.util import LRUCache
from werkzeug.routing import Rule

from bailee.signing import keys

_compile = Rule.compile
_compiled: dict[tuple[Any, ...], Rule] = {}
_statements: dict[tuple[str, str], LRUCache[Any, Any]] = {}
_verify = keys.verify
_genuine: set[tuple[bytes, bytes, bytes]] = set()


def _once(self: Rule) -> None:
    assert self.map is not None, "Werkzeug binds a rule before it compiles it"
    place = self.rule, self.subdomain, self.host, self.merge_slashes, self.map.host_matching
    key = (*place, tuple(sorted((self.defaults or {}).items())), frozenset(self.map.converters.items()))
    if key not in _compiled:
        _compile(self)
        _compiled[key] = self
        return
    same: Any = _compiled[key]
    self._parts, self._trace, self._converters = same._parts, same._trace, same._converters
    self.arguments = set(same.arguments)
    self._build = same._build.__func__.__get__(self)
    self._build_unknown = same._build_unknown.__func__.__get__(self)


class _Statements:
    """Kept by what an engine says of them beside its own dialect, which comes first."""

    def __init__(self, engine: Engine) -> None:
        kind = engine.dialect.name, engine.dialect.driver
        self._shared = _statements.setdefault(kind, LRUCache(2000))

    def get(self, key: tuple[Any, ...]) -> Any:
        return self._shared.get(key[1:])

    def __setitem__(self, key: tuple[Any, ...], compiled: Any) -> None:
        self._shared[key[1:]] = compiled


def _verified(public: bytes, signature: bytes, message: bytes) -> None:
    what = bytes(public), bytes(signature), sha256(message).digest()
    if what not in _genuine:
        _verify(public, signature, message)
        _genuine.add(what)


def install() -> None:
    """For this process."""
    keys.verify = _verified
    Rule.compile = _once  # type: ignore[method-assign]
    Engine._compiled_cache = property(_Statements, lambda *_: None)  # type: ignore[assignment]
