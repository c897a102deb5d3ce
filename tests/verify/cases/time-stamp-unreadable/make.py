"""See README.md beside this."""

from __future__ import annotations

from dataclasses import replace

from bailee.verify.bundle import Bundle, TimeStampToken
from log_simulator import LogSimulator


def bundle(town: LogSimulator) -> Bundle:
    """Three letters where the token should be."""
    sound = town.bundle()
    return replace(sound, tokens=(TimeStampToken(sound.earlier[0].size, b"der"),))
