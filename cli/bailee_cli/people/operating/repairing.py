"""The operator, after an old copy of the database was put in place: bringing back what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bailee.errors import Broken, Malformed
from bailee_cli.people.operating.homes import erasures_unknown, server_parts
from bailee_cli.terminal import progress, yes_no
from bailee_cli.terminal.options import at_a_terminal

if TYPE_CHECKING:
    from bailee.disk.note_file import NoteFile
    from bailee.ledger.checkpoint import Checkpoint, VerifierKey
    from bailee.operations.erasing import Returned
    from bailee.operations.ledger import Ledger
    from bailee.operations.repair import PutBack, Repaired

_HOME: Final = click.option(
    "--home", required=True, type=click.Path(file_okay=False, path_type=Path), help="Folder of the ledger."
)


@click.command("repair")
@_HOME
@click.option(
    "--from", "folders", multiple=True, type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="A monitor's mirror, another home, or a folder of entry tiles. May be given several times.",
)  # fmt: skip
@click.option(
    "--bundle", "bundles", multiple=True, type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="An auditor's file held by another person. May be repeated.",
)  # fmt: skip
@click.option(
    "--checkpoint", "checkpoints", multiple=True,
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="A checkpoint of this log that another person holds, as a file. May be repeated.",
)  # fmt: skip
@click.option(
    "--new-high-water",
    is_flag=True,
    help="The high-water file is lost for good: begin a new one from what is here.",
)
@click.option(
    "--yes",
    is_flag=True,
    help="With --new-high-water or after a restore: no more is held anywhere; do not ask.",
)
def repair_command(
    home: Path,
    folders: tuple[Path, ...],
    bundles: tuple[Path, ...],
    checkpoints: tuple[Path, ...],
    *,
    new_high_water: bool,
    yes: bool,
) -> None:
    """Bring missing entries back, byte for byte, after an old copy of the database was put in place, or a
    home was made of a backup.

    They are taken from this folder's own entry tiles, and from what you name; cosigners are asked how much
    was signed. Nothing is changed unless the log then has the very root that was signed; what was erased
    since is erased again. Run it with the service stopped, on the backup as it is.
    """
    from bailee.config import load
    from bailee.ledger.checkpoint import parse_vkey

    with server_parts():
        from bailee.app import open_ledger
        from bailee.operations import backups, erasing, in_use, repair

    tiles = [_entry_tiles(folder) for folder in folders]
    ledger = open_ledger(load(home))
    click.get_current_context().call_on_close(ledger.database.close)
    click.get_current_context().with_resource(in_use.stopped(home))
    settings, log_key = ledger.settings, parse_vkey(ledger.vkey)
    high_water = ledger.guard.high_water
    with ledger.database.reading() as connection:
        own = repair.newest_note(connection)
    told, seen = ledger.guard.shown_by_cosigners(), ledger.cosigners.seen()
    here = (high_water.newest(), ledger.publisher.shown(), own, told)
    files = [path.read_bytes() for path in bundles]
    named = [*map(_checkpoint, folders), *map(_text, checkpoints), *_shown_in(files)]
    newest = repair.newest_of([*here, *seen.values(), *named], log_key)
    if newest is None:
        raise Malformed(
            "Nothing here was ever signed by this log: there is nothing to repair.", code="no-checkpoint"
        )
    foreign = _is_foreign(high_water, log_key, new_one=new_high_water)
    target, note = newest
    first = _require_sound(ledger, log_key)
    by_word = foreign or (ledger.guard.is_restored and not _is_known(seen.values(), named, here, log_key))
    if by_word:
        _ask_for_all_others(max(first, target.size), backups.made_of(home), yes=yes)
    sources = [repair.from_tiles(folder, first, target.size) for folder in (settings.entry_tiles, *tiles)]
    sources.append(repair.from_bundles(files))
    with progress.shown("Bringing back entries") as steps:
        done = repair.repair(ledger.database, target, note, sources, steps)
    beside = repair.put_back(ledger.database, settings.origin, files, ledger.clock())
    ledger.publisher.watch = partial(progress.shown, "Writing tiles")
    ledger.publisher.write_again()
    if foreign and high_water.path.exists():
        high_water.path.replace(high_water.path.with_name(f"{high_water.path.name}.put-aside"))
    _remember(high_water, target, note, log_key)
    if by_word:
        erasing.note_unknown(home, backups.made_of(home))
    ledger.guard.compared()
    erased, left = ledger.database.write(erasing.again)
    with ledger.database.reading() as connection:
        still = ledger.guard.sentence(connection)
    silent = [name for name, shown in seen.items() if shown is None]
    lost = done.now > done.before
    for line in (
        *_brought_back(done, target.size, silent),
        *_beside(beside, lost=lost),
        *_gone(erased, left),
        *filter(None, [erasures_unknown(home)]),
    ):
        click.echo(line)
    if still:
        click.echo(still, err=True)
        raise click.exceptions.Exit(1)


def _is_foreign(high_water: NoteFile, log_key: VerifierKey, *, new_one: bool) -> bool:
    """Whether the high-water file is none of this log. Raises `Malformed` ("no-high-water") unless a new one
    is to be begun then.
    """
    from bailee.operations import repair

    foreign = repair.newest_of([high_water.newest()], log_key) is None
    if foreign and not new_one:
        raise Malformed(
            f"The high-water file {high_water.path} is missing, or its newest line is no checkpoint of this"
            " log. Put the right one back, or mount its disk; if it is lost for good, repeat with"
            " --new-high-water: what is there is put aside.",
            code="no-high-water",
        )
    return foreign


def _shown_in(files: Iterable[bytes]) -> Iterator[str]:
    """The checkpoints in auditor's files: whoever holds such a file holds what was signed by then."""
    from bailee.verify import bundle

    return (bundle.read(each).note for each in files)


