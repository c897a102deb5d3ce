"""An envelope, line by line: how it was sealed, its way, how it arrived."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from bailee.presentation import words
from bailee.presentation.words import Heading
from bailee_cli.people.looking.of_lots import fact
from bailee_cli.terminal import show


def _way(shipped: Mapping[str, Any], courier: str | None, zone: str | None) -> Iterator[tuple[str, object]]:
    """By whom and how an envelope went, and when it is expected."""
    if shipped:
        by_hand = shipped.get("by_hand", False)
        if by_hand:
            slip = (shipped.get("courier") or {}).get("slip")
            yield fact(Heading.COURIER, courier or words.NOT_NAMED)
            yield fact(Heading.SLIP, slip or words.NO_SLIP)
        else:
            saturday = shipped.get("saturday", False)
            who = words.carrier(shipped["carrier"], shipped["service"], by_hand=False, saturday=saturday)
            yield fact(Heading.CARRIER, who)
            yield fact(Heading.TRACKING, words.tracking(shipped.get("tracking")))
        yield fact(words.left(by_hand=by_hand), show.when(shipped["handed_over"], zone))
        expected = shipped.get("expected_receipt")
        yield fact(Heading.EXPECTED, show.when(expected, zone) if expected else words.NOT_RECORDED)


def _taken_in(said: Mapping[str, Any], zone: str | None) -> Iterator[tuple[str, object]]:
    """What the laboratory signed when it took an envelope in unopened."""
    if said:
        yield fact(Heading.TAKEN_IN, show.when(said["at"], zone))
        yield fact(Heading.SEAL_TAKEN_IN, words.seal_as_read(said["seal"], said["seal_state"]))
        yield fact(Heading.PACKAGE, words.listed(said["package"]))
        yield fact(Heading.SECURED, words.way(said["secured"], said["where"]))
        yield from _containers(said)


def _containers(said: Mapping[str, Any]) -> Iterator[tuple[str, object]]:
    if said.get("containers") is not None:
        yield fact(Heading.CONTAINERS, said["containers"])


def _arrival(received: Mapping[str, Any], zone: str | None) -> Iterator[tuple[str, object]]:
    """What the dock found."""
    if received:
        dock = received["dock"]
        yield fact(Heading.RECEIVED, show.when(received["at"], zone))
        yield fact(Heading.SEAL_READ, words.seal_as_read(dock["seal"], dock["seal_state"]))
        yield fact(Heading.PACKAGE, words.listed(dock["package"]))
        yield fact(Heading.COUNTED, f"{dock['total']} in all")
        yield from _containers(dock)
        if closed := dock.get("closed_again"):
            seal = show.name(closed["seal"]) if closed.get("seal") else words.NO_SEAL_NUMBER
            yield fact(Heading.CLOSED_AGAIN, f"{seal}, {show.when(closed['at'], zone)}")


def one_envelope(told: Mapping[str, Any], zone: str | None) -> None:
    """All of one envelope, its times on the clocks of a zone."""
    show.facts(
        f"Envelope {show.name(told['envelope'])}",
        [
            ("forms", ", ".join(show.name(f) for f in told["forms"])),
            fact(Heading.MANIFEST, ", ".join(show.name(s) for s in told["samples"])),
            fact(Heading.SEAL, told["seal"] or words.NONE),
            fact(Heading.SEALED, show.when(told["sealed_at"], zone)),
            *_containers(told),
            *_way(told["shipped"] or {}, told["courier"], zone),
            *_taken_in(told["taken_in"] or {}, zone),
            *_arrival(told["received"] or {}, zone),
        ],
    )
    show.findings(told["findings"])
    show.verdicts(told["verdicts"])
