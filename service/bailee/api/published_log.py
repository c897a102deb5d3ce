"""The log in public: health, checkpoint, proofs, tiles of hashes (C2SP tlog-tiles), and the way in for
cosignatures. Nothing here needs an account but entry tiles: they hold what people said, and are for keys that
the operator named as monitors.
"""

from __future__ import annotations

import zoneinfo
from importlib import metadata, resources
from typing import Annotated, Final, Literal

from flask import Blueprint, Response, current_app
from pydantic import BaseModel, Field

from bailee import __version__
from bailee.api.asking import ledger
from bailee.api.layer import LARGEST, Asked, Query, openapi, operation
from bailee.disk import machine
from bailee.errors import Forged, Malformed, Unavailable, Unknown
from bailee.ledger import merkle
from bailee.ledger.base64url import b64
from bailee.ledger.checkpoint import MAX_NOTE_BYTES
from bailee.operations.visibility import Asker
from bailee.store import tree

BYTES: Final = "application/octet-stream"
blueprint = Blueprint("log", __name__)

Size = Annotated[int, Field(ge=0, le=LARGEST)]


class HealthOut(BaseModel):
    """Which log this is, how large, by what key, by which clock and time zone tables.

    `size` entries have their place, the first `published` of them are under the published checkpoint, and the
    oldest entry that is not is `oldest_unpublished_s` seconds old. `status` is "ok", "behind" when that is
    too old, or "log-frozen", and then `frozen` says why. `trouble` says why nothing is published just now;
    null when nothing stands in the way.
    """

    status: Literal["ok", "behind", "log-frozen"]
    frozen: str | None
    trouble: str | None
    published: int
    oldest_unpublished_s: int
    origin: str
    version: str
    size: int
    log_key: str
    now: str
    zone_data: str


class LiveOut(BaseModel):
    """The process answers."""

    status: Literal["live"] = "live"


class ReadyOut(BaseModel):
    """Whoever passes requests on may pass them on to this process."""

    status: Literal["ready"] = "ready"


class ProofOut(BaseModel):
    """Hashes of a proof in base64, leaf side first (RFC 9162 2.1.3, 2.1.4)."""

    size: int
    proof: list[str]


class InclusionQuery(Query):
    """Entry `index` in the tree of `size` entries."""

    index: Size
    size: Annotated[int, Field(ge=1, le=LARGEST)]


class ConsistencyQuery(Query):
    """From the tree of `first` entries to the tree of `second`."""

    first: Size
    second: Size


class CosignedIn(Asked):
    """A checkpoint of this log with cosignature lines (C2SP tlog-cosignature)."""

    note: Annotated[str, Field(min_length=1, max_length=MAX_NOTE_BYTES)]


class AcceptedOut(BaseModel):
    """How many cosignatures were taken: those by cosigners this service is set up with."""

    accepted: int


@blueprint.get("/health")
@operation(
    "Is the service well, and which log is it?",
    tag="log",
    answers={200: HealthOut},
    errors=(503,),
    public=True,
)
def health() -> HealthOut:
    """Answers only when the database does. A frozen log can be read, and takes nothing."""
    here = ledger()
    with here.database.reading() as connection:
        frozen = here.guard.sentence(connection)
        size = tree.size(connection)
    state = here.sequencer.state()
    behind_s = state.unpublished_s
    shown = here.publisher.published()
    late: Literal["ok", "behind"] = "behind" if behind_s > here.settings.ready_within_s else "ok"
    return HealthOut(
        status="log-frozen" if frozen else late,
        frozen=frozen,
        trouble=state.trouble,
        published=shown.size if shown else 0,
        oldest_unpublished_s=round(behind_s),
        origin=here.settings.origin,
        version=__version__,
        size=size,
        log_key=here.vkey,
        now=here.now().text(),
        zone_data=zone_data(),
    )


@blueprint.get("/live")
@operation("Does the process answer?", tag="log", answers={200: LiveOut}, public=True)
def live() -> LiveOut:
    """Asks nobody: neither the database nor the disk.

    When this does not answer, the process should be started anew.
    """
    return LiveOut()


