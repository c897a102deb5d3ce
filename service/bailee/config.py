"""Settings of one service: read once from `settings.toml` in its folder and from the environment, then
frozen.

The only reader of the environment on the server's side. Every name in the file may be overridden by
BAILEE_<NAME>; a name that is not known is an error, so that a misspelled setting is noticed at the start and
not in a dispute.
"""

from __future__ import annotations

import os
import tomllib
from collections.abc import Mapping
from dataclasses import MISSING, fields
from pathlib import Path
from typing import Any, Final, Literal, get_args

from bailee.errors import Malformed, Unavailable
from bailee.frozen import frozen

Founding = Literal["listed", "open"]

SETTINGS_FILE: Final = "settings.toml"
LOG_KEY_FILE: Final = "log.key"
_CLIENT_NAMES: Final = frozenset({"home", "as", "passphrase", "no_color", "ledger"})
"""Names that are no settings: what the command line reads may stand in the same environment."""
_NUMBERS: Final = {
    "integrate_every_ms": (10, 60_000),
    "lease_ms": (200, 600_000),
    "cosigners_required": (0, 16),
    "threads": (1, 64),
    "request_within_s": (1, 600),
    "answer_within_s": (7, 600),
    "ready_within_s": (1, 86_400),
    "max_unpublished_s": (0, 604_800),
    "requests_per_address": (0, 100_000),
    "requests_per_key": (0, 100_000),
}
"""Whole numbers, with the least and the largest."""
_YES_OR_NO: Final = frozenset({"pooler"})
_MAY_BE_EMPTY: Final = frozenset({"high_water", "metrics", "log_key"})
_LISTS: Final = frozenset({"cosigners", "monitors", "proxies"})
"""Lists in the file; in the environment their parts are parted by commas."""


@frozen
class Settings:
    """`origin` names the log for ever; `address` is what labels point at; `founding` is who may found an
    organization.
    """

    home: Path
    origin: str
    address: str
    database: str
    founding: Founding = "listed"
    integrate_every_ms: int = 500
    lease_ms: int = 15_000
    high_water: str = ""
    cosigners: tuple[str, ...] = ()
    cosigners_required: int = 0
    monitors: tuple[str, ...] = ()
    threads: int = 4
    request_within_s: int = 30
    answer_within_s: int = 20
    ready_within_s: int = 30
    max_unpublished_s: int = 900
    requests_per_address: int = 50
    requests_per_key: int = 20
    proxies: tuple[str, ...] = ("127.0.0.1", "::1")
    pooler: bool = False
    metrics: str = ""
    log_key: str = ""

    @property
    def log_key_place(self) -> str:
        """The file of the log's private key, readable by the service alone, or its address on a token."""
        if self.log_key.startswith("pkcs11:"):
            return self.log_key
        return str(self.home / (self.log_key or LOG_KEY_FILE))  # one from the root stays as it is

    @property
    def tiles(self) -> Path:
        """Hash tiles and the checkpoint: anybody may read them."""
        return self.home / "tiles"

    @property
    def entry_tiles(self) -> Path:
        """Entry tiles: what people said, for the service and for monitors."""
        return self.home / "entry-tiles"

    @property
    def high_water_file(self) -> Path:
        """Every checkpoint ever signed."""
        return self.home / (self.high_water or "high-water")  # one from the root stays as it is

    def text(self) -> str:
        """The settings file: over each what it means, and the value it has when nobody sets it."""
        told = [
            f"# {_MEANING[name]}{_default(each.default)}\n{name} = {_toml(getattr(self, name))}"
            for each in fields(self)
            if (name := each.name) != "home"
        ]
        return "\n\n".join([_HEAD, *told]) + "\n"


_HEAD: Final = """\
# Settings of this Bailee service; it reads them when it starts. Each may be overridden by BAILEE_<NAME> in
# the environment. A name that is not known is an error."""


