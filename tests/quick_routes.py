"""An application for every test, at a fraction of the time.

Werkzeug takes each address of each application that is made apart, and writes and compiles two functions for
it, five hundred in ours. What comes of that depends on the text of the address, on its defaults, and on the
kinds of parts that the application knows.
"""

from __future__ import annotations

from typing import Any

from werkzeug.routing import Rule

_compile = Rule.compile
_compiled: dict[tuple[Any, ...], Rule] = {}


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


def install() -> None:
    """For this process."""
    Rule.compile = _once  # type: ignore[method-assign]
