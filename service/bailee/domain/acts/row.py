"""What is known of an act besides its facts, as plain data: the shape of a row of `table`."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from typing import Any, Final, Literal, get_args

from bailee.domain.acts.mentions import Named, nothing
from bailee.domain.facts import Facts
from bailee.domain.fields import Role
from bailee.frozen import frozen

ChainKind = Literal["form", "lot", "org"]
Again = Literal["newest", "clashes", "answered", "once"]
Roles = frozenset[Role]

ANYBODY: Final[Roles] = frozenset(get_args(Role))
ADMINISTRATION: Final[Roles] = frozenset({"root", "admin"})
QUALITY: Final[Roles] = ADMINISTRATION | {"quality"}
MEDIA: Final[Roles] = QUALITY | {"media_keeper"}
HOLDERS: Final[Roles] = frozenset({"inspector", "clerk", "custodian", "analyst", "quality"})
SIGNERS: Final[Roles] = HOLDERS | {"media_keeper", "admin"}
PACKERS: Final[Roles] = frozenset({"clerk", "inspector", "custodian"})
LABORATORY: Final[Roles] = frozenset({"custodian", "analyst", "quality"})
DECIDERS: Final[Roles] = frozenset({"custodian", "quality"})


@frozen
class Row:
    """One act: all that is known of it before anybody says it.

    - `may`: the roles that may say it (SI-03).
    - `physical`: it states what has happened to glass, so from a wrong role it is flagged, never refused.
    - `opens`: it comes first on a chain of its kind, and only first.
    - `time`: the member that says when it was done, empty for what is only said.
    - `lasts`: the member with the seconds that it went on from then.
    - `other_times`: further members that a command takes from the clock.
    - `computed`: members that the service adds; nobody types them.
    - `grows`: members taken from how long the chain is; that it grew makes no other fact.
    - `drawn`: lists of numbers that a command makes; of two of them only the lengths are compared.
    - `about`: the members that name what it is about, as paths (`items.sample`), several that name one thing
      together with a plus (`kind+id`); none for what is about the whole chain.
    - `again`: a second one about the same thing. `newest`: it simply counts. `clashes`: with other facts,
      both cannot be meant. `answered`: so too, and the same is said already until something came back.
      `once`: it happens only once.
    - `undone_by`: acts that make it possible once more.
    - `fixed`: why it is not corrected, empty when it may be.
    - `seen`: facts that only the one who did it saw.
    - `is_decision`: what a colleague said is corrected only by a role that may say it.
    - `mentions`: the numbers it speaks of, and how.
    - `admits`: the organizations that become parties of the chain.
    - `brings_key`: the member with the key that it is checked against, where no other key can vouch for it.
    - `erases`: it tells of private fields that are gone.
    - `signed`: what a signature under it means, in words.
    - `does`: what its signer does to the samples, in words.
    - `step`: business step and disposition in the open supply-chain vocabulary (CBV 2.0); none for no event.
    """

    name: str
    chain: ChainKind
    facts: type[Facts]
    may: Roles
    physical: bool = False
    opens: bool = False
    time: str = ""
    lasts: str = ""
    other_times: tuple[str, ...] = ()
    computed: tuple[str, ...] = ()
    grows: tuple[str, ...] = ()
    drawn: tuple[str, ...] = ()
    about: tuple[str, ...] = ()
    again: Again = "newest"
    undone_by: tuple[str, ...] = ()
    fixed: str = ""
    seen: frozenset[str] = frozenset()
    is_decision: bool = False
    mentions: Callable[[Any, str], Iterator[Named]] = nothing
    admits: Callable[[Any, str], Collection[str]] = lambda _body, _org: ()
    brings_key: str = ""
    erases: bool = False
    signed: str = ""
    does: str = "acts on"
    step: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """Its name as people read it."""
        return self.name.replace("_", " ")

    @property
    def done(self) -> str:
        """The member that says when it was done, to glass or not; empty for what is only said."""
        return self.time or ("at" if "at" in self.other_times else "")

    @property
    def is_about_one_sample(self) -> bool:
        """Whether it names one sample, and nothing else of a form."""
        return self.about == ("sample",)

    def things(self, data: Mapping[str, Any]) -> list[str]:
        """What a statement of it is about: samples, an envelope; nothing when that is the chain."""
        return [thing for path in self.about for thing in _at(path, data)]


def _at(path: str, data: Mapping[str, Any]) -> list[str]:
    if "+" in path:
        return [" ".join(str(data.get(name)) for name in path.split("+"))]
    first, _, rest = path.partition(".")
    found: Any = data.get(first) or ()
    inside: list[Any] = [found] if isinstance(found, str | Mapping) else list(found)
    return [thing for each in inside for thing in _at(rest, each)] if rest else inside