_MEANING: Final = {
    "origin": "The log's name for ever, without https://; it is inside every signature.",
    "address": "Where browsers and labels find this service.",
    "database": "SQLAlchemy address: sqlite:///FILE, a path from this folder, or postgresql+psycopg://…",
    "founding": (
        'Who may found an organization: "listed" (keys admitted with `bailee admit`) or "open" (any key).'
    ),
    "high_water": (
        "File of every checkpoint ever signed, best on another disk than the database. Empty: high-water in"
        " this folder."
    ),
    "cosigners": (
        'Who is asked to cosign checkpoints: "VKEY URL" each, or "VKEY" for one that comes by itself.'
    ),
    "cosigners_required": (
        "How many of them must have cosigned a checkpoint before it is shown; more than half of those with a"
        " URL, or 0."
    ),
    "monitors": "Key IDs of enrolled keys that may read every entry of the log, to mirror and check it.",
    "integrate_every_ms": "How often waiting entries get their place in the log, in milliseconds.",
    "lease_ms": (
        "How long a process leads without a sign of life, in milliseconds; then another leads. The same on"
        " every host."
    ),
    "threads": "Requests that one process works on at the same time.",
    "request_within_s": (
        "Seconds within which a request must have arrived; a second more for every 4 kB that came. A slower"
        " one is closed."
    ),
    "answer_within_s": (
        "Seconds within which a request is answered, if only by 503, when the database does not answer."
    ),
    "ready_within_s": "How many seconds old the oldest unpublished entry may be while `/ready` answers yes.",
    "max_unpublished_s": (
        "How many seconds old it may be before statements are refused until the log is published again. 0: no"
        " limit."
    ),
    "requests_per_address": (
        "Requests a second, lasting, that each process takes from one address; forty times as many at once."
        " 0: no limit."
    ),
    "requests_per_key": "The same for one enrolled key that asks.",
    "proxies": (
        "Addresses of proxies whose X-Forwarded-For is believed; what comes from them without it has no limit"
        " by address."
    ),
    "metrics": (
        "Address and port where Prometheus asks, like 127.0.0.1:9464, never a public one; a second process"
        " takes the next port. Empty: nowhere."
    ),
    "log_key": (
        "The log's private key: a file, or pkcs11:token=…;object=…?module-path=…&pin-source=file:… on a"
        " token. Empty: log.key among the credentials that systemd gives the service, else in this folder."
    ),
    "pooler": (
        "Whether PostgreSQL is reached through a pooler that gives a connection for one transaction at a"
        " time."
    ),
}


RESTORED_FILE: Final = "restored.json"
"""In a home that was made of a backup, until it was compared with what others hold of the log."""


def ledger_folder(environment: Mapping[str, str] = os.environ) -> Path:
    """The folder of the service that is started without a command line: BAILEE_LEDGER.

    Raises `Unavailable` ("no-ledger-folder").
    """
    if said := environment.get("BAILEE_LEDGER"):
        return Path(said)
    people = environment.get("BAILEE_HOME")
    beside = f" BAILEE_HOME, which is {people}, is the folder of people's keys." if people else ""
    raise Unavailable(
        f"Set BAILEE_LEDGER to the ledger's folder, and start the service again.{beside} Nothing was made.",
        code="no-ledger-folder",
    )


