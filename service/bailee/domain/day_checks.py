"""Which checks of a pump's flow, made for a whole day, speak for which of its runs.

A run without readings of its own takes the nearest check of its pump before it and the nearest after it, if
one of the two was on the day of the run at the site. A pump is each organization's own: nobody checks that of
another. A check for which the pump was adjusted tells of what comes after it, and not of what came before.
That one check a day may serve many runs is common practice, no source; that flow is checked after sampling
too: OSHA Technical Manual II:1, contents.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from bailee.domain.acts.form import Collected, PumpChecked
from bailee.domain.custody import DayCheck, Form, Said


def complete(form: Form) -> None:
    """Give every sample that was taken without readings those of the day's checks of its pump."""
    by_pump: dict[tuple[str, str], list[Said]] = {}
    for said in form.pump_checks:
        by_pump.setdefault((said.entry.org, said.of(PumpChecked).pump), []).append(said)
    for checks in by_pump.values():
        checks.sort(key=lambda said: said.of(PumpChecked).at.instant)
    for sample in form.samples.values() if by_pump else ():
        claim = sample.claims[0] if sample.claims and not sample.surface else None
        body = claim.of(Collected) if claim else None
        own = by_pump.get((claim.entry.org, body.pump)) if claim and body and body.pump else None
        if body and own and (found := _of_run(form, body, own)):
            sample.day_check = found
            sample.completed = _with(body, found)


def _of_run(form: Form, body: Collected, checks: Sequence[Said]) -> DayCheck | None:
    if body.kind == "blank" or body.mean_flow is not None:
        return None
    stopped = body.started.moved(timedelta(seconds=body.run_s))
    before = after = None
    for said in checks:
        at = said.of(PumpChecked).at
        if at.instant <= body.started.instant:
            before = said
        elif at.instant >= stopped.instant and after is None:
            after = said
    day = form.day_of(body.started)
    if not any(said and form.day_of(said.of(PumpChecked).at) == day for said in (before, after)):
        return None
    adjusted = after if after and after.of(PumpChecked).adjusted else None
    return DayCheck(before, None if adjusted else after, adjusted)


def _with(body: Collected, found: DayCheck) -> Collected:
    checks = [said.of(PumpChecked) if said else None for said in (found.before, found.after)]
    first, last = checks
    speaking = first or last
    if speaking is None:
        return body
    read = {
        "flow_before": first.flow if first else None,
        "flow_after": last.flow if last else None,
        "meter": speaking.meter,
        "temperature_c": speaking.temperature_c,
        "pressure_hpa": speaking.pressure_hpa,
        "flow_corrected": all(each.flow_corrected for each in checks if each),
    }
    return Collected(**vars(body) | read)
