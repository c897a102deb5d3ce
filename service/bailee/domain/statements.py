"""Whether an act is well formed, and what a statement is once it is in the log.

Only `parse` and `draft` decide whether an act is well formed. They report all faults at once. Of an act, a
member, a code or an edition that this program does not know, they say so by the code `NOT_KNOWN`: then
nothing can be concluded from what it may mean.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from typing import Any, Final, Generic, TypeVar

from bailee.domain import numbers
from bailee.domain.acts import table
from bailee.domain.acts.row import ChainKind, Row
from bailee.domain.facts import Facts
from bailee.domain.moments import Moment
from bailee.errors import NOT_KNOWN, BadFacts, BadStatement, BaileeError
from bailee.frozen import field, frozen

B = TypeVar("B", bound=Facts)

_ORGANIZATION: Final = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,30}[a-z0-9])?")


@frozen
class Recorded:
    """A statement as it stands in the log: who said what, where in the chain, when said and when recorded.

    `at` is the signer's own clock; `rec` the ledger's, UTC. `leaf` and `digest` are base64url. `body` is
    `data` with its meaning; `seen` is the size and root of the newest checkpoint the device had verified;
    `private` counts the signed private fields, `disclosed` holds those still readable. `skew`: by how many
    seconds the device knew the ledger's clock to be ahead of its own.
    """

    chain: str
    n: int
    leaf: str
    rec: datetime
    digest: str
    kid: str
    org: str
    act: str
    at: Moment
    seq: int
    prev: str | None
    after: str | None
    data: Mapping[str, Any]
    body: Facts
    refs: tuple[str, ...] = ()
    seen: tuple[int, str] | None = None
    private: int = 0
    disclosed: Mapping[str, str] = field(default_factory=dict)
    skew: int = 0

    @property
    def row(self) -> Row:
        """What is known of its act."""
        return table.ROWS[self.act]

    @property
    def named(self) -> list[str]:
        """The samples that it is about by their numbers."""
        return [each for each in self.row.things(self.data) if numbers.kind_of(each) == "sample"]


@frozen
class Draft(Generic[B]):
    """An act that somebody is about to sign: its facts as far as they are known, who would sign them, and in
    whose name.

    `data` is what `body` was read from, kept to be signed as it stands; nothing is in it where a draft only
    supposes something.
    """

    act: str
    body: B
    org: str
    kid: str
    data: Mapping[str, Any] = field(default_factory=dict)

    @property
    def row(self) -> Row:
        """What is known of its act."""
        return table.ROWS[self.act]

    def known(self, name: str) -> Any:
        """A member that a draft may lack; None while it does."""
        assert name in self.body.later
        return getattr(self.body, name, None)


def is_organization(name: str) -> bool:
    """Whether this has the form of an organization's short name."""
    return _ORGANIZATION.fullmatch(name) is not None


def split_chain(chain: str) -> tuple[ChainKind, str]:
    """`form/F7K3…` → ("form", "F7K3…").

    Raises `BadStatement` when the name or its check character is wrong.
    """
    kind, _, number = chain.partition("/")
    try:
        if kind == "form":
            numbers.require(number, "form")
            return "form", number
        if kind == "lot":
            numbers.require(number, "lot")
            return "lot", number
    except BaileeError as error:
        raise BadStatement(error.sentence, errors=[{"at": "/sub", "says": error.sentence}]) from error
    if kind == "org" and is_organization(number):
        return "org", number
    said = f"{chain!r} names no form/…, lot/… or org/…"
    raise BadStatement(said, errors=[{"at": "/sub", "says": said}])


def parse(chain: str, act: str, data: Mapping[str, Any]) -> Facts:
    """The meaning of `data`.

    Raises `BadStatement` with every fault in `facts["errors"]` as {"at", "says"}.
    """
    return _meaning(split_chain(chain)[0], act, data, is_draft=False)


def draft(kind: ChainKind, act: str, data: Mapping[str, Any], org: str, kid: str) -> Draft[Any]:
    """An act about to be signed by a key, on a chain of this kind.

    Raises as `parse` does, and lets open what a draft may lack.
    """
    return Draft(act, _meaning(kind, act, data, is_draft=True), org, kid, data)


def _meaning(kind: ChainKind, act: str, data: Mapping[str, Any], *, is_draft: bool) -> Facts:
    row = table.ON_CHAIN[kind].get(act)
    if row is None:
        known = ", ".join(table.ON_CHAIN[kind])
        said = f"{act!r} is not something that happens to a {kind}; these are: {known}"
        code = None if act in table.ROWS else NOT_KNOWN
        raise BadStatement(said, code=code, errors=[{"at": "/act", "says": said}])
    try:
        return row.facts.draft(data) if is_draft else row.facts.read(data)
    except BadFacts as error:
        faults = [{"at": f"/data{fault['at']}", "says": fault["says"]} for fault in error.facts["errors"]]
        listed = "; ".join(f"{fault['at'].removeprefix('/data/')}: {fault['says']}" for fault in faults)
        raise BadStatement(
            f"This {act} entry cannot be {('judged' if is_draft else 'recorded')}: {listed}.",
            code=NOT_KNOWN if error.code == NOT_KNOWN else None,
            errors=faults,
            act=act,
        ) from error
