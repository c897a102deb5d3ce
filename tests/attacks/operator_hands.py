"""What somebody can do who has the machine: the database file by SQL, the tree built anew, the service
started again.

A database administrator has `edit`. An operator also has the log's key: `retell` tells the whole log
differently, joins every chain again, throws away tiles, checkpoints and the high-water file, and lets the
real service sign what it then finds.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.app import create_app
from bailee.ledger import entry as entries
from bailee.ledger.base64url import unb64u
from bailee.ledger.checkpoint import VerifierKey, parse_vkey
from bailee.ledger.entry import Entry
from bailee.ledger.merkle import EMPTY_ROOT
from bailee.verify import bundle
from bailee.verify.result import Report
from bailee.verify.verifier import Trust, verify
from field import Field, make_home
from grounds import Ground, administrator, founding


class Fields:
    """Makes firm and laboratory before a real service; every call a machine of its own."""

    def __init__(self, folder: Path, ground: Ground) -> None:
        self.folder = folder
        self.ground = ground
        self.made: list[Field] = []

    def __call__(self, *, start: bool = True, **settings: Any) -> Field:
        """A new machine with a migrated database."""
        here = self.folder / f"machine-{len(self.made)}"
        here.mkdir()
        if start:
            self.made.append(self.ground.after(founding, here, **settings)[0])
        else:
            home = make_home(here / "home", self.ground.new(here), **settings)
            self.made.append(Field(home, start=False))
        return self.made[-1]

    def twin(self, field: Field) -> Field:
        """The operator's second copy of a log: same files, same keys, a history of its own from here on."""
        field.ledger.database.close()
        here = self.folder / f"machine-{len(self.made)}"
        here.mkdir()
        url, home = self.ground.copy(field.ledger.database.url, here), field.ledger.settings.home
        shutil.copytree(home, here / "home")
        cosigners = {"cosigners": field.ledger.settings.cosigners} if field.ledger.settings.cosigners else {}
        other = Field(make_home(here / "home", url, **cosigners), start=False)
        other.clock, other.people, other.roots = field.clock, field.people, field.roots
        with sql(other) as connection:  # or wait until the lead of the first one and its row have run out
            connection.execute(sa.text("UPDATE log_state SET until = 0"))
            connection.execute(sa.text("DELETE FROM host"))
        restart(field)
        self.made.append(other)
        return other

    def put_back(self, field: Field, old: Field) -> None:
        """The database of the old copy comes in the place of the field's."""
        for each in (field, old):
            each.ledger.database.close()
        self.ground.put_back(field.ledger.database.url, old.ledger.database.url)
        restart(field)


@dataclass(frozen=True)
class Row:
    """One entry as the operator tells it: its old row, whose private fields go with it, or None for a new
    one.
    """

    row: int | None
    entry: Entry

    def saying(self, **changes: Any) -> Row:
        """The same row with another entry."""
        return replace(self, entry=replace(self.entry, **changes))


Telling = Callable[[list[Row]], list[Row]]


def restart(field: Field) -> None:
    """The same home and database, in a new process as far as the program can tell."""
    field.ledger.database.close()
    field.app = create_app(field.ledger.settings, field.clock)
    field.client = field.app.test_client()
    field.ledger = field.app.extensions["ledger"]


@contextmanager
def sql(field: Field) -> Iterator[Connection]:
    """The database without the service, to its administrator, in plain SQL."""
    field.ledger.database.close()
    url = field.ledger.database.url
    with administrator(url) as connection:
        yield connection
    restart(field)


def edit(field: Field, chain: str, n: int, change: Callable[[str], str]) -> None:
    """One entry's text is changed in its row, and the leaf hash beside it, so that the table agrees with
    itself.
    """
    with sql(field) as connection:
        row, text = connection.execute(
            sa.text(
                "SELECT entry.id, text FROM entry JOIN chain ON chain.id = chain_id WHERE name = :chain AND n"
                " = :n"
            ),
            {"chain": chain, "n": n},
        ).one()
        told = change(text)
        assert told != text
        leaf = entries.leaf_hash(told.encode())
        connection.execute(
            sa.text("UPDATE entry SET text = :text, leaf = :leaf WHERE id = :row"),
            {"text": told, "leaf": leaf, "row": row},
        )


def take_out(field: Field, chain: str, n: int) -> None:
    """One entry's row is deleted, and nothing else."""
    with sql(field) as connection:
        connection.execute(
            sa.text(
                "DELETE FROM entry WHERE n = :n AND chain_id = (SELECT id FROM chain WHERE name = :chain)"
            ),
            {"chain": chain, "n": n},
        )


