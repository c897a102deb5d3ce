"""The auditor: get the file, and check it without account and without network.

`verify` needs the base installation only, and imports nothing heavy before it has something to check.

A monitor: a copy of somebody else's whole log, every entry of it checked.
"""

from __future__ import annotations

import stat
import time
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bailee.errors import BaileeError, Broken, Malformed, OtherKey, Unavailable
from bailee_cli.device.session import Session
from bailee_cli.terminal import progress
from bailee_cli.terminal.options import Number, Whole, json_option

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from bailee.verify.bundle import Bundle
    from bailee.verify.mirror import Mirror, Round
    from bailee.verify.result import Stamped
    from bailee.verify.verifier import Trust
    from bailee_cli.device.client import LedgerClient


@click.command("bundle")
@click.argument("form", type=Number("form"))
@click.option(
    "-o",
    "--output",
    type=click.Path(dir_okay=False),
    required=True,
    help="Write to this file.",
)
@click.option(
    "--redact",
    help=(
        "Leave out these private fields, like client,site; all leaves out every one. The rest still verifies."
    ),
)
@json_option
@click.pass_obj
def bundle_command(session: Session, form: str, output: str, redact: str | None) -> None:
    """Get the auditor's file of FORM: everything needed to check it, in one file."""
    from bailee.domain.numbers import grouped
    from bailee.signing import disclosures
    from bailee.verify import bundle
    from bailee_cli.device.profile import replace_file
    from bailee_cli.terminal import layout

    with progress.waiting("Making the auditor's file"):
        content = session.service.get_bytes(f"/forms/{form}/bundle", "application/json", redact=redact)
    replace_file(Path(output), content)
    told = bundle.read(content)
    fields = sorted({disclosures.name_of(each) for entry in told.entries for each in entry.disclosures})
    if session.json:
        from bailee_cli.terminal import show

        show.print_json({"form": form, "file": output, "sha256": told.sha256, "private_fields": fields})
        return
    layout.say(f"Auditor's file of form {grouped(form)}: {output}")
    layout.say(f"Private fields in it: {', '.join(fields) or 'none'}.")


@click.command("export")
@click.argument("form", type=Number("form"))
@click.option("--epcis", type=click.Path(dir_okay=False), help="EPCIS 2.0 events in JSON-LD, to this file.")
@click.option("--csv", type=click.Path(dir_okay=False), help="The samples as a table, to this file.")
@json_option
@click.pass_obj
def export_command(session: Session, form: str, epcis: str | None, csv: str | None) -> None:
    """Write FORM for other systems: its events, or its samples as a table."""
    from bailee_cli.device.profile import replace_file

    wanted = [
        (epcis, "epcis", "application/json"),
        (csv, "samples.csv", "text/csv"),
    ]
    if not any(file for file, _, _ in wanted):
        raise Malformed("Enter what to write: --epcis FILE or --csv FILE.", code="nothing-to-do")
    for file, what, media in wanted:
        if file:
            replace_file(Path(file), session.service.get_bytes(f"/forms/{form}/{what}", media))
            if not session.json:
                click.echo(f"Written: {file}")
    if session.json:
        from bailee_cli.terminal import show

        show.print_json({"form": form, "epcis": epcis, "csv": csv})


