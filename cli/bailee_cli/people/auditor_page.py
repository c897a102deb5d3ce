"""The verifier as one static page, to be mailed with a bundle: put together from this installation and
fetched parts.

The page holds Python for WebAssembly, the few packages that verifying needs, and the very modules of `bailee`
that are installed here. So there is one verifier and no second one in another language. The same parts and
the same Bailee give the same bytes.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import io
import json
import os
import stat
import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from email.parser import HeaderParser
from html import escape
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, Final

import click

from bailee import __version__
from bailee.errors import Unavailable
from bailee_cli.device.session import Session
from bailee_cli.terminal.options import json_option

_OWN: Final = ("domain", "ledger", "signing", "rules", "presentation", "verify")
"""The rooms of Bailee that the verifier needs, beside its two top modules."""

_LARGEST: Final = 64 * 1024 * 1024
"""Bytes; several times the largest part."""

_EPOCH: Final = (1980, 1, 1, 0, 0, 0)
"""The oldest time a ZIP can name; the page tells nothing about when it was made."""

_LOADER: Final = ("pyodide.mjs", "export{dt as loadPyodide,U as version};")
_MACHINE: Final = ("pyodide.asm.mjs", "export default _createPyodideModule;")
"""Two modules and the line by which each hands itself out.

A page in a folder gets workers that know no modules.
"""


@click.command("page")
@click.option("-o", "--output", type=click.Path(dir_okay=False), required=True, help="Write to this file.")
@click.option(
    "--parts", type=click.Path(file_okay=False), required=True,
    help="Folder with the parts that `sh deploy/page/fetch` has brought.",
)  # fmt: skip
@click.option(
    "--root",
    "roots",
    multiple=True,
    metavar="ORG=KEY",
    help=(
        "Show this root key as given by you, five lines or 43 characters: the reader must compare it. Once"
        " for each."
    ),
)
@click.option(
    "--log-key", "log_keys", multiple=True, metavar="VKEY",
    help="Show this public key of the log in the same way.",
)  # fmt: skip
@json_option
@click.pass_obj
def page_command(
    session: Session, output: str, parts: str, roots: tuple[str, ...], log_keys: tuple[str, ...]
) -> None:
    """Write `verify` as one HTML page that needs no installation and no network.

    It opens from a folder in a browser, checks an auditor's file there and shows what `bailee verify` would
    show. Mail it with the file, or better: let the reader have it from another person.
    """
    from bailee.signing import vkeys
    from bailee.verify.trust import listed, root
    from bailee_cli.device.profile import replace_file
    from bailee_cli.terminal import show

    for text in listed(roots):
        root(text)
    for text in listed(log_keys):
        vkeys.read_log(text)
    held = read_parts(Path(parts))
    page = put_together(held, roots, log_keys).encode()
    replace_file(Path(output), page)
    digest = hashlib.sha256(page).hexdigest()
    digests = {name: hashlib.sha256(data).hexdigest() for name, data in held.items()}
    if session.json:
        show.print_json({"file": output, "bytes": len(page), "sha256": digest, "parts": digests})
        return
    click.echo(f"Page: {output}, {len(page) / 1_000_000:.1f} MB\nSHA-256: {digest}")
    click.echo("Made of these parts, each compared with the list of this version:")
    for name, each in digests.items():
        click.echo(f"{each}  {name}")


def assemble(parts: Path, roots: Sequence[str] = (), log_keys: Sequence[str] = ()) -> str:
    """The page out of a folder, with these roots and log keys as the sender's claims.

    Raises `Unavailable` (`no-parts`).
    """
    return put_together(read_parts(parts), roots, log_keys)


def read_parts(parts: Path) -> dict[str, bytes]:
    """Every part that the list of this version names, by its name.

    Raises `Unavailable` (`no-parts`) for one that is not as listed.
    """
    listed = (resources.files("bailee_cli") / "parts.txt").read_text("ascii").splitlines()
    return {name: _part(parts, name, digest) for digest, name in map(str.split, listed)}


def _part(parts: Path, name: str, digest: str) -> bytes:
    try:
        # A pipe that nobody writes to is not waited for; what is no file, or has no end, is no part either.
        descriptor = os.open(
            parts / name, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        )
        with os.fdopen(descriptor, "rb") as file:
            data = file.read(_LARGEST) if stat.S_ISREG(os.fstat(descriptor).st_mode) else b""
    except OSError as error:
        raise _missing(f"{parts / name} cannot be read ({error.strerror})", parts) from error
    if hashlib.sha256(data).hexdigest() != digest:
        raise _missing(f"{parts / name} is not the part that this version is made with", parts)
    return data


def put_together(parts: Mapping[str, bytes], roots: Sequence[str] = (), log_keys: Sequence[str] = ()) -> str:
    """The page out of its parts."""
    wheels = [data for name, data in parts.items() if name.startswith("wheels/")]
    held = {
        "worker": _worker(parts),
        "pyodide.asm.wasm": parts["pyodide.asm.wasm"],
        "python_stdlib.zip": _zip(_members(parts["python_stdlib.zip"])),
        "packages.zip": _zip([*(each for wheel in wheels for each in _members(wheel)), *_bailee()]),
    }
    info = json.loads(parts["pyodide-lock.json"])["info"]
    blocks = [_block("text/plain", name, _packed(data)) for name, data in held.items()]
    blocks.append(_block("application/json", "lock", json.dumps({"info": info, "packages": {}})))
    claims = json.dumps({"roots": list(roots), "log_keys": list(log_keys)}).replace("<", "\\u003c")
    script, style = _own("page.js") + _own("card.js"), _own("palette.css", "presentation") + _own("page.css")
    page = _own("page.html")
    for name, text in {
        "policy": _policy(script, style),
        "style": style,
        "version": __version__,
        "contents": "".join(f"<li>{escape(each)}</li>" for each in _contents(parts, info, wheels)),
        "claims": claims,
        "script": script,
        "parts": "\n".join(blocks),
    }.items():
        page = page.replace(f"{{{{{name}}}}}", text)
    return page


def _policy(script: str, style: str) -> str:
    """Content policy (CSP 3): this one script, this one sheet, WebAssembly and a worker made by the page
    itself. No address at all.
    """
    return (
        f"default-src 'none'; script-src '{_hash(script)}' 'wasm-unsafe-eval'; worker-src blob:; "
        f"style-src '{_hash(style)}'; base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"


def _block(kind: str, name: str, text: str) -> str:
    return f'<script type="{kind}" id="part-{name}">{text}</script>'


def _packed(data: bytes) -> str:
    return base64.b64encode(gzip.compress(data, 9, mtime=0)).decode()


def _own(name: str, folder: str = "verify/page") -> str:
    return resources.files("bailee").joinpath(*folder.split("/"), name).read_text("utf-8")


def _missing(why: str, parts: Path) -> Unavailable:
    return Unavailable(f"{why}: bring the parts with `sh deploy/page/fetch {parts}`.", code="no-parts")


def _worker(parts: Mapping[str, bytes]) -> bytes:
    """Loader, machine and our own lines as one script.

    Without `importScripts` the loader takes this worker for the kind it knows.
    """
    loader, machine = (_without_export(parts, *each) for each in (_LOADER, _MACHINE))
    machine = machine.replace("import.meta.url", '"page://inside/"')
    return "\n".join(
        (
            "globalThis.importScripts = undefined;",
            loader,
            "const loadPyodide = dt;",
            machine,
            _own("worker.js"),
        )
    ).encode()


def _without_export(parts: Mapping[str, bytes], name: str, export: str) -> str:
    before, _, _ = parts[name].decode().rpartition(export)
    return before


def _members(packed: bytes) -> Iterator[tuple[str, bytes]]:
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        yield from ((each.filename, archive.read(each)) for each in archive.infolist() if not each.is_dir())


def _bailee() -> Iterator[tuple[str, bytes]]:
    own = resources.files("bailee")
    yield from (
        (f"bailee/{name}", (own / name).read_bytes()) for name in ("__init__.py", "errors.py", "frozen.py")
    )
    for room in _OWN:
        yield from _modules(own / room, f"bailee/{room}")


def _modules(folder: Traversable, path: str) -> Iterator[tuple[str, bytes]]:
    for each in folder.iterdir():
        if each.is_dir():
            yield from _modules(each, f"{path}/{each.name}")
        elif each.name.endswith(".py"):
            yield f"{path}/{each.name}", each.read_bytes()


def _zip(members: Iterable[tuple[str, bytes]]) -> bytes:
    """Stored, not packed: the whole is packed afterwards, and better."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        for name, data in sorted(members):
            archive.writestr(zipfile.ZipInfo(name, _EPOCH), data)
    return packed.getvalue()


def _contents(parts: Mapping[str, bytes], info: dict[str, Any], wheels: Iterable[bytes]) -> Iterator[str]:
    """What is inside and under which license, for whoever passes the page on."""
    machine = json.loads(parts["package.json"])
    yield f"Bailee {__version__} (Apache-2.0)"
    yield (
        f"{machine['name']} {machine['version']} ({machine['license']}), unchanged but for its module exports"
    )
    yield f"Python {info['python']} (PSF-2.0)"
    for wheel in wheels:
        text = next(data for name, data in _members(wheel) if name.endswith(".dist-info/METADATA"))
        head = HeaderParser().parsestr(text.decode())
        yield f"{head['Name']} {head['Version']} ({head['License-Expression'] or head['License']})"
