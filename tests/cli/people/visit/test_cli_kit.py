"""`bailee kit`: scanned at the shelf, with a service and without.

The ledger's clock stands at 2026-12-01 14:00 UTC.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from bailee.domain import numbers
from town import INDOOR, OPEN, Town

CHECKED = ("--pump", "P-7", "--pump-valid-to", "2027-01", "--meter", "M-3", "--meter-valid-to", "2027-01-31")
VISIT = ("kit", "--visit", "2026-12-02")


def rules(told: dict) -> list[tuple[str, str]]:
    """What was found."""
    return [(each["rule"], each["severity"]) for each in told["findings"]]


def test_a_kit_that_will_do_says_so_and_ends_with_0(settled: Town) -> None:
    """A script that books visits cannot tell a good kit from a bad one."""
    _, samples = settled.lot(4)
    said = settled.person("inspector").run(*VISIT, *samples, *CHECKED)

    assert "Kit ready for 2026-12-02: 4 cassettes." in said
    assert "NOT CHECKED" not in said


def test_a_scanner_types_pump_meter_and_labels(settled: Town) -> None:
    """At the shelf nobody types options; a scanner types and presses Enter, in any spelling of the label."""
    _, samples = settled.lot(4)
    typed = "\n".join(
        [
            "P-7",
            "M-3",
            f"HTTPS://LEDGER.EXAMPLE/S/{samples[0]}",
            numbers.grouped(samples[1]).lower(),
            "S123",
            samples[2],
            samples[2],
            samples[3],
        ]
    )
    valid = ("--pump-valid-to", "2027-01-31", "--meter-valid-to", "2027-01-31")
    said = settled.person("inspector").run(*VISIT, *valid, typed=f"{typed}\n\n")

    assert "scan it again" in said
    assert "was scanned 2 times" in said
    assert "4: " in said
    assert "Kit ready for" in said


def test_what_is_missing_is_said_and_ends_with_1(settled: Town) -> None:
    """The inspector learns at the house that the cassettes went out of date last night."""
    _, old = settled.lot(2, expiry="2026-12-01")
    _, recalled = settled.lot(1)
    keeper = settled.person("keeper")
    keeper.run("lot", "recall", keeper.answer("show", recalled[0])["lot"]["lot"], "--reason", "maker")
    stray = numbers.issue("sample", lambda _: "5")
    said = settled.person("inspector").run(*VISIT, *old, recalled[0], stray, *CHECKED, code=1)
    told = settled.person("inspector").answer(*VISIT, *old, recalled[0], stray, *CHECKED, code=1)

    assert "KIT NOT READY for 2026-12-02." in said
    assert sorted(rules(told)) == sorted(
        [("ML-02", "block")] * 2
        + [("ML-06", "block"), ("ML-01", "block"), ("VP-09", "block"), ("ML-11", "warn")]
    )
    assert told["will_do"] is False
    assert all(each["remedy"] for each in told["findings"])


def test_a_cassette_of_somebody_else_or_used_already(settled: Town) -> None:
    """A used cassette is run again, and two visits share one number."""
    lot, samples = settled.lot(3)
    keeper, inspector, second = (settled.person(name) for name in ("keeper", "inspector", "second"))
    kid = inspector.answer("key", "show")["kid"]
    keeper.run("lot", "issue", lot, "--count", "1", "--to", kid, "--visit", "2026-12-05", "--anyway")
    (named,) = set(keeper.answer("lot", "show", lot)["issued"]) - set(samples)
    inspector.run(*OPEN)
    inspector.run("collect", samples[0], *INDOOR)

    told = inspector.answer(*VISIT, *samples, named, *CHECKED, code=1)
    assert ("CL-01", "block") in rules(told)
    assert ("CL-12", "warn") not in rules(told)
    assert ("", "note") in rules(told)
    assert ("CL-12", "warn") in rules(second.answer(*VISIT, named, *CHECKED, code=1))


def test_the_plan_decides_how_many(settled: Town, tmp_path: Path) -> None:
    """Four cassettes are taken along for a plan of six."""
    _, samples = settled.lot(6)
    places = tmp_path / "places.toml"
    places.write_text(
        'visit_h = 5\nblanks = 1\n[[places]]\nname = "a"\ncomplaint = true\n[[places]]\nname = "b"\n'
    )
    inspector = settled.person("inspector")

    # two indoors, two outdoors for a long visit, one blank, one to spare
    assert inspector.answer(*VISIT, *samples, "--plan", str(places), *CHECKED)["wanted"]["total"] == 6
    assert rules(inspector.answer(*VISIT, *samples[:5], "--plan", str(places), *CHECKED)) == [
        ("VP-09", "note")
    ]
    assert rules(inspector.answer(*VISIT, *samples[:4], "--plan", str(places), *CHECKED, code=1)) == [
        ("VP-09", "block")
    ]


@pytest.mark.parametrize(
    ("valid_to", "rule", "code"),
    [("2026-12-02", [], 0), ("2026-12-01", [("PV-06", "block")], 1), ("2026-11", [("PV-06", "block")], 1)],
)
def test_a_certificate_read_from_paper(
    settled: Town, valid_to: str, rule: list[tuple[str, str]], code: int
) -> None:
    """The meter is good today and not on the day of the visit."""
    _, samples = settled.lot(4)
    words = ("--pump", "P-7", "--pump-valid-to", "2027-01-31", "--meter", "M-3", "--meter-valid-to", valid_to)

    assert rules(settled.person("inspector").answer(*VISIT, *samples, *words, code=code)) == rule


def test_a_certificate_nobody_entered_was_not_checked_and_ends_with_3(settled: Town) -> None:
    """A meter without a certificate passes because nobody looked."""
    _, samples = settled.lot(4)
    inspector = settled.person("inspector")

    said = inspector.run(*VISIT, *samples, "--meter", "M-99", code=3)
    assert "NOT CHECKED: Flow meter M-99: no certificate could be looked up." in said
    assert "NOT CHECKED: Pump: none was scanned or named." in said
    assert "Nothing found stops this kit for 2026-12-02, but not everything was checked." in said
    assert inspector.answer(*VISIT, *samples, code=3)["will_do"] is False


@pytest.mark.parametrize("offline", [True, False])
def test_without_a_network_it_says_what_was_not_checked(settled: Town, offline: bool) -> None:
    """In a garage without a signal a recall of this morning goes unseen, and the screen is green."""
    _, samples = settled.lot(4)
    _, old = settled.lot(1, expiry="2026-12-01")
    inspector = settled.person("inspector")
    inspector.run(*VISIT, *samples, *CHECKED)
    settled.line.weather = "down"
    settled.line.requests.clear()
    words = ("--offline",) if offline else ()
    told = inspector.answer(*VISIT, *samples, *CHECKED, *words, code=3)

    assert told["findings"] == []
    assert "last read" in told["unchecked"][0]
    assert len(settled.line.requests) == (0 if offline else 1), "one wait, and no second"
    told = inspector.answer(*VISIT, *samples, *old, *CHECKED, *words, code=1)
    assert ("ML-02", "block") in rules(told)


def test_the_kit_check_is_what_the_basement_remembers(settled: Town) -> None:
    """At the house the phone does not know the lot of a cassette that was checked an hour ago."""
    _, samples = settled.lot(4)
    inspector = settled.person("inspector")
    inspector.run(*VISIT, *samples, *CHECKED)
    settled.line.weather = "down"
    inspector.run(*OPEN, "--offline")

    assert "expiration date 2027-03-31" in inspector.run("collect", samples[0], *INDOOR, "--offline")


@pytest.mark.parametrize(
    "words",
    [
        ("--visit", "2026-12"),
        ("--visit", "tomorrow"),
        ("--meter", "M-3", "--meter-valid-to", "next year"),
        ("--plan", "none.toml"),
    ],
)
def test_what_was_typed_wrongly_ends_with_2(settled: Town, words: tuple[str, ...]) -> None:
    """A slip of the finger looks like a kit that will not do."""
    _, samples = settled.lot(1)

    assert "Traceback" not in settled.person("inspector").run("kit", *samples, *words, code=2)


def test_as_a_program_on_a_device_without_a_key(tmp_path: Path) -> None:
    """A fresh laptop ends in a traceback instead of the sentence that says what to do first."""
    done = subprocess.run(
        [sys.executable, "-m", "bailee_cli.main", "kit", numbers.issue("sample", lambda _: "7")],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "BAILEE_HOME": str(tmp_path / "home")},
    )

    assert done.returncode == 3
    assert "bailee key new" in done.stderr
    assert "Traceback" not in done.stderr


def test_what_to_pack_is_listed_without_a_scan(settled: Town) -> None:
    """Whoever packs the evening before has nothing in hand to scan yet."""
    inspector = settled.person("inspector")
    said = inspector.run("kit", "--list")
    for what in ("[ ] air", "[ ] return", "return envelope", "spare battery", "Thresholds"):
        assert what in said
    assert inspector.answer("kit", "--list")["pack"][0]["count"] == 4


def test_a_tape_in_the_kit_is_counted_by_itself(settled: Town) -> None:
    """Two cassettes and two tapes would be four cassettes, and the visit ends for want of one."""
    _, samples = settled.lot(3)
    _, tapes = settled.lot(2, cassette="tape")
    inspector = settled.person("inspector")
    told = inspector.answer(*VISIT, *samples, *tapes, *CHECKED)
    assert (told["good"], told["media"]) == (3, {"tape": 2})
    offline = inspector.answer(*VISIT, *samples, *tapes, *CHECKED, "--offline", code=3)
    assert (offline["good"], offline["media"]) == (3, {"tape": 2})