def _require_sound(ledger: Ledger, log_key: VerifierKey) -> int:
    """How many entries the database has. Raises `Broken` ("harmed") when it was altered."""
    from bailee.operations import maintenance, repair
    from bailee.verify.log_audit import Audit

    with ledger.database.reading() as connection, progress.shown("Checking entries") as steps:
        if harm := next(maintenance.damage(connection, log_key, Audit(log_key.name), steps), None):
            raise Broken(
                f"This database was harmed, and repair only adds what a sound one lacks: {harm.says} Put an"
                f" older backup in place and repair that; `bailee check-ledger --home {ledger.settings.home}`"
                " lists every fault.",
                code="harmed",
            )
        return repair.size(connection)


def _is_known(
    asked: Iterable[str | None], named: Iterable[str | None], here: Iterable[str | None], log_key: VerifierKey
) -> bool:
    """Whether the newest that was signed is known, as far as anybody can tell: a cosigner answers with as
    much as this home knows, or a file that was named holds more. One that holds as much may be the backup's.
    """
    from bailee.operations import repair

    answered, held, inside = (repair.newest_of(each, log_key) for each in (asked, named, here))
    known = inside[0].size if inside else 0
    return bool(answered and answered[0].size >= known) or bool(held and held[0].size > known)


def _brought_back(done: Repaired, signed: int, silent: list[str]) -> Iterator[str]:
    """What became of the log; `silent`: cosigners that did not say what they saw."""
    yield (
        f"The log has {done.now} entries, of which {signed} are as was signed; {done.now - done.before} were"
        " brought back, byte for byte. The files of its tiles were written again."
    )
    if done.fields_missing:
        yield (
            f"{done.fields_missing} private fields of these entries are not part of the log and were not in"
            " what you named. Auditor's files that show them bring them back; proofs hold without."
        )
    for name in silent:
        yield (
            f"The cosigner {name} does not answer: should it have seen more, the log is frozen again when it"
            " does, and is then to be repaired once more."
        )


def _beside(done: PutBack, *, lost: bool) -> Iterator[str]:
    """What became of that which is kept beside the log; `lost`: an old copy was in place."""
    if done.conflicts or done.tokens:
        yield (
            "Brought back out of auditors' files, beside the log: "
            f"contradictions of devices {done.conflicts}, time stamps {done.tokens}."
        )
    if done.refused:
        yield (
            f"Not used: {done.refused} contradictions or time stamps in these files do not verify for this"
            " log, or cannot be checked here."
        )
    if lost:
        yield (
            "Not part of the log, and not here again unless a file that you named has it: contradictions and"
            " time stamps stored since this backup, and root keys admitted since. A device that has a"
            " contradiction may send it again; add a stamp again with `bailee timestamp --token`; admit a key"
            " again that has founded nothing yet."
        )


def _gone(erased: int, left: list[Returned]) -> Iterator[str]:
    """Private fields that came back with the old copy."""
    if erased:
        yield f"Erased again: {erased} private fields whose erasure is in the log."
    for each in left:
        yield each.sentence()


def _remember(high_water: NoteFile, target: Checkpoint, note: str, log_key: VerifierKey) -> None:
    """Let the high-water file say no less than `target`."""
    from bailee.operations import repair

    marked = repair.newest_of([high_water.newest()], log_key)
    if marked is None or marked[0].size < target.size:
        high_water.append(note)


def _ask_for_all_others(end: int, made: str, *, yes: bool) -> None:
    """Without the high-water file, or of a backup `made` then, only others know whether more was signed than
    `end` entries.
    """
    click.echo(
        f"This copy ends at {end}. If a checkpoint above {end} is held anywhere, stop: starting makes a"
        " second history.",
        err=True,
    )
    since = made or "this copy was made"
    click.echo(
        f"What was erased after {since} comes back with it. Have the list of every organization first: it"
        " erases again what it had erased.",
        err=True,
    )
    if yes:
        return
    if not at_a_terminal():
        raise Malformed(
            "Ask your cosigners and monitors first; when none of them holds more, repeat with --yes. Nothing"
            " was changed.",
            code="not-confirmed",
        )
    if not yes_no.asked("Have they all confirmed that they hold no more?"):
        raise click.Abort


def _entry_tiles(folder: Path) -> Path:
    """Where a mirror, a home or a folder of tiles keeps its entries. Raises `Malformed` when nowhere."""
    for each in (folder, folder / "entry-tiles"):
        if (each / "tile" / "entries").is_dir():
            return each
    raise Malformed(
        f"There are no entry tiles in {folder}: name a monitor's mirror, a home, or its folder entry-tiles."
        " Nothing was changed.",
        code="no-entry-tiles",
    )


def _text(file: Path) -> str:
    return file.read_text("utf-8", "replace")


def _checkpoint(folder: Path) -> str | None:
    for path in (folder / "checkpoint", folder / "tiles" / "checkpoint"):  # of a mirror, of a home
        try:
            return path.read_text("utf-8")
        except (OSError, UnicodeDecodeError):
            continue
    return None