def retell(field: Field, telling: Telling) -> None:
    """The whole log told differently, every chain joined again, the tree built and signed anew."""
    field.ledger.sequencer.integrate()
    with sql(field) as connection:
        found = connection.execute(sa.text("SELECT id, text FROM entry ORDER BY log_index")).all()
        told = _joined(telling([Row(row, entries.read(text)) for row, text in found]))
        private = connection.execute(sa.text("SELECT entry_id, position, text FROM disclosure")).all()
        spoken = connection.execute(sa.text("SELECT signer_id, seq, entry_id FROM statement")).all()
        for table in ("disclosure", "entry", "tile", "tree_head"):
            connection.execute(sa.text(f"DELETE FROM {table}"))
        connection.execute(
            sa.text("UPDATE log_state SET size = 0, root = :root, epoch = epoch + 1, until = 0"),
            {"root": EMPTY_ROOT},
        )
        _write(connection, told)
        places = {each.row: place for place, each in enumerate(told, 1) if each.row is not None}
        _many(
            connection,
            "INSERT INTO disclosure (entry_id, position, text) VALUES (:entry, :position, :text)",
            [
                {"entry": places[row], "position": position, "text": text}
                for row, position, text in private
                if row in places
            ],
        )
        _many(
            connection,
            "DELETE FROM statement WHERE signer_id = :signer AND seq = :seq",
            [{"signer": signer, "seq": seq} for signer, seq, row in spoken if row not in places],
        )
        _many(
            connection,
            "UPDATE statement SET entry_id = :entry WHERE signer_id = :signer AND seq = :seq",
            [
                {"entry": places[row], "signer": signer, "seq": seq}
                for signer, seq, row in spoken
                if row in places
            ],
        )
        settings = field.ledger.settings
        for folder in (settings.tiles, settings.entry_tiles):
            shutil.rmtree(folder, ignore_errors=True)
        settings.high_water_file.unlink(missing_ok=True)
    field.ledger.sequencer.integrate()


def _joined(told: list[Row]) -> list[Row]:
    """Numbers and links as an honest log would have them."""
    last: dict[str, Entry] = {}
    found = []
    for each in told:
        before = last.get(each.entry.chain)
        n, prev = (before.n + 1, entries.link(entries.write(before))) if before else (1, None)
        found.append(each.saying(n=n, prev=prev))
        last[each.entry.chain] = found[-1].entry
    return found


def _write(connection: Connection, told: list[Row]) -> None:
    chains = {row.name: row.id for row in connection.execute(sa.text("SELECT name, id FROM chain"))}
    newest: dict[str, Entry] = {}
    rows = []
    for place, each in enumerate(told, 1):
        text = entries.write(each.entry)
        rows.append(
            {
                "id": place, "chain": chains[each.entry.chain], "n": each.entry.n, "text": text,
                "leaf": unb64u(entries.link(text)),
            }
        )  # fmt: skip
        newest[each.entry.chain] = each.entry
    _many(
        connection,
        "INSERT INTO entry (id, chain_id, n, text, leaf) VALUES (:id, :chain, :n, :text, :leaf)",
        rows,
    )
    for name, row in chains.items():
        if name not in newest:
            for table in ("mention", "party", "unanswered"):
                _many(connection, f"DELETE FROM {table} WHERE chain_id = :row", [{"row": row}])
            _many(connection, "DELETE FROM chain WHERE id = :row", [{"row": row}])
            continue
        head = newest[name]
        values = {"n": head.n, "head": entries.link(entries.write(head)), "rec": head.rec, "row": row}
        _many(connection, "UPDATE chain SET length = :n, head = :head, rec = :rec WHERE id = :row", [values])


def _many(connection: Connection, command: str, values: list[dict[str, Any]]) -> None:
    if values:
        connection.execute(sa.text(command), values)


def slip_in(field: Field, chain: str, text: str) -> None:
    """A statement the service would refuse is logged as the newest entry of a chain.

    The service then signs the grown log.
    """

    def telling(told: list[Row]) -> list[Row]:
        last = next(each.entry for each in reversed(told) if each.entry.chain == chain)
        return [*told, Row(None, replace(last, stmt=text))]

    retell(field, telling)


# The auditor


def log_key(field: Field) -> VerifierKey:
    """The key by which auditors know the log."""
    return parse_vkey(field.ledger.vkey)


def trust(field: Field, cosigners: dict[str, VerifierKey] | None = None) -> Trust:
    """What the auditor has from outside: the roots as they were when the contracts were signed, and the log's
    key.
    """
    roots = {org: root.key.kid for org, root in field.roots.items()}
    return Trust(roots, (log_key(field),), cosigners or {}, quorum=len(cosigners or {}))


def exported(field: Field, form: str, who: str = "quality") -> bytes:
    """The auditor's file as the service gives it."""
    answer = field.get(who, f"/forms/{form}/bundle")
    assert answer.status_code == 200, answer.text
    data: bytes = answer.data
    return data


def judged(field: Field, form: str, cosigners: dict[str, VerifierKey] | None = None) -> Report:
    """What the auditor finds in the file of a form."""
    return verify(bundle.read(exported(field, form)), trust(field, cosigners), field.ledger.now())


def faults(report: Report) -> set[tuple[int, str]]:
    """Step and code of everything that must not be."""
    return {(each.step, each.code) for each in report.faults}


def findings(report: Report) -> set[str]:
    """The rules that speak."""
    return {each.rule for each in report.findings}
