"""What the firm read and saw on site beside the cassettes, in words: one line for each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from bailee.domain import measures
from bailee.domain.acts.form import BuildingChanged, ConditionsRead, Weather
from bailee.domain.custody import Form
from bailee.presentation.signature_words import when
from bailee.rules import wording


def on_site(form: Form) -> tuple[str, ...]:
    """Every line, in the order in which it was so."""
    told: list[ConditionsRead | BuildingChanged] = [*observed(form), *changes(form)]
    return tuple(line(body) for body in sorted(told, key=lambda body: body.at))


def observed(form: Form) -> list[ConditionsRead]:
    """What the firm read, in the order in which it was so."""
    return sorted((said.of(ConditionsRead) for said in form.conditions), key=lambda body: body.at)


def changes(form: Form) -> list[BuildingChanged]:
    """What the firm saw change in the building, in that order."""
    return sorted((said.of(BuildingChanged) for said in form.changes), key=lambda body: body.at)


def line(body: ConditionsRead | BuildingChanged) -> str:
    """One reading of the air: where and when, what was read, with what; or what changed, and when."""
    if isinstance(body, BuildingChanged):
        return f"{wording.start(wording.changed(body))}, {when(body.at)}"
    where = f"{body.where}, {body.unit}" if body.unit else body.where
    by = f", by {body.instrument}" if body.instrument else ""
    return f"{wording.start(where)}, {when(body.at)}: {', '.join(_read(body))}{by}"


def weather(seen: Weather) -> str:
    """Sky and wind during an outdoor control, and what lay or was cut around it."""
    around = (("snow cover", seen.snow_cover), ("mowing nearby", seen.mowing))
    return ", ".join((f"sky {seen.sky}", f"wind {seen.wind}", *(what for what, is_so in around if is_so)))


def _read(body: ConditionsRead) -> Iterator[str]:
    told: list[tuple[Any, Any]] = [
        (body.temperature_c, measures.warmth_text),
        (body.humidity_pct, "{} % relative humidity".format),
        (body.pressure_hpa, measures.pressure_text),
        (body.rain_ended_h, "rain ended {} h before".format),
    ]
    return (says(value) for value, says in told if value is not None)
