"""`deploy/compose.yaml` without a container engine: held against the image, the runbook and the page that
brings it up; what of it is ours is run as it says.

Compose specification: services, health checks, volumes, secrets. Dockerfile reference: HEALTHCHECK. What the
engine itself does with the file is not tried.
"""

from __future__ import annotations

import json
import os
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import click
import pytest
import sqlalchemy as sa
import yaml
from click.testing import CliRunner
from test_deploy_files import DEPLOY, rows, words
from test_image import RECIPE, STEPS
from test_proxy_files import free

from bailee_cli.main import bailee
from forked_commands import ForkedCommands
from grounds import superuser_of
from hosts.running_hosts import wait_until
from own_postgres import OwnPostgres

COMPOSE: Final[dict[str, Any]] = yaml.safe_load((DEPLOY / "compose.yaml").read_text("utf-8"))
SERVICES: Final[dict[str, Any]] = COMPOSE["services"]
OURS: Final = {name for name, each in SERVICES.items() if "BAILEE_IMAGE" in each["image"]}
PAGE: Final = (DEPLOY / "region.md").read_text("utf-8").partition("## The same as containers")[2]
IMAGE: Final = dict(STEPS)
CHECK: Final[list[str]] = json.loads(re.findall(r"CMD (\[.*\])$", IMAGE["HEALTHCHECK"])[0])
MADE: Final = {
    folder
    for line in re.findall(r"install -d .* -o 10001 -g 10001 (.*?)(?: \\)?$", RECIPE, re.MULTILINE)
    for folder in line.split()
}
"""Folders of the image that are its user's."""
RUNS: Final = [
    shlex.split(each)
    for each in PAGE.replace("\\\n", " ").splitlines()
    if each.startswith("docker compose run ")
]


def run_of(line: list[str]) -> tuple[str, list[str], list[str]]:
    """Of a line of the page: the service, what it is run with, and the volumes beside."""
    rest, volumes = line[3:], []
    while rest[0].startswith("--"):
        option = rest.pop(0)
        if option == "--volume":
            volumes.append(rest.pop(0))
        else:
            assert option in {"--rm", "--no-deps"}
    return rest[0], rest[1:], volumes


def test_compose_and_runbook_name_the_same_services_ports_volumes_and_secrets() -> None:
    """Whoever looks for a folder or a secret on the bad day is led to a wrong one."""
    told = {tuple(sorted(words(row[0]))): row[1:] for row in rows("Services")}
    assert {name for names in told for name in names} == SERVICES.keys()
    for names, (_, ports, kept, secrets, _) in told.items():
        services = [SERVICES[each] for each in names]
        volumes = {each.split(":")[0] for service in services for each in service.get("volumes", ())}
        named = {each for each in volumes if not each.startswith(".")}
        read = {
            each.split(":")[0] for each in SERVICES["proxy"]["volumes"] if each.endswith(":/srv/tiles:ro")
        }
        assert named - (read if names == ("proxy",) else set()) == words(kept), names
        assert {each for service in services for each in service.get("secrets", ())} == words(secrets), names
        assert {each for name in names for each in listens_on(name)} == words(ports), names
    everything = [words(each[3]) for each in rows("Services")]
    assert set().union(*everything) == set(COMPOSE["volumes"])
    used = {each for service in SERVICES.values() for each in service.get("secrets", ())}
    assert used == set(COMPOSE["secrets"])
    for name, file in COMPOSE["secrets"].items():
        assert file["file"] == f"./secrets/{name}"
        assert re.search(rf"^\| [^|]*\b{re.escape(name)}\b[^|]* \|", PAGE, re.MULTILINE), name


