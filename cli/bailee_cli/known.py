"""Is there such an organisation? Asked before a name is signed: a mistyped one is a true statement about nobody."""

from __future__ import annotations

from bailee.errors import Forged, Malformed, Unavailable, Unknown
from bailee_cli import layout
from bailee_cli.session import Session


def require(session: Session, name: str, *, offline: bool = False) -> None:
    """Raise `Malformed` ("unknown-organisation") when the ledger knows none of this name; where it cannot be asked, say so and go on."""
    if name == session.profile.org:
        return
    if offline:
        layout.warn(f"Not checked without a network: whether the ledger knows {name!r}.")
        return
    try:
        near: list[str] = session.service.get("/organisations", like=name)["nearest"]
    except (Unavailable, Unknown, Forged) as error:
        layout.warn(f"Not checked: whether the ledger knows {name!r}. {error.sentence}")
        return
    if name not in near:
        meant = f"Known names like it: {', '.join(near)}." if near else "Nothing like it is known."
        raise Malformed(
            f"The ledger knows no organisation {name!r}. {meant} Nothing was signed.",
            code="unknown-organisation",
            organisation=name,
            nearest=near,
        )
