"""See README.md beside this."""

from __future__ import annotations

from log_simulator import LogSimulator

_FILES = {
    "empty": b"",
    "a list": b"[]",
    "cut short": b"{",
    "a member twice": b'{"format": "bailee-bundle/2", "format": "bailee-bundle/2"}',
    "a float": b'{"format": 1.0}',
    "not UTF-8": b"\xff\xfe",
    "nesting without end": b"[" * 5000,
    "a paper": b"%PDF-1.7",
    "nothing but a format": b'{"format": "bailee-bundle/2"}',
}


def bundle(town: LogSimulator, variant: str) -> bytes:
    """A file that is none of ours."""
    return _FILES[variant]
