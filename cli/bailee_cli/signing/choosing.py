"""Which statement is meant: the earlier statements about a number, as the ledger or this device knows them,
and the one that has a fact.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from bailee.domain import corrections, numbers
from bailee.domain.acts.form import Corrected
from bailee.domain.acts.table import ROWS, name_of
from bailee.domain.numbers import grouped
from bailee.errors import Malformed
from bailee.frozen import frozen
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import submit
from bailee_cli.terminal import show, time_zones


@frozen
class Fact:
    """One fact of a statement: the value in force, why this person may not correct it (empty when they may),
    who may.
    """

    field: str
    value: Any
    why_not: str
    who: str

    @property
    def whom(self) -> str:
        """Who may, for a table."""
        return f"{self.who} (not you)" if self.why_not else self.who


@frozen
class Stated:
    """One earlier statement as it counts now. `entry` is None while it waits on this device."""

    chain: str
    act: str
    digest: str
    entry: int | None
    by: str
    at: str
    names: tuple[str, ...]
    data: Mapping[str, Any]
    facts: tuple[Fact, ...]
    zone: str | None = None

    def fact(self, field: str) -> Fact:
        """The fact of this name; of an outer one, its first inner one."""
        return next(each for each in self.facts if each.field == field or each.field.startswith(f"{field}."))

    @property
    def words(self) -> str:
        """`collected, entry 3, by Inspector One, 2026-12-01 09:05 America/New_York`."""
        where = "waiting on this device" if self.entry is None else f"entry {self.entry}"
        told = (self.act.replace("_", " "), where, f"by {self.by}", show.when(self.at, self.zone))
        return ", ".join(filter(None, told))

    @property
    def mark(self) -> str:
        """What names it after --statement."""
        return str(self.entry or self.digest[:12])

    def as_json(self) -> dict[str, Any]:
        """The statement for a program."""
        return {
            "statement": self.digest,
            "chain": self.chain,
            "act": self.act,
            "entry": self.entry,
            "by": self.by,
            "at": self.at,
            "facts": [
                {"field": f.field, "value": f.value, "may": not f.why_not, "why_not": f.why_not, "who": f.who}
                for f in self.facts
            ],
        }


def known(session: Session, number: str, *, offline: bool) -> list[Stated]:
    """Every statement about a number that may be corrected, oldest first: from the ledger, and what waits
    here.
    """
    own = _own(session, number, waiting=not offline)
    if offline:
        return own
    waiting = {each.chain.removeprefix("form/") for each in own}
    match numbers.kind_of(number):
        case "form":
            forms = [number]
        case "envelope":
            forms = list(session.service.get(f"/envelopes/{number}")["forms"])
        case _:
            forms = [] if waiting else [cache.form_of(session, number, even_void=True)]
    told = [each for form in forms for each in _told(session, form, number)]
    return [*told, *(each for each in own if each.digest not in {other.digest for other in told})]


def choose(
    number: str, found: Sequence[Stated], name: str, act: str | None, which: str | None
) -> tuple[Stated, str]:
    """The statement that is meant, and the full name of its fact.

    Raises `Malformed` that names what there is to choose from.
    """
    asked = [each for each in found if act in (None, each.act) and _is(each, which)]
    if not asked:
        raise Malformed(
            f"No entry {act or which or ''} about {grouped(number)} was found. `bailee correct {number}`"
            " lists what there is.",
            code="no-such-statement",
        )
    having = [each for each in asked if corrections.meant(each.act, name)]
    if not having:
        raise Malformed(_no_such_fact(number, asked, name), code="no-such-fact", field=name)
    alone = [each for each in having if set(each.names) <= {number}]
    meant = having if len(having) == 1 else alone if len(alone) == 1 else having
    if len(meant) > 1:
        acts = [each.act for each in meant]
        listed = "; ".join(
            f"{'--act ' + e.act if acts.count(e.act) == 1 else '--statement ' + e.mark} ({e.words})"
            for e in meant
        )
        raise Malformed(
            f"Several entries about {grouped(number)} have {name}. Choose one: {listed}. Nothing was signed.",
            code="ambiguous",
        )
    (chosen,) = meant
    fields = corrections.meant(chosen.act, name)
    if len(fields) > 1:
        raise Malformed(
            f"{name} may be {' or '.join(fields)}: write it in full. Nothing was signed.", code="ambiguous"
        )
    return chosen, fields[0]


def _no_such_fact(number: str, asked: Sequence[Stated], name: str) -> str:
    acts = list(dict.fromkeys(each.act for each in asked))
    said = f"The entry about {grouped(number)} ({', '.join(show.words(act) for act in acts)}) has no {name}."
    near = list(dict.fromkeys(each for act in acts for each in corrections.nearest(act, name)))
    like = f" Names like it: {', '.join(near[:3])}." if near else ""
    elsewhere = corrections.acts_with(name)
    of = ""
    if elsewhere:
        whose = (
            "a sample"
            if all(ROWS[each].is_about_one_sample for each in elsewhere)
            else "the form or the envelope"
        )
        of = (
            f" It is a fact of {', '.join(show.words(act) for act in elsewhere)}: enter the number of"
            f" {whose}."
        )
    return f"{said}{like}{of} Nothing was signed."


def _is(stated: Stated, which: str | None) -> bool:
    return which is None or which == str(stated.entry) or (len(which) > 5 and stated.digest.startswith(which))


def _told(session: Session, form: str, number: str) -> list[Stated]:
    told = session.service.get(f"/forms/{form}/facts", about=number)["statements"]
    zone = time_zones.of_form(session, form)
    return [
        Stated(
            f"form/{form}",
            s["act"],
            s["statement"],
            s["entry"],
            s["by"],
            s["at"],
            tuple(s["names"]),
            s["data"],
            tuple(Fact(f["field"], f["value"], f["why_not"], f["who"]) for f in s["facts"]),
            zone,
        )
        for s in told
    ]


def _own(session: Session, number: str, *, waiting: bool) -> list[Stated]:
    """What this device said of a number, with its own corrections; `waiting`: only what has not been sent."""
    found: dict[str, Stated] = {}
    for kept in reversed(session.outbox.newest(1000)):
        data = submit.data_of(kept)
        if kept.act == name_of(Corrected) and kept.counts and data["statement"] in found:
            before = found[data["statement"]]
            found[before.digest] = _with(
                before, corrections.with_value(before.data, data["field"], data["new"])
            )
        fits = kept.chain == f"form/{number}" if numbers.kind_of(number) == "form" else number in str(data)
        about_one = ROWS[kept.act].is_about_one_sample and numbers.kind_of(number) == "form"
        if (
            fits
            and kept.counts
            and not about_one
            and kept.chain.startswith("form/")
            and not ROWS[kept.act].fixed
        ):
            if waiting and kept.state != "waiting":
                continue
            entry = (kept.answer or {}).get("n")
            names = tuple(data[each] for each in ("sample", "envelope") if each in data)
            found[kept.digest] = _with(
                Stated(kept.chain, kept.act, kept.digest, entry, "this device", "", names, data, ()), data
            )
    return list(found.values())


def _with(stated: Stated, data: Mapping[str, Any]) -> Stated:
    facts = tuple(
        Fact(name, corrections.value(data, name), "", "you") for name in corrections.names(stated.act)
    )
    return replace(stated, data=data, facts=facts)
