"""A plugin for pytest: whatever the tests of the verifier have verified is written to files, for the page to verify as well.

    BAILEE_RECORD=folder pytest tests/verify -p recorder

Each file holds a bundle, what the auditor brought as an auditor types it, and the name of the test. Of a property test the first few
examples are kept.
"""

from __future__ import annotations

import json
import os
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from bailee.domain.moments import Moment
from bailee.ledger.checkpoint import format_vkey
from bailee.verify import bundle, verifier
from bailee.verify.bundle import Bundle
from bailee.verify.result import Report
from bailee.verify.verifier import Trust

EXAMPLES = 30

_verify = verifier.verify
_counts: Counter[str] = Counter()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_call(item: pytest.Function) -> Iterator[None]:
    """While a test runs, its module's `verify` also writes down what it was asked."""
    module = item.module
    if getattr(module, "verify", None) is _verify:
        module.verify = lambda told, trust, at: _recording(item.nodeid, told, trust, at)
    try:
        return (yield)
    finally:
        if hasattr(module, "verify"):
            module.verify = _verify


def _recording(name: str, told: Bundle, trust: Trust, at: Moment) -> Report:
    _counts[name] += 1
    number = _counts[name]
    if number <= EXAMPLES:
        case = {"name": f"{name} {number}", "bundle": bundle.write(told), "asked": asked(trust, at)}
        folder = Path(os.environ["BAILEE_RECORD"])
        (folder / f"{len(list(folder.iterdir())):05}.json").write_text(json.dumps(case))
    return _verify(told, trust, at)


def asked(trust: Trust, at: Moment) -> dict[str, Any]:
    """What an auditor types to bring this trust."""
    keys = [format_vkey(each) for each in trust.log_keys]
    policy = [f"log {each}" for each in keys]
    policy += [f"cosigner {name} {format_vkey(key)}" for name, key in trust.cosigners.items()]
    policy.append(f"quorum {trust.quorum}")
    return {
        "roots": [f"{org}={root}" for org, root in trust.roots.items()],
        "log_keys": keys,
        "policy": "\n".join(policy) if trust.cosigners else "",
        "at": at.text(),
    }
