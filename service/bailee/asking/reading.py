"""A reader by its name, as a question or an option names it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from bailee.asking import written, written_times


def by_name(name: str) -> Callable[[str], Any]:
    """The reader of that name, of numbers and measures or of days, times and zones."""
    found: Callable[[str], Any] = getattr(written_times if hasattr(written_times, name) else written, name)
    return found
