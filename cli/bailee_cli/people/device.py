"""This device: its key, its enrollment, the service it belongs to.

The outbox, seen and sent.
"""

from __future__ import annotations

import json
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from bailee.domain.acts.organization import Enrolled
from bailee.domain.acts.table import name_of
from bailee.domain.moments import Moment
from bailee.errors import Broken, Forged, Malformed, Unavailable
from bailee.signing import disclosures, signed_statement
from bailee_cli.device import profile as profiles
from bailee_cli.device.outbox import Kept
from bailee_cli.device.session import Session, typed_passphrase
from bailee_cli.signing import sending, submit
from bailee_cli.terminal import piped, prompts, show
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.options import F, Whole, json_option, until_read

if TYPE_CHECKING:
    from bailee.signing.keys import SigningKey


def asked_options(function: F) -> F:
    """What an enrollment request says beside the key: `--person` and `--device`."""
    device = click.option("--device", default="", help="What this device is called.")
    return click.option(
        "--person",
        default="",
        help="Your printed name; it goes to your administrator, never into the log.",
    )(device(function))


@click.command("join", cls=AskingCommand)
@click.option("--service", required=True, help="Address of the service, like https://custody.example.org.")
@click.option("--org", required=True, help="Your organization's short name there, like harrow-field.")
@click.option("--origin", help="Name of the log, if you have it: joining another one is refused.")
@click.option("--log-key", help="Public key of the log, if you have it: joining another one is refused.")
@click.option(
    "--request",
    "request_file",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write the enrollment request to this file, as `bailee key request -o` does.",
)
@asked_options
@json_option
@click.pass_obj
def join_command(
    session: Session,
    service: str,
    org: str,
    origin: str | None,
    log_key: str | None,
    request_file: Path | None,
    person: str,
    device: str,
) -> None:
    """Set which service and organization this device belongs to. A device without a key gets one.

    The log's name and public key are fixed from now on: a service that shows another log later is not
    believed.
    """
    joined = _shown(session, service, org, origin, log_key)
    is_new = _refuse_another_log(session, joined)
    profiles.save(session.folder, joined)
    session.profile = joined
    if not session.json:
        click.echo(f"Joined the log {joined.origin} for {org}. Its public key: {joined.log_key}")
    made = None if profiles.has_key(session.folder) else profiles.make_key(session.folder, None)
    if made and not session.json:
        _say_key(session, made)
    if request_file:
        _write_request(session, request_file, person, device)
    if session.json:
        written = [str(request_file)] if request_file else []
        kid = made.kid if made else session.key.kid
        show.print_json({"kid": kid, **_belongs(session, joined), "made_key": bool(made), "written": written})
    elif is_new:
        show.say(
            f"Not checked: whether {org} is on this log, which is shown only after enrollment. Compare the"
            f" name. A new organization is founded first (`bailee found {org}`); with a name that was"
            " mistyped, join again."
        )
    if made and not request_file and prompts.may_ask(session):
        show.say(
            "Next: `bailee key request -o request.json`. Give that file to your administrator and read them"
            " the key ID; once they have enrolled this key, you can sign."
        )


def _shown(
    session: Session, service: str, org: str, origin: str | None, log_key: str | None
) -> profiles.Profile:
    """The log that the service shows, for this organization; where somebody can be asked, what cannot be is
    typed again. Raises `Broken` for another log than was entered.
    """
    from bailee.domain.statements import is_organization
    from bailee.ledger.checkpoint import format_vkey
    from bailee.signing import vkeys

    def short_name(text: str) -> str:
        if is_organization(text):
            return text
        raise Malformed(
            f"{text!r} is no short name: lower-case letters, digits and hyphens, at most 32, with a letter or"
            " digit first and last, like harrow-field. Nothing was joined.",
            code="bad-organization",
        )

    def health(text: str) -> tuple[str, Any]:
        with closing(session.stranger(text)) as stranger:
            return text, stranger.get("/health")

    asks = not session.json
    org = until_read(short_name, org, asks=asks, what="the short name")
    key = format_vkey(vkeys.read_log(log_key)) if log_key else None
    service, told = until_read(health, service, asks=asks, what="the address of the service")
    shown = vkeys.read_log(told["log_key"])
    for what, wanted, found in (("log", origin, told["origin"]), ("log key", key, format_vkey(shown))):
        if wanted is not None and wanted != found:
            raise Broken(
                f"This service shows the {what} {found}, and you entered {wanted}: nothing was joined.",
                code="origin",
            )
    return profiles.Profile(service, str(told["origin"]), format_vkey(shown), org)