def listens_on(name: str) -> set[str]:
    """The ports of a service, as its own lines and those of its image tell them."""
    service = SERVICES[name]
    said = json.dumps(service.get("command", [])) if name in OURS else ""
    found = {str(each).split(":")[-1] for each in service.get("ports", ())} | set(
        re.findall(r'--listen", "[^"]*:(\d+)"', said)
    )
    environment = service.get("environment", {})
    if metrics := environment.get("BAILEE_METRICS"):  # a second process takes the next port
        first = int(metrics.rpartition(":")[2])
        found |= {str(first + each) for each in range(int(environment["WORKERS"]))}
        found.add(re.findall(r"LISTEN=\S+:(\d+)", IMAGE["ENV"])[0])
    if "POSTGRES_IMAGE" in service["image"]:
        found |= set(re.findall(rf"host={name}:(\d+)", SERVICES["app-a"]["environment"]["BAILEE_DATABASE"]))
    return found


def test_what_is_asked_of_other_services_is_where_they_listen() -> None:
    """The proxy would ask a port on which nothing answers, and Prometheus watch one process of two."""
    asked = SERVICES["proxy"]["environment"]["BAILEE_HOSTS"].split()
    config = yaml.safe_load((DEPLOY / "alerts/prometheus-compose.yml").read_text("utf-8"))
    watched = config["scrape_configs"][0]["static_configs"][0]["targets"]
    for each in (*asked, *watched):
        name, _, port = each.partition(":")
        assert port in listens_on(name), each
    for name in ("app-a", "app-b"):
        assert {each.partition(":")[2] for each in (*asked, *watched) if each.startswith(name)} == listens_on(
            name
        )
    assert dict(SERVICES["app-a"]["environment"]) == dict(SERVICES["app-b"]["environment"])


def test_only_the_proxy_is_reached_from_outside_and_no_secret_is_in_an_environment() -> None:
    """The database, or the numbers for Prometheus, would be on the internet; a password in every listing of
    processes.
    """
    open_to_all = {
        name
        for name, service in SERVICES.items()
        for port in service.get("ports", ())
        if not str(port).startswith("127.0.0.1:")
    }
    assert open_to_all == {"proxy"}
    assert COMPOSE["networks"]["inside"]["internal"] is True
    assert {name for name, service in SERVICES.items() if "outside" in service["networks"]} == {
        "proxy",
        "prometheus",
    }
    for name, service in SERVICES.items():
        for variable, value in (service.get("environment") or {}).items():
            if re.search("PASS|KEY|SECRET", variable):
                assert str(value).startswith("/run/secrets/"), name
            assert not re.search(r"://[^/@]*:[^/@]+@", str(value)), name
    proxies = SERVICES["app-a"]["environment"]["BAILEE_PROXIES"]
    assert SERVICES["proxy"]["networks"]["inside"]["ipv4_address"] == proxies


def test_every_file_that_compose_mounts_is_there() -> None:
    """A container engine makes an empty folder of a file that is missing, and the service starts without."""
    mounted = [
        each.split(":")
        for service in SERVICES.values()
        for each in service.get("volumes", ())
        if each.startswith(".")
    ]
    assert mounted
    for source, target, mode in mounted:
        assert (DEPLOY / source).is_file(), source
        assert mode == "ro"
        named = [each for each in SERVICES.values() if target in each.get("entrypoint", ())]
        assert not named or os.access(DEPLOY / source, os.X_OK), f"{source} is started, and is no program"


def test_every_name_that_compose_asks_for_is_told_on_the_page() -> None:
    """`docker compose up` would stop at a name that nobody was told to write down."""
    asked = set(re.findall(r"\$\{([A-Z_]+):\?", (DEPLOY / "compose.yaml").read_text("utf-8")))
    told = re.findall(r"In `\.env`: (.*?)\. Then", PAGE, re.DOTALL)
    assert asked == {each for each in re.findall(r"`([A-Z_]+)`", told[0]) if each}


