"""The verifier as one static page, to be mailed with a bundle: put together from this installation and fetched parts."""

from __future__ import annotations

import base64
import gzip
import hashlib
import io
import json
import zipfile
from collections.abc import Iterable, Iterator
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Final

import click

from bailee.errors import Unavailable
from bailee_cli.session import Session

_OWN: Final = ("domain", "ledger", "signing", "rules", "verify")
"""The rooms of Bailee that the verifier needs, beside its two top modules."""

_EXPORT: Final = "export{dt as loadPyodide,U as version};"
_FACTORY: Final = "export default _createPyodideModule;"
_INSIDE: Final = '"page://inside/pyodide.asm.mjs"'
_EPOCH: Final = (1980, 1, 1, 0, 0, 0)


@click.command("page")
@click.option("-o", "--output", type=click.Path(dir_okay=False), required=True, help="Write to this file.")
@click.option(
    "--parts", type=click.Path(file_okay=False), required=True,
    help="Folder with the parts that deploy/page/fetch brings.",
)  # fmt: skip
@click.pass_obj
def page_command(session: Session, output: str, parts: str) -> None:  # noqa: ARG001 - every verb gets it
    """Write the verifier as one HTML page that needs no installation and no network."""
    from bailee_cli.profile import replace_file

    text = assemble(Path(parts))
    replace_file(Path(output), text.encode())
    click.echo(f"Page: {output}, {len(text) / 1_000_000:.1f} MB")


def assemble(parts: Path) -> str:
    """The page. The same parts and the same Bailee give the same bytes. Raises `Unavailable` when parts are missing."""
    held = {
        "worker": _worker(parts),
        "pyodide.asm.wasm": _part(parts, "pyodide.asm.wasm"),
        "python_stdlib.zip": _part(parts, "python_stdlib.zip"),
        "packages.zip": _zip(_packages(parts)),
    }
    blocks = [
        f'<script type="text/plain" id="part-{name}">{base64.b64encode(gzip.compress(data, 9, mtime=0)).decode()}</script>'
        for name, data in held.items()
    ]
    blocks.append(f'<script type="application/json" id="part-lock">{_lock(parts)}</script>')
    script, style = _own("page.js"), _own("page.css")
    policy = (
        f"default-src 'none'; script-src '{_hash(script)}' 'wasm-unsafe-eval'; worker-src blob:; "
        f"style-src '{_hash(style)}'; base-uri 'none'; form-action 'none'"
    )
    page = _own("page.html")
    for name, text in (
        ("policy", policy),
        ("style", style),
        ("script", script),
        ("parts", "\n".join(blocks)),
    ):
        page = page.replace(f"{{{{{name}}}}}", text)
    return page


def _hash(text: str) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"


def _own(name: str) -> str:
    return (resources.files("bailee") / "verify" / "page" / name).read_text("utf-8")


def _part(parts: Path, name: str) -> bytes:
    try:
        return (parts / name).read_bytes()
    except OSError as error:
        raise Unavailable(
            f"{parts / name} cannot be read ({error.strerror}): bring the parts with `sh deploy/page/fetch {parts}`.",
            code="no-parts",
        ) from error


def _worker(parts: Path) -> bytes:
    """Two modules and our own lines as one script. `importScripts` must be gone before the first of them looks for it."""
    loader = _cut(_part(parts, "pyodide.mjs").decode(), _EXPORT) + "const loadPyodide = dt;"
    machine = _cut(_part(parts, "pyodide.asm.mjs").decode(), _FACTORY).replace("import.meta.url", _INSIDE)
    return "\n".join(("globalThis.importScripts = undefined;", loader, machine, _own("worker.js"))).encode()


def _cut(text: str, export: str) -> str:
    before, found, _ = text.rpartition(export)
    if not found:
        raise Unavailable(
            "The parts are of another version than this program: bring them again with deploy/page/fetch.",
            code="no-parts",
        )
    return before


def _lock(parts: Path) -> str:
    """Which machine this is, without the list of what could be loaded from elsewhere."""
    info = json.loads(_part(parts, "pyodide-lock.json"))["info"]
    return json.dumps({"info": info, "packages": {}})


def _packages(parts: Path) -> Iterator[tuple[str, bytes]]:
    wheels = sorted((parts / "wheels").glob("*.whl"))
    for wheel in wheels:
        with zipfile.ZipFile(wheel) as packed:
            yield from ((name, packed.read(name)) for name in packed.namelist() if not name.endswith("/"))
    own = resources.files("bailee")
    yield from (_text(own / name, f"bailee/{name}") for name in ("__init__.py", "errors.py"))
    for room in _OWN:
        yield from _modules(own / room, f"bailee/{room}")


def _modules(folder: Traversable, path: str) -> Iterator[tuple[str, bytes]]:
    for each in folder.iterdir():
        if each.is_dir() and each.name != "__pycache__":
            yield from _modules(each, f"{path}/{each.name}")
        elif each.name.endswith(".py"):
            yield _text(each, f"{path}/{each.name}")


def _text(file: Traversable, path: str) -> tuple[str, bytes]:
    return path, file.read_bytes()


def _zip(members: Iterable[tuple[str, bytes]]) -> bytes:
    """Stored, not packed: the whole is packed once more, and better."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, data in sorted(members):
            archive.writestr(zipfile.ZipInfo(name, _EPOCH), data)
    return packed.getvalue()