@click.group("key")
def key_command() -> None:
    """Make this device's key, show it, ask for its enrollment."""


@key_command.command("new", cls=AskingCommand)
@click.option(
    "--passphrase", is_flag=True, help="Protect the key file with a passphrase (asked; or BAILEE_PASSPHRASE)."
)
@json_option
@click.pass_obj
def new(session: Session, passphrase: bool) -> None:
    """Make the signing key of this device. It is kept for you alone and never leaves this device."""
    import os

    secret = os.environ.get("BAILEE_PASSPHRASE") if passphrase else None
    if passphrase and secret is None:
        secret = typed_passphrase("New passphrase", twice=True)
    made = profiles.make_key(session.folder, secret)
    if session.json:
        show.print_json({"kid": made.kid, "folder": str(session.folder)})
        return
    _say_key(session, made)
    click.echo(
        "Next: `bailee join`, then `bailee key request -o request.json` and give that file to your"
        " administrator. Who founds an organization: `bailee join`, `bailee key show` for the operator to"
        " admit this key, then `bailee found`."
    )


@key_command.command("show", cls=AskingCommand)
@json_option
@click.pass_obj
def show_key(session: Session) -> None:
    """Print the key ID, the same in five lines to type or read aloud, and where it
    belongs.
    """
    from bailee.ledger import fingerprint
    from bailee.ledger.base64url import unb64u
    from bailee.signing import vkeys

    lines = {"kid": fingerprint.lines(unb64u(session.key.kid))}
    facts: dict[str, Any] = {"kid": session.key.kid}
    try:
        joined = session.profile
        facts |= _belongs(session, joined)
        lines["log_key"] = vkeys.lines(vkeys.read_log(joined.log_key))
    except Unavailable:
        facts |= {"folder": str(session.folder), "organization": None}
    if session.json:
        show.print_json(facts | {f"{name}_lines": told for name, told in lines.items()})
        return
    for name, value in facts.items():
        click.echo(f"{show.words(name) + ':':14}{value or 'not joined yet'}")
        for line in lines.get(name, ()):
            click.echo(f"{'':14}{line}")


def _belongs(session: Session, joined: profiles.Profile) -> dict[str, str]:
    """Where this device's key is, and where it belongs, for a program."""
    return {
        "folder": str(session.folder),
        "organization": joined.org,
        "service": joined.service,
        "origin": joined.origin,
        "log_key": joined.log_key,
    }


@key_command.command("card", cls=AskingCommand)
@click.option(
    "-o",
    "--output",
    type=click.Path(dir_okay=False, path_type=Path),
    required=True,
    help="Write to this file.",
)
@json_option
@click.pass_obj
def card(session: Session, output: Path) -> None:
    """Print your organization's key card: root key and the log's key, for a letter to an auditor.

    Compare its lines with `bailee key show` on the device that has the root key, sign it in ink, and send it
    apart from the file.
    """
    org = session.profile.org
    profiles.replace_file(
        output, session.service.get_bytes(f"/organizations/{org}/key-card.pdf", "application/pdf")
    )
    if session.json:
        show.print_json({"organization": org, "written": [str(output)]})
        return
    click.echo(f"Written to {output}.")


@key_command.command("request", cls=AskingCommand)
@asked_options
@click.option("-o", "--output", type=click.Path(dir_okay=False, path_type=Path), help="Write to this file.")
@json_option
@click.pass_obj
def request(session: Session, person: str, device: str, output: Path | None) -> None:
    """Write an enrollment request: the public key and a proof that this device holds the other half."""
    if output is None:
        click.echo(_request(session, person, device), nl=False)
        return
    _write_request(session, output, person, device)
    if session.json:
        show.print_json({"kid": session.key.kid, "written": [str(output)]})


