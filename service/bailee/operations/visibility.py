"""Who may see what: decided here, and told in one sentence for what is not there and for what is not the asker's to see.

Every look-up goes by what the asker may see, so that both cases take the same steps and get the same answer: neither words nor time tell
that a number exists. Forms are seen by the organisations named on them, lots by their owner, and the chain of an organisation by itself, by those
that share a form with it on which it has itself spoken, and by monitors. To name somebody on a form of one's own opens nothing.
"""

from __future__ import annotations

from sqlalchemy.engine import Connection

from bailee.errors import Unknown
from bailee.operations.access import Asker
from bailee.operations.ledger import Ledger
from bailee.store import mentions


def nothing(kind: str, number: str) -> Unknown:
    """The answer about a thing that is not there or not the asker's to see."""
    return Unknown(f"There is no {kind} {number} here that your organisation may see.", number=number)


def sees(connection: Connection, chain: str, asker: str) -> bool:
    """Whether the organisation `asker` may see the chain; not, when there is none."""
    return mentions.is_visible(connection, chain, asker)


def knows(ledger: Ledger, connection: Connection, asker: Asker, org: str) -> bool:
    """Whether keys, roles, equipment and own thresholds of an organisation are the asker's to see."""
    return sees(connection, f"org/{org}", asker.org) or asker.kid in ledger.settings.monitors


def require(connection: Connection, chain: str, asker: str) -> None:
    """Raise `Unknown` unless the organisation `asker` may see the chain."""
    if not sees(connection, chain, asker):
        raise nothing(*chain.split("/", 1))
