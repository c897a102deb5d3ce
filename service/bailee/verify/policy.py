"""What an auditor brings along about the log, as a text file: the log's keys, cosigners, and how many of them must have signed.

    # the log of the firm, watched by two others
    log ledger.example/log1+1f2e3d4c+AQ…
    cosigner quill-lab quill.example/cosigner+5a6b7c8d+BA…
    cosigner notary    notary.example/w1+9e8f7a6b+BA…
    quorum 1

One thing a line; a line that begins with # is a remark. For VKEY, `NAME=` and the five lines of the key (`ledger.fingerprint`) may stand, all in one line. Several `log` lines are keys of the same log, old and new. In the spirit of C2SP tlog-policy,
and simpler: no groups. A cosigner's short name is the auditor's own word for it.
"""

from __future__ import annotations

import re
from typing import Final

from bailee.errors import Malformed
from bailee.frozen import field, frozen
from bailee.ledger.checkpoint import KeyType, VerifierKey
from bailee.signing import vkeys

MAX_LINES: Final = 1000

_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}")


@frozen
class Policy:
    """Keys of the log; cosigners by short name; `quorum`, how many of them must have cosigned."""

    log_keys: tuple[VerifierKey, ...] = ()
    cosigners: dict[str, VerifierKey] = field(default_factory=dict)
    quorum: int = 0


def read(text: str) -> Policy:
    """Read a policy file. Raises `Malformed` ("policy") naming the line; a file without `log` or with an impossible quorum too."""
    logs: list[VerifierKey] = []
    cosigners: dict[str, VerifierKey] = {}
    quorum: int | None = None
    lines = text.splitlines()
    if len(lines) > MAX_LINES:
        raise _refused(MAX_LINES + 1, f"a policy has at most {MAX_LINES} lines")
    for number, line in enumerate(lines, 1):
        match line.split():
            case []:
                pass
            case [word, *_] if word.startswith("#"):
                pass
            case ["log", vkey, *more] if not more or "+" not in vkey:
                logs.append(_key(" ".join((vkey, *more)), KeyType.ED25519, number))
            case ["cosigner", name, vkey, *more] if (
                _NAME.fullmatch(name) and name not in cosigners and (not more or "+" not in vkey)
            ):
                cosigners[name] = _key(" ".join((vkey, *more)), KeyType.COSIGNATURE_V1, number)
            case ["quorum", count] if (
                quorum is None and count.isascii() and count.isdigit() and len(count) < 4
            ):
                quorum = int(count)
            case _:
                raise _refused(
                    number,
                    "write `log VKEY`, `cosigner NAME VKEY` or `quorum NUMBER`, each name and quorum once",
                )
    _require_usable(logs, cosigners, quorum)
    return Policy(tuple(logs), cosigners, quorum or 0)


def _require_usable(logs: list[VerifierKey], cosigners: dict[str, VerifierKey], quorum: int | None) -> None:
    if not logs:
        raise _refused(None, "there is no `log` line")
    if len({key.name for key in logs}) > 1:
        raise _refused(None, "its `log` lines are keys of different logs, and a file is of one")
    if len({key.public for key in cosigners.values()}) < len(cosigners):
        raise _refused(None, "two cosigners have one key, and would count twice")
    if cosigners and quorum is None:
        raise _refused(None, "say with `quorum` how many cosigners must have signed")
    if not 0 <= (quorum or 0) <= len(cosigners):
        raise _refused(None, "the quorum is larger than the number of cosigners")


def _key(vkey: str, kind: KeyType, number: int) -> VerifierKey:
    try:
        key = vkeys.read(vkey, kind)
    except Malformed as error:
        if error.code != "key-line":
            raise
        raise Malformed(
            f"Line {number} of the policy: {error.sentence}", code="policy", line=number
        ) from error
    if key.type is not kind:
        wanted = "a log" if kind is KeyType.ED25519 else "a cosigner"
        raise _refused(number, f"{key.name} is not the key of {wanted}")
    return key


def _refused(number: int | None, why: str) -> Malformed:
    where = f"Line {number} of the policy" if number else "The policy"
    return Malformed(f"{where} cannot be used: {why}.", code="policy", line=number)
