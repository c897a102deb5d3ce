"""Where each fact of a visit stands: one visit typed at a terminal, read back from all that tells of it.

The table names for each fact the words on each surface. What nobody can read there is red. Words are typed
here and not taken from the program.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from typing import Final

import pytest

from bailee.domain.numbers import grouped
from bailee.ledger.base64url import unb64u
from town import (
    ENVELOPE,
    INDOOR,
    OPEN,
    OUTDOOR,
    SEAL,
    Town,
    collect,
    dock,
    flat,
    to_the_clerk,
    told_everywhere,
)

pytestmark = pytest.mark.slow

TAPE: Final = (
    *(
        "--medium",
        "tape",
        "--room",
        "kitchen",
        "--point",
        "P9",
        "--material",
        "drywall",
        "--surface",
        "growth",
    ),
    *("--area-cm2", "4", "--label-on", "body", "--quantified"),
)
CAVITY: Final = (
    *("--kind", "indoor", "--room", "wall_cavity", "--space-reason", "source_there", "--opening", "drilled"),
    *("--tube", "new", "--tube-m", "0.6 m", "--tube-mm", "6", "--purge", "10 s", "--side", "exterior"),
    *("--run", "20 s", "--planned", "20 s", "--pump", "P-1", "--meter", "M-1", "--covers"),
    *("--flow-before", "15.0", "--flow-after", "15.0"),
)
SURFACES: Final = ("terminal", "API", "CSV", "EPCIS", "file", "report", "page", "record")
PEOPLE: Final = ("terminal", "report", "page", "record")
"""What is read by people: the same words on all four."""


@pytest.fixture
def told(settled: Town) -> Mapping[str, str]:
    """A visit of which every fact was told, as each surface tells it."""
    _, (void, again, cavity, outdoor) = settled.lot(4)
    _, (tape,) = settled.lot(1, cassette="tape")
    inspector, clerk, lab = (settled.person(name) for name in ("inspector", "clerk", "dock"))
    inspector.run(*OPEN)
    form = inspector.answer("show")["forms"][0]["form"]
    air = ("--temperature-c", "21.5", "--humidity-pct", "46", "--pressure-hpa", "1009", "--instrument", "T-2")
    inspector.run("read-conditions", "--where", "indoors", *air)
    inspector.run("read-conditions", "--where", "outdoors", "--temperature-c", "9.5", "--humidity-pct", "71",
                  "--rain-ended-h", "20", "--instrument", "T-2")  # fmt: skip
    collect(settled, void, INDOOR)
    inspector.run("void", void, "--reason", "dropped")
    collect(settled, again, (*INDOOR, "--replaces", void))
    collect(settled, cavity, CAVITY)
    inspector.run("report-change", "--what", "ventilation", "--was", "normal", "--now", "off")
    collect(settled, outdoor, OUTDOOR)
    inspector.run("collect-surface", tape, *TAPE)
    sent = [again, cavity, outdoor, tape]
    kept = ("--how", "locked", "--where", "vehicle", "--sheet", form)
    inspector.run("secure", *kept, "--at", "2026-12-01 10:05", code=None)
    to_the_clerk(settled, sent)
    asked = ("--due", "2026-12-09", "--purchase", "PO-77", "--cost-center", "4711", "--priority", "rush")
    clerk.run("request", form, "--analysis", "spore count", *asked)
    clerk.run("seal", *sent, "--envelope", ENVELOPE, "--counted", "4", "--containers", "2", *SEAL)
    shipped = ("--carrier", "acorn-freight", "--service", "next day", "--tracking", "AF-1", "--yes")
    clerk.run("ship", ENVELOPE, *shipped)
    settled.clock.now = settled.clock.now.replace(day=2, hour=16, minute=30)
    found = ("--seal", "C-4711", "--seal-state", "intact", "--all-intact", "--counted", "4")
    dock(settled, *sent, *found, "--containers", "3", "--temperature", "18.5")
    lab.run("number", *sent, "--from", "26-10412", "--yes")
    lab.run("accept", ENVELOPE, code=None)
    store = (
        "--store",
        "FR-9",
        "--how",
        "locked",
        "--keep-until",
        "2027-06-30",
        "--low-c",
        "2",
        "--high-c",
        "8",
    )
    lab.run("store", *sent, *store)
    lab.run("withdraw", again, "--store", "FR-9", "--purpose", "analysis")
    lab.run("copy", form, "--of", "blind", "--version", "1")
    told = read_everywhere(settled, form, (form, *sent, ENVELOPE), again)
    return told | {"void": void}


def read_everywhere(town: Town, form: str, shown: Sequence[str], sample: str) -> dict[str, str]:
    """A form as each surface tells it: `shown` are the numbers that somebody types."""
    inspector, folder = town.person("inspector"), town.folder
    people = told_everywhere(town, form, sample)
    table, events = folder / "samples.csv", folder / "events.json"
    inspector.run("export", form, "--csv", str(table), "--epcis", str(events))
    told = {
        "terminal": "".join(inspector.run("show", each) for each in shown),
        "API": json.dumps([inspector.answer("show", each) for each in shown], ensure_ascii=False),
        "CSV": table.read_text("utf-8"),
        "EPCIS": events.read_text("utf-8"),
        "file": _signed((folder / "form.bundle").read_text("utf-8")),
        "report": people["auditor"],
        "page": " ".join(text for where, text in people.items() if "page" in where),
        "record": people["record"],
    }
    return {where: flat(text) for where, text in told.items()}


def _signed(bundle: str) -> str:
    """What was signed in the statements of an auditor's file: the payloads of compact JWS (RFC 7515)."""
    parts = re.findall(r"[A-Za-z0-9_-]+\.([A-Za-z0-9_-]{40,})\.[A-Za-z0-9_-]{40,}", bundle)
    return " ".join(unb64u(part).decode("utf-8") for part in parts)


