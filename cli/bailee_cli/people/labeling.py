"""Labels for what has a number: a sheet for a lot, one sample, one envelope."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import click

from bailee.errors import Malformed
from bailee_cli.device import profile
from bailee_cli.device.session import Session
from bailee_cli.terminal import show
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.options import Number, Whole, json_option
from bailee_cli.terminal.progress import waiting

_MEDIA: Final = {"pdf": "application/pdf", "png": "image/png", "svg": "image/svg+xml"}


@click.group("label")
def label_command() -> None:
    """Get labels: a sheet for a lot, one sample, one envelope."""


_FILE = click.Path(dir_okay=False, path_type=Path)


@label_command.command("sheet", cls=AskingCommand)
@click.argument("lot", type=Number("lot"), required=False)
@click.option("--pdf", required=True, type=_FILE, help="Write to this file.")
@click.option("--layout", type=click.Choice(["letter-30", "a4-24"]), default="letter-30", show_default=True)
@click.option(
    "--skip",
    default=0,
    show_default=True,
    type=Whole(0),
    help="Labels already used on the first sheet.",
)
@click.option("--all", "every", is_flag=True, help="All numbers ever issued for it, printed before or not.")
@json_option
@click.pass_obj
def sheet(session: Session, lot: str | None, pdf: Path, layout: str, skip: int, every: bool) -> None:
    """A sheet of labels for the numbers issued last for LOT.

    Stick each on the cassette itself, never on a cover that comes off.

    Without LOT it is the one that this device received last.
    """
    lot = lot or session.outbox.recall("lot")
    if lot is None:
        raise Malformed("Enter which lot: this device has received none.", code="no-lot")
    told = session.service.get(f"/lots/{lot}")
    issue, printed = ("all", told["issued"]) if every else ("newest", told["newest_issue"])
    _save(session, f"/lots/{lot}/labels.pdf", pdf, layout=layout, skip=skip, issue=issue)
    older = len(told["issued"]) - len(printed)
    if session.json:
        show.print_json({"lot": lot, "labels": len(printed), "left_out": older, "written": [str(pdf)]})
        return
    left = (
        f" {show.counted(older, 'older number was', 'older numbers were')} left out: --all." if older else ""
    )
    show.say(f"{show.counted(len(printed), 'label')}.{left}")


_DPI = click.option(
    "--dpi",
    type=click.Choice(["203", "300", "600"]),
    help="Of the label printer; for --png.  [default: 203]",
)


@label_command.command("sample", cls=AskingCommand)
@click.argument("sample", type=Number("sample"))
@click.option("--png", type=_FILE)
@click.option("--svg", type=_FILE)
@_DPI
@json_option
@click.pass_obj
def sample_label(session: Session, sample: str, png: Path | None, svg: Path | None, dpi: str | None) -> None:
    """The label of one SAMPLE."""
    _save_any(session, f"/samples/{sample}/label", {"png": png, "svg": svg}, dpi)


@label_command.command("envelope", cls=AskingCommand)
@click.argument("envelope", type=Number("envelope"))
@click.option("--pdf", type=_FILE)
@click.option("--png", type=_FILE)
@_DPI
@json_option
@click.pass_obj
def envelope_label(
    session: Session, envelope: str, pdf: Path | None, png: Path | None, dpi: str | None
) -> None:
    """The label of a sealed ENVELOPE."""
    _save_any(session, f"/envelopes/{envelope}/label", {"pdf": pdf, "png": png}, dpi)


def _save_any(session: Session, path: str, files: Mapping[str, Path | None], dpi: str | None) -> None:
    wanted = {kind: file for kind, file in files.items() if file is not None}
    if not wanted:
        raise Malformed(
            f"Enter where to write it: {' or '.join(f'--{kind} FILE' for kind in files)}.", code="no-file"
        )
    for kind, file in wanted.items():
        _save(session, f"{path}.{kind}", file, **({"dpi": dpi} if kind == "png" else {}))
    if session.json:
        show.print_json({"written": [str(file) for file in wanted.values()]})


def _save(session: Session, path: str, file: Path, **query: Any) -> None:
    with waiting("Drawing labels"):
        content = session.service.get_bytes(path, _MEDIA[path.rpartition(".")[2]], **query)
    profile.replace_file(file, content)
    if not session.json:
        click.echo(f"Written to {file}.")
