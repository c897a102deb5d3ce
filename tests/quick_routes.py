"""An application for every test, at a tenth of the time.

Werkzeug writes and compiles two functions for each address of each application that is made, five hundred in
ours. What it compiles depends on the text of the address and on which of its names have defaults; the
converters of an application are looked up when it is called.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from werkzeug.routing import Rule

_Key = tuple[tuple[tuple[bool, str], ...], tuple[tuple[str, Any], ...], bool]
_compile = Rule._compile_builder
_compiled: dict[_Key, Callable[..., tuple[str, str]]] = {}


def _once(self: Rule, append_unknown: bool = True) -> Callable[..., tuple[str, str]]:
    key = (tuple(self._trace), tuple(sorted((self.defaults or {}).items())), append_unknown)
    if key not in _compiled:
        _compiled[key] = _compile(self, append_unknown)
    return _compiled[key]


def install() -> None:
    """For this process."""
    Rule._compile_builder = _once  # type: ignore[method-assign]
