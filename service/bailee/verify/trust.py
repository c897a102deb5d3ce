"""What an auditor brings along about the log, as a text file: the log's keys, cosigners, and how many of them
must have signed.

    # the log of the firm, watched by two others
    log ledger.example/log1+1f2e3d4c+AQ…
    cosigner quill-lab quill.example/cosigner+5a6b7c8d+BA…
    cosigner notary    notary.example/w1+9e8f7a6b+BA…
    quorum 1

One thing a line; a line that begins with # is a remark. For VKEY, `NAME=` and the five lines of the key
(`ledger.fingerprint`) may stand, all in one line. Several `log` lines are keys of the same log, old and new.
In the spirit of C2SP tlog-policy, and simpler: no groups. A cosigner's short name is the auditor's own word
for it.

What an auditor types about roots and logs, read: the same for the command line and for the page.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final

from bailee.errors import Malformed
from bailee.frozen import field, frozen
from bailee.ledger import fingerprint
from bailee.ledger.checkpoint import KeyType, VerifierKey
from bailee.signing import vkeys
from bailee.verify import printed
from bailee.verify.verifier import Trust

MAX_LINES: Final = 1000

_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,39}")


@frozen
class TrustPolicy:
    """Keys of the log; cosigners by short name; `quorum`, how many of them must have cosigned."""

    log_keys: tuple[VerifierKey, ...] = ()
    cosigners: dict[str, VerifierKey] = field(default_factory=dict)
    quorum: int = 0


def read(text: str) -> TrustPolicy:
    """Read a policy file.

    Raises `Malformed` ("policy") naming the line; a file without `log` or with an impossible quorum too.
    """
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
    return TrustPolicy(tuple(logs), cosigners, quorum or 0)


def _require_usable(logs: list[VerifierKey], cosigners: dict[str, VerifierKey], quorum: int | None) -> None:
    if not logs:
        raise _refused(None, "there is no `log` line")
    if len({key.name for key in logs}) > 1:
        raise _refused(None, "its `log` lines are keys of different logs, and a file is of one")
    if len({key.public for key in cosigners.values()}) < len(cosigners):
        raise _refused(None, "two cosigners have one key, and would count twice")
    if {key.public for key in cosigners.values()} & {key.public for key in logs}:
        raise _refused(None, "a cosigner has the log's own key, and is no second party")
    if cosigners and quorum is None:
        raise _refused(None, "enter with `quorum` how many cosigners must have signed")
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


_ROOT: Final = re.compile(r"(?P<org>[a-z0-9][a-z0-9-]{0,31})=(?P<root>.*)", re.DOTALL)
_BEGINS: Final = re.compile(r"[^\s=+]+[=+]")
_LAST_SYMBOL: Final = re.compile(r"[1-5iIlL][0-9A-Za-z-]{4,14}=")
"""A line of a key, typed without spaces, whose check symbol happens to be the equals sign."""


def brought(
    roots: Iterable[str],
    log_keys: Iterable[str],
    policy: str | None,
    stamp_roots: Iterable[bytes] = (),
    papers: Iterable[str] = (),
) -> Trust:
    """Trust from roots (`ORG=KEY`), keys of the log (`vkeys`), the text of a policy, which may bring keys
    too, and entries as they are printed (`N=HASH`).

    A text may hold several keys, each beginning a line; the five lines of a key may stand on lines of their
    own. `stamp_roots` are certificates of time stamp authorities, DER each (`authority.certificates`).

    Raises `Malformed` (`bad-root`, `key-line`, `no-log-key`, `policy`, `bad-printed`, and what
    `vkeys.read_log` says).
    """
    told = read(policy) if policy is not None else TrustPolicy()
    keys = (*map(vkeys.read_log, listed(log_keys)), *told.log_keys)
    if not keys:
        raise Malformed(
            "Bring the log's public key: with --log-key, or in a file as --policy.", code="no-log-key"
        )
    return Trust(
        _roots(roots), keys, told.cosigners, told.quorum, tuple(stamp_roots), printed.brought(papers)
    )


def _roots(texts: Iterable[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for org, thumbprint in map(root, listed(texts)):
        if found.setdefault(org, thumbprint) != thumbprint:
            raise Malformed(
                f"Two root keys were entered for {org}, and an organization has one: find out which it is.",
                code="bad-root",
            )
    return found


def listed(texts: Iterable[str]) -> Iterator[str]:
    """Each key that was typed.

    A line that does not begin with a name goes on with the key of the line before.
    """
    for text in texts:
        typed: list[str] = []
        for line in map(str.strip, text.splitlines()):
            if typed and line and (not _BEGINS.match(line) or _LAST_SYMBOL.fullmatch(line)):
                typed[-1] += f"\n{line}"
            elif line:
                typed.append(line)
        yield from typed or [text]


def root(text: str) -> tuple[str, str]:
    """An organization and the name of its root key, from `ORG=KEY`: the key's 43 characters (RFC 7638), or
    its five lines.

    Raises `Malformed`: `bad-root`, or `key-line` naming the line that is wrong.
    """
    found = _ROOT.fullmatch(text)
    try:
        name = fingerprint.read_name(found["root"]) if found else ""
    except Malformed as error:
        if found and error.code == "key-line":
            raise Malformed(f"{found['org']}: {error.sentence}", code=error.code, **error.facts) from error
        name = ""
    if not found or not name:
        raise Malformed(
            f"{text!r} is not a root key: write the organization's short name, =, and the 43 characters of"
            " its key ID or its five lines, the number at the front of each.",
            code="bad-root",
        )
    return found["org"], name
