"""What `answers.py` asks: paths are those of the OpenAPI document, and `{name}` is each number there is."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import Any, Final

ASKED: Final[Mapping[str, tuple[str, ...]]] = {
    "/certificate": ("kind=pump&id=P-7&on={day}",),
    "/envelopes/{envelope}/receipt-slip.pdf": ("slip=R-7",),
    "/exceptions": ("rule=ML-02&about={sample}", "rule=OC-01&about={form}", "rule=RC-01&about={envelope}"),
    "/flow": ("", "before=15.0&after=14.9&fraction=1,0.5", "before=15.0&after=12.0&run_s=200"),
    "/forms/{form}": ("", "as_of={at}"),
    "/forms/{form}/bundle": ("", "redact=all"),
    "/forms/{form}/facts": ("", "about={sample}", "about={envelope}"),
    "/lots/{lot}/issuing": ("count=1&at={at}", "count=50&visit={day}"),
    "/organizations": ("like=quil-lab",),
    "/pen-forms.pdf": ("forms={form}",),
    "/proofs/consistency": ("first={index}&second={size}",),
    "/proofs/inclusion": ("index={index}&size={size}",),
    "/window": (
        "lab=quill-lab&carrier=acorn-freight&handed_over={day}T16:00&zone=America/New_York",
        "number={form}&carrier=birch-post&handed_over={day}T18:00",
        "number={envelope}&carrier=birch-post&handed_over={day}T18:00&service_days=2",
    ),
}
"""What a question says behind its path; of all others, nothing."""
PAGES: Final = (
    "/", "/enter", "/api", "/rules", "/rules/{code}", "/rules/zz", "/guide", "/guide/{guide}", "/S/{sample}",
    "/E/{envelope}", "/F/{form}", "/M/{lot}", "/pages/nowhere",
)  # fmt: skip
PAGES_OF_A_PERSON: Final = (
    "/", "/pages/forms/{form}", "/pages/envelopes/{envelope}", "/pages/samples/{sample}", "/pages/lots/{lot}",
    "/pages/forms/x",
)  # fmt: skip
VERBS: Final = (
    "key show", "check {form}", "check {envelope}", "check {envelope} --as-sealed", "show", "show {form}",
    "show {envelope}", "show {sample}", "show {lot}", "lot show", "lot show {lot}", "lot uses {lot}", "chase",
    "people --all", "contradictions", "outbox --all", "policy", "policy --org {org}", "calendar lab",
    "calendar carrier --carrier birch-post", "window --for {form} --carrier birch-post",
    "record {form} -o FILE", "record {form} --for-report -o FILE", "record {form} --blind -o FILE",
    "sealed-sheet {envelope} -o FILE", "receipt-slip {envelope} --slip R-7 -o FILE", "kit --list",
    "kit {sample} --visit {day} --anew", "bundle {form} -o FILE", "export {form} --epcis FILE",
    "export {form} --csv FILE",
)  # fmt: skip
VERBS_OF_ANYBODY: Final = (
    "rules", "rules {code}", "guide", "policy --example", "calendar lab --example",
    "plan places.toml", "kit --list --plan places.toml", "check-ledger --home demo/ledger",
    "backup --home demo/ledger --to demo/copy", "flow --before 15.0 --after 12.0",
    "notice --visit '2026-12-01 09:00' --zone America/New_York",
)  # fmt: skip


def questions(document: Mapping[str, Any]) -> Iterator[tuple[str, bool]]:
    """Each question of an OpenAPI document, the document itself too, and whether it is open to everybody."""
    yield "/openapi.json", True
    for path, item in document["paths"].items():
        if asked := item.get("get"):
            needed = [each["name"] for each in asked.get("parameters", ()) if each["required"]]
            for more in ASKED.get(path, ("",)):
                question = f"{path}?{more}".rstrip("?")
                if lacking := set(needed) - set(re.findall(r"[{?&](\w+)[=}]", question)):
                    raise SystemExit(
                        f"{question} lacks {', '.join(sorted(lacking))}: enter what is asked of it in ASKED."
                    )
                yield question, not asked["security"]
