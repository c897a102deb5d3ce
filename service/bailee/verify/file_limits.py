"""How much an auditor's file may hold, in one place: more is refused with a sentence before anything of it is
checked.

Each bound is far above what honest people write, and low enough that whoever checks a file needs a known time
and memory for it (`tests/bench/bounded_verify.py` measures both). Nesting is bounded for all JSON alike
(`strict_json.DEEPEST`), a statement by `signed_statement.LIMIT`, an entry and a note by the ledger; how much
of what was said is followed and told, by `domain.custody.MOST_TOLD` and `rules.registry.MOST_HITS`.
"""

from __future__ import annotations

from typing import Final

MAX_BYTES: Final = 64 * 1024 * 1024
"""20,000 entries of 3 kB each.

More than that is no file about one visit, and would only fill the reader's memory.
"""

MAX_BROUGHT: Final = 1024 * 1024
"""A policy or the certificates of a time stamp authority: a few kB.

A device file, or another file by mistake, may have no end.
"""

MAX_PARTS: Final = 2_500_000
"""Commas and openings of lists and objects, 125 for each entry: a value of three bytes in the file takes a
hundred and more of memory."""

MAX_ENTRIES: Final = 20_000
"""A form has some hundred entries; the rest are organizations with a thousand people over many years."""

MAX_DISCLOSURES: Final = 256
"""A statement may sign at most so many private fields (`signed_statement`)."""

MAX_PROOF: Final = 64
"""A log of 2**63 entries is 63 levels high; a consistency proof has one hash more (RFC 9162 2.1.4.1)."""

MAX_ROOTS: Final = 1_000
"""Far more organizations than any visit has parties."""

MAX_CONFLICTS: Final = 1_000
"""A ledger keeps two hundred of one key."""

MAX_REFUSED: Final = 1_000
"""A ledger keeps two hundred of one key."""

MAX_TOKENS: Final = 1_000
"""One a day for as long as forms stay open."""

MAX_UNKNOWN: Final = 100
"""Names of unknown members that are remembered, so that a report stays readable."""
