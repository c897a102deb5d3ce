"""The app at `/sign/`, in which people sign on their own device: its files, and the edition that they are.

Plain modules, as they lie in the folder `sign` but for their comments and indentation, joined into three
files when the service starts; nobody builds them. The edition is a digest over all of them. It stands in the
address of each file, so that a device never mixes two, and is shown on the device and by `bailee serve`:
whoever serves the app could serve another, and two people can compare.
"""

from __future__ import annotations

import gzip
import hashlib
import json
import re
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Final

import brotli
from flask import Blueprint, Response, redirect, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response as AnyResponse

from bailee.frozen import frozen
from bailee.ledger.base64url import b64u
from bailee.ledger.fingerprint import fingerprint
from bailee.web import vocabulary
from bailee.web.joined_app import joined

CSP: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; media-src 'self'"
    " blob:; connect-src 'self'; worker-src 'self'; manifest-src 'self'; form-action 'none'; base-uri 'none';"
    " frame-ancestors 'none'; require-trusted-types-for 'script'; trusted-types sign"
)
_KINDS: Final = {
    "html": "text/html; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "svg": "image/svg+xml",
    "png": "image/png",
    "webmanifest": "application/manifest+json",
}
_COMMENT: Final = re.compile(rb"^ *//.*\n", re.MULTILINE)
"""A line that is nothing but a comment: an eighth of what a phone would load."""
_INDENT: Final = re.compile(rb"^ +", re.MULTILINE)
"""Taken off once modules are joined: until then it tells what is inside. No text of the app has two lines."""
_PACKERS: Final[Mapping[str, Callable[[bytes], bytes]]] = {
    "br": lambda content: brotli.compress(content, quality=11),
    "gzip": lambda content: gzip.compress(content, 9, mtime=0),
}
"""By content coding (RFC 7932, RFC 1952), the smaller first."""
_OUTSIDE: Final = ("index.html", "worker.js")
"""Read anew each time, at addresses without an edition: they say which one is current."""
_JOINED: Final = ("app.js", "later.js", "desk.js")
"""What the first screen waits for, the rest, and what only a desk or a dock needs: kept where it was used."""
_ENTRIES: Final = ("early.js", "main.js")
"""What asks the device's memory comes first."""
_ALONE: Final = "memory/journal_worker.js"
"""Runs beside the page, so it is a file of its own."""

blueprint = Blueprint("sign", __name__, url_prefix="/sign")


@frozen
class Edition:
    """All files of the app by name, and the digest over them, as it is shown: its first 28 characters."""

    digest: str
    files: Mapping[str, bytes]

    @property
    def loaded(self) -> list[str]:
        """Those that every device keeps: the modules joined, without the desk."""
        alone = (each for each in self.files if not each.endswith(".js") and each not in _OUTSIDE)
        return [*alone, _ALONE, *_JOINED[:2]]


@cache
def edition() -> Edition:
    """The app of this installation."""
    files = dict(sorted(_read(resources.files("bailee.web").joinpath("sign"), "")))
    files["vocabulary.js"] = vocabulary.as_module(vocabulary.vocabulary())
    files["desk/vocabulary.js"] = vocabulary.as_module(vocabulary.of_the_desk())
    return Edition(digest(files), files)


def digest(files: Mapping[str, bytes]) -> str:
    """140 bits of SHA-256 over names and contents, as people compare them: fewer, and whoever serves the app
    could make two editions that agree.
    """
    whole = hashlib.sha256()
    for name, content in sorted(files.items()):
        whole.update(hashlib.sha256(name.encode()).digest() + hashlib.sha256(content).digest())
    return fingerprint(b64u(whole.digest()))[:34].replace(" ", "-")


def _read(folder: Traversable, beginning: str) -> Iterator[tuple[str, bytes]]:
    for each in folder.iterdir():
        if each.is_dir():
            yield from _read(each, f"{beginning}{each.name}/")
        elif each.name.rpartition(".")[2] in _KINDS:
            content = each.read_bytes()
            yield (
                f"{beginning}{each.name}",
                _COMMENT.sub(b"", content) if each.name.endswith(".js") else content,
            )


@blueprint.get("/")
def app() -> Response:
    """The page that begins it."""
    return _answer("index.html", "no-cache")


@blueprint.get("/worker.js")
def worker() -> Response:
    """What makes it work without a network."""
    return _answer("worker.js", "no-cache")


@blueprint.get("/f/<made>/<path:name>")
def file(made: str, name: str) -> Response:
    """A file of the current edition; another edition's are on the devices that use it."""
    if made != edition().digest or name not in (*edition().loaded, _JOINED[2]):
        raise NotFound
    return _answer(name, "public, max-age=31536000, immutable")


@blueprint.get("/<path:rest>")
def elsewhere(rest: str) -> AnyResponse:
    """Any other address leads to the app: what it is asked stands behind the `#`."""
    del rest
    return redirect(url_for("sign.app"), 302)


def _answer(name: str, caching: str) -> Response:
    coding = request.accept_encodings.best_match(_PACKERS)
    content = _packed(name, coding) if coding else _content(name)
    answer = Response(content, content_type=_KINDS[name.rpartition(".")[2]])
    if coding:  # the same for everybody, so its length tells nothing
        answer.headers["Content-Encoding"] = coding
    answer.headers["Vary"] = "Accept-Encoding"
    answer.headers["Cache-Control"] = caching
    answer.headers["Content-Security-Policy"] = CSP
    answer.headers["Permissions-Policy"] = "camera=(self)"
    answer.headers["Cross-Origin-Opener-Policy"] = "same-origin"
    return answer


@cache
def _packed(name: str, coding: str) -> bytes:
    """Made when a device first asks for it: at its best, the larger file takes half a second."""
    return _PACKERS[coding](_content(name))


@cache
def _content(name: str) -> bytes:
    found = edition()
    if name in _JOINED:
        modules = {each: text.decode() for each, text in found.files.items() if each.endswith(".js")}
        at_once, later, apart = _JOINED
        content = joined(modules, *_ENTRIES, at_once=at_once, later=later, apart=apart)[name].encode()
    else:
        content = found.files[name]
    if name in _OUTSIDE:
        content = content.replace(b"%EDITION%", found.digest.encode())
        content = content.replace(b"%FILES%", json.dumps(found.loaded).encode())
    return _INDENT.sub(b"", content) if name.endswith((".js", ".css")) else content
