"""What to do now: a sentence for anybody, and beside it the acts that a program can offer.

    advice("Read the serial molded on the cassette, and add it.", do("corrected", "sample", field="serial",
    new=..., reason="left_out"))

An act is one of custody (`domain.acts.table`) or one of `readers.ON_A_DEVICE`. The words after its name are
the numbers it is done with: they are filled in from the finding. Facts are named as the statement names them;
`...` is a fact that only the person can give. In a finding an act is told as plain members, `{"act":
"corrected", "sample": "S…", "field": "serial", "new": null, "reason": "left_out"}`: null is for the person to
give. A number is null where the finding knows several of its kind, or none. Besides its own members a
statement may have

    about         what an exception is about: a sample, form, envelope or key
    statement     of a correction, the entry in which `field` stands, where the finding rests on one alone
    of            of a correction, the act in which `field` stands, where it is not the collection of `sample`
    called_person, answer       private fields of a laboratory's decision
    lab_number, reason          one of the laboratory's numbers, one of its reasons
    leave_out     of `sealed`: true where that sample stays outside, and the others are sealed
    dock          of `received`: true at the laboratory's dock, absent from person to person

An error that helps with the next step says it the same way: `acts`, or `also`, the one fact without which the
same cannot be done.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import EllipsisType
from typing import Final

from bailee.domain import numbers
from bailee.domain.acts.form import Sealed, Shipped
from bailee.domain.fields import Role
from bailee.frozen import frozen
from bailee.rules.case import Case
from bailee.rules.readers import (
    EVERYBODY,
    NOT_LEFT,
    STAGES,
    Audience,
    Fact,
    Number,
    Part,
    Stage,
    Step,
    ToldAct,
)


@frozen
class Remedy:
    """What to do now: its parts, in the order in which they are said."""

    parts: tuple[Part, ...]

    @property
    def words(self) -> str:
        """All of it, as it stands in the table of rules."""
        return " ".join(part.words for part in self.parts if part.words)

    @property
    def steps(self) -> tuple[Step, ...]:
        """The acts, in the order in which the words speak of them."""
        return tuple(step for part in self.parts for step in part.steps)

    def acts(self, known: Mapping[str, str | None]) -> tuple[ToldAct, ...]:
        """The acts with the numbers that are known."""
        return tuple(
            {"act": each.act, **{name: known.get(name) for name in each.numbers}, **each.facts}
            for each in self.steps
        )

    def __add__(self, other: Remedy) -> Remedy:
        """This, and then the other."""
        return Remedy(self.parts + other.parts)

    def at(self, stage: Stage, reader: Audience = EVERYBODY) -> Remedy:
        """What of it can be done at this stage, as this reader is to be told; that nothing can, if so."""
        possible = [part.read(reader) for part in self.parts if stage in part.at]
        own = [part for part in possible if part.words and not part.whom]
        asked: dict[str, list[str]] = {}
        for part in possible:
            if part.words and part.whom:
                asked.setdefault(part.whom, []).append(part.words)
        own += [Part(f"Ask {whom}: {_inside(' '.join(words))}") for whom, words in asked.items()]
        return Remedy(tuple(own)) if own else NOTHING_MORE


def _inside(words: str) -> str:
    """A sentence after a colon."""
    return words[:1].lower() + words[1:]


def do(act: str, *about: Number, **facts: Fact | EllipsisType) -> Step:
    """One act of a remedy."""
    return Step(act, about, {name: None if fact is ... else fact for name, fact in facts.items()})


def advice(words: str, *steps: Step) -> Remedy:
    """Words and acts of a remedy that is possible wherever the sample is, for whoever can do the acts."""
    return Remedy((Part(words, steps),) if words else ())


def for_all(words: str, *steps: Step) -> Remedy:
    """The same, in words that say who does it, and so hold for every reader."""
    return Remedy((Part(words, steps, is_told=True),))


def on_site(words: str, *steps: Step, is_asked_for: bool = True) -> Remedy:
    """What the inspector can do as long as the samples are with those who collected them."""
    there: frozenset[Stage] = frozenset({"site"})
    return Remedy((Part(words, steps, there, ("inspector",), is_asked_for=is_asked_for),))


def before_it_left(words: str, *steps: Step, roles: tuple[Role, ...] = ()) -> Remedy:
    """What can be done until it has left the firm, by these roles."""
    return Remedy((Part(words, steps, NOT_LEFT, roles),))


def off_site(words: str, *steps: Step) -> Remedy:
    """What is left to do once the samples are no longer with those who collected them."""
    return Remedy((Part(words, steps, STAGES - {"site"}),))


def by(roles: tuple[Role, ...], words: str, *steps: Step) -> Remedy:
    """What these roles do, whatever acts are offered beside it; others are told to ask the first of them."""
    return Remedy((Part(words, steps, roles=roles),))


def scanned_into_closed(why: str) -> Remedy:
    """How a sample gets into an envelope that is closed and still here."""
    return advice(
        f"Open the envelope, scan it in and close it under a new seal, {why}.",
        do("unsealed", "envelope", reason="add_sample"),
        do("sealed", "envelope"),
    )


NOTHING_MORE: Final = for_all("Nothing to fix any more: it is printed on the custody record.")
EXCEPTED: Final = for_all("Nothing to fix: the exception and its reason are printed on the custody record.")
_KINDS: Final[tuple[Number, ...]] = ("sample", "form", "envelope", "lot")


def by_exception(rule: str, reasons: frozenset[str], signers: frozenset[str]) -> Remedy:
    """How a second person allows what may be excepted, to follow a remedy."""
    who = f"A person of the {' or '.join(sorted(signers))} role" if signers else "A second person"
    reason = next(iter(reasons)) if len(reasons) == 1 else ...
    return for_all(f"{who} may allow it.", do("excepted", "about", rule=rule, reason=reason))


def act(name: str, **facts: Fact) -> ToldAct:
    """An act as it is told where no finding is: beside an error, on a list of what waits."""
    return {"act": name, **facts}


def filled(
    case: Case, remedy: Remedy, about: str, names: Iterable[str] = (), entries: Sequence[int] = ()
) -> tuple[ToldAct, ...]:
    """The acts of a remedy with the numbers of a finding: those it names, else what is known of what it is
    about; and the entry it rests on, if that is one.
    """
    if not remedy.steps:
        return ()
    known: dict[str, str | None] = {}
    for number in dict.fromkeys((about, *names)):
        _learn(known, number)
    here = {
        "form": [form.number for form in case.about(about)],
        "envelope": _envelopes(case, about),
        "lot": _lots(case, about),
    }
    for kind, found in here.items():
        if kind not in known and len(set(found)) == 1:
            known[kind] = found[0]
    known["statement"] = str(entries[0]) if len(entries) == 1 else None
    return tuple(_found_by(case, each) for each in remedy.acts({**known, "about": about}))


def _learn(known: dict[str, str | None], number: str) -> None:
    """Remember a number under its kind; a second one makes the kind ambiguous."""
    kind = numbers.kind_of(number) if len(number) == numbers.LENGTH else None
    if kind in _KINDS:
        known[kind] = None if kind in known else number


def _envelopes(case: Case, about: str) -> list[str]:
    asked = [each.body.envelope for each in case.drafts if isinstance(each.body, Sealed | Shipped)]
    lies = [
        sample.envelope
        for form in case.about(about)
        if (sample := form.samples.get(about)) and sample.envelope
    ]
    return lies or asked


def _lots(case: Case, about: str) -> list[str]:
    samples = (form.samples.get(about) for form in case.about(about))
    return [sample.lot for sample in samples if sample and sample.lot]


def _found_by(case: Case, told: ToldAct) -> ToldAct:
    """What is about an envelope that no form knows yet is found by the form."""
    about = told.get("about")
    unseen = isinstance(about, str) and numbers.kind_of(about) == "envelope" and len(about) == numbers.LENGTH
    return {**told, "form": min(case.forms, default=None)} if unseen and not case.about(str(about)) else told
