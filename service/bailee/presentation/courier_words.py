"""Who carries an envelope by hand, in words: the name if it is disclosed, the relation, the receipt slip."""

from __future__ import annotations

from bailee.domain.acts.form import Shipped
from bailee.domain.statements import Recorded
from bailee.presentation import words
from bailee.presentation.signature_words import when
from bailee.rules.case import Case


def who(case: Case, entry: Recorded, body: Shipped) -> str:
    """The name, or that it is withheld or was never recorded, and what they are to the firm."""
    courier, name = body.courier, entry.disclosed.get("courier_name")
    if courier is None:
        return name or words.NOT_NAMED
    if name is None and courier.kid:
        name = case.person(courier.org or entry.org, courier.kid)
    name = name or (words.NAME_WITHHELD if courier.named else words.NOT_NAMED)
    of = f" ({courier.org})" if courier.org else ""
    return f"{name}, {words.RELATIONS[courier.relation]}{of}"


def slip(body: Shipped) -> str:
    """The receipt slip that was signed, and whether an identity document was looked at."""
    courier = body.courier
    if courier is None or courier.slip is None:
        return words.NO_SLIP
    seen = {None: "", True: ", identity document seen", False: ", identity document not seen"}[
        courier.id_seen
    ]
    return f"slip {courier.slip} signed in ink{seen}"


def row(case: Case, entry: Recorded, body: Shipped) -> str:
    """What stands where a receiver would sign."""
    return (
        f"{words.Heading.COURIER} {who(case, entry, body)}; received it on {when(body.handed_over)},"
        f" {slip(body)}. Seal and receipt slip are the record of this stretch."
    )
