"""What is typed as the new value of a fact, read as that fact is written."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from contextlib import suppress
from typing import Any, Final

from bailee.asking import written, written_times
from bailee.domain import corrections
from bailee.errors import BadStatement, BaileeError
from bailee_cli.device.session import Session
from bailee_cli.signing.choosing import Stated
from bailee_cli.terminal import time_zones
from bailee_cli.terminal.options import moment

_BARE: Final = re.compile(r"[0-9.,]*|[A-Za-z_]+")
_LENGTHS: Final = ("height_m", "distance_m", "near_m")
_FLOWS: Final = ("flow_before", "flow_after")
_DAYS: Final = ("visit", "license.valid_to")
_RUNS: Final = ("run_s", "planned_s")
_WORDS: Final[Mapping[str, Any]] = {"null": None, "yes": True, "no": False}


def meant(session: Session, stated: Stated, field: str, text: str) -> Any:
    """What the typed text means for this fact: itself, or whatever else of it the fact can take.

    Raises `BadStatement`.
    """
    fault: BaileeError | None = None
    for value in _readings(session, stated, field, text):
        try:
            corrections.reader(stated.act, field)(int(value) if isinstance(value, written.BareRun) else value)
        except BaileeError as error:
            fault = fault or error
        else:
            return value
    assert fault is not None
    said = f"{field}: {fault.sentence.rstrip('.')}. Nothing was signed."
    raise BadStatement(said, errors=[{"at": f"/data/{field}", "says": fault.sentence}])


def _readings(session: Session, stated: Stated, field: str, text: str) -> Iterable[Any]:
    """Null, text, JSON, a list with commas, yes and no, a run in minutes, a length with its unit, a time on
    the clocks of the site.
    """
    if text == "null":
        yield None
    yield text
    if field in _RUNS:
        with suppress(BaileeError):
            yield written.run_as_typed(text)
    with suppress(ValueError, RecursionError):
        yield json.loads(text, parse_float=str)
    if text in _WORDS:
        yield _WORDS[text]
    yield [each.strip() for each in text.split(",")]
    with suppress(BaileeError):
        if field in _LENGTHS:
            yield written.length(text)
        if field in _FLOWS:
            yield written.flow(text)
        if field in _DAYS:
            yield written_times.last_day(text)
        if field.endswith("temperature_c"):
            yield written.degrees_celsius(text)
        if field == "pressure_hpa":
            yield written.hectopascals(text)
    if not _BARE.fullmatch(text):
        with suppress(BaileeError):
            zone = time_zones.of_form(session, stated.chain.removeprefix("form/"))
            yield moment(session, text, zone).text()
