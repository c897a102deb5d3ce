"""What the laboratory is asked for, sample by sample: the newest word of the firm on each member.

A sample sent on under a new number is asked for as it was before.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, Final

from bailee.domain.acts.form import Opened, Requested
from bailee.domain.custody import Form, Said, Sample
from bailee.frozen import frozen

_Newest = dict[str, tuple[int, Any]]
"""By member the newest word, after its place among all requests."""


@frozen
class Order:
    """What is asked for, of one sample or of all: None where nobody asked."""

    analysis: str | None = None
    turnaround: str | None = None
    due: date | None = None
    purchase: str | None = None
    cost_center: str | None = None
    priority: str | None = None

    @classmethod
    def read(cls, told: Mapping[str, Any]) -> Order:
        """As an answer for programs tells it."""
        due = told["due"]
        return cls(
            **{name: told[name] for name in MEMBERS} | {"due": date.fromisoformat(due) if due else None}
        )


MEMBERS: Final = tuple(name for name in Requested.keys if name != "samples")


def asked(form: Form) -> Mapping[str, Order]:
    """What is asked for of every sample of the form."""
    return {number: _asked(newest) for number, newest in _of_each(form).items()}


def due_said(form: Form) -> Mapping[str, Said]:
    """The request that set the day of the result, of every sample that has one."""
    found = _of_each(form).items()
    return {number: form.requests[newest["due"][0]] for number, newest in found if "due" in newest}


def asked_of_all(form: Form) -> Order:
    """What is asked for without naming a sample: of those that are still to be collected."""
    return _asked(_said(form)[0])


def asked_by(body: Requested) -> Order:
    """What one request asks for."""
    return Order(**{name: getattr(body, name) for name in MEMBERS})


def _of_each(form: Form) -> Mapping[str, _Newest]:
    everywhere, named = _said(form)
    found: dict[str, _Newest] = {}
    for sample in form.samples.values():
        for each in _unknown(sample, found):
            before = found[each.parent.number] if each.parent else everywhere
            found[each.number] = _newest(before, named.get(each.number, {}))
    return {number: found[number] for number in form.samples}


def _said(form: Form) -> tuple[_Newest, dict[str, _Newest]]:
    opened = form.opened.of(Opened)
    everywhere: _Newest = {"analysis": (-1, opened.analysis), "turnaround": (-1, opened.turnaround)}
    named: dict[str, _Newest] = {}
    for place, said in enumerate(form.requests):
        body = said.of(Requested)
        words = {name: (place, value) for name in MEMBERS if (value := getattr(body, name)) is not None}
        for one in [everywhere] if body.samples is None else [named.setdefault(s, {}) for s in body.samples]:
            one.update(words)
    return everywhere, named


def _newest(one: _Newest, other: _Newest) -> _Newest:
    later = {name: word for name, word in other.items() if name not in one or word[0] > one[name][0]}
    return one | later


def _asked(newest: _Newest) -> Order:
    return Order(**{name: value for name, (_, value) in newest.items()})


def _unknown(sample: Sample, found: Mapping[str, _Newest]) -> Iterable[Sample]:
    """The sample and what it was before it was sent on, the oldest first, as far as it is not found yet."""
    line: list[Sample] = []
    each: Sample | None = sample
    while each is not None and each.number not in found:
        line.append(each)
        each = each.parent
    return reversed(line)
