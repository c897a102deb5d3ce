"""Bundles, good and bad, each in a folder named after its fault: `verify/cases/<fault>/` holds README.md,
make.py and expected.json.

README.md says who did it, what would be believed if it were missed, what the verifier must say, and where
that is written. make.py has `bundle(town)`: from a visit that was told without a fault (`log_simulator.told`,
up to `TOLD` when the module names a step) it makes the file; with several spellings of one fault,
`bundle(town, variant)`. `brings(town)`, when it is there, is what the auditor trusts. expected.json says what
must be found, and that nothing else is. Nothing is stored that can be made.

`tests/verify` runs them with this Python, `tests/page` with the real page, through the same two doors: a
file's bytes, and what an auditor types.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib import util
from pathlib import Path
from types import ModuleType
from typing import Any, Final

from bailee.domain.moments import Moment
from bailee.errors import BaileeError
from bailee.ledger.checkpoint import format_vkey
from bailee.verify import bundle
from bailee.verify.result import PlaceInFile, Report
from bailee.verify.trust import brought
from bailee.verify.verifier import Trust, verify
from log_simulator import AT, LogSimulator, told

CASES: Final = Path(__file__).parent / "verify" / "cases"
FOLDERS: Final = tuple(sorted(each.name for each in CASES.iterdir() if not each.name.startswith("_")))


@dataclass(frozen=True)
class Case:
    """One file to judge: the folder's name and the variant, the bytes, what the auditor types, what must be
    found.
    """

    name: str
    town: LogSimulator
    file: bytes
    asked: Mapping[str, Any]
    expected: Mapping[str, Any]


def load(folder: str) -> ModuleType:
    """The generator of a folder."""
    path = CASES / folder / "make.py"
    spec = util.spec_from_file_location(f"case_{folder.replace('-', '_')}", path)
    assert spec, path
    assert spec.loader, path
    module = util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def expectations(folder: str) -> dict[str, dict[str, Any]]:
    """What must be found, by variant; a folder with a single bundle has the variant of no name."""
    found: dict[str, Any] = json.loads((CASES / folder / "expected.json").read_text("utf-8"))
    variants: dict[str, dict[str, Any]] = found.get("variants", {"": found})
    return variants


@cache
def cases(folder: str) -> tuple[Case, ...]:
    """Every bundle of a folder, made once in a process: whoever asks only looks at them."""
    return tuple(_made(folder))


@cache
def judged_cases(folder: str) -> tuple[tuple[Case, Report | BaileeError], ...]:
    """The same with what this Python comes to."""
    return tuple((case, judge(case.file, case.asked)) for case in cases(folder))


def _made(folder: str) -> Iterator[Case]:
    module = load(folder)
    for variant, expected in expectations(folder).items():
        town = told(getattr(module, "TOLD", "accepted"))
        which = (variant,) if variant else ()
        made = module.bundle(town, *which)
        file = made if isinstance(made, bytes) else bundle.write(made).encode()
        trust = module.brings(town, *which) if hasattr(module, "brings") else town.trust()
        yield Case(f"{folder} {variant}".strip(), town, file, asked(trust, AT), expected)


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


def judge(file: bytes, given: Mapping[str, Any]) -> Report | BaileeError:
    """What this Python comes to, from bytes and typed words as the command line and the page have them.

    Or its refusal.
    """
    try:
        trust = brought(given["roots"], given["log_keys"], given["policy"] or None)
        return verify(bundle.read(file), trust, Moment.parse(given["at"]))
    except BaileeError as error:
        return error


def found(case: Case, judged: Report | BaileeError) -> dict[str, Any]:
    """A judgment in the words of expected.json."""
    if isinstance(judged, BaileeError):
        place = {"place": judged.facts["place"]} if "place" in judged.facts else {}
        return {"refused": judged.code, **place}
    return {
        "state": judged.state,
        "faults": [[each.step, each.code, where(case.town, each.place)] for each in judged.faults],
        "other_keys": [[each.code, where(case.town, each.place)] for each in judged.other_keys],
        "remarks": [[each.code, where(case.town, each.place)] for each in judged.remarks],
        "not_checked": [each.code for each in judged.not_checked],
        "verdicts": [each.state for each in judged.verdicts],
        "findings": sorted({each.rule for each in judged.findings}),
        "redacted": judged.redacted,
        "left_out": judged.left_out,
    }


def where(town: LogSimulator, place: PlaceInFile) -> str:
    """A place in words that do not hang on the numbers a town happens to have: `form 3, sample 2`."""
    chain, n, index = place.chain, place.n, place.index
    if chain is None and index is not None and index < len(town.log):
        try:
            chain, n = town.log[index].entry.chain, town.log[index].entry.n
        except BaileeError:
            return "an entry that cannot be read"
    words = []
    if chain:
        kind, _, number = chain.partition("/")
        known = number == town.form if kind == "form" else number in town.lots
        name = chain if kind == "org" else kind if known else f"another {kind}"
        words.append(f"{name} {n}" if n else name)
    if place.sample:
        words.append(f"sample {town.samples.index(place.sample) + 1}")
    return ", ".join(words)


def write(folder: Path, names: Iterable[str] = FOLDERS) -> None:
    """For a verifier of one's own: each case in a folder, with what is brought and what must be found."""
    for case in (case for name in names for case in cases(name)):
        place = folder / case.name.replace(" ", ".")
        place.mkdir(parents=True)
        (place / "file.json").write_bytes(case.file)
        for each, content in (("brought", case.asked), ("expected", case.expected)):
            (place / f"{each}.json").write_text(json.dumps(content, indent=2) + "\n", "utf-8")


if __name__ == "__main__":
    write(Path(sys.argv[1]))
