"""What to do now, with the command to type: remedies as rules write them, and as a finding tells them.

A command stands in backticks. `SAMPLE`, `FORM`, `ENVELOPE` and `LOT` in it are the numbers the finding is about, `ABOUT` whatever it is
about, and `…` is for the person to fill in. A word stays as it is where the finding knows several such numbers, or none.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from bailee.domain import numbers
from bailee.domain.acts.form import Sealed, Shipped
from bailee.domain.numbers import Kind
from bailee.rules.case import Case

EXCEPTED: Final = "Nothing more to do: the exception and its reason are printed beside it."
_COMMAND: Final = re.compile(r"`bailee [^`]*`")
_WORD: Final = re.compile(r"\b(SAMPLE|FORM|ENVELOPE|LOT|ABOUT)\b")
_KINDS: Final[dict[str, Kind]] = {
    "SAMPLE": "sample",
    "FORM": "form",
    "ENVELOPE": "envelope",
    "LOT": "lot",
}


def by_exception(rule: str, reasons: frozenset[str], signers: frozenset[str]) -> str:
    """How a second person allows what may be excepted, to follow a remedy."""
    who = f"Somebody of the {' or '.join(sorted(signers))} role" if signers else "A second person"
    reason = next(iter(reasons)) if len(reasons) == 1 else "…"
    return f" {who} may allow it: `bailee except {rule} ABOUT --reason {reason}`."


def named(case: Case, remedy: str, about: str, names: Iterable[str] = ()) -> str:
    """The remedy with the numbers of this finding in its commands."""
    if "`bailee " not in remedy:
        return remedy
    known: dict[str, str | None] = {}
    for number in dict.fromkeys((about, *names)):
        _learn(known, number)
    here = {
        "FORM": [form.number for form in case.about(about)],
        "ENVELOPE": _envelopes(case, about),
        "LOT": _lots(case, about),
    }
    for word, found in here.items():
        if word not in known and len(set(found)) == 1:
            known[word] = found[0]
    unseen = numbers.kind_of(about) == "envelope" and len(about) == numbers.LENGTH and not case.about(about)
    known["ABOUT"] = f"{about} --form {_first_form(case)}" if unseen else about

    def told(word: re.Match[str]) -> str:
        return known.get(word[1]) or word[1]

    return _COMMAND.sub(lambda command: _WORD.sub(told, command[0]), remedy)


def _learn(known: dict[str, str | None], number: str) -> None:
    """Remember a number under its word; a second one of a kind makes the word ambiguous."""
    kind = numbers.kind_of(number) if len(number) == numbers.LENGTH else None
    word = next((word for word, each in _KINDS.items() if each == kind), None)
    if word:
        known[word] = None if word in known else number


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
    return [sample.collected.lot for sample in samples if sample and sample.collected]


def _first_form(case: Case) -> str:
    return min(case.forms, default="FORM")
