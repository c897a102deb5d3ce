"""Where the log's key may be: a file, a credential of systemd, a token (PKCS#11 3.0, RFC 7512)."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from configparser import ConfigParser
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from bailee.config import LOG_KEY_FILE, SETTINGS_FILE, load
from bailee.errors import BaileeError, Malformed
from bailee.ledger.checkpoint import parse_vkey
from bailee.operations.publishing.log_key import open_log_key
from bailee.signing import notes, token
from bailee.signing.keys import SigningKey
from bailee.verify import bundle
from bailee_cli.main import bailee
from field import Field, make_home
from grounds import migrated
from programs import soft_token

DEPLOY = Path(__file__).resolve().parents[2] / "deploy"
PIN = "493817"
ORIGIN = "custody.example.org/log1"


def init(home: Path, *words: str) -> Any:
    """The operator's first command."""
    first = ["init", "--home", str(home), "--origin", ORIGIN, "--address", "http://127.0.0.1:8765"]
    return CliRunner().invoke(bailee, [*first, *words])


def test_a_credential_of_systemd_is_taken_before_a_file_of_the_home(tmp_path: Path) -> None:
    """A key encrypted for this machine alone would lie beside the database in clear as well
    (systemd.exec(5), LoadCredentialEncrypted=).
    """
    home, given = tmp_path / "home", tmp_path / "given"
    settings = make_home(home, migrated(tmp_path / "ledger.sqlite"))
    (home / SETTINGS_FILE).write_text(settings.text(), "utf-8")
    given.mkdir()
    environment = {"CREDENTIALS_DIRECTORY": str(given)}
    assert load(home, environment).log_key_place == str(home / LOG_KEY_FILE)
    key = SigningKey.generate()
    (given / LOG_KEY_FILE).write_bytes(key.pem())
    assert open_log_key(load(home, environment)).kid == key.kid
    assert open_log_key(load(home, {})).kid != key.kid
    named = environment | {"BAILEE_LOG_KEY": LOG_KEY_FILE}
    assert open_log_key(load(home, named)).kid != key.kid


LIKE = "pkcs11:token=log;object=log?module-path=/lib/m.so&pin-source=file:/etc/pin"


def test_an_address_of_a_key_is_read_as_the_standard_writes_it() -> None:
    """A label with a space, or a module in an odd folder, could not be named (RFC 7512, 2.3)."""
    text = "pkcs11:token=The%20log;id=%01%fe?pin-source=file:/etc/my%20pin&module-path=/opt/m.so"
    found = token.read_address(text)
    assert (found.token, found.object, found.id) == ("The log", None, b"\x01\xfe")
    assert (found.module, found.pin) == ("/opt/m.so", Path("/etc/my pin"))


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (LIKE.replace("pin-source=file:/etc/pin", "pin-value=1234"), "Write the PIN into a file"),
        (LIKE.replace("object=log", "objet=log"), "objet is not known"),
        (LIKE.replace(";object=log", ""), "lacks object"),
        (LIKE.partition("?")[0], "lacks module-path, pin-source"),
        (LIKE + "&pin-source=file:/other", "stands twice"),
    ],
)
def test_a_misspelled_address_is_answered_with_one_that_is_right(text: str, says: str) -> None:
    """An operator would guess at a syntax, or leave the PIN in a file that backups copy."""
    with pytest.raises(Malformed) as caught:
        token.read_address(text)
    assert caught.value.code == "log-key-address"
    assert says in caught.value.sentence
    assert "1234" not in caught.value.sentence


