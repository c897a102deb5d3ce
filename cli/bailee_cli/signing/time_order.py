"""What must come before an act, as far as this device knows it: from the form or the envelope as the ledger
showed it, else from what the device itself signed. A typed time that is earlier is asked back at a terminal.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import suppress
from datetime import timedelta
from typing import Any

import click

from bailee.asking import order_slips
from bailee.asking.order_slips import MustPrecede
from bailee.domain.acts.form import Received
from bailee.domain.acts.table import name_of
from bailee.domain.moments import Moment
from bailee.domain.numbers import grouped
from bailee.errors import BaileeError
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import earlier_runs
from bailee_cli.terminal import prompts
from bailee_cli.terminal.done_times import done

Known = Callable[[], Iterator[MustPrecede]]


def when(session: Session, act: str, at: str | None, zone: str | None, known: Known) -> Moment:
    """When an act was done. A time typed that is earlier than what is `known` to come before it is asked back
    at a terminal; elsewhere it is signed, since what is entered later may be of another clock, and the rules
    judge it. Without one it is now: that a clock is wrong is told otherwise.
    """
    if at is None or not prompts.may_ask(session):
        return done(session, act, at, zone)
    params, before = click.get_current_context().params, list(known())
    said = {"at": at}

    def again(text: str) -> None:
        done(session, act, text, zone)
        said["at"] = params["at"] = text

    prompts.settle(
        session,
        lambda: order_slips.too_early(act, done(session, act, said["at"], zone), before),
        {"at": again},
    )
    return done(session, act, said["at"], zone)


def before_giving(
    session: Session, form: str, seen: Mapping[str, Any] | None, samples: Sequence[str]
) -> Iterator[MustPrecede]:
    """Their runs, and when this person received them."""
    yield from _runs(session, form, seen, samples)
    yield from _taken(session, form, seen, samples, first=False)


def before_taking(
    session: Session, form: str, seen: Mapping[str, Any] | None, samples: Sequence[str]
) -> Iterator[MustPrecede]:
    """Their runs, and when they were relinquished."""
    yield from _runs(session, form, seen, samples)
    yield from _given(seen, samples)


def before_securing(
    session: Session, form: str, seen: Mapping[str, Any] | None, samples: Sequence[str] | None
) -> Iterator[MustPrecede]:
    """Of samples that are not named, of all that this person holds."""
    if samples is None:
        own = earlier_runs.known(session, form, None)
        samples = (
            cache.held(session, seen) if seen else [each["sample"] for each in own if each["form"] == form]
        )
    yield from _runs(session, form, seen, samples)
    yield from _taken(session, form, seen, samples, first=True)


def before_sealing(session: Session, samples: Sequence[str]) -> Iterator[MustPrecede]:
    """Their runs, and when this person received them, on whatever forms they are."""
    with suppress(BaileeError):  # what cannot be looked up is judged with the rest
        for form, inside in cache.by_form(session, samples).items():
            yield from before_giving(session, form, cache.form(session, form), inside)


def before_shipping(told: Mapping[str, Any] | None) -> Iterator[MustPrecede]:
    """When the envelope was sealed."""
    if told and told["sealed_at"]:
        yield MustPrecede(f"envelope {grouped(told['envelope'])} was sealed", Moment.parse(told["sealed_at"]))


def before_the_dock(told: Mapping[str, Any] | None) -> Iterator[MustPrecede]:
    """When the envelope was sealed, and shipped."""
    yield from before_shipping(told)
    if told and told["shipped"]:
        handed_over = Moment.parse(told["shipped"]["handed_over"])
        yield MustPrecede(f"envelope {grouped(told['envelope'])} was shipped", handed_over)


def _runs(
    session: Session, form: str, seen: Mapping[str, Any] | None, samples: Collection[str]
) -> Iterator[MustPrecede]:
    """The ends of the runs of these samples."""
    for each in earlier_runs.known(session, form, seen):
        if each["sample"] in samples:
            started = Moment.parse(str(each["started"]))
            ended = started.moved(timedelta(seconds=each.get("run_s") or 0))
            yield MustPrecede(f"the run of {grouped(each['sample'])} ended", ended)


def _taken(
    session: Session, form: str, seen: Mapping[str, Any] | None, samples: Collection[str], *, first: bool
) -> Iterator[MustPrecede]:
    """When this person received these samples: the last time, or the `first`, where an entry may be late."""
    for sample, links in _links(seen, samples):
        own = [each for each in links[1:] if each["kid"] == session.key.kid]
        if own:
            since = Moment.parse(own[0 if first else -1]["since"])
            yield MustPrecede(f"you received {grouped(sample)}", since)
    for each in earlier_runs.signed(session, name_of(Received)) if seen is None else ():
        items = {item["sample"] for item in each["items"]}
        if each["form"] == form and not items.isdisjoint(samples):
            yield MustPrecede("you received them", Moment.parse(each["at"]))
            if first:
                return


def _given(seen: Mapping[str, Any] | None, samples: Collection[str]) -> Iterator[MustPrecede]:
    """When these samples were relinquished that no one has received yet."""
    pending = {each["sample"] for each in (seen or {}).get("samples", ()) if each["given"]}
    for sample, links in _links(seen, samples):
        if sample in pending and links[-1]["until"]:
            yield MustPrecede(
                f"{links[-1]['holder']} relinquished {grouped(sample)}", Moment.parse(links[-1]["until"])
            )


def _links(
    seen: Mapping[str, Any] | None, samples: Collection[str]
) -> Iterator[tuple[str, list[Mapping[str, Any]]]]:
    for each in (seen or {}).get("samples", ()):
        if each["sample"] in samples and each["links"]:
            yield each["sample"], each["links"]
