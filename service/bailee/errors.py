"""Every error Bailee raises on purpose.

    BaileeError
    ├── Malformed        the text cannot be what it claims to be
    │   ├── BadNumber        a label, lot, form, envelope or seal number is mistyped
    │   ├── BadMoment        a date or time cannot be read, or does not exist on that day
    │   ├── BadFacts         data lack members or say them wrongly; all faults are listed at once
    │   └── BadStatement     an act does so
    ├── Forged           it is not authentic, or may not be registered as it stands
    ├── Broken           a log, proof or bundle does not hold together
    │   └── OtherKey         it is signed, and by none of the keys that it was to be checked with
    ├── Unknown          the thing asked for is not here, or not yours to see
    ├── Refused          a readiness question was answered with no
    └── Unavailable      the service, its database or its log cannot answer now

Each carries `code` (stable, for programs), `facts` (for programs and people) and one plain sentence
that says what to do. Only `api.problems` turns them into HTTP; only the CLI turns them into exit codes.
"""

from __future__ import annotations

from typing import Any, Final

NOT_KNOWN: Final = "not-known"
"""The code of an error about what this program has no word for: an act, a member, a code or an edition.

It was misspelled, or a program of a later edition of the rule book wrote it. Whoever verifies what somebody
signed accuses nobody by it.
"""


class BaileeError(Exception):
    """Base of the tree. `code` is stable; `facts` are JSON-able; `str()` is the sentence for a person."""

    code = "error"

    def __init__(self, sentence: str, *, code: str | None = None, **facts: Any) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        if code is not None:
            self.code = code
        self.facts = facts


class Malformed(BaileeError):
    """The text cannot be what it claims to be."""

    code = "malformed"


class BadNumber(Malformed):
    """A number on a label, lot, form, envelope or seal cannot be right as typed."""

    code = "bad-number"


class BadMoment(Malformed):
    """A date or time cannot be read, has no offset, or does not exist on that day."""

    code = "bad-moment"


class BadFacts(Malformed):
    """Data are not of the shape asked for.

    `facts["errors"]` lists every fault as {"at": pointer, "says": sentence}.
    """

    code = "bad-facts"


class BadStatement(Malformed):
    """An act lacks something. `facts["errors"]` lists every fault as {"at": pointer, "says": sentence}."""

    code = "bad-statement"


class Forged(BaileeError):
    """Not authentic, or not registrable: nothing is stored."""

    code = "forged"


class Broken(BaileeError):
    """A log, a proof or a bundle does not hold together. `facts["place"]` says where, when known."""

    code = "broken"


class OtherKey(Broken):
    """It is signed, and by none of the keys that it was to be checked with: one of these is wrong, or it is
    somebody else's.
    """

    code = "other-log-key"


class Unknown(BaileeError):
    """Not here, or not the asker's to see: both look the same from outside."""

    code = "unknown"


class Refused(BaileeError):
    """A readiness question was answered with no; `facts["findings"]` says why."""

    code = "refused"


class Unavailable(BaileeError):
    """The service, its database or its log cannot answer now; nothing acknowledged is lost."""

    code = "unavailable"
