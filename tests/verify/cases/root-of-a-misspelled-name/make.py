"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle
from bailee.verify.verifier import Trust
from log_simulator import LogSimulator
from spoiling import cosigned, cosigners


def bundle(town: LogSimulator) -> Bundle:
    """Nothing is wrong with the file."""
    return cosigned(town.bundle(), "lab", "firm")


def brings(town: LogSimulator) -> Trust:
    """Two cosigners, and a root under a name that nobody has."""
    trust = cosigners(town, 2, "lab", "firm")
    roots = {org.replace("quill", "quil"): root for org, root in trust.roots.items()}
    return replace(trust, roots=roots)