class Soft:
    """A software token named `log`: an Ed25519 pair `log`, a pair on a NIST curve `p256`, a lone half."""

    def __init__(self, folder: Path) -> None:
        import pkcs11
        from pkcs11.util import ec

        program, module = soft_token()
        (folder / "tokens").mkdir()
        self._conf = folder / "softhsm2.conf"
        self._conf.write_text(f"directories.tokendir = {folder}/tokens\nlog.level = ERROR\n")
        os.environ["SOFTHSM2_CONF"] = str(self._conf)
        make = [program, "--module", module, "--init-token", "--free", "--label", "log"]
        subprocess.run([*make, "--so-pin", "12345678", "--pin", PIN], check=True, capture_output=True)
        (folder / "pin").write_text(f"{PIN}\n")
        self.folder, self.module = folder, module
        self.loaded = pkcs11.lib(str(module))
        self.loaded.reinitialize()
        of = {
            "log": (pkcs11.KeyType.EC_EDWARDS, ec.encode_named_curve_parameters("1.3.101.112")),
            "p256": (pkcs11.KeyType.EC, ec.encode_named_curve_parameters("secp256r1")),
        }
        with self.loaded.get_token(token_label="log").open(rw=True, user_pin=PIN) as session:
            for label, (kind, curve) in of.items():
                named = {pkcs11.Attribute.EC_PARAMS: curve}
                domain = session.create_domain_parameters(kind, named, local=True)
                public, _ = domain.generate_keypair(store=True, label=label)
                if label == "log":
                    self.public = bytes(public[pkcs11.Attribute.EC_POINT])[2:]

    def address(self, label: str = "log", name: str = "log", pin: str = "pin", module: str = "") -> str:
        """Of one of its keys."""
        where = f"module-path={module or self.module}&pin-source=file:{self.folder / pin}"
        return f"pkcs11:token={name};object={label}?{where}"


@pytest.fixture(scope="module")
def soft(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Soft]:
    """SoftHSM; skips where it is not."""
    before = os.environ.get("SOFTHSM2_CONF")
    made = Soft(tmp_path_factory.mktemp("token"))
    yield made
    made.loaded.finalize()
    if before is None:
        del os.environ["SOFTHSM2_CONF"]


def test_checkpoints_and_files_are_signed_by_the_token_and_nothing_holds_its_key(
    soft: Soft, tmp_path: Path
) -> None:
    """A second way of signing would need the key in memory, or leave the auditor's file unsigned."""
    settings = make_home(tmp_path / "home", migrated(tmp_path / "ledger.sqlite"), log_key=soft.address())
    (settings.home / LOG_KEY_FILE).unlink()
    field = Field(settings)
    key = parse_vkey(field.ledger.vkey)
    assert key.public == soft.public
    form = field.open_form()
    field.ledger.sequencer.integrate()
    assert notes.open_checkpoint(field.client.get("/checkpoint").text, [key])
    made = bundle.read(field.get("inspector", f"/forms/{form}/bundle").data)
    assert notes.open_ends(made.ends, [key])
    # A token that was away for a while, as after a restart of the module, is opened again by itself.
    soft.loaded.reinitialize()
    again = field.open_form()
    assert field.get("inspector", f"/forms/{again}/bundle").status_code == 200
    field.ledger.database.close()


def test_a_ledger_is_begun_with_a_key_that_is_on_a_token_already(soft: Soft, tmp_path: Path) -> None:
    """The key would have to lie in a file first, and whoever copied it then could sign for ever."""
    done = init(tmp_path / "home", "--log-key", soft.address())
    assert done.exit_code == 0, done.output
    assert "on the token alone" in done.output
    assert not (tmp_path / "home" / LOG_KEY_FILE).exists()
    settings = load(tmp_path / "home", {})
    assert open_log_key(settings).public == soft.public
    checked = CliRunner().invoke(bailee, ["check-ledger", "--home", str(tmp_path / "home")])
    assert checked.exit_code == 0, checked.output
    copied = CliRunner().invoke(
        bailee, ["backup", "--home", str(settings.home), "--to", str(tmp_path / "copy")]
    )
    assert copied.exit_code == 0, copied.output
    words = ["restore", "--from", str(tmp_path / "copy"), "--home", str(tmp_path / "drill")]
    restored = CliRunner().invoke(bailee, words)
    assert "Set log_key = " in restored.output
    assert load(tmp_path / "drill", {}).log_key == ""  # a drill would sign with the real key


@pytest.mark.parametrize(
    ("changed", "code", "says"),
    [
        ({"name": "other"}, "no-token", "plug it in"),
        ({"module": "/nowhere/m.so"}, "token-failed", "see to the token"),
        ({"label": "nobody"}, "no-token-key", "correct `log_key`"),
        ({"label": "p256"}, "bad-key", "Ed25519 is needed"),
        ({"pin": "wrong"}, "wrong-pin", "tokens lock themselves"),
        ({"pin": "nowhere"}, "wrong-pin", "cannot be read"),
    ],
    ids=["no token", "no module", "no key", "another kind", "wrong PIN", "no PIN"],
)
def test_a_token_that_cannot_be_used_says_what_to_do(
    soft: Soft, tmp_path: Path, changed: dict[str, str], code: str, says: str
) -> None:
    """The service would start without its key, or with a number from a manual that nobody has."""
    soft.loaded.reinitialize()  # who has logged in once is not asked for a PIN again
    (soft.folder / "wrong").write_text("000000")
    with pytest.raises(BaileeError) as caught:
        token.TokenKey(soft.address(**changed))
    assert caught.value.code == code
    assert says in caught.value.sentence
    assert PIN not in caught.value.sentence
    done = init(tmp_path / "home", "--log-key", soft.address(**changed))
    assert done.exit_code in {2, 3}
    assert not (tmp_path / "home").exists()