def test_what_is_kept_lies_where_the_user_of_the_image_may_write() -> None:
    """A volume on a folder that the image has not made is root's: the first start ends in "permission
    denied", and everything else of the root is read-only.
    """
    for name in OURS:
        service = SERVICES[name]
        assert (service["read_only"], service["cap_drop"], service["tmpfs"]) == (True, ["ALL"], ["/tmp"])
        kept = [each.split(":")[1] for each in service.get("volumes", ())]
        assert kept
        assert set(kept) <= MADE, name
    assert RUNS
    for line in RUNS:
        service, _, volumes = run_of(line)
        for each in volumes:
            volume, target, *mode = each.split(":")
            assert volume.removeprefix("deploy_") in COMPOSE["volumes"]
            assert mode == ["ro"] or target in MADE, each
            assert all(
                f"{volume.removeprefix('deploy_')}:" not in own for own in SERVICES[service]["volumes"]
            )


def test_a_health_check_asks_where_the_service_listens() -> None:
    """Cosigner and monitor would be shown as harmed for ever, and an engine that heals would end them."""
    for name in OURS:
        service = SERVICES[name]
        own = service.get("healthcheck")
        if "command" not in service:
            assert own is None, "as the image says"
        elif listens := listens_on(name):
            assert own["test"][0] == "CMD"
            assert all(each in own["test"][-1] for each in listens), name
        else:
            assert own == {"disable": True}, name


def understood(said: list[str]) -> None:
    """Each word is one that the command knows; nothing is done."""
    assert said[0] == "bailee"
    command: click.Command = bailee
    context, rest = click.Context(bailee, info_name="bailee"), said[1:]
    while isinstance(command, click.Group):
        name, found, rest = command.resolve_command(context, rest)
        assert found
        command, context = found, click.Context(found, parent=context, info_name=name)
    command.parse_args(context, rest)


def test_every_command_line_of_a_service_is_understood() -> None:
    """The monitor would end at once, over and over, because an option has another name by now."""
    told = [SERVICES[name]["command"] for name in OURS if "command" in SERVICES[name]]
    told += [run_of(each)[1] for each in RUNS if run_of(each)[1][0] == "bailee"]
    assert len(told) > 4
    for each in told:
        understood(each)


def test_postgresql_lets_in_whom_the_file_names(postgres: OwnPostgres) -> None:
    """The service or the standby would be turned away, or PostgreSQL not start: pg_hba_file_rules is its own
    reading of the file.
    """
    file = postgres.home / "d/pg_hba.conf"
    before = file.read_bytes()
    file.write_bytes((DEPLOY / "postgresql/pg_hba.conf").read_bytes())
    try:
        with superuser_of(postgres).connect() as connection:
            rules = connection.execute(
                sa.text("SELECT error, database, user_name FROM pg_hba_file_rules")
            ).all()
    finally:
        file.write_bytes(before)
    assert [error for error, _, _ in rules if error] == []
    let_in = {(database[0], user[0]) for _, database, user in rules}
    assert let_in == {("all", "postgres"), ("bailee", "bailee"), ("replication", "replication")}


@pytest.fixture
def as_told(postgres: OwnPostgres, tmp_path: Path) -> Iterator[dict[str, str]]:
    """What stands for the places of a container on this machine; the roles are made by the file for them."""
    secrets = tmp_path / "secrets"
    secrets.mkdir()
    for name in ("postgres-password", "replication-password", "pgpass", "log.key"):
        (secrets / name).write_text("" if name == "log.key" else "x")
    for each in ("home-a", "tiles-a", "marks-a", "home-b", "cosigner-data"):
        (tmp_path / each).mkdir()
    text = (DEPLOY / "postgresql/roles").read_text("utf-8").replace("/run/secrets", str(secrets))
    path = f"{postgres.programs}:{os.environ['PATH']}"
    subprocess.run(
        ["sh", "-c", text], check=True, capture_output=True, env={"PATH": path, "PGHOST": str(postgres.home)}
    )
    yield {
        "/run/secrets": str(secrets),
        "/srv/marks": str(tmp_path / "marks-a"),
        "/srv/cosigner": str(tmp_path / "cosigner-data"),
        "/srv/bailee": str(tmp_path / "home-a"),
        "host=postgres:5432": f"host={postgres.home}:5432",
        "host=standby:5432": "host=/nowhere:5432",
        "host=postgres&": f"host={postgres.home}&",
        "10.77.0.10": "127.0.0.1",
        "0.0.0.0:9464": "127.0.0.1:0",
        "0.0.0.0:8765": f"127.0.0.1:{free()}",
        "0.0.0.0:8766": f"127.0.0.1:{free()}",
        "/opt/bailee/gunicorn.conf.py": str(DEPLOY / "gunicorn.conf.py"),
    }
    with superuser_of(postgres).connect() as connection:
        for each in ("DATABASE bailee WITH (FORCE)", "ROLE bailee", "ROLE replication"):
            connection.exec_driver_sql(f"DROP {each}")


