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


WRONG: Final = {
    r"nothing grave": "a stop that a second person allowed is grave",
    r"nothing found(?! stops)": "what was found is no fault; that there was nothing nobody knows",
    r"printed beside the results?": "the ledger prints the custody record, a laboratory its results",
    r"(?-i:EXPIRED) on": "on its expiration date a cassette may still be used",
    r"(min|s|h|…) (is|are) wanted": "an upper limit that reads as a lower one",
    r"no source gives": "we found none",
    r"was removed": "nobody saw an entry removed: it may be missing, or copies differ",
    r"None was collected|No sample was collected": "another device may not have sent yet",
    r"client called": "the sampling firm was called; the client is who asked for the visit",
    r"carrier signs nothing": "no signature of a carrier is on record",
    r"every(one| person) who holds a sample signs": "carriers do not",
    r"every avoidable (fault|error)": "not every fault is found",
    r"may read low|say little about|weigh the comparison": "advice on what a count means",
    r"while you are on site": "a clerk reads it at a desk",
    r"NIOSH (Method )?0800(?!,? by\b)(?! \(.*by analogy)": "a method for culturable fungi: by analogy",
}
"""What was wrong in fact, as a pattern, and why."""


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


@pytest.mark.parametrize("pattern", WRONG)
def test_what_was_wrong_in_fact_is_not_said_again(pattern: str) -> None:
    """A sentence that is not so misleads a laboratory or a court (an inspector's and a clerk's reading of all
    sentences; common practice, no source).
    """
    tables = (sentences.ROOT / "service/bailee/web/sign").rglob("words.js")
    said = read() | {line: str(each) for each in tables for line in each.read_text("utf-8").splitlines()}
    assert [f"{said[text]}: {text}" for text in said if re.search(pattern, text, re.IGNORECASE)] == []


def test_what_is_wrong_in_fact_is_seen() -> None:
    """The test above would say nothing whatever was written."""
    for wrong in (
        "120 min are wanted.", "The lot EXPIRED on 2026-09-30.", "Three sites: NIOSH Method 0800.",
        "An entry was removed.",
    ):  # fmt: skip
        assert [each for each in WRONG if re.search(each, wrong, re.IGNORECASE)], wrong
    assert not re.search(next(each for each in WRONG if "NIOSH" in each), "NIOSH Method 0800, by analogy")


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
