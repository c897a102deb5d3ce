"""One question of the page, answered by the verifier: what is asked of the browser, or the report."""

from __future__ import annotations

import json
from typing import Any

from bailee.domain.moments import Moment
from bailee.errors import BaileeError
from bailee.ledger.base64url import b64, unb64
from bailee.verify import bundle, report_text
from bailee.verify.page import report_page
from bailee.verify.page.signatures import ANSWERS
from bailee.verify.trust import brought
from bailee.verify.verifier import verify


def judge(file: bytes | memoryview, asked: str, *, supposing: bool) -> str:
    """JSON of one run: `ask`, signatures that the browser must check first; or `refused`; or `report`, `html`
    and `text`.

    `asked` is JSON with `roots`, `log_keys`, `policy` and `at`, each as an auditor types it.
    """
    ANSWERS.begin(supposing=supposing)
    try:
        answer = _answer(bytes(file), json.loads(asked))
    except BaileeError as error:
        answer = {"refused": {"code": error.code, "sentence": error.sentence, **error.facts}}
    if ANSWERS.unknown:
        answer = {"ask": [[b64(part) for part in triple] for triple in ANSWERS.unknown]}
    return json.dumps(answer)


def learn(answers: str) -> None:
    """JSON of what the browser found: a list of key, signature, message and whether the signature fits."""
    ANSWERS.learn(
        ((unb64(public), unb64(signature), unb64(message)), fits)
        for public, signature, message, fits in json.loads(answers)
    )


def _answer(file: bytes, asked: dict[str, Any]) -> dict[str, Any]:
    trust = brought(asked["roots"], asked["log_keys"], asked["policy"] or None)
    found = verify(bundle.read(file), trust, Moment.parse(asked["at"]))
    return {
        "report": found.to_json(),
        "html": report_page.render(found),
        "text": report_text.render_text(found),
    }
