"""A policy as people write it: TOML, one threshold a line, its unit in its name and its meaning above it.

The example is made from the thresholds themselves, so the two cannot drift.
"""

from __future__ import annotations

import re
import textwrap
import tomllib
from collections.abc import Iterator
from decimal import Decimal
from typing import Any, Final, Literal

from bailee.domain.policy import Meaning, Policy, default, is_decimal, is_stricter, meanings
from bailee.errors import BadFacts, Malformed
from bailee.frozen import frozen

_WIDTH: Final = 110
_HEAD: Final = (
    "Thresholds of the rules, as an organization signs them. The unit stands at the end of the name: _h"
    " hours, _min minutes, _s seconds, _days days, _m meters, _l liters, _c degrees Celsius, _pct per"
    " cent.\n\nA line that is left out has the default of the edition of the rule book that the file names. A"
    " laboratory that signs such a file publishes its limits: forms addressed to it are judged by the firm's"
    " thresholds and by every line that stands in the laboratory's file, and of each the stricter one counts."
    " Most values are common practice with no source; none is a legal limit."
)
_ASKS_MORE: Final = {
    "higher": "a higher value is stricter",
    "lower": "a lower value is stricter",
    "yes": "true is stricter",
}
_KEY: Final = re.compile(r"\s*(?:\"(?P<quoted>[^\"]*)\"|(?P<bare>[A-Za-z0-9_-]+))\s*=")


@frozen
class Change:
    """A threshold before and after, in signed form, and whether more or less is asked from now on."""

    name: str
    before: Any
    after: Any
    direction: Literal["stricter", "looser"]


def write(policy: Policy | None = None) -> str:
    """The whole file: as an example with every default (no policy given), or with the values in force.

    Of a policy in force the defaults that nobody stated stand behind a `#`, so that what is written is what
    was stated.
    """
    shown = policy or Policy()
    parts = [_comment(_HEAD), f"edition = {shown.edition}"]
    for name, meaning in meanings().items():
        line = f"{name} = {_toml(getattr(shown, name))}"
        stated = policy is None or name in shown.given
        parts.append(
            f"{_comment(_explained(name, meaning, shown.edition))}\n{line if stated else f'# {line}'}"
        )
    return "\n\n".join(parts) + "\n"


def read(text: str) -> Policy:
    """Read a file.

    Raises `Malformed`, code `bad-policy`, with every fault of it: line, name, what to write instead.
    """
    said, errors = _parsed(text)
    said = {name: str(v) if type(v) is int and is_decimal(name) else v for name, v in said.items()}
    try:
        policy = Policy.from_data(said)
    except BadFacts as error:
        for fault in error.facts["errors"]:
            name = fault["at"].rpartition("/")[2]
            line = line_of(text, name)
            errors.append({"at": f"line {line}, {name}" if line else name, "says": fault["says"]})
    if errors:
        errors.sort(key=lambda fault: line_number(fault["at"]))
        listed = "".join(f"\n  {fault['at']}: {fault['says']}" for fault in errors)
        raise Malformed(f"Correct the policy, nothing was signed:{listed}", code="bad-policy", errors=errors)
    return policy


def changes(before: Policy, after: Policy) -> Iterator[Change]:
    """What differs, in the order of the file."""
    for name, meaning in meanings().items():
        then, now = getattr(before, name), getattr(after, name)
        if then != now:
            direction: Literal["stricter", "looser"] = (
                "stricter" if is_stricter(meaning, now, then) else "looser"
            )
            yield Change(name, before.to_data()[name], after.to_data()[name], direction)


def _parsed(text: str) -> tuple[dict[str, Any], list[dict[str, str]]]:
    """The values, and what is no TOML.

    A file with a slip in it is read line by line, so that the rest is checked too.
    """
    try:
        return tomllib.loads(text, parse_float=str), []
    except (ValueError, RecursionError):  # no TOML, thousands of digits, thousands of brackets
        pass
    said: dict[str, Any] = {}
    errors: list[dict[str, str]] = []
    for number, line in enumerate(text.splitlines(), start=1):
        try:
            found = tomllib.loads(line, parse_float=str)
        except (ValueError, RecursionError):  # no TOML, thousands of digits, thousands of brackets
            errors.append(
                {"at": f"line {number}", "says": f"write it like `name = value`, not {line.strip()!r}"}
            )
            continue
        twice = sorted(set(found) & set(said))
        if twice:
            errors.append(
                {"at": f"line {number}, {twice[0]}", "says": "is here a second time: leave one of them"}
            )
        said |= found
    return said, errors


def line_of(text: str, name: str) -> int:
    """The line on which a name stands, counted from 1; 0 when it stands nowhere."""
    for number, line in enumerate(text.splitlines(), start=1):
        found = _KEY.match(line)
        if (found and name in (found["quoted"], found["bare"])) or line.strip() == f"[{name}]":
            return number
    return 0


def line_number(at: str) -> int:
    """The number in the place of a fault, `line 7, name`."""
    found = re.match(r"line ([0-9]+)", at)
    return int(found[1]) if found else 0


def _explained(name: str, meaning: Meaning, edition: int) -> str:
    return (
        f"{meaning.says} Default {_toml(default(name, edition))}; {_ASKS_MORE[meaning.stricter]}.\nRules:"
        f" {meaning.rules}. Source: {meaning.source}."
    )


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:f}" if isinstance(value, Decimal) else str(value)


def _comment(text: str) -> str:
    lines = [part for line in text.strip().splitlines() for part in textwrap.wrap(line, _WIDTH - 2) or [""]]
    return "\n".join(f"# {line}".rstrip() for line in lines)