@pytest.mark.slow
def test_the_services_that_are_ours_come_up_as_the_page_says(as_told: dict[str, str], tmp_path: Path) -> None:
    """Line by line until the first statement could be sent: somebody would type it for the first time when a
    region waits for it.
    """

    def here(said: str) -> str:
        for place, there in as_told.items():
            said = said.replace(place, there)
        return said

    def environment(name: str) -> dict[str, str]:
        of_image = dict(each.split("=", 1) for each in IMAGE["ENV"].split())
        del of_image["PATH"]
        told = of_image | {key: str(value) for key, value in SERVICES[name].get("environment", {}).items()}
        return {key: here(value) for key, value in told.items()}

    printed = cosigner = ""
    for line in RUNS:
        service, said, _ = run_of(line)
        if said[0] == "cat":
            (tmp_path / "secrets/log.key").write_bytes(Path(here(said[1])).read_bytes())
        elif said[0] == "rm":
            Path(here(said[1])).unlink()
        elif said[0] == "bailee":
            typed = [here(each).replace("THE PUBLIC KEY THAT init PRINTED", printed) for each in said[1:]]
            done = CliRunner(env=environment(service)).invoke(bailee, typed)
            assert done.exit_code == 0, done.output
            keys = re.findall(r"\S+\+[0-9a-f]{8}\+\S+", done.output)
            if said[1:3] == ["cosign", "new"]:
                (cosigner,) = keys
            elif said[1] == "init":
                (printed,) = keys
        else:
            assert said[0] == "cp"
    told = dict(re.findall(r"`(BAILEE_COSIGNERS[A-Z_]*)(?:: \"(\d)\")?`", PAGE))
    assert told.keys() == {"BAILEE_COSIGNERS", "BAILEE_COSIGNERS_REQUIRED"}
    ports = {each: as_told[f"0.0.0.0:{each}"].partition(":")[2] for each in ("8765", "8766")}
    app = os.environ | environment("app-a") | {
        "BAILEE_COSIGNERS": f"{cosigner} http://127.0.0.1:{ports['8766']}",
        "BAILEE_COSIGNERS_REQUIRED": told["BAILEE_COSIGNERS_REQUIRED"],
    }  # fmt: skip
    begun = [here(each) for each in json.loads(IMAGE["CMD"])]

    def is_well(check: list[str], port: str) -> bool:
        said = [sys.executable, *check[1:-1], check[-1].replace(port, ports[port])]
        return subprocess.run(said, check=False, capture_output=True).returncode == 0

    with ForkedCommands() as commands:
        of_cosigner = SERVICES["cosigner"]
        running = commands.run([here(each) for each in of_cosigner["command"][1:]], tmp_path / "said")
        check = of_cosigner["healthcheck"]["test"][1:]
        wait_until(lambda: is_well(check, "8766"), "the cosigner's own check")
        process = subprocess.Popen([sys.executable, "-m", *begun], env=app, cwd=tmp_path)
        try:
            wait_until(lambda: is_well(CHECK, "8765"), "the image's own check")
            assert process.poll() is None
        finally:
            process.terminate()
            assert process.wait() == 0
        assert not running.has_ended
    assert not is_well(CHECK, "8765"), "a check that cannot fail is none"