@blueprint.get("/ready")
@operation("May requests be sent here?", tag="log", answers={200: ReadyOut}, public=True)
def ready() -> ReadyOut:
    """No (503, with the reasons) while the database does not answer, the log is frozen or behind, the disk is
    full, or a checkpoint missed.

    Missed: a host that was started again or cut off does not show yet what was signed last.
    """
    here, reasons = ledger(), []
    with here.database.reading() as connection:
        if frozen := here.guard.sentence(connection):
            reasons.append(frozen)
        if not here.sequencer.is_abreast(connection):
            reasons.append("It does not show the newest checkpoint yet: it was stopped, and is catching up.")
    state = here.sequencer.state()
    if state.unpublished_s > here.settings.ready_within_s:
        reasons.append(f"The oldest entry that is not published is {state.unpublished_s:.0f} s old.")
        reasons += [state.trouble] if state.trouble else []
    for folder in (here.settings.home, here.settings.high_water_file.parent):
        try:
            machine.require(folder)
        except Unavailable:
            reasons.append(
                "A disk of the service is full, or cannot be written."  # which one is the operator's business
                if folder.is_dir()
                else f"The folder {folder} does not exist: its disk is not mounted, or `high_water` is wrong."
            )
    if reasons:
        raise Unavailable("This service is not ready. " + " ".join(dict.fromkeys(reasons)), code="not-ready")
    return ReadyOut()


@blueprint.get("/checkpoint")
@operation("The newest checkpoint", tag="log", answers={200: "text/plain"}, errors=(404,), public=True)
def checkpoint() -> Response:
    """A C2SP tlog-checkpoint, signed by the log's key."""
    note = ledger().publisher.shown()
    if note is None:
        raise Unknown("The log is still empty.", code="empty-log")
    return Response(note, content_type="text/plain; charset=utf-8", headers={"Cache-Control": "max-age=5"})


@blueprint.get("/proofs/inclusion")
@operation(
    "Proof that an entry is in the log",
    tag="log",
    query=InclusionQuery,
    answers={200: ProofOut},
    errors=(404,),
    public=True,
)
def inclusion(query: InclusionQuery) -> ProofOut:
    """RFC 9162 2.1.3."""
    if query.index >= query.size:
        raise Malformed("An entry's index must be less than the size.", code="out-of-range")
    with ledger().database.reading() as connection:
        _require_size(query.size, tree.size(connection))
        path = merkle.inclusion_path(tree.StoredTiles(connection), query.index, query.size)
    return ProofOut(size=query.size, proof=[b64(each) for each in path])


@blueprint.get("/proofs/consistency")
@operation(
    "Proof that a later log continues an earlier one",
    tag="log",
    query=ConsistencyQuery,
    answers={200: ProofOut},
    errors=(404,),
    public=True,
)
def consistency(query: ConsistencyQuery) -> ProofOut:
    """RFC 9162 2.1.4."""
    if query.first > query.second:
        raise Malformed("The first size must not be larger than the second.", code="out-of-range")
    with ledger().database.reading() as connection:
        _require_size(query.second, tree.size(connection))
        path = merkle.consistency_path(tree.StoredTiles(connection), query.first, query.second)
    return ProofOut(size=query.second, proof=[b64(each) for each in path])


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


@blueprint.get("/openapi.json")
def document() -> Response:
    """This interface, described by itself."""
    return Response(described(), content_type="application/json")


def described() -> str:
    """The OpenAPI document; made once, when somebody first asks."""
    made: str | None = current_app.extensions.get("openapi")
    if made is None:
        made = current_app.extensions["openapi"] = current_app.json.dumps(openapi(current_app, __version__))
    return made


def zone_data() -> str:
    """Which tables of time zones are in use: the machine's own, or those of the tzdata package."""
    try:
        inside = resources.files("tzdata") if not zoneinfo.TZPATH else None
    except ModuleNotFoundError:
        inside = None
    return f"tzdata {metadata.version('tzdata')}" if inside else "system"


def _require_size(wanted: int, size: int) -> None:
    if wanted > size:
        raise Unknown(f"The log has {size} entries, not {wanted}.", code="beyond-log", size=size)


def _tile(path: str, audience: str) -> Response:
    content = ledger().publisher.tile(*merkle.read_tile_path(path))
    if content is None:
        raise Unknown("The log has no such tile.", code="beyond-log")
    caching = f"{audience}, max-age=31536000, immutable"
    return Response(content, content_type=BYTES, headers={"Cache-Control": caching})
