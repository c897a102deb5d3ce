"""The modules of the app as one file, in which each is still a function of its own.

A phone spends a part of every start on each file that it loads; in one file modules cost their reading alone.
The text of a module changes in nothing but its `import` and `export` (ECMA-262 16.2), so what runs is what
lies in the folder. Only the forms that the app uses are known; at any other the app is not served.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Mapping
from typing import Final

_IMPORT: Final = re.compile(r'^import (?:\* as (\w+)|(\{[^}]*\})) from "(\.[^"]+)";', re.MULTILINE)
_EXPORT: Final = re.compile(r"^export (?=(?:async )?(?:function|class|const) (\w+))", re.MULTILINE)
_NOT_KNOWN: Final = re.compile(r"^(?:import|export)\b.*|\bimport\b *\(.*", re.MULTILINE)
_AWAITS: Final = re.compile(r"^await ", re.MULTILINE)
_WHOLE: Final = """const $made = {{}};
export const module = (name) => ($made[name] ??= $modules[name]());
const $modules = {{
{}}};
{}"""
_MODULE: Final = '"{}": {}() => {{\n{}return {{ {} }};\n}},\n'


def joined(modules: Mapping[str, str], *entries: str) -> str:
    """One module that runs `entries` in their order. What they import runs once, when it is first asked for.

    `modules` are texts by path, such as `core/json.js`. The result exports `module`, which gives the exports
    of the module of a path. Raises `ValueError` for a form of import or export that is not known, and
    `KeyError` for a module that is not there.
    """
    functions: dict[str, str] = {}
    asked = list(entries)
    while asked:
        name = asked.pop()
        if name in functions:
            continue
        functions[name], imported = _function(name, modules[name])
        asked += imported
    runs = "".join(f'module("{each}");\n' for each in entries)
    return _WHOLE.format("".join(functions[name] for name in sorted(functions)), runs)


def _function(name: str, text: str) -> tuple[str, list[str]]:
    """A module as a member of an object literal, and the paths of what it imports."""
    imported: list[str] = []

    def asked(found: re.Match[str]) -> str:
        whole, some, path = found.groups()
        imported.append(posixpath.normpath(posixpath.join(posixpath.dirname(name), path)))
        taken = whole or some.replace(" as ", ": ")
        return f'const {taken} = module("{imported[-1]}");'

    exported = ", ".join(_EXPORT.findall(text))
    text = _IMPORT.sub(asked, _EXPORT.sub("", text))
    if left := _NOT_KNOWN.search(text):
        raise ValueError(f"{name}: {left[0]}")
    text = text.replace("import.meta.url", f'new URL("{name}", import.meta.url)')
    return _MODULE.format(name, "async " if _AWAITS.search(text) else "", text, exported), imported
