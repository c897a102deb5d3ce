"""What may still be said of a form: facts that may be corrected, findings that may be allowed; and what
became of saying it.

A correction or exception that is genuine is recorded whatever it is worth (bytes signed long ago in a
basement are never lost); whether it counts is told with the answer, as things stand then.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy.engine import Connection

from bailee.domain import corrections, numbers
from bailee.domain.acts.form import Excepted
from bailee.domain.corrections import Corrector
from bailee.domain.custody import Form, Said
from bailee.domain.statements import Recorded
from bailee.errors import Forged, Malformed
from bailee.frozen import frozen
from bailee.operations import number_lookup, redaction, visibility
from bailee.operations.ledger import Ledger
from bailee.operations.visibility import Asker
from bailee.rules import exceptions
from bailee.rules.case import Case
from bailee.rules.exceptions import Allowing
from bailee.rules.registry import Hit


@frozen
class CorrectableFact:
    """One fact of a statement: its name, the value in force, why the asker may not correct it (empty when
    they may), and who may.
    """

    field: str
    value: Any
    why_not: str
    who: str


@frozen
class Correctable:
    """A statement as it counts now, who made it, the numbers it names, its facts."""

    entry: Recorded
    person: str
    names: tuple[str, ...]
    facts: tuple[CorrectableFact, ...]


@frozen
class Allowed:
    """Whether an exception would count: what its rule finds about the thing, and about which others; why not.

    Who may sign it.
    """

    rule: str
    title: str
    forms: tuple[str, ...]
    found: tuple[Hit, ...]
    others: tuple[str, ...]
    why_not: str
    who: str
    holds: bool


def stated(ledger: Ledger, connection: Connection, asker: Asker, form: str, about: str) -> list[Correctable]:
    """What may be corrected of `about`: a sample or envelope that statements of the form name, or the form
    itself.

    Raises `Unknown` when the asker may not see the form.
    """
    visibility.require(connection, f"form/{form}", asker.org)
    case = _case(ledger, connection, asker, {form})
    found = case.forms[form]
    told = []
    for entry in sorted(found.ordered, key=lambda each: each.n):
        named = tuple(_named(entry.data))
        fits = not entry.row.is_about_one_sample if about == form else about in named
        if fits and not entry.row.fixed:
            told.append(
                Correctable(
                    entry, case.person(entry.org, entry.kid), named, tuple(_facts(case, found, entry, asker))
                )
            )
    return told


def allowed(
    ledger: Ledger, connection: Connection, asker: Asker, rule: str, about: str, reason: str | None,
    form: str | None,
) -> Allowed:  # fmt: skip
    """Whether the asker's exception of a rule would count.

    Raises `Forged` (`not-excepted`) for a rule that may not be excepted, `Malformed` (`no-form`) when no form
    is known to be meant, `Unknown` when the asker may not see one.
    """
    known = exceptions.require(rule)
    if form:
        visibility.require(connection, f"form/{form}", asker.org)
    forms = {form} if form else _forms_about(ledger, connection, asker.org, about)
    if not forms:
        raise Malformed("No form has that number: enter which form is meant.", code="no-form")
    case = _case(ledger, connection, asker, forms)
    found = exceptions.hits(case, known, about)
    said = Allowing(known, about, asker.org, asker.kid, reason)
    return Allowed(
        known.id,
        known.title,
        tuple(sorted(forms)),
        tuple(hit for hit in found if hit.about == about),
        tuple(sorted({hit.about for hit in found} - {about})),
        exceptions.why_not(case, said, found),
        exceptions.who(case, said, found),
        exceptions.holds(case, said),
    )


def notes(ledger: Ledger, recorded: Iterable[tuple[str, int]]) -> Mapping[tuple[str, int], str]:
    """By chain and entry number of corrections and exceptions: a sentence why they do not count, as things
    stand; none when they do.
    """
    wanted: dict[str, set[int]] = {}
    for chain, n in recorded:
        wanted.setdefault(chain, set()).add(n)
    found: dict[tuple[str, int], str] = {}
    if wanted:
        with ledger.database.reading() as connection:
            for chain, entries in wanted.items():
                for n, why in _not_counting(ledger, connection, chain.removeprefix("form/"), entries):
                    found[chain, n] = f"It does not count: {why.rstrip('.')}."
    return found


def _not_counting(
    ledger: Ledger, connection: Connection, number: str, entries: set[int]
) -> Sequence[tuple[int, str]]:
    form = ledger.books.form(connection, number)
    found = [(each.entry.n, each.why_not) for each in form.corrections if each.entry.n in entries]
    signed = [said for said in form.exceptions if said.entry.n in entries]
    cases: dict[tuple[str, frozenset[str]], Case] = {}
    found += [(said.entry.n, _why_nothing_allowed(ledger, connection, form, said, cases)) for said in signed]
    return [(n, why) for n, why in found if why]


def _why_nothing_allowed(
    ledger: Ledger, connection: Connection, form: Form, said: Said,
    cases: dict[tuple[str, frozenset[str]], Case],
) -> str:  # fmt: skip
    """`cases`: what was read for others of the same form.

    Nothing is read for whoever may allow nothing in any case.
    """
    body, org, kid = said.of(Excepted), said.entry.org, said.entry.kid
    try:
        rule = exceptions.require(body.rule)
    except Forged as error:  # recorded by an earlier program, which had other rules
        return error.sentence.rstrip(".")
    allowing = Allowing(rule, body.about, org, kid, body.reason)
    if why := exceptions.no_standing(allowing, form.roles.get(kid, "")):
        return f"{why}. It takes {exceptions.second_person(rule)}"
    forms = frozenset({form.number} | _forms_about(ledger, connection, org, body.about))
    if (org, forms) not in cases:
        cases[org, forms] = ledger.books.case(connection, forms, ledger.instant(), org)
    case = cases[org, forms]
    found = exceptions.hits(case, rule, body.about)
    why = exceptions.why_not(case, allowing, found)
    return f"{why}. It takes {exceptions.who(case, allowing, found)}" if why else ""


def _case(ledger: Ledger, connection: Connection, asker: Asker, forms: set[str]) -> Case:
    return redaction.case(ledger.books.case(connection, forms, ledger.instant(), asker.org), asker.org)


def _forms_about(ledger: Ledger, connection: Connection, asker: str, about: str) -> set[str]:
    """The forms that a number is on or in, as the asker means it.

    None for anything that is no form, sample or envelope.
    """
    match numbers.kind_of(about):
        case "form":
            return {about} if visibility.sees(connection, f"form/{about}", asker) else set()
        case "sample":
            return set(number_lookup.candidates(connection, ledger.books, asker, [about]))
        case "envelope":
            return number_lookup.forms_with(connection, ledger.books, asker, about)
        case _:
            return set()


def _facts(case: Case, form: Form, entry: Recorded, asker: Asker) -> Iterable[CorrectableFact]:
    signer = Corrector(asker.org, asker.role, form.same(asker.kid, entry.kid))
    person = case.person(entry.org, entry.kid)
    for field in corrections.names(entry.act):
        yield CorrectableFact(
            field,
            corrections.value(entry.data, field),
            corrections.why_not(entry.act, entry.org, field, signer),
            corrections.who(entry.act, entry.org, field, person),
        )


def _named(data: Mapping[str, Any]) -> Iterable[str]:
    """The samples and envelopes that a statement names."""
    dock = data.get("dock")
    singles = [
        data.get("sample"),
        data.get("envelope"),
        dock.get("envelope") if isinstance(dock, Mapping) else None,
    ]
    items = [each for item in data.get("items") or () for each in (item.get("sample"), item.get("child"))]
    listed = data.get("samples") or ()
    return dict.fromkeys(each for each in (*singles, *listed, *items) if each)