class Counting:
    """The module of a token, as it is reached in `signing.token`; it counts the PINs that are tried."""

    def __init__(self, soft: Soft) -> None:
        self.tried: list[str] = []
        self._loaded = soft.loaded

    def get_token(self, **which: str) -> Counting:
        """The only one."""
        self._token = self._loaded.get_token(**which)
        return self

    def open(self, *, user_pin: str | None = None) -> Any:
        """A session."""
        self.tried += [user_pin] if user_pin else []
        return self._token.open(user_pin=user_pin)


def test_a_wrong_pin_is_tried_once_until_the_file_says_another(
    soft: Soft, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The service signs every half second: a token that locks itself after three wrong PINs was soon lost."""
    import pkcs11

    (soft.folder / "changing").write_text(PIN)
    soft.loaded.reinitialize()
    counted = Counting(soft)
    monkeypatch.setattr(pkcs11, "lib", lambda _: counted)
    key = token.TokenKey(soft.address(pin="changing"))
    (soft.folder / "changing").write_text("000000")
    soft.loaded.reinitialize()  # the token was away
    counted.tried.clear()
    said = set()
    for _ in range(4):
        with pytest.raises(BaileeError) as caught:
            key.sign(b"a checkpoint")
        said.add((caught.value.code, caught.value.sentence))
    assert counted.tried == ["000000"]
    assert [code for code, _ in said] == ["wrong-pin"]
    (soft.folder / "changing").write_text(PIN)
    assert len(key.sign(b"a checkpoint")) == 64


def test_a_wrong_pin_is_tried_once_for_all_processes_of_a_ledger(
    soft: Soft, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two workers try it as they start, somebody starts the service again, and a token that allows three is
    locked.
    """
    import pkcs11

    pin = soft.folder / "shared"
    pin.write_text("000000")
    settings = make_home(
        tmp_path / "home", migrated(tmp_path / "ledger.sqlite"), log_key=soft.address(pin="shared")
    )
    counted = Counting(soft)
    monkeypatch.setattr(pkcs11, "lib", lambda _: counted)
    for _ in range(3):  # each as a process that knows nothing of the others
        soft.loaded.reinitialize()
        with pytest.raises(BaileeError) as caught:
            open_log_key(settings)
        assert caught.value.code == "wrong-pin"
    assert counted.tried == ["000000"]
    assert not [each for each in settings.home.iterdir() if "000000" in each.read_text("utf-8", "replace")]
    pin.write_text(PIN)
    os.utime(pin, (1, 1))
    assert len(open_log_key(settings).sign(b"a checkpoint")) == 64
    assert counted.tried == ["000000", PIN]
    assert not (settings.home / "pin-refused").exists()


@pytest.mark.slow
def test_a_service_whose_token_refuses_the_pin_ends_and_is_not_started_again(
    soft: Soft, tmp_path: Path
) -> None:
    """Started again every two seconds with the same wrong PIN, the token locks itself
    (systemd.service(5), RestartPreventExitStatus=).
    """
    (soft.folder / "refused").write_text("000000")
    url = migrated(tmp_path / "ledger.sqlite")
    settings = make_home(tmp_path / "home", url, log_key=soft.address(pin="refused"))
    (settings.home / SETTINGS_FILE).write_text(settings.text(), "utf-8")
    done = subprocess.run(
        [sys.executable, "-m", "gunicorn", "--config", str(DEPLOY / "gunicorn.conf.py"), "bailee.app:wsgi()"],
        env=os.environ | {"BAILEE_LEDGER": str(settings.home), "LISTEN": "127.0.0.1:0", "WORKERS": "2"},
        capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    unit = ConfigParser(interpolation=None, strict=False)  # a name may stand twice in a unit
    unit.read(DEPLOY / "systemd/bailee.service", "utf-8")
    assert str(done.returncode) == unit["Service"]["RestartPreventExitStatus"], done.stderr
    assert "refuses the PIN" in done.stderr
    assert "Traceback" not in done.stderr
