"""Whose a scanned number is: the forms that somebody means who asks about a sample, an envelope or a seal.

Anybody can write any number on a form of their own, and can name others as its parties without asking them.
So a number leads only to forms that the asker may see, and among those to the ones whose word about it counts
for the asker:

- a sample: what the asker's own organization says of it. Otherwise, where several claim it, what the owner of
  the lot decided, who is the first to have issued it, and that before any of them claimed it: the owner
  itself, and whoever it was issued to. Otherwise what the asker received; otherwise the first claimant's,
  when that alone sent it on its way. Otherwise nobody knows, and the asker is told all the forms to choose
  from;
- an envelope: it is its sealer's, like a seal. The forms of one envelope are those on which one organization
  closed or sent it. Whoever has it open means the one whose cassettes lie in it, or names a form; without
  that it is the asker's own before one that the asker received, and that before any other; of others the
  first.

So a stranger who writes the number of somebody's sample or envelope makes a thing of their own, and neither
blocks, joins nor hides the other.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from typing import Final, Protocol, TypeVar

from sqlalchemy.engine import Connection

from bailee.domain.acts import mentions
from bailee.domain.lots import Lot
from bailee.domain.numbers import grouped
from bailee.errors import Refused
from bailee.frozen import frozen
from bailee.operations.snapshots import Books
from bailee.store import number_index
from bailee.store.number_index import Mention

MOST_TOLD: Final = 100
"""Numbers told of one lot: whoever claims more of them has told enough."""
_CLAIMS: Final = (mentions.COLLECTED, mentions.FORWARDED)
_SENDING: Final = (mentions.SEALED, mentions.SHIPPED)


class _SaidBy(Protocol):
    """Anything that an organization says."""

    @property
    def org(self) -> str: ...


Claim = TypeVar("Claim", bound=_SaidBy)


@frozen
class Claimed:
    """A sample number that was claimed elsewhere, and the day (UTC) on which the first such claim was
    recorded.
    """

    sample: str
    on: date

    @property
    def sentence(self) -> str:
        """What happened, with no form, name or place."""
        return (
            f"Sample number {grouped(self.sample)} of this lot has an entry on another form, of {self.on}."
            " Your forms are not changed by it."
        )

    @property
    def remedy(self) -> str:
        """What to do now."""
        return (
            "Check whether the cassette with this number is where it should be. If it is missing, ask the"
            " person it was issued to; if not, the number was typed or copied there, and nothing is to be"
            " done."
        )


def forms_of(connection: Connection, books: Books, asker: str, samples: Iterable[str]) -> list[str]:
    """Forms on which any of the samples was collected, or sent on under that number, the first recorded
    first.

    Raises `Refused`, code `several-claimants`, when several organizations say so of one number and nothing
    decides whose it is.
    """
    found: list[Mention] = []
    for number, meant in _claims(connection, books, asker, samples).items():
        if len({each.org for each in meant}) > 1:
            raise _undecided(number, meant)
        found += meant
    return _forms(found)


def candidates(connection: Connection, books: Books, asker: str, samples: Iterable[str]) -> list[str]:
    """The same, with every form that may be meant where nothing decides."""
    by_number = _claims(connection, books, asker, samples)
    return _forms(each for meant in by_number.values() for each in meant)


def forms_with(
    connection: Connection, books: Books, asker: str, envelope: str, *,
    own: bool = False, form: str | None = None, held: Collection[str] | None = None,
) -> set[str]:  # fmt: skip
    """Forms of the envelope that the asker means; `own`: only when the asker's organization has spoken of it.

    `form`: those of whoever closed or sent it on that form. `held`: the samples that were read inside, which
    are of one sender's forms. Raises `Refused`, code `several-senders`, when several sent it and what was
    read inside decides for none.
    """
    seen = [
        each
        for each in books.spoken(connection, [envelope], asker)
        if each.since is not None and each.chain.startswith("form/")
    ]
    sender: dict[str, str] = {}
    for each in [*(one for one in seen if one.what in _SENDING), *seen]:
        sender.setdefault(each.chain, each.org)
    groups = dict.fromkeys(sender[each.chain] for each in seen)
    touched = {sender[each.chain] for each in seen if each.org == asker}
    if form is not None:
        meant = [sender[chain] for chain in sender if chain == f"form/{form}"]
    elif held is not None and len(groups) > 1:
        meant = [_holder(envelope, sender, candidates(connection, books, asker, held))]
    elif own:
        meant = [org for org in groups if org == asker or org in touched]
    else:
        meant = sorted(groups, key=lambda org: (org != asker, org not in touched))[:1]
    return {chain.removeprefix("form/") for chain, org in sender.items() if org in meant}


def _holder(envelope: str, sender: Mapping[str, str], forms: Iterable[str]) -> str:
    """The one sender on whose forms the samples are that were read inside."""
    holders = {sender[chain] for each in forms if (chain := f"form/{each}") in sender}
    if len(holders) == 1:
        return holders.pop()
    candidates = sorted(
        chain.removeprefix("form/") for chain, org in sender.items() if org in holders or not holders
    )
    raise Refused(
        f"Several sampling firms used the number of envelope {grouped(envelope)}, on the forms"
        f" {', '.join(map(grouped, candidates))}, and the cassettes inside do not decide which it is: name"
        " the form on the custody record inside.",
        code="several-senders",
        also="form",
        envelope=envelope,
        forms=candidates,
    )


def claimed_elsewhere(connection: Connection, books: Books, lot: Lot) -> list[Claimed]:
    """Numbers of a lot that somebody else claimed whose they are not, by when: for the lot's owner, with no
    form, name or place.

    One line a number, by its first such claim that was not voided; at most `MOST_TOLD`. Only of numbers that
    this lot was the first to issue, and only what was claimed after that: whoever issues a number that
    somebody else has already is told nothing of it.
    """
    found = books.spoken(connection, list(lot.issued), lot.org)
    keys, place = Keys(connection, books), {each: n for n, each in enumerate(found)}
    strange: list[Mention] = []
    for number, said in _by_number(found).items():
        issued = next(n for n, each in enumerate(said) if each.what == mentions.ISSUED)
        if said[issued].chain != f"lot/{lot.number}":
            continue
        spoken = said[issued:]
        voided = {(each.chain, each.org) for each in spoken if each.what == mentions.VOIDED}
        claims = [each for each in spoken if each.what == mentions.COLLECTED]
        known = set(accounting(keys, lot, number, claims))
        others = (each for each in claims if each not in known and (each.chain, each.org) not in voided)
        if first := next(others, None):
            strange.append(first)
    told = sorted(strange, key=place.__getitem__)[:MOST_TOLD]
    days = number_index.recorded(connection, told)
    return sorted(
        (Claimed(each.number, days[each]) for each in told), key=lambda each: (each.on, each.sample)
    )


class Keys(dict[str, Collection[str]]):
    """By organization the keys it enrolled: looked up when they decide something, and once, however much it
    says.
    """

    def __init__(self, connection: Connection, books: Books) -> None:
        super().__init__()
        self._connection, self._books = connection, books

    def __missing__(self, org: str) -> Collection[str]:
        found = self._books.organization(self._connection, org)
        self[org] = keys = found.keys if found else ()
        return keys


def accounting(keys: Keys, lot: Lot, sample: str, said: Sequence[Claim]) -> list[Claim]:
    """Of what is said of a sample that which tells the lot's owner what became of it.

    A number that was issued for a visit day is asked after: only the owner and whoever it was issued to by
    name may answer.
    """
    issued = lot.issued.get(sample)
    if issued is None or issued.visit is None:
        return that_count(keys, lot, sample, said)
    return [each for each in said if _is_decided(keys, lot, each.org, sample)]


def that_count(keys: Keys, lot: Lot, sample: str, claims: Sequence[Claim]) -> list[Claim]:
    """Of claims in the order of recording those that count by what the lot's owner decided.

    Else those of the first claimant.
    """
    decided = {org: _is_decided(keys, lot, org, sample) for org in dict.fromkeys(each.org for each in claims)}
    if sure := [each for each in claims if decided[each.org]]:
        return sure
    bearer = next((each.org for each in claims if decided[each.org] is None), None)
    return [each for each in claims if each.org == bearer]


def _is_decided(keys: Keys, lot: Lot, org: str, sample: str) -> bool | None:
    """Whether the lot's owner decided that the sample is this organization's.

    None when it was issued to nobody by name.
    """
    if org == lot.org:
        return True
    issued = lot.issued.get(sample)
    if issued is None:
        return False
    return None if issued.to is None else issued.to in keys[org]


def _claims(
    connection: Connection, books: Books, asker: str, samples: Iterable[str]
) -> dict[str, Sequence[Mention]]:
    """By number the claims that the asker means."""
    keys = Keys(connection, books)
    by_number = _by_number(books.spoken(connection, sorted(set(samples)), asker))
    return {
        number: _meant(connection, books, keys, asker, number, spoken) for number, spoken in by_number.items()
    }


def _forms(claims: Iterable[Mention]) -> list[str]:
    return list(dict.fromkeys(each.chain.removeprefix("form/") for each in claims))


def _undecided(number: str, claims: Sequence[Mention]) -> Refused:
    forms = _forms(claims)
    by = {each.chain.removeprefix("form/"): each.org for each in claims}
    named = ", ".join(f"{grouped(form)} ({by[form]})" for form in forms)
    return Refused(
        f"Several organizations collected a sample under the number {grouped(number)}, on the forms {named},"
        " and nothing decides which is meant: see which form came with the cassette, and ask about that"
        " form.",
        code="several-claimants",
        sample=number,
        forms=forms,
    )


def _meant(
    connection: Connection, books: Books, keys: Keys, asker: str, number: str, spoken: Sequence[Mention]
) -> Sequence[Mention]:
    """Of all that is said of a sample number the claims that the asker means, as recorded.

    Of several organizations when nothing decides.
    """
    seen = [each for each in spoken if each.what in _CLAIMS and each.since is not None]
    own = [each for each in seen if each.org == asker]
    if own or len({each.org for each in seen}) <= 1:
        return own or seen  # a number that the asker does not see costs no more than one that is nowhere
    before = spoken[: spoken.index(seen[0])]  # whoever issues what others use already decides nothing
    issuing = next((each for each in before if each.what == mentions.ISSUED), None)
    lot = books.lot(connection, issuing.chain.removeprefix("lot/")) if issuing else None
    decided = [each for each in seen if lot and _is_decided(keys, lot, each.org, number)]
    return decided or _on_its_way(connection, books, asker, spoken, seen)


def _on_its_way(
    connection: Connection, books: Books, asker: str, spoken: Sequence[Mention], seen: Sequence[Mention]
) -> Sequence[Mention]:
    """The claims of the one from whom the asker received the sample.

    Else of the first claimant, when that alone sent it; else all.
    """
    packed = [
        (each.chain, each.other) for each in spoken if each.what == mentions.PACKED and each.since is not None
    ]
    packed = packed[:MOST_TOLD]
    envelopes = sorted({envelope for _, envelope in packed if envelope})
    said = [
        each for each in books.spoken(connection, envelopes, asker) if (each.chain, each.number) in packed
    ]
    docked = {each.chain for each in said if each.what == mentions.DOCKED and each.org == asker}
    shipped = {each.chain for each in said if each.what == mentions.SHIPPED}
    received = {each.org for each in seen if each.chain in docked}
    sent = {each.org for each in seen if each.chain in shipped}
    if len(received) == 1:
        return [each for each in seen if each.org in received]
    if not received and sent == {seen[0].org}:
        return [each for each in seen if each.org in sent]
    return seen


def _by_number(spoken: Iterable[Mention]) -> Mapping[str, Sequence[Mention]]:
    found: dict[str, list[Mention]] = {}
    for each in spoken:
        found.setdefault(each.number, []).append(each)
    return found