@click.command("verify")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, allow_dash=True))
@click.option(
    "--root",
    "roots",
    multiple=True,
    metavar="ORG=KEY",
    help=(
        "Root key of an organization, as printed on its forms or letters: its five lines or its 43"
        " characters. Once for each."
    ),
)
@click.option(
    "--log-key",
    "log_keys",
    multiple=True,
    metavar="VKEY",
    help="Public key of the log, from outside: its vkey, or its name, = and the five lines of the key.",
)
@click.option(
    "--policy",
    type=click.Path(exists=True, dir_okay=False),
    help=(
        "File with the log's keys, cosigners and how many must have signed; instead of --log-key, or"
        " beside it."
    ),
)
@click.option(
    "--stamp-root",
    "stamp_roots",
    multiple=True,
    type=click.Path(exists=True, dir_okay=False),
    metavar="FILE",
    help=(
        "Root certificate (PEM or DER) of a time stamp authority that you choose to believe: its stamps are"
        " checked. Once for each."
    ),
)
@click.option(
    "--printed",
    multiple=True,
    metavar="N=HASH",
    help=(
        "Number and hash of the newest entry, as an earlier custody record of the form shows them on paper."
        " Once for each."
    ),
)
@click.option(
    "--tokens",
    type=click.Path(file_okay=False),
    help="Write time stamps and the texts they are over into this folder.",
)
@click.option(
    "--statements",
    type=click.Path(file_okay=False),
    help=(
        "Write every signed entry, its signature and its key into this folder, to be checked by other tools."
    ),
)
@click.option(
    "--at", help="Judge what is overdue as of this time; without an offset it is UTC.  [default: now]"
)
@json_option
@click.pass_obj
def verify_command(
    session: Session,
    file: str,
    roots: tuple[str, ...],
    log_keys: tuple[str, ...],
    policy: str | None,
    stamp_roots: tuple[str, ...],
    printed: tuple[str, ...],
    tokens: str | None,
    statements: str | None,
    at: str | None,
) -> None:
    """Check an auditor's FILE, without a network: what is altered or missing, who held what, what is not
    shown.

    The root keys and the log key must come to you by another way than the file. FILE may be - for standard
    input.

    \b
    Ends with
      0  records unaltered, and the rules flag nothing; warnings, notes and
         remarks are printed and do not count
      1  records do not verify, fewer cosigned than the quorum you ask for, or
         a finding of severity flag, block or refuse
      2  the command, a root key, the log key, a printed hash or a file you bring is
         wrong or missing
      3  nothing was judged: FILE cannot be read as an auditor's file, or does not
         lead to a root key or log key that you brought, or a printed hash was
         mistyped
    """  # noqa: D301 - click's mark for lines that stay as they are
    from bailee.verify import bundle, file_limits, report_text
    from bailee.verify.verifier import verify
    from bailee_cli.terminal.options import moment

    when = moment(session, at, "UTC")
    try:
        with click.open_file(file, "rb") as opened:
            told = bundle.read(opened.read(file_limits.MAX_BYTES + 1))
    except OSError as error:
        raise Unavailable(f"{file} cannot be read: {error.strerror}.", code="unreadable") from error
    except Malformed as error:
        raise Unavailable(error.sentence, code=error.code, **error.facts) from error
    if not roots or not (log_keys or policy):
        raise _nothing_brought(told, bool(roots))
    with progress.shown("Checking entries") as steps:
        found = verify(told, _trust(roots, log_keys, policy, stamp_roots, printed), when, steps)
    if tokens:
        _write_tokens(tokens, found.stamps, {each.size: each.der for each in told.tokens})
    if statements:
        _write_statements(statements, told)
    if session.json:
        from bailee_cli.terminal import show

        show.print_json(found.to_json())
    else:
        from bailee_cli.terminal import layout

        click.echo(layout.told(report_text.render_text(found)))
    if found.state in ("not under your keys", "not all understood"):
        raise click.exceptions.Exit(3)
    is_flagged = any(each.severity in ("flag", "block", "refuse") for each in found.findings)
    if found.state == "broken" or found.lacks_cosigners or is_flagged:
        raise click.exceptions.Exit(1)


def _nothing_brought(told: Bundle, has_roots: bool) -> Malformed:
    """What an auditor who only has the file must get first, by the names that the file itself gives."""
    keys = "the public key of the log, from its operator: --log-key VKEY, or a file with it: --policy FILE"
    if has_roots:
        return Malformed(f"Bring {keys}.", code="no-log-key")
    names = " ".join(f"--root {org}=KEY" for org in sorted(told.roots) or ["ORG"])
    return Malformed(
        "Bring the root key of each organization, from its forms or letters, never from this file. By the"
        f" file's own account: `{names}`. And {keys}.",
        code="no-root",
    )


def _write_statements(into: str, told: Bundle) -> None:
    """`N.txt` what was signed, `N.sig` the signature (Ed25519), `KEY.pem` the key by its name, N being the
    place in the log.
    """
    from bailee.signing import plain_parts

    _write_into(into, dict(plain_parts.files((each.index, each.text) for each in told.entries)))


def _write_tokens(into: str, stamps: Iterable[Stamped], der: Mapping[int, bytes]) -> None:
    texts = {f"{each.size}.txt": each.text.encode() for each in stamps}
    _write_into(into, texts | {f"{each.size}.tst": der[each.size] for each in stamps})


def _write_into(into: str, files: Mapping[str, bytes]) -> None:
    """New files in a folder of one's own; one that is there already stays, and must say the same.

    Raises `Malformed`, `Unavailable`.
    """
    from bailee.disk import folders, replacing

    folder = Path(into)
    folders.make_private(folder)
    try:
        there = {each.name for each in folder.iterdir()}
        new = {name: data for name, data in files.items() if name not in there}
        for name in sorted(files.keys() - new.keys()):
            if not _says(folder / name, files[name]):
                raise Malformed(
                    f"{folder / name} is there already with other content: use another folder. Nothing was"
                    " written.",
                    code="in-the-way",
                )
        for name, data in new.items():
            replacing.create(folder / name, data)
    except OSError as error:
        raise Malformed(f"{into} cannot be written: {error.strerror}.", code="unwritable") from error


def _says(path: Path, data: bytes) -> bool:
    found = path.lstat()
    return stat.S_ISREG(found.st_mode) and found.st_size == len(data) and path.read_bytes() == data


def _trust(
    roots: tuple[str, ...],
    log_keys: tuple[str, ...],
    policy: str | None,
    stamp_roots: tuple[str, ...],
    printed: tuple[str, ...],
) -> Trust:
    from bailee.verify.trust import brought

    told = _text(policy) if policy else None
    return brought(roots, log_keys, told, _certificates(stamp_roots), printed)


