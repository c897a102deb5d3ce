"""What a service writes while it runs: one line of JSON for each event, with its time.

A line has no address, no path, no number and no name of anybody: only what kind of request it was (its
route), how it ended and how long it took. Of an error nobody foresaw it has the kind and the places in the
program, and not its message, in which anything may stand.
"""

from __future__ import annotations

import json
import logging
import traceback
from datetime import UTC, datetime
from typing import IO, Any, Final

EVENT: Final = "event"
"""What a record says beside its message: members of its line."""


class LogLine(logging.Formatter):
    """One line of JSON: `time` (UTC), `level`, `event`, and what goes with it."""

    def format(self, record: logging.LogRecord) -> str:
        """The line of a record."""
        at = datetime.fromtimestamp(record.created, UTC)
        said: dict[str, Any] = {
            "time": at.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
            "level": record.levelname.lower(),
        }
        event = getattr(record, EVENT, None)
        if isinstance(event, dict):
            said |= event
        elif record.name.partition(".")[0] == "bailee":
            said |= {"event": record.name, "message": record.getMessage()}
        else:  # a library may say whose request it was
            said |= {"event": record.name, "at": [f"{record.filename}:{record.lineno} {record.funcName}"]}
        if record.exc_info and record.exc_info[1]:
            said |= _of(record.exc_info[1])
        return json.dumps(said, ensure_ascii=False)


def write_to(stream: IO[str]) -> None:
    """From now on every record of this process, from INFO up, is such a line."""
    handler = logging.StreamHandler(stream)
    handler.setFormatter(LogLine())
    root = logging.getLogger()
    root.handlers = [handler]
    root.setLevel(logging.INFO)


def _of(error: BaseException) -> dict[str, Any]:
    frames = traceback.extract_tb(error.__traceback__)
    return {
        "error": type(error).__name__,
        "at": [f"{each.filename.rpartition('/')[2]}:{each.lineno} {each.name}" for each in frames],
    }
