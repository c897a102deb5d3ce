"""Where a lot went: every sample, form, envelope and laboratory, from the index alone, so that a recall is
one answer.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from sqlalchemy.engine import Connection

from bailee.domain.custody import Form
from bailee.domain.lots import Lot
from bailee.frozen import frozen
from bailee.operations import number_lookup, visibility
from bailee.operations.snapshots import Books
from bailee.store import number_index
from bailee.store.number_index import Use


@frozen
class Used:
    """One sample of a lot: its form, the envelopes it lay in, who analyses it, and what it became if it was
    sent on.
    """

    sample: str
    form: str
    envelopes: tuple[str, ...]
    laboratories: tuple[str, ...]
    child: str | None


@frozen
class Uses:
    """A lot and everything that was taken with it, as far as the asker may see it.

    `lot` is None for whom it is not theirs.
    """

    number: str
    lot: Lot | None
    uses: tuple[Used, ...]

    @property
    def forms(self) -> list[str]:
        """Each form once."""
        return list(dict.fromkeys(each.form for each in self.uses))

    @property
    def envelopes(self) -> list[str]:
        """Each envelope once."""
        return list(dict.fromkeys(number for each in self.uses for number in each.envelopes))

    @property
    def laboratories(self) -> list[str]:
        """Each laboratory once."""
        return list(dict.fromkeys(org for each in self.uses for org in each.laboratories))


def uses(connection: Connection, books: Books, asker: str, number: str) -> Uses:
    """Where the lot was used, on forms that the asker may see. Raises `Unknown` when that is nothing.

    A use counts when the asker's own organization says it, or when the lot's owner decided that the cassette
    is the claimant's (`operations.number_lookup`); of the others its owner is told with the lot. What a
    correction took out of the lot is still listed: whoever recalls it tells one laboratory too many, and none
    too few.
    """
    is_owner = asker in number_index.parties(connection, f"lot/{number}")
    seen = number_index.uses(connection, number, asker)
    if not (seen or is_owner):  # before the lot is read: asking costs as much where there is none
        raise visibility.nothing("lot", number)
    lot = books.lot(connection, number)
    forms = _Forms(connection, books)
    named = _that_count(connection, books, lot, asker, list(_named(forms, number, seen)))
    if not (named or is_owner):
        raise visibility.nothing("lot", number)
    by_sample: dict[tuple[str, str], list[Use]] = {}
    for each in named:
        by_sample.setdefault((each.chain, each.sample or ""), []).append(each)
    told = tuple(
        Used(
            sample,
            chain.removeprefix("form/"),
            tuple(dict.fromkeys(envelope for each in group for envelope in each.envelopes)),
            tuple(sorted(forms[chain].laboratories)),
            next((each.child for each in group if each.child), None),
        )
        for (chain, sample), group in by_sample.items()
    )
    return Uses(number, lot if is_owner else None, told)


class _Forms(dict[str, Form]):
    """By chain: forms, each read once."""

    def __init__(self, connection: Connection, books: Books) -> None:
        super().__init__()
        self._connection, self._books = connection, books

    def __missing__(self, chain: str) -> Form:
        self[chain] = found = self._books.form(self._connection, chain.removeprefix("form/"))
        return found


def _that_count(
    connection: Connection, books: Books, lot: Lot | None, asker: str, uses: Sequence[Use]
) -> list[Use]:
    by_sample: dict[str, list[Use]] = {}
    for each in uses:
        by_sample.setdefault(each.sample or "", []).append(each)
    keys = number_lookup.Keys(connection, books)
    told: set[Use] = set()
    for sample, found in by_sample.items():
        told.update(each for each in found if each.org == asker)
        told.update(number_lookup.that_count(keys, lot, sample, found) if lot else ())
    return [each for each in uses if each in told]


def _named(forms: Mapping[str, Form], number: str, found: Iterable[Use]) -> Iterable[Use]:
    """The uses with their samples.

    Where a correction brought a sample into the lot, the form is asked which.
    """
    asked: set[str] = set()
    for each in found:
        if each.sample is not None:
            yield each
        elif each.chain not in asked:
            asked.add(each.chain)
            for sample in forms[each.chain].samples.values():
                if sample.claims and sample.lot == number:
                    envelopes = (sample.envelope,) if sample.envelope else ()
                    child = sample.child.number if sample.child else None
                    org = sample.claims[0].entry.org
                    yield Use(each.chain, each.n, org, sample.number, envelopes, child)
