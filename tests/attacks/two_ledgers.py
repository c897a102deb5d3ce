"""The same honest day before two ledgers: one that a stranger writes to as well, and one where he does not
exist.

Whatever firm and laboratory sign, ask and export goes to both; what they are answered must be the same. The
ledgers have the same keys and the same clock, so that the same statement becomes the same entry, byte for
byte: what may differ are places in the log and what hangs on them.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from flask import Flask
from flask.testing import FlaskClient

from bailee.ledger.checkpoint import parse_vkey
from bailee.verify import bundle
from bailee.verify.verifier import Trust, verify
from field import LAB, OUTSIDER, Clock, Field, make_home
from grounds import migrated

PLACES: Final = frozenset({"index", "log_index", "size", "tree_size", "checkpoint", "proof", "hashes"})
"""Members of answers that say where in the log something is."""
_OF_FILES: Final = (
    "state",
    "faults",
    "remarks",
    "not_checked",
    "findings",
    "verdicts",
    "samples",
    "signers",
    "visit",
    "unpinned",
)
"""Members of a verification report that are compared; entries are compared as they stand in the file."""


@dataclass
class Answer:
    """What both ledgers say, read as one; `FlaskClient` answers as far as `Field` needs them."""

    status_code: int
    text: str
    told: Any

    def get_json(self) -> Any:
        """The answer of the quiet ledger, and so of both."""
        return self.told


class Both:
    """A client of two applications, which must not be told apart."""

    def __init__(self, quiet: Flask, loud: Flask) -> None:
        self._apps = (quiet.test_client(), loud.test_client())
        self.asked = 0

    def post(self, path: str, **more: Any) -> Answer:
        """The same request to both."""
        return self._same(path, lambda client: client.post(path, **more))

    def get(self, path: str, **more: Any) -> Answer:
        """The same question to both."""
        return self._same(path, lambda client: client.get(path, **more))

    def _same(self, path: str, ask: Callable[[FlaskClient], Any]) -> Answer:
        quiet, loud = (ask(client) for client in self._apps)
        self.asked += 1
        told = [without_places(each.get_json() if each.is_json else each.text) for each in (quiet, loud)]
        assert (quiet.status_code, told[0]) == (loud.status_code, told[1]), path
        return Answer(quiet.status_code, quiet.text, quiet.get_json(silent=True))


class TwoLedgers:
    """Firm and laboratory before both; `quiet` is also how the tests act (`field.Field`), `loud` only ever
    answers as `quiet` does.
    """

    def __init__(self, quiet: Field, loud: Field) -> None:
        self.quiet, self.loud = quiet, loud
        self.both = Both(quiet.app, loud.app)
        quiet.client = self.both  # type: ignore[assignment]

    def compare(self, form: str, samples: list[str], envelope: str, lot: str) -> None:
        """Everything that firm and laboratory can ask about what is theirs."""
        for who in ("quality", "dock"):
            for path in (
                f"/forms/{form}",
                f"/samples/{samples[-1]}",
                f"/envelopes/{envelope}",
                "/exceptions",
            ):
                self.quiet.get(who, path)
            self.quiet.post(
                who, "/readiness", {"act": "voided", "data": {"sample": samples[0], "reason": "dropped"}}
            )
            self._same_lists(who)
        for path in (
            f"/forms/{form}/facts", f"/forms/{form}/samples.csv", f"/forms/{form}/epcis",
            f"/envelopes/{envelope}/sealing", f"/window?number={envelope}", f"/organizations/{LAB}",
            f"/lots/{lot}/uses",
        ):  # fmt: skip
            self.quiet.get("quality", path)
        self._same_file("dock", form)
        self._same_lot(lot, samples)

    def _same_lot(self, lot: str, samples: list[str]) -> None:
        """The owner may be told that numbers were claimed elsewhere: a line for each, without form or name,
        and nothing else.
        """
        quiet, loud = (_ask(field, "keeper", f"/lots/{lot}") for field in (self.quiet, self.loud))
        assert quiet.pop("claimed_elsewhere") == []
        told = loud.pop("claimed_elsewhere")
        assert without_places(quiet) == without_places(loud)
        numbers = [each["sample"] for each in told]
        assert sorted({*numbers}) == sorted(numbers)
        assert {*numbers} <= {*samples}
        assert OUTSIDER not in str(told)

    def _same_lists(self, who: str) -> None:
        lists = [
            (_own(_all(field, who)), _own_due(_ask(field, who, "/chase")["items"]), _lots(field, who))
            for field in (self.quiet, self.loud)
        ]
        assert lists[0] == lists[1], who

    def _same_file(self, who: str, form: str) -> None:
        quiet, loud = (self._file(field, who, form) for field in (self.quiet, self.loud))
        for name, told in quiet.items():
            assert told == loud[name], f"{name} of the file for {who}"

    def _file(self, field: Field, who: str, form: str) -> dict[str, Any]:
        field.ledger.sequencer.integrate()
        answer = field.app.test_client().get(f"/forms/{form}/bundle", headers=field.people[who].bearer)
        assert answer.status_code == 200, answer.text
        read = bundle.read(answer.data)
        roots = {org: root.key.kid for org, root in field.roots.items()}
        report = verify(read, Trust(roots, (parse_vkey(field.ledger.vkey),)), field.ledger.now())
        told = report.to_json()
        return {
            "entries": [(each.text, each.disclosures) for each in read.entries],
            "roots": read.roots,
            "conflicts": read.conflicts,
            **{name: without_places(told[name]) for name in _OF_FILES},
        }


class Grounds:
    """A founded ledger as files, of which every example gets two copies."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._made = folder, 0
        self._home, self._file = folder / "home", folder / "founded.sqlite"
        founded = Field(make_home(self._home, migrated(self._file)))
        founded.ledger.database.close()
        self._people = founded.people, founded.roots

    @contextmanager
    def copies(self) -> Iterator[TwoLedgers]:
        """Both anew, under one clock, with devices that remember nothing since their enrollment."""
        self._made += 1
        clock, fields = Clock(), []
        for name in ("quiet", "loud"):
            home = self._folder / f"{name}-{self._made}"
            shutil.copytree(self._home, home)
            url = f"sqlite:///{shutil.copy(self._file, home / 'ledger.sqlite')}"
            fields.append(Field(make_home(home, url), start=False, clock=clock))
        quiet, loud = fields
        quiet.people, quiet.roots = loud.people, loud.roots = deepcopy(self._people)
        for device in (*quiet.people.values(), *quiet.roots.values()):
            device.clock = clock
        yield TwoLedgers(quiet, loud)
        for field in fields:
            field.ledger.database.close()
            shutil.rmtree(field.ledger.settings.home)


def without_places(told: Any) -> Any:
    """The same without members that say where in the log something is."""
    if isinstance(told, dict):
        return {name: without_places(value) for name, value in told.items() if name not in PLACES}
    if isinstance(told, (list, tuple)):
        return [without_places(each) for each in told]
    return told


def _ask(field: Field, who: str, path: str) -> Any:
    answer = field.app.test_client().get(path, headers=field.people[who].bearer)
    assert answer.status_code == 200, answer.text
    return answer.get_json()


def _all(field: Field, who: str) -> list[dict[str, Any]]:
    """Every form in the list, page by page: a list that can be filled up hides nothing."""
    found: list[dict[str, Any]] = []
    more = ""
    while page := _ask(field, who, f"/forms?limit=2{more}")["forms"]:
        found += page
        more = f"&before={page[-1]['form']}"
    return found


def _lots(field: Field, who: str) -> Any:
    return without_places(_ask(field, who, "/lots")["lots"])


def _own(forms: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [each for each in forms if OUTSIDER not in (each["firm"], each["lab"])]


def _own_due(items: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [each for each in items if OUTSIDER not in each["concerns"]]