def _text(policy: str) -> str:
    from bailee.verify import file_limits

    try:
        with click.open_file(
            policy, encoding="utf-8-sig"
        ) as opened:  # an editor may have put its mark before the text
            text = str(opened.read(file_limits.MAX_BROUGHT + 1))
    except (OSError, UnicodeDecodeError) as error:
        raise Malformed(f"The policy {policy} cannot be read: {error}.", code="policy") from error
    if len(text) > file_limits.MAX_BROUGHT:
        raise Malformed(
            f"{policy} is no policy: it has more than {file_limits.MAX_BROUGHT:,} characters.", code="policy"
        )
    return text


def _certificates(files: tuple[str, ...]) -> Iterator[bytes]:
    """Those in the files, read only when there are any: few verifications need them."""
    for file in files:
        from bailee.verify import file_limits
        from bailee.verify.authority import certificates

        try:
            with click.open_file(file, "rb") as opened:
                yield from certificates(opened.read(file_limits.MAX_BROUGHT))
        except OSError as error:
            raise Malformed(f"{file} cannot be read: {error.strerror}.", code="stamp-root") from error
        except Malformed as error:
            raise Malformed(f"{file}: {error.sentence}", code=error.code) from error


_TILE = "application/octet-stream"


@click.command("monitor")
@click.argument("address")
@click.option(
    "--mirror", required=True, type=click.Path(file_okay=False, path_type=Path), help="Folder of the copy."
)
@click.option("--log-key", required=True, metavar="VKEY", help="Public key of the log, from outside.")
@click.option(
    "--cosign", "folder", type=click.Path(file_okay=False, path_type=Path),
    help="Folder of a cosigner (`bailee cosign new`) that signs what was found in order.",
)  # fmt: skip
@click.option(
    "--every", type=Whole(1, 86_400), metavar="SECONDS", help="Go on until stopped.  [default: once]"
)
@click.pass_obj
def monitor_command(
    session: Session, address: str, mirror: Path, log_key: str, folder: Path | None, every: int | None
) -> None:
    """Copy the log at ADDRESS and check every entry: signatures, chains, device counts, and that it only ever
    grew.

    The log's operator must have named your key as a monitor. Ends with 1 when something does not hold; what
    contradicts is kept in the copy.
    """
    from bailee.disk import folders
    from bailee.signing import vkeys
    from bailee.verify.mirror import Mirror
    from bailee_cli.device.client import LedgerClient

    copy = Mirror(mirror, vkeys.read_log(log_key))
    folders.make_private(mirror)
    service = session.asking(
        LedgerClient(address, transport=session.transport, token=lambda: _token(session))
    )
    while True:
        try:
            done = _round(session, service, copy, folder)
        except OtherKey as error:  # the key was typed: it may be wrong, and then nothing was checked
            raise Unavailable(error.sentence, code=error.code, **error.facts) from error
        except Unavailable:
            if not every:
                raise
            done = None  # a network that is away for a while is nothing to stop for
        if not every:
            break
        time.sleep(every)
    if done and done.troubles:
        raise click.exceptions.Exit(1)
    if done and done.not_checked:
        raise click.exceptions.Exit(3)


def _round(session: Session, service: LedgerClient, copy: Mirror, folder: Path | None) -> Round:
    note = service.get_bytes("/checkpoint", "text/plain").decode("utf-8", "replace")
    with progress.shown("Checking entries") as steps:
        done = copy.round(note, lambda path: service.get_bytes(f"/{path}", _TILE), steps)
    for trouble in done.troubles:
        click.echo(f"Entry {trouble.index}: {trouble.says}")
    if done.troubles:
        click.echo(f"{len(done.troubles)} faults found in {done.checkpoint.size} entries.", err=True)
        return done
    if done.not_checked:  # and not cosigned: a cosigner vouches for what was checked
        click.echo(f"{done.checkpoint.origin}: {done.not_checked}", err=True)
        return done
    click.echo(f"{done.checkpoint.origin}: {done.checkpoint.size} entries in order, {done.new} of them new.")
    if folder and done.checkpoint.size:
        _cosign(session, service, folder, done)
    return done


def _cosign(session: Session, service: LedgerClient, folder: Path, done: Round) -> None:
    from bailee.cosigning import folder as folders
    from bailee_cli.people import cosigning

    answer = cosigning.cosign(folders.load(folder), service, done.note, int(session.clock().timestamp()))
    try:
        service.post("/checkpoint/cosignatures", {"note": done.note + answer})
    except BaileeError as error:
        raise Broken(
            f"The log did not accept the cosignature: {error.sentence}", code="not-cosigned"
        ) from error
    click.echo(f"Cosigned {done.checkpoint.size} entries.")


def _token(session: Session) -> str:
    from bailee.signing import access

    profile = session.profile
    return access.issue(session.key, profile.org, profile.origin, int(session.clock().timestamp()))
