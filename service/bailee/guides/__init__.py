"""The guide of each person, and pages of reference: Markdown for a terminal, a browser and a checkout.

Each begins with a title and a sentence that says whom it is for or what it holds. Links between them are
names of files in this folder, so that they also work where the folder is looked at.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib import resources
from typing import Final

from bailee.frozen import frozen

PEOPLE: Final = (
    "administrator",
    "media-keeper",
    "inspector",
    "clerk",
    "dock",
    "auditor",
    "cosigner",
    "operator",
)
"""In the order in which a sample needs them. What is not for one person follows by name."""

_BEGINNING: Final = re.compile(r"# (?P<title>[^\n]+)\n+(?P<sentence>.+?[.!?])(?=\s)", re.DOTALL)
_ENDING: Final = ".md"


@frozen
class Guide:
    """One of them: its short name, the title and first sentence that it begins with, all of it."""

    name: str
    title: str
    sentence: str
    text: str


def every() -> Iterator[Guide]:
    """All guides, those of people first."""
    files = {each.name.removesuffix(_ENDING): each for each in resources.files(__name__).iterdir()
             if each.name.endswith(_ENDING)}  # fmt: skip
    for name in (*PEOPLE, *sorted(files.keys() - set(PEOPLE))):
        text = files[name].read_text("utf-8")
        begins = _BEGINNING.match(text)
        assert begins, f"{name}{_ENDING} begins with no title and sentence"
        yield Guide(name, begins["title"], " ".join(begins["sentence"].replace("`", "").split()), text)


def find(name: str) -> Guide | None:
    """The guide of that name, in whatever letters it was typed; none when there is none."""
    wanted = "-".join(name.lower().split())
    return next((each for each in every() if each.name == wanted), None)


def nearest(name: str) -> list[str]:
    """Names of guides that look like this one, the likest first."""
    import difflib

    return difflib.get_close_matches("-".join(name.lower().split()), [each.name for each in every()])


def linked(address: str) -> str | None:
    """The name of the guide that a link in a guide leads to; none for any other link."""
    found = re.fullmatch(rf"([\w-]+)\{_ENDING}(?:#.*)?", address)
    return found[1] if found else None
