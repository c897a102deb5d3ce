"""What an install declares is what its modules import, no more and no less, lazy imports too."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import pytest

ROOT: Final = Path(__file__).resolve().parents[2]
PROJECT: Final = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
HOUSES: Final = (ROOT / "service" / "bailee", ROOT / "cli" / "bailee_cli", ROOT / "migrations")
OURS: Final = frozenset({"bailee", "bailee_cli", "migrations"})
"""Whatever is not named below lies in every install."""
OF_CLIENTS: Final = (
    "bailee_cli/device/client.py", "bailee_cli/device/profile.py", "bailee_cli/people/operating/",
    "bailee_cli/terminal/progress.py",
)  # fmt: skip
"""Only where somebody asks a service: what else they import, a client's install has."""
OF_SERVERS: Final = (
    "bailee/app.py", "bailee/config.py", "bailee/serving/", "bailee/web/", "bailee/api/",
    "bailee/operations/", "bailee/store/", "bailee/documents/", "bailee/labels/", "migrations/",
)  # fmt: skip
OF_TOKENS: Final = ("bailee/signing/token.py",)
"""Lies in every install; what else it imports, only one whose log's key is on a token has."""
CALLED: Final = {
    "pkcs11": "python-pkcs11",
    "PIL": "pillow",
    "markdown_it": "markdown-it-py",
    "barcode": "python-barcode",
    "fontpkg_noto_sans": "fontpkg-noto-sans",
    "fpdf": "fpdf2",
    "prometheus_client": "prometheus-client",
}
"""By module, the package that brings it under another name."""
WITH: Final = {"werkzeug": "flask", "jinja2": "flask", "markupsafe": "flask", "pydantic_core": "pydantic"}
"""By module, the declared package that cannot be without it, and by whose promise it is imported."""
NOT_IMPORTED: Final = {
    "tzdata": "zoneinfo reads it where the system has no time zones",
}


def declared(install: str) -> set[str]:
    """Names of packages that an install asks for."""
    lines = PROJECT["optional-dependencies"].get(install, ()) if install else PROJECT["dependencies"]
    return {re.split(r"[<>=\[; ]", line)[0] for line in lines}


def imported(source: str) -> set[str]:
    """Top-level modules that a text imports, wherever in it, but for what only its types name."""
    tree = ast.parse(source)
    typed = {
        id(part)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and getattr(node.test, "id", "") == "TYPE_CHECKING"
        for inside in node.body
        for part in ast.walk(inside)
    }
    found: set[str] = set()
    for node in ast.walk(tree):
        if id(node) in typed:
            continue
        if isinstance(node, ast.Import):
            found |= {each.name.partition(".")[0] for each in node.names}
        elif isinstance(node, ast.ImportFrom) and not node.level:
            found.add(str(node.module).partition(".")[0])
    return found


def packages(install: str) -> set[str]:
    """Packages of others that the modules of this install import, by the names of the index."""
    found = {
        module
        for place, path in _modules()
        if _install(place) == install
        for module in imported(path.read_text("utf-8")) - sys.stdlib_module_names - OURS
    }
    return {WITH.get(each, CALLED.get(each, each)) for each in found}


def _modules() -> Iterator[tuple[str, Path]]:
    for house in HOUSES:
        for path in sorted(house.rglob("*.py")):
            yield f"{house.name}/{path.relative_to(house)}", path


def _install(place: str) -> str:
    if place.startswith(OF_SERVERS):
        return "server"
    if place.startswith(OF_TOKENS):
        return "token"
    return "client" if place.startswith(OF_CLIENTS) else ""


def test_every_install_declares_what_its_modules_import() -> None:
    """If this fails, somebody installs what nobody uses, or the first command ends in a traceback."""
    base, client, server, token = (packages(install) for install in ("", "client", "server", "token"))
    assert declared("token") == token
    assert declared("") - NOT_IMPORTED.keys() == base
    assert declared("client") == client - base
    assert declared("server") - NOT_IMPORTED.keys() == (server | client) - base


def test_places_named_here_exist() -> None:
    """If this fails, an install is judged by modules that have moved elsewhere."""
    places = [place for place, _ in _modules()]
    for named in (*OF_CLIENTS, *OF_SERVERS, *OF_TOKENS):
        assert any(place.startswith(named) for place in places), named
    assert NOT_IMPORTED.keys() <= declared("") | declared("server")


@pytest.mark.parametrize(
    ("source", "modules"),
    [
        ("import rich.progress, os", {"rich", "os"}),
        ("def f():\n    from PIL import Image", {"PIL"}),
        ("from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    import flask", {"typing"}),
        ("from . import beside", set()),
    ],
)
def test_what_is_looked_for_is_seen(source: str, modules: set[str]) -> None:
    """A search that sees nothing would find every declaration in order."""
    assert imported(source) == modules
