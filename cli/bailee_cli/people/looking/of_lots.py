"""A lot, line by line."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bailee.domain.acts.lot import OF_SURFACES
from bailee.presentation import words
from bailee.presentation.words import Heading
from bailee_cli.terminal import show


def lot(told: Mapping[str, Any], *, surface: bool = False) -> None:
    """One lot, line by line; beside a sample of a `surface` not the cassette of a lot of cassettes."""
    is_of_it = not (surface and told["cassette"] not in OF_SURFACES)
    kind = words.cassette(told["cassette"], told["nominal_flow"], told["run_s"])
    show.facts(
        f"Lot {show.name(told['lot'])}",
        [
            fact(Heading.MAKER_LOT, told["maker_lot"]),
            *([fact(Heading.CASSETTE, kind)] if is_of_it else []),
            fact(Heading.EXPIRATION, words.expiration(told["expires"])),
            fact(Heading.LOT_RECEIVED, told["count"]),
            *([] if told["counted"] is None else [fact(Heading.LOT_COUNTED, told["counted"])]),
            fact(Heading.ISSUED, len(told["issued"])),
            fact(Heading.RECALLED, _recalled(told)),
        ],
    )


def _recalled(told: Mapping[str, Any]) -> str:
    """Whether a lot is recalled, and every recall that was lifted."""
    lifted = [
        f"{show.when(each['since'])} ({words.plain(each['reason'])}), lifted {show.when(each['until'])}"
        for each in told["recalls"]
        if each["until"]
    ]
    now = "yes: do not use" if told["recalled"] else "not now" if lifted else "no"
    return "; ".join([now, *lifted])


def fact(label: str, value: object) -> tuple[str, object]:
    """A line: a heading, in small letters, and what stands beside it."""
    return label.lower(), value
