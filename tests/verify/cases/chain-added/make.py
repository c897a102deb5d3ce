"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import whole


def bundle(town: LogSimulator) -> Bundle:
    """Another form was opened since, and its entry is put in."""
    form = town.form
    town.opened(said="2026-12-03T03:00:00-05:00")
    return replace(whole(town), form=form, ends=town.ends(*town.leaned_on(form)))
