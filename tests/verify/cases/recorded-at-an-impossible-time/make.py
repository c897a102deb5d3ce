"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.domain.moments import Moment
from bailee.verify.bundle import Bundle
from log_simulator import Logged, LogSimulator
from spoiling import changed, index_of, keep, log_it, log_spoilt, replaced


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """Only the year in which an entry is said to have been recorded."""
    who, _, year = variant.partition(", the year ")
    if year == "2199":
        return log_it(town, keep(town), rec=Moment.parse("2199-12-31T23:59:59Z"))
    if who == "by the operator":
        return log_spoilt(town, lambda logged: dated(logged.text, logged, year))
    index = index_of(town, 12)
    return changed(
        town.bundle(), index, lambda placed: replace(placed, text=dated(placed.text, town.log[index], year))
    )


def dated(text: str, logged: Logged, year: str) -> str:
    """The text of an entry with this year of recording."""
    return replaced(text, logged.entry.rec, year + logged.entry.rec[4:])
