"""Commands that take the name of a key or a statement, which one time in sixty-four begins with a hyphen.

Such a name is no option. It is recognised by its shape (43 characters of base64url, RFC 7638 and 6920) and kept out of click's sight
until the options have been read.
"""

from __future__ import annotations

import re
from typing import Any, Final

import click

_NAME: Final = re.compile(r"-[A-Za-z0-9_-]{42}", re.ASCII)
_VEIL: Final = "\u2060"


class NamingCommand(click.Command):
    """A command whose arguments may begin with a hyphen when they are names of keys or statements."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Read options and arguments, names of keys and statements whole."""
        rest = super().parse_args(ctx, [_VEIL + each if _NAME.fullmatch(each) else each for each in args])
        ctx.params = {name: _unveiled(value) for name, value in ctx.params.items()}
        return rest


def _unveiled(value: Any) -> Any:
    if isinstance(value, str):
        return value.removeprefix(_VEIL)
    return tuple(map(_unveiled, value)) if isinstance(value, tuple) else value
