"""What `deploy/` sets for a production server fits what the service needs."""

from __future__ import annotations

import runpy
from configparser import ConfigParser
from pathlib import Path

from gunicorn.config import Config

DEPLOY = Path(__file__).resolve().parents[2] / "deploy"


def test_the_unit_leaves_the_service_a_folder_for_temporary_files() -> None:
    """No worker would start: gunicorn's sign of life, and large bodies, are files in the temporary folder.

    systemd.exec(5): under `ProtectSystem=strict` everything is read-only but /dev, /proc, /sys and what
    `ReadWritePaths` names; `PrivateTmp` mounts a /tmp of the service's own.
    """
    unit = ConfigParser(interpolation=None, strict=False)  # a name may stand twice in a unit
    unit.read(DEPLOY / "systemd/bailee.service", "utf-8")
    service = unit["Service"]
    assert service["ProtectSystem"] == "strict"
    assert service["PrivateTmp"] == "true"
    assert service["Environment"].removeprefix("BAILEE_LEDGER=") in service["ReadWritePaths"].split()


def test_gunicorn_knows_every_setting_and_opens_nothing_beside_the_service() -> None:
    """A misspelled setting is passed over in silence; two services of one user would take each other's
    control socket.

    gunicorn's manual, settings: `control_socket` is by default a file in the home of the user.
    """
    said = runpy.run_path(str(DEPLOY / "gunicorn.conf.py"))
    settings = {name for name in said if not name.startswith("__")} - {"os"}
    assert settings <= Config().settings.keys()
    assert said["control_socket_disable"] is True