def _write_request(session: Session, file: Path, person: str, device: str) -> None:
    profiles.replace_file(file, _request(session, person, device).encode())
    if not session.json:
        click.echo(f"Send {file} to your administrator. Read them the key ID: {session.key.kid}")


def _request(session: Session, person: str, device: str) -> str:
    from bailee.signing import key_proof

    profile, key = session.profile, session.key
    proof = key_proof.issue(key, profile.org, profile.origin, int(session.now.timestamp()))
    asked = {
        "kid": key.kid, "jwk": key.jwk, "organization": profile.org, "origin": profile.origin, "proof": proof,
        "person": person, "device": device,
    }  # fmt: skip
    return json.dumps(asked, indent=2, ensure_ascii=False) + "\n"


def _say_key(session: Session, key: SigningKey) -> None:
    click.echo(f"Key {key.kid} is in {session.folder}.")


def _refuse_another_log(session: Session, joined: profiles.Profile) -> bool:
    """A device that has signed for one log stays with it; its address may change.

    One that nobody enrolled may have mistyped its organization. Returns whether the organization is new here.
    """
    try:
        before = session.profile
    except Unavailable:
        return True
    same_log = (before.origin, before.log_key) == (joined.origin, joined.log_key)
    if not same_log or (before.org != joined.org and (session.outbox.newest(1) or _is_enrolled(session))):
        raise Broken(
            f"This device already belongs to the log {before.origin} for {before.org}: use another name with"
            " --as.",
            code="other-log",
        )
    return before.org != joined.org


def _is_enrolled(session: Session) -> bool:
    """Whether the service knows this key; a device without one was never enrolled."""
    if not profiles.has_key(session.folder):
        return False
    try:
        session.service.get("/organizations", like=session.profile.org)
    except Forged as error:
        return error.code != "unknown-key"
    return True


@click.command("send", cls=AskingCommand)
@click.option("--again", is_flag=True, help="Also send once more what was refused before.")
@json_option
@click.pass_obj
def send_command(session: Session, again: bool) -> None:
    """Send what is signed and still waiting, in the order it was signed. Sending twice does no harm."""
    states = ("waiting", "refused") if again else ("waiting",)
    settled = sending.send(session, *states)
    lacking = sending.send_lacking(session)
    left = session.outbox.unsettled("waiting")
    if not (settled or lacking or left or session.json):
        click.echo("Nothing is waiting.")
        return
    if left and not session.json:
        click.echo(f"{len(left)} still waiting.", err=True)
    submit.report(session, settled)
    if left:
        raise click.exceptions.Exit(3)


@click.command("outbox", cls=AskingCommand)
@click.option("--show", "shown", type=Whole(1), metavar="NO.", help="Everything in this entry.")
@click.option(
    "--set-aside",
    type=Whole(1),
    metavar="NO.",
    help="Show this refused entry, and stop sending it. It stays on this device.",
)
@click.option(
    "--take-up", type=Whole(1), metavar="NO.", help="Let `send --again` try one that was set aside."
)
@click.option("--all", "everything", is_flag=True, help="Everything this device has ever signed.")
@click.option("--yes", is_flag=True, help="Set it aside without asking.")
@json_option
@click.pass_obj
def outbox_command(
    session: Session, everything: bool, shown: int | None, set_aside: int | None, take_up: int | None,
    yes: bool,
) -> None:  # fmt: skip
    """Show the newest entries of this device and what became of each."""
    if shown is not None:
        _show(session, session.outbox.one(shown))
    elif set_aside is not None:
        _set_aside(session, set_aside, yes=yes)
    elif take_up is not None:
        session.outbox.take_up(take_up)
        _say(
            session,
            take_up,
            f"Number {take_up} of this device is back in the outbox: `bailee send --again` sends it again.",
        )
    elif session.json:
        show.print_json([submit.as_json(each) for each in _newest(session, everything)])
    else:
        columns = ["no.", "what", "about", "state", "entry", "entry id"]
        rows = [_row(each) for each in _newest(session, everything)]
        show.table("Signed on this device, newest first", columns, rows)


