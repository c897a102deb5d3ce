"""What an auditor types about roots and logs, read: the same for the command line and for the page."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import Final

from bailee.errors import Malformed
from bailee.ledger import fingerprint
from bailee.signing import vkeys
from bailee.verify import policy as policies
from bailee.verify.verifier import Trust

_ROOT: Final = re.compile(r"(?P<org>[a-z0-9][a-z0-9-]{0,31})=(?P<root>.*)", re.DOTALL)
_BEGINS: Final = re.compile(r"[^\s=+]+[=+]")
_LAST_SYMBOL: Final = re.compile(r"[1-5iIlL][0-9A-Za-z-]{4,14}=")
"""A line of a key, typed without spaces, whose check symbol happens to be the equals sign."""


def brought(
    roots: Iterable[str], log_keys: Iterable[str], policy: str | None, stamp_roots: Iterable[bytes] = ()
) -> Trust:
    """Trust from roots (`ORG=KEY`), keys of the log (`vkeys`) and the text of a policy, which may bring keys too.

    A text may hold several keys, each beginning a line; the five lines of a key may stand on lines of their own. `stamp_roots` are
    certificates of time stamp authorities, DER each (`authority.certificates`).

    Raises `Malformed` (`bad-root`, `key-line`, `no-log-key`, `policy`, and what `vkeys.read_log` says).
    """
    told = policies.read(policy) if policy is not None else policies.Policy()
    keys = (*map(vkeys.read_log, listed(log_keys)), *told.log_keys)
    if not keys:
        raise Malformed(
            "Bring the log's public key: give --log-key, or a file with it as --policy.", code="no-log-key"
        )
    return Trust(_roots(roots), keys, told.cosigners, told.quorum, tuple(stamp_roots))


def _roots(texts: Iterable[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for org, thumbprint in map(root, listed(texts)):
        if found.setdefault(org, thumbprint) != thumbprint:
            raise Malformed(
                f"Two root keys are given for {org}, and an organisation has one: find out which it is.",
                code="bad-root",
            )
    return found


def listed(texts: Iterable[str]) -> Iterator[str]:
    """Each key that was typed. A line that does not begin with a name goes on with the key of the line before."""
    for text in texts:
        typed: list[str] = []
        for line in map(str.strip, text.splitlines()):
            if typed and line and (not _BEGINS.match(line) or _LAST_SYMBOL.fullmatch(line)):
                typed[-1] += f"\n{line}"
            elif line:
                typed.append(line)
        yield from typed or [text]


def root(text: str) -> tuple[str, str]:
    """An organisation and the name of its root key, from `ORG=KEY`: the key's 43 characters (RFC 7638), or its five lines.

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
            f"{text!r} is no root key: write the organisation's short name, =, and the 43 characters of its key's name or its five lines.",
            code="bad-root",
        )
    return found["org"], name
