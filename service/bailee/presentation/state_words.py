"""How the samples of a form stand, for whoever has the paper in hand: what stops work, and what hurries."""

from __future__ import annotations

from collections.abc import Iterator

from bailee.presentation import words
from bailee.presentation.form_view import FormView
from bailee.rules import wording

_RUSH = "rush"


def trouble(form: FormView) -> str:
    """`ON HOLD: seal broken; 1 of 5 missing; 1 expired`; empty where nothing is amiss."""
    live = form.live
    stopped = [
        (shown, sum(1 for each in live if each.status == status)) for status, shown in words.STOPPED.items()
    ]
    head = ", ".join(shown if n == len(live) else f"{n} of {len(live)} {shown}" for shown, n in stopped if n)
    why = "; ".join(_why(form))
    return ": ".join(filter(None, (head, why if head else wording.start(why))))


def hurry(form: FormView) -> str:
    """`RUSH, DUE 2026-12-04`; empty where nobody asked for either."""
    orders = [each.requested for each in form.live]
    asked = [each.priority or each.turnaround or "" for each in orders]
    asked = [each.upper() for each in asked if _RUSH in each.lower()]
    asked += [each.priority.upper() for each in orders if each.priority]
    asked += [f"DUE {wording.day(each.due)}" for each in orders if each.due]
    return ", ".join(dict.fromkeys(asked))


def is_loud(said: str) -> bool:
    """Whether what the dock found is to catch the eye: a seal or a cassette that was not whole."""
    return any(each in words.NOT_WHOLE for each in said.split(", "))


def _why(form: FormView) -> Iterator[str]:
    live, n = form.live, len(form.live)
    states = [body.dock.seal_state for each in form.envelopes for body in each.arrivals if body.dock]
    for state in dict.fromkeys(states):
        if is_loud(words.SEAL_STATES[state]):
            yield f"seal {words.SEAL_STATES[state]}"
    if missing := sum(1 for each in live if each.status == "missing"):
        yield f"{missing} of {n} missing"
    if expired := sum(1 for each in live if each.is_expired):
        yield f"{expired} expired"
    hurt = [each.condition_words for each in live if is_loud(each.condition_words)]
    for condition in dict.fromkeys(hurt):
        yield f"{hurt.count(condition)} {condition}"
