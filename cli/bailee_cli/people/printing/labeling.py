"""Labels for what has a number: a sheet or a roll for a lot, one sample, one envelope; and a test page."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import click

from bailee.domain import numbers
from bailee.errors import Malformed, Unknown
from bailee_cli.device import profile
from bailee_cli.device.session import Session
from bailee_cli.terminal import show
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.options import Number, Whole, json_option
from bailee_cli.terminal.progress import waiting

_MEDIA: Final = {"pdf": "application/pdf", "png": "image/png", "svg": "image/svg+xml"}


@click.group("label")
def label_command() -> None:
    """Get labels: of a lot, a sample, an envelope; and a test page."""


_FILE = click.Path(dir_okay=False, path_type=Path)


_LOT_ARGUMENT = click.argument("lot", type=Number("lot"), required=False)
_EVERY = click.option(
    "--all", "every", is_flag=True, help="All numbers ever issued for it, printed before or not."
)
_SIZE = click.option("--size", metavar="WxH", help="Of one label, in mm.  [default: 50x25]")
_SHIFT = click.option(
    "--shift",
    metavar="X,Y",
    help="Print so many mm to the right and down (minus: left, up), from now on.",
)
_SHEETS: Final = ("letter-30", "a4-24", "letter-70", "a4-75")
_ROLL: Final = "roll"


@label_command.command("sheet", cls=AskingCommand)
@_LOT_ARGUMENT
@click.option("--pdf", required=True, type=_FILE, help="Write to this file.")
@click.option("--layout", type=click.Choice(_SHEETS), default="letter-30", show_default=True)
@click.option(
    "--skip",
    default=0,
    show_default=True,
    type=Whole(0),
    help="Labels already used on the first sheet.",
)
@_EVERY
@_SHIFT
@json_option
@click.pass_obj
def sheet(
    session: Session, lot: str | None, pdf: Path, layout: str, skip: int, every: bool, shift: str | None
) -> None:
    """A sheet of labels for the numbers issued last for LOT.

    Stick each on the cassette itself, never on a cover that comes off. Sheets of 70 and 75 have labels of
    38 x 19 mm.

    Without LOT it is the one that this device received last.
    """
    _save_issued(session, lot, pdf, {"layout": layout, "skip": skip}, every=every, shift=shift)


_DPI = click.option(
    "--dpi",
    type=click.Choice(["203", "300", "600"]),
    help="Of the label printer.  [default: 203]",
)


@label_command.command("sample", cls=AskingCommand)
@click.argument("sample", type=Number("sample"), required=False)
@click.option("--pdf", type=_FILE, help="For a roll: a page a label, of its size.")
@click.option("--png", type=_FILE)
@click.option("--svg", type=_FILE)
@_SIZE
@_SHIFT
@_DPI
@click.option(
    "--lot", type=Number("lot"), help="Without SAMPLE, --pdf prints the numbers issued last for it."
)
@_EVERY
@json_option
@click.pass_obj
def sample_label(
    session: Session,
    sample: str | None,
    pdf: Path | None,
    png: Path | None,
    svg: Path | None,
    size: str | None,
    shift: str | None,
    dpi: str | None,
    lot: str | None,
    every: bool,
) -> None:
    """The label of one SAMPLE, or those of a lot on a roll, in the order of issue.

    Without SAMPLE and --lot it is the lot that this device received last.
    """
    fitting = _stated(size=size, dpi=dpi)
    if sample is None:
        if pdf is None or png or svg:
            raise Malformed("Enter which sample; --pdf alone prints the labels of a lot.", code="no-sample")
        _save_issued(session, lot, pdf, {"layout": _ROLL, **fitting}, every=every, shift=shift)
        return
    _save_any(
        session,
        f"/samples/{sample}/label",
        {"pdf": pdf, "png": png, "svg": svg},
        {
            "pdf": {**fitting, **_shifted(session, _ROLL, shift)},
            "png": fitting,
            "svg": _stated(size=size),
        },
    )
    _keep_shift(session, _ROLL, shift)


@label_command.command("envelope", cls=AskingCommand)
@click.argument("envelope", type=Number("envelope"))
@click.option("--pdf", type=_FILE)
@click.option("--png", type=_FILE)
@click.option("--size", metavar="WxH", help="In mm.  [default: 100x60]")
@_DPI
@json_option
@click.pass_obj
def envelope_label(
    session: Session, envelope: str, pdf: Path | None, png: Path | None, size: str | None, dpi: str | None
) -> None:
    """The label of a sealed ENVELOPE."""
    try:
        _save_any(
            session,
            f"/envelopes/{envelope}/label",
            {"pdf": pdf, "png": png},
            {"pdf": _stated(size=size), "png": _stated(size=size, dpi=dpi)},
        )
    except Unknown as error:
        raise Unknown(
            f"No sealing of envelope {numbers.grouped(envelope)} is on record here, and its label names seal"
            " and count: check the number, or seal it first and then print the label.",
            code=error.code,
            **error.facts,
        ) from error


@label_command.command("test", cls=AskingCommand)
@click.option("--pdf", required=True, type=_FILE, help="Write to this file.")
@click.option("--layout", type=click.Choice([*_SHEETS, _ROLL]), default="letter-30", show_default=True)
@_SIZE
@_SHIFT
@json_option
@click.pass_obj
def test_page(session: Session, pdf: Path, layout: str, size: str | None, shift: str | None) -> None:
    """A page to see where the printer puts labels: frames and rulers.

    Print it at 100 %, hold it against an empty sheet, and enter what is off with --shift: it is kept
    for this layout.
    """
    query = {"layout": layout, **_stated(size=size), **_shifted(session, layout, shift)}
    _save(session, "/labels/test.pdf", pdf, **query)
    _keep_shift(session, layout, shift)
    if session.json:
        show.print_json({"shift": query.get("shift", "0,0"), "written": [str(pdf)]})


def _save_issued(
    session: Session, lot: str | None, pdf: Path, query: Mapping[str, Any], *, every: bool, shift: str | None
) -> None:
    """Labels of a lot: what was issued last, or all of it; it says how many were left out."""
    lot = lot or session.outbox.recall("lot")
    if lot is None:
        raise Malformed("Enter which lot: this device has received none.", code="no-lot")
    told = session.service.get(f"/lots/{lot}")
    issue, printed = ("all", told["issued"]) if every else ("newest", told["newest_issue"])
    shifted = _shifted(session, query["layout"], shift)
    _save(session, f"/lots/{lot}/labels.pdf", pdf, issue=issue, **query, **shifted)
    _keep_shift(session, query["layout"], shift)
    older = len(told["issued"]) - len(printed)
    if session.json:
        show.print_json({"lot": lot, "labels": len(printed), "left_out": older, "written": [str(pdf)]})
        return
    left = (
        f" {show.counted(older, 'older number was', 'older numbers were')} left out: --all." if older else ""
    )
    show.say(f"{show.counted(len(printed), 'label')}.{left}")


def _stated(**options: str | None) -> dict[str, str]:
    return {name: value for name, value in options.items() if value is not None}


def _shifted(session: Session, layout: str, shift: str | None) -> dict[str, str]:
    """How far this device's printer is off on this layout: as typed now, or as kept."""
    return _stated(shift=shift or session.outbox.recall(f"shift of {layout}"))


def _keep_shift(session: Session, layout: str, shift: str | None) -> None:
    """Keep a shift that the service has accepted, and show which one was used."""
    if shift is not None:
        session.outbox.remember(f"shift of {layout}", shift)
    elif not session.json and (kept := session.outbox.recall(f"shift of {layout}")):
        click.echo(f"Shifted by {kept} mm, as kept for {layout}.")


def _save_any(
    session: Session, path: str, files: Mapping[str, Path | None], queries: Mapping[str, Mapping[str, str]]
) -> None:
    wanted = {kind: file for kind, file in files.items() if file is not None}
    if not wanted:
        raise Malformed(
            f"Enter where to write it: {' or '.join(f'--{kind} FILE' for kind in files)}.", code="no-file"
        )
    for kind, file in wanted.items():
        _save(session, f"{path}.{kind}", file, **queries[kind])
    if session.json:
        show.print_json({"written": [str(file) for file in wanted.values()]})


def _save(session: Session, path: str, file: Path, **query: Any) -> None:
    with waiting("Drawing labels"):
        content = session.service.get_bytes(path, _MEDIA[path.rpartition(".")[2]], **query)
    profile.replace_file(file, content)
    if not session.json:
        click.echo(f"Written to {file}.")