def _newest(session: Session, everything: bool) -> list[Kept]:
    return session.outbox.newest(1_000_000 if everything else 20)


_EXPLAINS_ITSELF: Final = frozenset({"wrong-role", "key-taken", "not-admitted"})
"""Refusals of acts of administration whose reason may be read off the refused text."""


def _set_aside(session: Session, seq: int, *, yes: bool) -> None:
    """Give a refused statement up, once the person has seen what it says and what is left of it."""
    kept = session.outbox.one(seq)
    if kept.state == "refused" and not yes:
        _show(session, kept, err=True)
        later = len(session.outbox.newest(1_000_000)) - seq
        after = (
            f"{later} later entries of this device refer to it"
            if later > 1
            else "the next entry refers to it"
        )
        code = ((kept.answer or {}).get("problem") or {}).get("code")
        then = (
            "the refused text shows why, in every file, and no form is flagged for it."
            if code in _EXPLAINS_ITSELF and not kept.chain.startswith("form/")
            else "every form this device signs on later shows it (CU-10)."
        )
        click.echo(
            f"Its number is not used again, for {after}: in the ledger number {seq} stays missing, {then} The"
            " entry stays here.",
            err=True,
        )
        piped.agree("Try it no more?")
    session.outbox.set_aside(seq)
    _say(
        session,
        seq,
        f"Set aside: {show.words(kept.act)}, {submit.spoken(kept.chain)} (number {seq} of this device). It is"
        f" sent no more and stays on this device: `bailee outbox --show {seq}` shows it if the missing number"
        f" is asked for, `bailee outbox --take-up {seq}` returns it to the outbox.",
    )


def _say(session: Session, seq: int, sentence: str) -> None:
    if session.json:
        show.print_json(submit.as_json(session.outbox.one(seq)))
    else:
        click.echo(sentence)


def _show(session: Session, kept: Kept, *, err: bool = False) -> None:
    """What a statement says, its private fields and its signed text included."""
    claims = signed_statement.read(kept.text).claims
    private = disclosures.reveal(kept.disclosures, claims.private, claims.data)
    if session.json and not err:
        show.print_json(
            submit.as_json(kept) | {"data": dict(claims.data), "private": private, "text": kept.text}
        )
        return
    problem = (kept.answer or {}).get("problem") or {}
    lines = [
        f"Number {kept.seq} of this device: {show.words(kept.act)}, {submit.spoken(kept.chain)}",
        f"  signed   {show.when(Moment.of(claims.iat, claims.tzo).text())}",
        f"  state    {kept.state}{': ' + problem['detail'] if problem else ''}",
        *(f"  {name:<8} {_value(value)}" for name, value in claims.data.items()),
        *(f"  {name:<8} {value}  (private)" for name, value in private.items()),
        f"  entry id {kept.digest}",
        *([] if err else [f"  text     {kept.text}"]),
    ]
    click.echo("\n".join(map(show.plain, lines)), err=err)


def _value(value: Any) -> str:
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)


def _row(kept: Kept) -> list[Any]:
    answer = kept.answer or {}
    problem = answer.get("problem") or {}
    state = f"{kept.state}: {problem['detail']}" if problem else kept.state
    return [kept.seq, show.words(kept.act), _about(kept), state, answer.get("n"), kept.digest]


def _about(kept: Kept) -> str:
    """The chain, and of who was enrolled the name: it is erased by the id of that one entry."""
    if kept.act != name_of(Enrolled):
        return submit.spoken(kept.chain)
    claims = signed_statement.read(kept.text).claims
    person = disclosures.reveal(kept.disclosures, claims.private, claims.data).get("person", "no name")
    return f"{submit.spoken(kept.chain)}: {person}"
