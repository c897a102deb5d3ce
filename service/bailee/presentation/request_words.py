"""What the laboratory is asked for, in words: one line for all samples of which the same is asked."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from bailee.domain.custody import Form
from bailee.domain.requests import Order, asked, asked_of_all
from bailee.frozen import frozen
from bailee.presentation import words
from bailee.rules import wording


@frozen
class RequestView:
    """What is asked of some samples; of no sample: of all that are still to be collected."""

    samples: tuple[str, ...]
    asked: Order


def requests(form: Form) -> tuple[RequestView, ...]:
    """What stands, grouped; nothing where no more was asked than the opening says."""
    if not form.requests:
        return ()
    found, of_each = dict[Order, list[str]](), asked(form)
    for sample in form.live:
        found.setdefault(of_each[sample.number], []).append(sample.number)
    return tuple(RequestView(tuple(each), said) for said, each in found.items()) or (
        RequestView((), asked_of_all(form)),
    )


def requested(form: Form) -> tuple[str, ...]:
    """The same, a line for each."""
    return lines([(each.samples, each.asked) for each in requests(form)])


def lines(told: Sequence[tuple[Sequence[str], Order]]) -> tuple[str, ...]:
    """Samples where not the same is asked of all, and what is asked."""
    return tuple(
        f"{wording.start(wording.samples(list(named)))}: {said(what)}" if len(told) > 1 else said(what)
        for named, what in told
    )


def said(what: Order) -> str:
    """What is asked, in a line."""
    return ", ".join(_said(what)) or words.NOT_STATED


def _said(what: Order) -> Iterator[str]:
    told = {
        "{}": what.analysis,
        "turnaround {}": what.turnaround,
        "due {}": wording.day(what.due) if what.due else None,
        "priority {}": what.priority,
        "purchase order {}": what.purchase,
        "cost center {}": what.cost_center,
    }
    return (text.format(value) for text, value in told.items() if value)


def one_value(told: Mapping[str, Order], member: str) -> str:
    """What is asked under one heading: each value once, where samples differ."""
    found = dict.fromkeys(getattr(each, member) for each in told.values())
    return "; ".join(str(each) for each in found if each) or words.NOT_RECORDED
