"""The modules of the app as three files, in which each is still a function of its own.

A phone spends a part of every start on each file that it loads, and on each module that runs. So what the
first screen needs is one file, and what is imported later (`import("./screens/…")`) is another, loaded with
the first screen that needs it; what only a desk or a dock needs is a third, which no inspector's phone loads.
The text of a module changes in nothing but its `import` and `export` (ECMA-262 13.3.10, 16.2), so what runs
is what lies in the folder. Only the forms that the app uses are known; at any other the app is not served.
"""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterable, Mapping
from typing import Final

from bailee.frozen import frozen

_IMPORT: Final = re.compile(r'^import (?:\* as (\w+)|(\{[^}]*\})) from "(\.[^"]+)";', re.MULTILINE)
_LATER: Final = re.compile(r'(?<==> )import\("(\.[^"]+)"\)')
_EXPORT: Final = re.compile(r"^export (?=(?:async )?(?:function|class|const) (\w+))", re.MULTILINE)
_NOT_KNOWN: Final = re.compile(r"^(?:import|export)\b.*|\bimport\b *\(.*", re.MULTILINE)
_AWAITS: Final = re.compile(r"^await ", re.MULTILINE)
_AT_ONCE: Final = """const $made = {{}};
export const module = (name) => ($made[name] ??= $modules[name]());
export const $later = async (name) => {{
const files = name.startsWith("{folder}") ? ["./{later}", "./{apart}"] : ["./{later}"];
if (!$modules[name]) for (const file of files) Object.assign($modules, (await import(file)).modules);
return module(name);
}};
const $modules = {{
{functions}}};
{runs}"""
_AFTER: Final = """import {{ $later, module }} from "./{at_once}";
export const modules = {{
{functions}}};
"""
_MODULE: Final = '"{}": {}() => {{\n{}return {{ {} }};\n}},\n'


@frozen
class _Function:
    """A module as a member of an object literal, and the paths of what it imports, at once and later."""

    text: str
    imports: tuple[str, ...]
    later: tuple[str, ...]


def joined(modules: Mapping[str, str], *entries: str, at_once: str, later: str, apart: str) -> dict[str, str]:
    """Three modules by name: `at_once` runs `entries` in their order, and loads `later` with the first module
    that is not in it, and `apart` with the first of the folder of that name (`desk/` of `desk.js`). What a
    module imports runs once, when it is first asked for.

    `modules` are texts by path, such as `core/json.js`. The first exports `module`, which gives what the
    module of a path exports. Raises `ValueError` for a form of import or export that is not known, and
    `KeyError` for a module that is not there.
    """
    first = _reached(modules, entries)
    rest: dict[str, _Function] = {}
    while missing := {each for one in (first | rest).values() for each in one.later} - (first | rest).keys():
        rest |= _reached(modules, missing)
    folder = apart.removesuffix(".js") + "/"
    more = {name: each for name, each in rest.items() if name not in first}
    there = {name: each for name, each in more.items() if name.startswith(folder)}
    here = {name: each for name, each in more.items() if name not in there}
    runs = "".join(f'module("{each}");\n' for each in entries)
    return {
        at_once: _AT_ONCE.format(functions=_text(first), runs=runs, later=later, apart=apart, folder=folder),
        later: _AFTER.format(functions=_text(here), at_once=at_once),
        apart: _AFTER.format(functions=_text(there), at_once=at_once),
    }


def _reached(modules: Mapping[str, str], names: Iterable[str]) -> dict[str, _Function]:
    """What runs with these: they, and what they import at once."""
    found: dict[str, _Function] = {}
    asked = list(names)
    while asked:
        name = asked.pop()
        if name not in found:
            found[name] = _function(name, modules[name])
            asked += found[name].imports
    return found


def _text(functions: Mapping[str, _Function]) -> str:
    return "".join(functions[name].text for name in sorted(functions))


def _function(name: str, text: str) -> _Function:
    imports: list[str] = []
    later: list[str] = []

    def path(found: str) -> str:
        return posixpath.normpath(posixpath.join(posixpath.dirname(name), found))

    def asked(found: re.Match[str]) -> str:
        whole, some, at = found.groups()
        imports.append(path(at))
        taken = whole or some.replace(" as ", ": ")
        return f'const {taken} = module("{imports[-1]}");'

    def awaited(found: re.Match[str]) -> str:
        later.append(path(found[1]))
        return f'$later("{later[-1]}")'

    exported = ", ".join(_EXPORT.findall(text))
    text = _LATER.sub(awaited, _IMPORT.sub(asked, _EXPORT.sub("", text)))
    if left := _NOT_KNOWN.search(text):
        raise ValueError(f"{name}: {left[0]}")
    text = text.replace("import.meta.url", f'new URL("{name}", import.meta.url)')
    whole = _MODULE.format(name, "async " if _AWAITS.search(text) else "", text, exported)
    return _Function(whole, tuple(imports), tuple(later))
