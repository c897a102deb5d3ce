"""The log as files (C2SP tlog-tiles), and the way in for cosignatures.

Hash tiles are public and never change. Entry tiles hold what people said: they are for keys that the operator
named as monitors.
"""

from __future__ import annotations

from typing import Annotated, Final

from flask import Blueprint, Response
from pydantic import BaseModel, Field

from bailee.api.asking import ledger
from bailee.api.layer import Asked, operation
from bailee.errors import Forged, Unknown
from bailee.ledger.checkpoint import MAX_NOTE_BYTES
from bailee.ledger.merkle import read_tile_path
from bailee.operations.visibility import Asker

BYTES: Final = "application/octet-stream"
blueprint = Blueprint("tiles", __name__)


class CosignedIn(Asked):
    """A checkpoint of this log with cosignature lines (C2SP tlog-cosignature)."""

    note: Annotated[str, Field(min_length=1, max_length=MAX_NOTE_BYTES)]


class AcceptedOut(BaseModel):
    """How many cosignatures were taken: those by cosigners this service is set up with."""

    accepted: int


@blueprint.get("/tile/<int:level>/<path:tile>", merge_slashes=False)
@operation("A tile of hashes", tag="log", answers={200: BYTES}, public=True)
def hashes(level: int, tile: str) -> Response:
    """Up to 256 hashes of the log's tree; immutable.

    Paths as in C2SP tlog-tiles, like /tile/0/x001/234.p/17.
    """
    return _tile(f"tile/{level}/{tile}", "public")


@blueprint.get("/tile/entries/<path:tile>", merge_slashes=False)
@operation("A tile of entries", tag="log", answers={200: BYTES})
def texts(tile: str, asker: Asker) -> Response:
    """Up to 256 entries, each after its length in 16 bits.

    For monitors that the operator named in the settings.
    """
    if asker.kid not in ledger().settings.monitors:
        raise Forged(
            f"Only a monitor may read every entry: ask the operator to add your key {asker.kid} to the"
            " monitors.",
            code="not-a-monitor",
            kid=asker.kid,
        )
    return _tile(f"tile/entries/{tile}", "private")


@blueprint.post("/checkpoint/cosignatures")
@operation("Bring cosignatures", tag="log", body=CosignedIn, answers={200: AcceptedOut}, public=True)
def cosignatures(body: CosignedIn) -> AcceptedOut:
    """For cosigners that this service cannot call.

    Lines by others are passed over; a false line by one of them is refused.
    """
    return AcceptedOut(accepted=ledger().cosigners.accept(body.note))


def _tile(path: str, audience: str) -> Response:
    content = ledger().publisher.tile(*read_tile_path(path))
    if content is None:
        raise Unknown("The log has no such tile.", code="beyond-log")
    caching = f"{audience}, max-age=31536000, immutable"
    return Response(content, content_type=BYTES, headers={"Cache-Control": caching})
