"""What goes with an act of any kind: a photograph by its digest, the pen form it was copied from."""

from __future__ import annotations

from typing import Annotated, Final

from bailee.domain.facts import Facts, at_least, like
from bailee.domain.fields import (
    At,
    Digest,
    Tag,
)  # fmt: skip

PICTURE: Final = r"image/[a-z0-9.+-]{1,40}"


class Photo(Facts, keys={"sha_256": "sha-256"}):
    """A picture kept elsewhere, bound by its digest: SHA-256, size in bytes, media type."""

    sha_256: Digest
    size: Annotated[int, at_least(1)]
    type: Annotated[str, like(PICTURE, "the media type of a picture like image/jpeg")]


class OnPaper(Facts):
    """The line of a pen form that an entry was typed from: written with a pen at the time of the act.

    `sheet` is the form's number and the page, `line` the letter or number that stands before it, `photo` a
    picture of the page.
    """

    sheet: Tag
    line: Tag
    written_at: At
    photo: Photo | None = None


def on_paper(body: Facts) -> OnPaper | None:
    """The line that an act was typed from; None where it was entered as it was done."""
    paper: OnPaper | None = getattr(body, "paper", None)
    return paper
