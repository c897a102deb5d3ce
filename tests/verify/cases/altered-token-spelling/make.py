"""See README.md beside this."""

from __future__ import annotations

from bailee.verify.bundle import Bundle
from builders import PEOPLE
from log_simulator import LogSimulator
from spoiling import keep, log_unreadable


def _next(letter: str) -> str:
    alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_"
    return alphabet[alphabet.index(letter) ^ 1]


def bundle(town: LogSimulator, variant: str) -> Bundle:
    """A statement is logged in another spelling of its base64url."""
    text = next(said for by in PEOPLE if set(said := keep(town, by=by)) & set("-_"))
    header, payload, signature = text.split(".")
    spelled = {
        "unused bits of the signature": f"{text[:-1]}{_next(text[-1])}",
        "padding": f"{text}==",
        "padding of the header": f"{header}=.{payload}.{signature}",
        "a line break after it": f"{text}\n",
        "a space before it": f" {text}",
        "a fourth part": f"{text}.",
        "no signature": f"{header}.{payload}.",
        "the other alphabet": text.replace("-", "+").replace("_", "/"),
    }[variant]
    assert spelled != text
    return log_unreadable(town, spelled)
