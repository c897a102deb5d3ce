"""See README.md beside this."""

from __future__ import annotations

from bailee.ledger.base64url import b64u, unb64u
from bailee.verify.bundle import Bundle
from log_simulator import LogSimulator
from spoiling import changed, index_of, with_statement


def bundle(town: LogSimulator) -> Bundle:
    """`locked` becomes `sealed` inside the signed claims."""

    def change(stmt: str) -> str:
        header, payload, signature = stmt.split(".")
        other = unb64u(payload).replace(b'"secured":"locked"', b'"secured":"sealed"')
        return f"{header}.{b64u(other)}.{signature}"

    return changed(town.bundle(), index_of(town, 5), lambda e: with_statement(e, change))