def load(home: Path, environment: Mapping[str, str] = os.environ) -> Settings:
    """Settings of the service in `home`.

    Raises `Unavailable` when there is none, `Malformed` for a bad or unknown name.
    """
    path = home / SETTINGS_FILE
    try:
        values: dict[str, Any] = tomllib.loads(path.read_text("utf-8"))
    except FileNotFoundError as error:
        if (home / LOG_KEY_FILE).exists():
            raise Unavailable(f"{path} is missing: take it from your backup.", code="no-settings") from error
        raise Unavailable(
            f"There is no ledger in {home}: run `bailee init` first.", code="no-ledger"
        ) from error
    except (OSError, ValueError, RecursionError) as error:
        raise Malformed(
            f"{path} cannot be read: {error}. Every setting stands in it once, as `name = value`.",
            code="bad-settings",
        ) from error
    known, own = {each.name for each in fields(Settings)} - {"home"}, dict(values)
    given = Path(environment.get("CREDENTIALS_DIRECTORY") or home) / LOG_KEY_FILE  # systemd.exec(5)
    for name, value in environment.items():
        short = name.removeprefix("BAILEE_").lower()
        if name.startswith("BAILEE_") and short not in _CLIENT_NAMES:
            values[short] = _from_environment(short, value)
    unknown = sorted(set(values) - known)
    missing = sorted({"origin", "address", "database"} - set(values))
    if unknown or missing:
        said = "; ".join(
            [f"{name} is not a setting" for name in unknown] + [f"{name} is missing" for name in missing]
        )
        raise Malformed(f"The settings of this service are wrong: {said}.", code="bad-settings")
    wrong = sorted(name for name, value in values.items() if not _fits(name, value))
    if wrong:
        said = "; ".join(f"{name} = {_toml(values[name])}, and must be {_must_be(name)}" for name in wrong)
        raise Malformed(f"Settings of {path} cannot be used: {said}.", code="bad-settings")
    if (home / RESTORED_FILE).exists():
        _require_own_places(path, own, values)
    elif not values.get("log_key") and given.exists():
        values["log_key"] = str(given.absolute())
    values |= {name: tuple(values[name]) for name in _LISTS & values.keys()}
    return Settings(home=home, **values | {"database": database_in(home, values["database"])})


def _require_own_places(path: Path, own: Mapping[str, Any], values: Mapping[str, Any]) -> None:
    """A home that was made of a backup has a database, marks and a key of its own: those of the original,
    named by the environment, would be repaired, written to, or sign in a drill. An address may hold a
    password, and is not repeated.
    """
    for name in ("database", "high_water", "log_key"):
        if values.get(name, "") != own.get(name, ""):
            raise Malformed(
                f"BAILEE_{name.upper()} names another `{name}` than {path}, and this home was made of a"
                f" backup. Neither is used: unset BAILEE_{name.upper()}, then type this again.",
                code="other-place",
            )


def database_in(home: Path, address: str) -> str:
    """The database's address as seen from anywhere: a path of SQLite counts from `home`.

    So a home that was restored elsewhere has the database that lies in it, and not the one it was copied
    from.
    """
    scheme, slashes, file = address.partition(":///")
    if not scheme.startswith("sqlite") or not file or file.startswith((":memory:", "file:")):
        return address
    return f"{scheme}{slashes}{home.resolve() / file}"  # one from the root stays as it is


def _fits(name: str, value: Any) -> bool:
    if name == "founding":
        return value in get_args(Founding)
    if name in _NUMBERS:
        least, largest = _NUMBERS[name]
        return type(value) is int and least <= value <= largest
    if name in _YES_OR_NO:
        return isinstance(value, bool)
    if name in _LISTS:
        return isinstance(value, list) and all(isinstance(each, str) and each for each in value)
    return isinstance(value, str) and (bool(value) or name in _MAY_BE_EMPTY)


def _must_be(name: str) -> str:
    if name in _NUMBERS:
        least, largest = _NUMBERS[name]
        return f"a whole number from {least} to {largest}, without quotes or unit"
    if name == "founding":
        return " or ".join(map(_toml, get_args(Founding)))
    if name in _YES_OR_NO:
        return "true or false"
    return 'a list of texts like ["…", "…"], none of them empty' if name in _LISTS else 'a text like "…"'


def _from_environment(name: str, value: str) -> Any:
    if name in _LISTS:
        return [each.strip() for each in value.split(",") if each.strip()]
    if name in _YES_OR_NO:
        return {"true": True, "false": False}.get(value, value)
    return int(value) if name in _NUMBERS and value.isascii() and value.isdigit() else value


def _default(value: object) -> str:
    return "" if value is MISSING else f" Default: {_toml(value)}."


def _toml(value: object) -> str:
    if isinstance(value, tuple | list):
        return f"[{', '.join(map(_toml, value))}]"
    if isinstance(value, int):
        return str(value).lower()
    return '"' + str(value).replace("\\", "\\\\").replace('"', '\\"') + '"'
