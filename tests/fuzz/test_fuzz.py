"""What `run.py` does for an hour, in seconds: the corpus, and the first cases of every parser.

An exception that is none of `bailee.errors` is a traceback in front of an auditor, or an answer 500; from
`verify` any at all is.
"""

from __future__ import annotations

import pytest

from fuzz.engine import Fuzzer
from fuzz.parsers import CORPUS, PARSERS

CASES = 60
FEWER = {"file": 12, "signed_act": 5, "cosignature_time": 4, "http_request": 40, "act": 15}
"""A case of these takes ten times as long."""
SLOW = ("http_request", "signed_act", "cosigner_answer")
"""Before the first case a visit is told."""


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=pytest.mark.slow) if name in SLOW else name for name in PARSERS]
)
def test_no_bytes_of_strangers_raise_what_is_not_ours(name: str) -> None:
    """One crafted file, note, token or request would stop whoever reads it."""
    fuzzer = Fuzzer(name)
    crashes = [
        *fuzzer.replay(),
        *(crash for number in range(FEWER.get(name, CASES)) for crash in fuzzer.step(number)),
    ]
    assert [f"{crash.what} at {crash.where}: {crash.case[:200]!r}" for crash in crashes] == []
    assert fuzzer.executions >= FEWER.get(name, CASES) + 1


def test_the_fuzzer_finds_what_is_wrong(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fuzzer that catches everything, or changes nothing, would be green for ever."""
    from bailee.errors import Malformed
    from fuzz import engine, parsers

    def spoilt(data: bytes) -> None:
        if data.count(b"[") > 30:
            raise KeyError(data)
        raise Malformed("This is ours.")

    monkeypatch.setitem(engine.PARSERS, "spoilt", parsers.Parser(spoilt, lambda: [b'{"a":[1,{"b":"c"}]}']))
    fuzzer = Fuzzer("spoilt")
    found = [crash for number in range(400) for crash in fuzzer.step(number)]
    assert {crash.what for crash in found} == {"KeyError"}
    assert 0 < len(found) < 400


def test_the_corpus_is_small_and_belongs_to_parsers() -> None:
    """A folder that no parser reads guards nothing."""
    files = [path for path in CORPUS.rglob("*") if path.is_file()]
    assert {path.parent.name for path in files} <= PARSERS.keys()
    assert sum(path.stat().st_size for path in files) < 1_500_000
