"""What an auditor types about roots and logs, read: the same for the command line and for the page."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from bailee.errors import Malformed
from bailee.signing import vkeys
from bailee.verify import policy as policies
from bailee.verify.verifier import Trust

_ROOT: Final = re.compile(r"(?P<org>[a-z0-9][a-z0-9-]{0,31})=(?P<root>[A-Za-z0-9_-]{43})")


def brought(
    roots: Iterable[str], log_keys: Iterable[str], policy: str | None, stamp_roots: Iterable[bytes] = ()
) -> Trust:
    """Trust from roots (`ORG=THUMBPRINT`), keys of the log (vkeys) and the text of a policy, which may bring keys too.

    `stamp_roots` are certificates of time stamp authorities, DER each (`authority.certificates`).

    Raises `Malformed` (`bad-root`, `no-log-key`, `policy`, and what `vkeys.read_log` says).
    """
    told = policies.read(policy) if policy is not None else policies.Policy()
    keys = (*(vkeys.read_log(each) for each in log_keys), *told.log_keys)
    if not keys:
        raise Malformed(
            "Bring the log's public key: give --log-key, or a file with it as --policy.", code="no-log-key"
        )
    return Trust(_roots(roots), keys, told.cosigners, told.quorum, tuple(stamp_roots))


def _roots(texts: Iterable[str]) -> dict[str, str]:
    found: dict[str, str] = {}
    for org, thumbprint in map(root, texts):
        if found.setdefault(org, thumbprint) != thumbprint:
            raise Malformed(
                f"Two root keys are given for {org}, and an organisation has one: find out which it is.",
                code="bad-root",
            )
    return found


def root(text: str) -> tuple[str, str]:
    """An organisation and the thumbprint of its root key, from `ORG=THUMBPRINT`. Raises `Malformed` (`bad-root`)."""
    found = _ROOT.fullmatch(text)
    if found is None:
        raise Malformed(
            f"{text!r} is no root key: write the organisation's short name, =, and the 43 characters of its key's name.",
            code="bad-root",
        )
    return found["org"], found["root"]
