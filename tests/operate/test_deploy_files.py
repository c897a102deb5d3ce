"""Files of `deploy/`, read by the programs that they are for, and held against the runbook.

Programs: systemd-analyze(1), promtool (Prometheus), PostgreSQL. What is not at hand is left out. Compose:
test_compose.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Final

import pytest
import yaml

from field import Field, make_home
from grounds import migrated
from own_postgres import OwnPostgres
from programs import required

DEPLOY: Final = Path(__file__).resolve().parents[2] / "deploy"
RUNBOOK: Final = DEPLOY / "runbook"
RULES: Final = [
    each
    for group in yaml.safe_load((DEPLOY / "alerts/bailee.yml").read_text("utf-8"))["groups"]
    for each in group["rules"]
]
HEADINGS: Final = ["It means", "Look at", "Do", "Over when", "Call"]
BY_HAND: Final = {"README.md", "unit-failed.md"}
"""Pages of no alarm and no service."""


def ran(*words: str | Path, folder: Path, **environment: str) -> str:
    """What a program says that must end well."""
    done = subprocess.run(
        [str(each) for each in words], cwd=folder, env=os.environ | environment, capture_output=True,
        text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


def rows(heading: str) -> list[list[str]]:
    """The table under a heading of the runbook, cell by cell."""
    text = (RUNBOOK / "README.md").read_text("utf-8").partition(f"## {heading}\n")[2].partition("\n## ")[0]
    lines = re.findall(r"^\|(.*)\|$", text, re.MULTILINE)[2:]
    return [[cell.strip() for cell in line.split("|")] for line in lines]


def words(cell: str) -> set[str]:
    """The parts of a cell."""
    return {each.strip() for each in cell.split(",") if each.strip()}


def test_systemd_takes_every_unit_and_finds_it_closed(tmp_path: Path) -> None:
    """A misspelled line of a unit is passed over in silence, and the service stands open or does not start.

    The programs of /opt/bailee are not there: the unit is verified with another in their place.
    """
    analyze = required("systemd-analyze")
    for unit in (DEPLOY / "systemd").glob("*.*"):
        if unit.is_file():
            text, count = re.subn(
                r"(ExecStart=|exec )/opt/bailee/\S+", r"\1/bin/true", unit.read_text("utf-8")
            )
            assert count or unit.suffix == ".timer" or unit.stem in {"bailee-certificate", "bailee-failed@"}
            (tmp_path / unit.name).write_text(text)
    services = sorted(each.name for each in tmp_path.glob("*.service"))
    timers = sorted(each.name for each in tmp_path.glob("*.timer"))
    assert len(services) > len(timers) > 0
    for timer in timers:
        assert timer.replace(".timer", ".service") in services
    said = ran(
        analyze, "verify", "--man=no", *(f"./{each}" for each in services + timers),
        folder=tmp_path, SYSTEMD_UNIT_PATH=f"{tmp_path}:",
    )  # fmt: skip
    assert str(tmp_path) not in said
    assert "bailee" not in said
    closed = ran(
        analyze, "security", "--offline=true", "--threshold=20", *(f"./{each}" for each in services),
        folder=tmp_path,
    )  # fmt: skip
    assert closed.count("exposure level") == len(services)


def test_alarms_go_off_when_they_should() -> None:
    """Nobody is called on the bad day, or somebody every night until nobody listens."""
    promtool = required("promtool")
    ran(promtool, "check", "config", "prometheus.yml", "prometheus-compose.yml", folder=DEPLOY / "alerts")
    tests = sorted(each.name for each in (DEPLOY / "alerts").glob("*_test.yml"))
    ran(promtool, "test", "rules", *tests, folder=DEPLOY / "alerts")
    tried = "".join((DEPLOY / "alerts" / each).read_text("utf-8") for each in tests)
    for rule in RULES:
        assert re.search(rf"eval_time: \w+\n +alertname: {rule['alert']}\n", tried), rule["alert"]


def test_every_number_an_alarm_rests_on_is_served(tmp_path: Path) -> None:
    """An alarm on a metric that was renamed never goes off, and a page sends somebody to look at nothing."""
    field = Field(make_home(tmp_path / "home", migrated(tmp_path / "ledger.sqlite")))
    (field.ledger.settings.home / "backed-up").write_text("2026-11-30T18:00:00Z", "ascii")
    field.client.get("/live")
    served = {
        sample.name
        for family in field.app.extensions["metrics"].registry.collect()
        for sample in family.samples
    } | {"bailee_cosigned"}  # a cosigner is named in settings: tests/api/test_watched.py has one
    field.ledger.database.close()
    pages = " ".join(each.read_text("utf-8") for each in RUNBOOK.iterdir())
    told = " ".join(rule["expr"] for rule in RULES)
    asked, looked_at = (set(re.findall(r"\bbailee_[a-z_]+", each)) for each in (told, pages))
    assert min(len(asked), len(looked_at)) > 7
    ends = ("_bucket", "_count", "_sum", "")
    assert {each for each in asked | looked_at if not {each + end for end in ends} & served} == set()


def test_every_alarm_has_its_page_and_every_page_its_alarm() -> None:
    """Somebody is called at night, and looks for what it means."""
    listed = {
        name: (re.findall(r"\(([a-z-]+\.md)\)", page)[0], call)
        for alarms, page, call in rows("Alarms")
        for name in words(alarms)
        if name.startswith("Bailee")
    }
    for rule in RULES:
        page = rule["annotations"]["page"].removeprefix("deploy/runbook/")
        assert listed.pop(rule["alert"]) == (page, rule["labels"]["call"])
        assert rule["alert"] in (RUNBOOK / page).read_text("utf-8")
    assert listed == {}


def test_every_unit_that_is_named_is_one() -> None:
    """Somebody starts a unit of another name in the night, and is told that there is none."""
    units = {each.name.partition(".")[0] for each in (DEPLOY / "systemd").iterdir()}
    others = {"postgresql", "prometheus", "caddy", "nginx"}
    for page in sorted(DEPLOY.rglob("*.md")):
        text = page.read_text("utf-8")
        named = re.findall(r"systemctl (?:status|start|stop|restart|reload|enable --now) ([a-z .-]+)", text)
        named += re.findall(r"journalctl -u ([a-z-]+)", text)
        for each in " ".join(named).split():
            assert each.partition(".")[0] in units | others, (page.name, each)


def test_every_page_says_what_to_do_when_it_is_over_and_whom_to_call() -> None:
    """The page at hand at night would lack what one does, and nobody know when to go to bed again."""
    named = {each["annotations"]["page"].removeprefix("deploy/runbook/") for each in RULES} | {
        re.findall(r"\((service-[a-z]+\.md)\)", row[-1])[0] for row in rows("Services")
    }
    assert named | BY_HAND == {each.name for each in RUNBOOK.iterdir()}
    for name in named | BY_HAND - {"README.md"}:
        text = (RUNBOOK / name).read_text("utf-8")
        assert re.findall(r"^## (.*)$", text, re.MULTILINE) == HEADINGS, name
        assert len(text.splitlines()) <= 50, name


@pytest.mark.slow
def test_postgresql_knows_every_setting(postgres: OwnPostgres) -> None:
    """PostgreSQL does not start with a name that it does not know, or with a value it cannot read."""
    text = (DEPLOY / "postgresql/bailee.conf").read_text("utf-8")
    told = dict(re.findall(r"^([a-z_]+) = '?([^'\n]+)'?$", text, re.MULTILINE))
    lines = [each for each in text.splitlines() if each and not each.startswith("#")]
    assert len(told) == len(lines)
    flags = [word for name, value in told.items() for word in ("-c", f"{name}={value}")]
    asked = ["-D", postgres.home / "d", "-C", "synchronous_standby_names"]
    done = subprocess.run(
        [postgres.programs / "postgres", *asked, *flags],
        capture_output=True, text=True, check=False, **postgres._run,
    )  # fmt: skip
    assert (done.stdout.strip(), done.returncode) == ("FIRST 1 (standby)", 0), done.stderr


def test_old_backups_go_only_after_a_new_one_is_whole(tmp_path: Path) -> None:
    """A night without a backup would take one of the last away; what was erased would stay in them ever."""
    home, folder = tmp_path / "home", tmp_path / "backups"
    (home / "entry-tiles/tile/entries").mkdir(parents=True)
    (home / "entry-tiles/tile/entries/000").write_bytes(b"entries")
    old, young, other = (folder / each for each in ("20260101T021500Z", "20261129T021500Z", "2026-notes"))
    for each in (old, young, other):
        each.mkdir(parents=True)
    for each in (old, other):
        os.utime(each, (0, 0))
    tools = tmp_path / "tools"
    tools.mkdir()
    stub = tools / "bailee"
    stub.write_text('#!/bin/sh\n[ "$1 $2 $4" = "backup --home --to" ] && mkdir -p "$5" && exit "$CODE"\n')
    stub.chmod(0o755)
    program = DEPLOY / "systemd/backup"
    path = f"{tools}:{os.environ['PATH']}"
    failed = subprocess.run(
        [program, home, folder, "35"], env={"PATH": path, "CODE": "3"}, check=False, capture_output=True
    )
    assert failed.returncode == 3
    assert old.exists()
    shutil.rmtree(next(each for each in folder.iterdir() if each not in {old, young, other}))
    empty = tmp_path / "empty"
    empty.mkdir()
    ran(program, empty, tmp_path / "first", "35", folder=tmp_path, PATH=path, CODE="0")
    ran(program, home, folder, "35", folder=tmp_path, PATH=path, CODE="0")
    assert not old.exists()
    assert young.exists()
    assert other.exists()
    assert (folder / "entry-tiles/tile/entries/000").read_bytes() == b"entries"
    assert len(list(folder.iterdir())) == 4
