"""A yes or a no at a terminal, the same wherever one is asked: `y` or `n`, the words as well, and Enter is
neither.
"""

from __future__ import annotations

from typing import Final

import click

from bailee_cli.terminal import layout

YES: Final = ("y", "yes")
NO: Final = ("n", "no")
MAY: Final = "[y/n]"
"""How a question shows what may be typed."""


def means(text: str) -> bool | None:
    """What was typed: a yes, a no, or neither."""
    said = text.strip().lower()
    return True if said in YES else False if said in NO else None


def asked(question: str) -> bool:
    """The answer to a question, asked until it is one."""
    shown = layout.asked(f"{question} {MAY}")
    while True:
        found = means(str(click.prompt(shown, default="", show_default=False, err=True)))
        if found is not None:
            return found
        layout.warn("Type y or n.")
