"""What a log refused to record, as far as the refused text shows it by itself: step 7 of the verifier.

The log's word explains no missing number: a text that does not hold, or that could have been recorded, is a
fault, which only a hand that wrote the file can make.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping

from bailee.domain.organizations import Organization
from bailee.errors import BaileeError
from bailee.signing import refused, signed_statement
from bailee.verify.devices import RefusedAct
from bailee.verify.evidence import Notes
from bailee.verify.result import PlaceInFile


def check(
    texts: Iterable[str],
    origin: str | None,
    organizations: Mapping[str, Organization],
    recorded: Collection[str],
    notes: Notes,
) -> Iterator[RefusedAct]:
    """Those that hold, each noted as something to know. `recorded`: the digests of what is in the file.

    One of a key that is not here is not checked: it explains nothing.
    """
    for text in texts:
        try:
            claims = signed_statement.read(text).claims
            if claims.iss not in organizations:
                said = f"A refused statement of {claims.iss} is shown, whose keys are not here."
                notes.not_checked("refused", said)
                continue
            signed, why = refused.read(text, origin, organizations[claims.iss])
        except BaileeError as error:
            notes.fault(
                7,
                "no-refusal",
                PlaceInFile(),
                f"What is shown as a refused statement explains nothing: {error.sentence}",
            )
            continue
        place = PlaceInFile(chain=claims.sub)
        if signed.digest in recorded:
            notes.fault(7, "no-refusal", place, "What is shown as a refused statement was recorded.")
            continue
        notes.remark(
            "refused",
            place,
            f"Statement {claims.seq} of the key {signed.kid[:8]} of {claims.iss} ({claims.act}) was not"
            f" recorded: {why}. That explains the missing number.",
        )
        yield RefusedAct(signed, place)
