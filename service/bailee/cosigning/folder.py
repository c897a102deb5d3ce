"""A cosigner's folder: its key, its name, the logs it follows, and what it saw of each.

<folder>/cosigner.key      the private key, 0600; used for nothing but cosigning
<folder>/cosigner.toml     name = "lab.example/cosigner", logs = ["<vkey>", …]
<folder>/seen/…            the newest cosigned checkpoint of each log
"""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Final

from bailee.cosigning.cosigner import Cosigner, begin
from bailee.disk import durable, folders, replacing
from bailee.errors import Malformed, Unavailable
from bailee.ledger.checkpoint import VerifierKey, format_vkey
from bailee.signing import notes, vkeys
from bailee.signing.keys import SigningKey

_KEY: Final = "cosigner.key"
_SETTINGS: Final = "cosigner.toml"


def create(folder: Path, name: str) -> VerifierKey:
    """A new cosigner; its public half.

    Raises `Malformed` for a name no key can have, or a folder that has one; as `folders.make_private` does.
    """
    key = SigningKey.generate()
    verifier = notes.cosigner_key(name, key)
    if (folder / _KEY).exists() or (folder / _SETTINGS).exists():
        raise Malformed(f"{folder} holds a cosigner already: choose another folder.", code="cosigner-exists")
    folders.make_private(folder)
    try:
        replacing.create(folder / _KEY, key.pem())
    except OSError as error:
        raise durable.unwritable(folder / _KEY, error) from error
    _save(folder, name, ())
    return verifier


def follow(folder: Path, vkey: str) -> VerifierKey:
    """Follow one more log, named by its key. Raises `Malformed`, `Unavailable`."""
    name, logs = _load(folder)
    log = vkeys.read_log(vkey)
    if log.name not in {vkeys.read_log(each).name for each in logs}:
        begin(folder, log.name)
    _save(folder, name, dict.fromkeys([*logs, format_vkey(log)]))
    return log


def load(folder: Path) -> Cosigner:
    """The cosigner of a folder. Raises `Unavailable` ("no-cosigner") when there is none."""
    name, logs = _load(folder)
    try:
        key = SigningKey.from_pem((folder / _KEY).read_bytes())
    except OSError as error:
        raise _none(folder) from error
    return Cosigner(folder, name, key, map(vkeys.read_log, logs), begun=True)


def _load(folder: Path) -> tuple[str, tuple[str, ...]]:
    try:
        found = tomllib.loads((folder / _SETTINGS).read_text("utf-8"))
        return str(found["name"]), tuple(map(str, found["logs"]))
    except OSError as error:
        raise _none(folder) from error
    except (ValueError, RecursionError, KeyError, TypeError) as error:
        raise Malformed(f"{folder / _SETTINGS} cannot be read.", code="bad-settings") from error


def _save(folder: Path, name: str, logs: object) -> None:
    assert isinstance(logs, dict | tuple)
    lines = "".join(f"  {_toml(each)},\n" for each in logs)
    remark = "# A cosigner: its name, and the keys of the logs it follows."
    text = f"{remark}\nname = {_toml(name)}\nlogs = [\n{lines}]\n"
    durable.write(folder / _SETTINGS, text.encode())


def _toml(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)  # for text without control characters the two agree


def _none(folder: Path) -> Unavailable:
    return Unavailable(
        f"There is no cosigner in {folder}: run `bailee cosign new` first.", code="no-cosigner"
    )