SURFACE: Final = ("tape lift", "drywall", "growth", "4 cm\u00b2")
STORE: Final = ("FR-9", "2027-06-30", "2 \u00b0C (36 \u00b0F) to 8 \u00b0C (46 \u00b0F)")
AIR: Final = ("21.5", "46", "1009", "20", "T-2")
STANDS: Final[Mapping[str, Mapping[str, tuple[str, ...]]]] = {
    "sample of a surface": {
        **dict.fromkeys(PEOPLE, SURFACE),
        "API": ('"medium": "tape"', '"material": "drywall"', '"surface": "growth"', '"area_cm2": "4"'),
        "CSV": (",tape,drywall,growth,4,",),
        "EPCIS": ('"bailee:medium": "tape"', '"bailee:surface": "growth"', '"type": "Area", "value": 4.0'),
        "file": ('"medium":"tape"', '"area_cm2":"4"'),
    },
    "air of a cavity": {
        **dict.fromkeys(PEOPLE, ("cavity, not room air", "opening drilled, tube new", "purged 10 s")),
        "API": ('"kind": "cavity"', '"opening": "drilled"', '"tube": "new"'),
        "CSV": (",cavity,", ",drilled,new,"),
        "EPCIS": ('"bailee:kind": "cavity"', '"bailee:opening": "drilled"', '"bailee:tube": "new"'),
        "file": ('"opening":"drilled"', '"tube":"new"'),
    },
    "building changed during the visit": {
        **dict.fromkeys(PEOPLE, ("went from normal to off",)),
        "API": ('"changes": [{', '"was": "normal"', '"now": "off"'),
        "CSV": ("ventilation normal off 2026-12-01T",),
        "EPCIS": ('"bailee:act": "building_changed"', '"bailee:now": "off"'),
        "file": ('"now":"off"',),
    },
    "air on site, and rain": {
        **dict.fromkeys(PEOPLE, AIR),
        "API": ('"temperature_c": "21.5"', '"pressure_hpa": "1009"', '"rain_ended_h": "20"'),
        "CSV": (",21.5,46,1009,", ",9.5,71,,20,"),
        "EPCIS": ('"bailee:temperature_c": "21.5"', '"bailee:rain_ended_h": "20"'),
        "file": ('"pressure_hpa":"1009"',),
    },
    "collected again in the place of another": {
        **dict.fromkeys(PEOPLE, ("eplaces {grouped}",)),
        "API": ('"replaces": "{void}"',),
        "CSV": (",2027-06-30,{void}",),
        "EPCIS": ('"bailee:replaces": "HTTP', "/S/{void}"),
        "file": ('"replaces":"{void}"',),
    },
    "what the laboratory is asked for": {
        **dict.fromkeys(PEOPLE, ("spore count", "2026-12-09", "PO-77", "4711", "rush")),
        "API": ('"due": "2026-12-09"', '"purchase": "PO-77"', '"priority": "rush"'),
        "CSV": (",spore count,", ",2026-12-09,PO-77,4711,rush,"),
        "EPCIS": ('"bailee:due": "2026-12-09"', '"bailee:purchase": "PO-77"'),
        "file": ('"purchase":"PO-77"',),
    },
    "containers, as sealed and as counted": {
        **dict.fromkeys(PEOPLE, ("RC-22",)),
        "API": ('"rule": "RC-22"',),
        "CSV": (",2,3,",),
        "EPCIS": ('"bailee:containers": 2', '"bailee:containers": 3'),
        "file": ('"containers":2', '"containers":3'),
    },
    "numbers of the laboratory": {
        **dict.fromkeys((*PEOPLE, "API", "CSV"), ("26-10412", "26-10415")),
        "EPCIS": ('"bailee:number": "26-10412"', '"bailee:act": "lab_numbered"'),
        "file": (':"26-10412"',),
    },
    "custody in the laboratory": {
        **dict.fromkeys(("page", "record"), (*STORE, "Purpose: analysis")),
        "report": (*STORE, "withdrew it from store FR-9 for analysis"),
        "terminal": (*STORE, "Withdrawn from a store for analysis"),
        "API": (
            '"store": "FR-9"', '"keep_until": "2027-06-30"', '"store_low_c": "2"', '"store_high_c": "8"',
            '"withdrawn_for": "analysis"',
        ),
        "CSV": (",FR-9,2027-06-30,", ",Dock Person,quill-lab,", ",2,8, ", "{void},,,analysis "),
        "EPCIS": (
            '"bailee:keepUntil": "2027-06-30"', '"bailee:lowC": 2.0', '"bailee:highC": 8.0',
            '"bailee:purpose": "analysis"',
        ),
        "file": ('"store":"FR-9"', '"purpose":"analysis"', '"low_c":"2"', '"high_c":"8"'),
    },
    "blind copy": {
        **dict.fromkeys(PEOPLE, ("Blind copy, version 1",)),
        "API": ('"of": "blind"', '"version": 1'),
        "CSV": (",1,spore count,",),
        "EPCIS": ('"bailee:of": "blind"',),
        "file": ('"of":"blind"',),
    },
}  # fmt: skip
"""By fact and surface, what stands there."""


def test_every_fact_stands_on_every_surface(told: Mapping[str, str]) -> None:
    """A laboratory that reads the table only, or another system that reads the events, would never learn that
    a fan was switched off in the middle.
    """
    void = told["void"]
    missing = [
        (fact, surface, words)
        for fact, surfaces in STANDS.items()
        for surface in SURFACES
        for words in surfaces[surface]
        if words.replace("{void}", void).replace("{grouped}", grouped(void)) not in told[surface]
    ]
    assert missing == []


def test_nothing_of_it_stands_there_when_it_was_not_told(settled: Town) -> None:
    """A table whose words stand everywhere anyway would be green over a program that tells nothing."""
    _, (sample,) = settled.lot(1)
    inspector = settled.person("inspector")
    inspector.run(*OPEN)
    collect(settled, sample, INDOOR)
    form = inspector.answer("show")["forms"][0]["form"]
    bare = read_everywhere(settled, form, (form, sample), sample)
    there = [
        (fact, surface)
        for fact, surfaces in STANDS.items()
        for surface in SURFACES
        if all(words in bare[surface] for words in surfaces[surface])
    ]
    assert there == []
