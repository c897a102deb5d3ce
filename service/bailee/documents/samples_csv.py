"""The samples of a form as a table for spreadsheets: RFC 4180, one line a sample, UTF-8.

A cell that a spreadsheet would take for a formula (it begins with = + - @, a tab or a return, and is no plain
number) is written with an apostrophe before it, because whoever types a remark must not be able to run
anything on the laboratory's desk.
"""

from __future__ import annotations

import csv
import io
import re
from typing import Any, Final

from bailee.domain.acts.form import ConditionsRead, Received, TakenIn
from bailee.domain.conditions import of_sample, readings
from bailee.domain.custody import Form
from bailee.domain.moments import Moment
from bailee.domain.requests import MEMBERS
from bailee.presentation.copy_words import issued
from bailee.presentation.envelope_view import EnvelopeView
from bailee.presentation.form_view import FormView, form_view
from bailee.presentation.on_site_words import changes
from bailee.presentation.sample_view import SampleView
from bailee.rules.case import Case

COLUMNS: Final = (
    "form",
    "visit",
    "sample",
    "kind",
    "status",
    "void",
    "lot",
    "maker_lot",
    "serial",
    "point",
    "room",
    "place",
    "started",
    "run_s",
    "flow_before_lpm",
    "flow_after_lpm",
    "mean_flow_lpm",
    "volume_l",
    "outdoor_control",
    "minutes_apart",
    "envelope",
    "seal",
    "carrier",
    "tracking",
    "received",
    "seal_state",
    "condition",
    "lab_number",
    "held_by",
    "organization",
    "containers_sealed",
    "containers_received",
    "air_temperature_c",
    "air_humidity_pct",
    "air_pressure_hpa",
    "rain_ended_h",
    "building_changes",
    "opening",
    "tube",
    "sheet",
    "blind_copy",
    "analysis",
    "turnaround",
    "due",
    "purchase",
    "cost_center",
    "priority",
    "medium",
    "material",
    "surface",
    "area_cm2",
    "mass_g",
    "store",
    "keep_until",
    "replaces",
    "store_low_c",
    "store_high_c",
    "withdrawn_for",
)

_FORMULA: Final = re.compile(r"[=+\-@\t\r]")
_NUMBER: Final = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?")


def write(form: Form, case: Case) -> str:
    """The table, its first line naming the columns, lines ending in CRLF (RFC 4180 2)."""
    out = io.StringIO(newline="")
    table = csv.DictWriter(out, COLUMNS, lineterminator="\r\n")
    table.writeheader()
    view, air = form_view(form, case), readings(form)
    envelopes = {each.number: each for each in view.envelopes}
    for sample in sorted(view.samples, key=lambda each: each.number):
        row = _row(view, sample, envelopes.get(sample.envelope or "")) | _air(
            of_sample(air, form.samples[sample.number])
        )
        row |= {name: getattr(sample.requested, name) for name in MEMBERS}
        row |= _of_the_visit(form)
        table.writerow({name: cell(value) for name, value in row.items()})
    return out.getvalue()


def cell(value: object) -> str:
    """What stands in a cell; nothing for None."""
    text = "" if value is None else str(value)
    return f"'{text}" if _FORMULA.match(text) and not _NUMBER.fullmatch(text) else text


def _row(form: FormView, sample: SampleView, envelope: EnvelopeView | None) -> dict[str, Any]:
    body, lot, surface = sample.collected, sample.lot, sample.surface
    told = surface or body
    cavity = body.cavity if body and sample.air == "cavity" else None
    shipped = envelope.shipped if envelope else None
    arrived = envelope is not None and sample.status != "missing"
    taken_in = envelope.taken_in if envelope and arrived else None
    docked = envelope.arrivals[0] if envelope and arrived and envelope.arrivals else None
    received = taken_in or docked
    sealed = envelope.sealings[-1].body if envelope and envelope.sealings else None
    holder = sample.holders[-1] if sample.holders else None
    low, high = sample.limits
    return {
        "form": form.number,
        "visit": form.visit.isoformat(),
        "sample": sample.number,
        "kind": sample.air,
        "status": sample.status,
        "void": sample.void,
        "lot": sample.lot_number,
        "maker_lot": lot.maker_lot if lot else None,
        "serial": body.serial if body else None,
        "point": told.point if told else None,
        "room": told.room if told else None,
        "place": sample.place,
        "started": _text(sample.started),
        "run_s": body.run_s if body else None,
        "flow_before_lpm": body.flow_before if body else None,
        "flow_after_lpm": body.flow_after if body else None,
        "mean_flow_lpm": sample.flow,
        "volume_l": sample.volume,
        "outdoor_control": sample.outdoor,
        "minutes_apart": sample.minutes_apart,
        "envelope": sample.envelope,
        "seal": sealed.seal if sealed else None,
        "carrier": shipped.carrier if shipped else None,
        "tracking": shipped.tracking if shipped else None,
        "received": _text(received.at if received else None),
        "seal_state": docked.dock.seal_state if docked and docked.dock else None,
        "condition": " ".join(sample.condition) if sample.status != "missing" else None,
        "lab_number": sample.lab_number,
        "held_by": sample.held_by or None,
        "organization": holder.org if holder else None,
        "store": sample.store,
        "keep_until": sample.keep_until,
        "store_low_c": low,
        "store_high_c": high,
        "withdrawn_for": sample.withdrawn_for,
        "replaces": sample.replaces[0] if sample.replaces else None,
        "containers_sealed": sealed.containers if sealed else None,
        "containers_received": _counted(taken_in, docked),
        "opening": cavity.opening if cavity else None,
        "tube": cavity.tube if cavity else None,
        "sheet": f"{told.paper.sheet} {told.paper.line}" if told and told.paper else None,
        "medium": surface.medium if surface else None,
        "material": surface.material if surface else None,
        "surface": surface.surface if surface else None,
        "area_cm2": surface.area_cm2 if surface else None,
        "mass_g": surface.mass_g if surface else None,
    }


def _air(read: ConditionsRead | None) -> dict[str, Any]:
    """What was read nearest to it in time."""
    return {
        "air_temperature_c": read.temperature_c if read else None,
        "air_humidity_pct": read.humidity_pct if read else None,
        "air_pressure_hpa": read.pressure_hpa if read else None,
        "rain_ended_h": read.rain_ended_h if read else None,
    }


def _of_the_visit(form: Form) -> dict[str, Any]:
    """What changed in the building while samples were taken, and the newest blind copy: alike in all rows."""
    changed = (f"{each.what} {each.was} {each.now} {each.at.text()}" for each in changes(form))
    blind = [each.version for each in issued(form) if each.of == "blind"]
    return {"building_changes": "; ".join(changed) or None, "blind_copy": max(blind, default=None)}


def _counted(taken_in: TakenIn | None, docked: Received | None) -> int | None:
    """Bags or boxes as the laboratory counted them first."""
    first = taken_in.containers if taken_in else None
    return docked.dock.containers if first is None and docked and docked.dock else first


def _text(moment: Moment | None) -> str | None:
    return moment.text() if moment else None
