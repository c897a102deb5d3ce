"""One word for each thing: those that the glossary gave up stand in nothing that a person reads.

Read is what `tests/house/sentences.py` prints. What programs exchange is no word of a person: names of acts,
commands and options, in backquotes or typed after two hyphens.
"""

from __future__ import annotations

import re
from functools import cache
from typing import Final

import pytest
import sentences

pytestmark = pytest.mark.slow

STOP: Final = {
    r"hand(ed|s|ing)?[- ]over": "transfer, or ship",
    r"gives? away": "relinquish",
    r"(took|takes?|taking) over": "receive",
    r"came out of|lay in": "was in, was received",
    r"in sight|locked away": "in view, locked",
    r"not shown throughout|does not cover the journey": "break in custody",
    r"void_showing": "VOID showing",
    r"decline to analyze": "rejected",
    r"sender": "sampling firm",
    r"excepted|excuses?|own doing": "allowed by exception; the same person",
    r"cured?|cures|put right": "fix, correct",
    r"last good day|good until|in date|use by|expiry": "expiration date",
    r"(in|out of) certificate": "calibration certificate, valid to",
    r"purifiers?": "air cleaner",
    r"glass": "cassette, or trace",
    r"not lived in": "unconditioned space",
    r"where nobody complains": "non-complaint (reference) area",
    r"clear(s|ed|ing)?[- ]up|clearing-up": "remediation, remediator",
    r"what was said": "what was signed, entered",
    r"bundle": "auditor's file",
    r"tree heads?": "checkpoint",
    r"name of (a|the) key|thumbprints?|kid": "key ID",
    r"samplers?": "inspector",
    r"collectors?": "inspector",
    r"bears?|borne?": "has",
    r"vouch(es|ed|ing)?": "confirms",
    r"shut": "closed",
    r"spoke|spoken|speaks?": "sign, signed",
    r"tells?|told|telling": "show, notify, call",
    r"says?|said|saying": "sign, enter, record",
    r"somebody|nobody|anybody|everybody|whoever": "the person who; no entry",
    r"organisations?|licences?|enrol(s|ment)?|programmes?|odours?|draughts?": "US spelling",
    r"analysed|analysing": "US spelling",
    r"relabelling|metres?|litres?|colours?|labour|recognis\w*|cancelled|behaviour|centres?": "US spelling",
}
"""What is given up, as a pattern of whole words, and what is said instead."""
ANY: Final = re.compile("|".join(rf"\b(?:{pattern})\b" for pattern in STOP), re.IGNORECASE)
"""Any of it: most sentences have none."""
EXCEPT: Final = {
    "is its thumbprint: SHA-256": "the word of RFC 7638, which the reader of formats is sent to",
    "opened, excepted |": "the name of an act, in a table of acts",
    "lot expiry {lot}": "a command as it is typed",
    "must hold alg, kid and typ": "the name of a header member (RFC 7515 4.1.4)",
    ".says has no case": "the name of a function",
    "(purifiers)": "the everyday word beside ours, on the page for occupants",
    "(trained sampler)": "the word of the source that is summed up",
    "two co-located samplers": "the device, in the words of the source that is summed up",
}
"""What may stand all the same, by a part of the sentence, each with its reason."""


def typed(text: str) -> str:
    """A sentence without what is typed, and what programs exchange."""
    return re.sub(r"`[^`]*`|--[a-z-]+|\b[A-Z]{2,}\b=?|\{[^{}]*\}|https?://\S+", " ", text)


def met(text: str) -> list[str]:
    """The words of a sentence that were given up, each with what is said instead."""
    said = typed(text)
    if not ANY.search(said):
        return []
    return [
        f"{word.group()} (rather: {rather})"
        for pattern, rather in STOP.items()
        for word in re.finditer(rf"\b(?:{pattern})\b", said, re.IGNORECASE)
    ]


def without_exceptions(text: str) -> str:
    """A sentence without the parts of it that may stand; the rest of it is held to the words."""
    for part in EXCEPT:
        text = text.replace(part, " ")
    return text


@cache
def read() -> dict[str, str]:
    """Every sentence once, with the place where it stands."""
    return {text: place for surface in sentences.read_by_people().values() for place, text in surface}


def test_no_word_that_was_given_up_comes_back() -> None:
    """One thing would have two names again, and a reader would look for the difference."""
    found = {text: met(without_exceptions(text)) for text in read()}
    assert [f"{read()[text]}: {words} in {text!r}" for text, words in found.items() if words] == []


def test_every_surface_is_read() -> None:
    """A surface that is not collected could say anything."""
    for name, said in sentences.read_by_people().items():
        assert len(said) > 20, name


def test_a_word_that_comes_back_is_seen() -> None:
    """The test above would say nothing whatever was written."""
    said = dict(sentences.of_source('told = f"Nobody says how {name} was kept."'))
    assert [word for text in said.values() for word in met(without_exceptions(text))] == [
        "says (rather: sign, enter, record)",
        "Nobody (rather: the person who; no entry)",
    ]


def test_an_exception_is_needed() -> None:
    """One that no sentence needs any more would let through what is written tomorrow."""
    assert [part for part in EXCEPT if not any(part in text and met(text) for text in read())] == []
