"""`bailee`: one verb for everything a person does.

Nothing is imported before it is needed: a verb is a name, a module and a line of help until somebody asks for
it.

What the exit codes mean stands once, in `EXIT_CODES`: the help page prints it, README.md has the same table,
tests compare.
"""

from __future__ import annotations

import atexit
import gc
import importlib
from typing import TYPE_CHECKING, Any, Final

import click

from bailee import __version__
from bailee.errors import BaileeError, Malformed, Unavailable
from bailee_cli.device.session import Session

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

VERBS: Final[dict[str, dict[str, tuple[str, str]]]] = {
    "Everyone": {
        "guide": ("people.reference", "Show the guide of each person: what to do, in which order."),
        "key": ("people.device", "Make this device's key, show it, ask for its enrollment."),
        "join": ("people.device", "Set which service and organization this device belongs to."),
        "send": ("people.device", "Send what is signed and still waiting on this device."),
        "outbox": ("people.device", "Show what this device has signed and what became of it."),
        "show": ("people.looking.looking_up", "Show a sample, form, envelope or lot."),
        "check": ("people.looking.findings_shown", "Show what the rules find on a form or envelope."),
        "rules": ("people.reference", "The rules: what each finds, what to do, its thresholds, its source."),
        "chase": ("people.looking.waiting_for", "What waits, for whom, and since when it is overdue."),
        "pages": ("people.looking.looking_up", "Print a link that opens the pages in a browser."),
        "completion": ("people.reference", "Let your shell complete what you type."),
        "correct": (
            "people.amending.correcting",
            "Correct one value of an earlier entry; the old one stays visible.",
        ),
        "except": ("people.amending.excepting", "Allow a finding, with a reason, as a second person."),
        "affirm": (
            "people.amending.standing_by",
            "Confirm entries signed with a key that was lost or reported since.",
        ),
        "witness": (
            "people.amending.standing_by",
            "Sign as witness that you watched what another person's entries record.",
        ),
        "rotate": ("people.administrator", "Hand your role to the key of your new device."),
    },
    "Administrator": {
        "found": ("people.administrator", "Found the organization: this key becomes its root key."),
        "enroll": ("people.administrator", "Let a new key sign, in a role."),
        "people": ("people.firm_lists", "Who is enrolled: name, role, key ID, until when."),
        "revoke": ("people.ending", "End a key: lost, stolen, left, replaced."),
        "contradictions": (
            "people.administrator",
            "What was signed with your keys and contradicts them: who has a copy?",
        ),
        "erase": ("people.ending", "Erase private fields for good; the proofs hold without them."),
        "retain": ("people.ending", "Keep the private fields of a form from being erased."),
        "recover": (
            "people.administrator",
            "Make a new root key with the recovery key, when every root key is lost.",
        ),
        "endorse": ("people.administrator", "Sign by which root key you know another organization."),
        "policy": ("people.policies", "Set the thresholds of the rules from a TOML file, or show them."),
        "calendar": ("people.policies", "Set opening hours and closed days from a TOML file, or show them."),
        "equipment": ("people.firm_lists", "Enter a pump or flow meter with its certificate."),
        "train": ("people.firm_lists", "Enter a person on the training list."),
        "licensing": (
            "people.firm_lists",
            "Sign, for the firm, in which jurisdictions an inspector needs a license.",
        ),
    },
    "Media keeper": {
        "lot": (
            "people.media_keeper",
            "Receive, issue, recall, release, count, correct and show lots of cassettes.",
        ),
        "label": (
            "people.printing.labeling",
            "Get labels: of a lot, a sample, an envelope; and a test page.",
        ),
    },
    "Inspector": {
        "plan": (
            "people.visit.before_the_visit",
            "Where to sample first and why, and how many cassettes to carry.",
        ),
        "notice": (
            "people.visit.before_the_visit",
            "Write the page that asks occupants to prepare for a visit.",
        ),
        "kit": ("people.visit.packing_list", "Scan what is in the kit: will it do for the visit?"),
        "open": ("people.visit.inspector", "Open the form of a visit."),
        "flow": (
            "people.visit.before_the_visit",
            "Volume, drift and detection limit of one run; nothing is recorded.",
        ),
        "check-pump": ("people.visit.on_site", "Record the flow of a pump, checked once for several runs."),
        "read-conditions": (
            "people.visit.on_site",
            "Record temperature, humidity and rain as read on site.",
        ),
        "report-change": (
            "people.visit.on_site",
            "Record what changed in the building meanwhile.",
        ),
        "request": (
            "people.visit.requesting",
            "Request an analysis of the laboratory, by when, on whose account.",
        ),
        "collect": ("people.visit.collecting", "Record one cassette: opened, run, covered."),
        "collect-surface": (
            "people.visit.from_surfaces",
            "Record a tape lift, swab, bulk material, contact plate or dust.",
        ),
        "rule-out-outdoor": (
            "people.visit.on_site",
            "Record on site why no outdoor control can be collected.",
        ),
        "paper": ("people.visit.pen_forms", "Print pen forms, for when power or network fail."),
        "enter-paper": ("people.visit.entering_paper", "Enter a pen form that was filled in, line by line."),
        "secure": ("people.handing_over.securing", "Record where the samples are and how they are secured."),
        "give": ("people.handing_over.giving", "Relinquish samples to another person."),
        "take": ("people.handing_over.taking", "Receive samples from another person."),
        "void": ("people.visit.inspector", "Record that a sample will not be analyzed, and why."),
    },
    "Shipping clerk": {
        "window": ("people.shipping_windows", "When an envelope would arrive, and by when to ship it."),
        "seal": ("people.envelopes.sealing_up", "Scan samples into an envelope, check readiness, seal it."),
        "unseal": ("people.envelopes.unsealing", "Record that a sealed envelope was opened again, and why."),
        "ship": ("people.envelopes.shipping_out", "Check when it would arrive, then record the shipment."),
        "record": ("people.printing.papers", "Get the custody record of a form as a PDF."),
        "sealed-sheet": (
            "people.printing.papers",
            "Get the sheet outside a sealed envelope, for its dock.",
        ),
        "receipt-slip": (
            "people.printing.papers",
            "Get the slip that a person signs who carries an envelope.",
        ),
    },
    "Receiving dock": {
        "take-in": ("people.taking_in", "Sign for an envelope and leave it closed, to be opened later."),
        "receive": ("people.dock", "Open an envelope: seal as read, each cassette, its condition."),
        "number": ("people.deciding", "Give samples your laboratory's own numbers, as they are scanned."),
        "accept": ("people.deciding", "Accept samples for analysis."),
        "put-on-hold": ("people.deciding", "Put samples on hold until a question is answered."),
        "reject": ("people.deciding", "Reject samples, with the reasons."),
        "store": ("people.storing", "Put samples into a store of the laboratory, or back into it."),
        "withdraw": ("people.storing", "Take samples out of a store, for analysis, review or disposal."),
        "forward": ("people.laboratory", "Send samples on to a second laboratory, each under a new number."),
        "copy": ("people.laboratory", "Record which version of the custody record or result was issued."),
        "notify": ("people.laboratory", "Enter who was notified of a recall, a discrepancy, a correction."),
        "dispose": ("people.deciding", "Record the end of custody."),
    },
    "Auditor": {
        "bundle": ("people.auditor", "Get the auditor's file of a form."),
        "export": ("people.auditor", "Write a form for other systems: EPCIS events, or a table of samples."),
        "verify": ("people.auditor", "Check an auditor's file, without a network."),
        "page": ("people.auditor_page", "Write the check as one page for a browser, to be mailed."),
        "cosign": ("people.cosigning", "Cosign the growth of another organization's log."),
        "monitor": ("people.auditor", "Copy a whole log and check every entry of it."),
    },
    "Operator, on the server": {
        "init": ("people.operating.running", "Create a ledger: database, log key, settings."),
        "serve": ("people.operating.running", "Run the service."),
        "admit": ("people.operating.running", "Let the holder of a root key found an organization."),
        "timestamp": (
            "people.operating.timestamping",
            "Have the newest checkpoint stamped by an authority outside.",
        ),
        "migrate": ("people.operating.running", "Bring the database to this version."),
        "rebuild": ("people.operating.running", "Make the indexes anew from the log."),
        "repair": (
            "people.operating.repairing",
            "Bring missing entries back after an old copy of the database.",
        ),
        "backup": ("people.operating.copies", "Copy the whole ledger into a new folder."),
        "restore": ("people.operating.copies", "Make a ledger of a backup, to be repaired first."),
        "erase-again": ("people.operating.copies", "Erase again what an old copy brought back."),
        "check-ledger": (
            "people.operating.ledger_checks",
            "Check every entry, chain and tile, in the database and on disk.",
        ),
    },
}
"""By the person who uses them: name → module of this package, line of help."""

ALIASES: Final = {"enrol": "enroll"}
"""Another spelling of a verb."""


EXIT_CODES: Final = {
    0: "fine; warnings and notes are printed and do not count",
    1: (
        "checked, and something is wrong or due: not ready, refused, flagged, broken, overdue, too few"
        " cosigners; or done already, or given up"
    ),
    2: (
        "what was typed is wrong: the command, a number, a name that is not on record, a file that is missing"
        " or wrongly written, a slip"
    ),
    3: (
        "could not check: no answer, not set up, or what was to be checked cannot be read as what it should"
        " be, or is not under the key you brought"
    ),
}
"""The same for every command."""


_AS_JSON: Final = "bailee.as_json"
"""Where the context of a run has it that `--json` was typed, before the command or after it."""


def exit_code(error: BaileeError) -> int:
    """2 for what was typed wrongly, 3 for what could not be checked, 1 for what was found wanting."""
    if isinstance(error, Malformed):
        return 2
    return 3 if isinstance(error, Unavailable) else 1


class Verbs(click.Group):
    """The verbs above, each imported when it is called; every error becomes a sentence and an exit code."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """As usual; that JSON was asked for is known before anything else that was typed is understood."""
        ctx.meta[_AS_JSON] = "--json" in args
        return super().parse_args(ctx, args)

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        """All names, in the order of the table."""
        return [name for verbs in VERBS.values() for name in verbs]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002 - click's signature
        """Import the module of one verb."""
        cmd_name = ALIASES.get(cmd_name, cmd_name)
        for verbs in VERBS.values():
            if cmd_name in verbs:
                module = importlib.import_module(f"bailee_cli.{verbs[cmd_name][0]}")
                command = getattr(module, f"{cmd_name.replace('-', '_')}_command")
                assert isinstance(command, click.Command)
                return command
        return None

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """As usual; a slip of the finger is answered with the verbs that look like it."""
        try:
            return super().resolve_command(ctx, args)
        except click.exceptions.NoSuchCommand as error:
            raise click.exceptions.NoSuchCommand(
                error.command_name, possibilities=self.list_commands(ctx), ctx=ctx
            ) from None

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        """Verbs from the table, without importing anything: somebody has pressed Tab."""
        from click.shell_completion import CompletionItem

        verbs = [(name, says) for told in VERBS.values() for name, (_, says) in told.items()]
        found = [CompletionItem(name, help=says) for name, says in verbs if name.startswith(incomplete)]
        return found + click.Command.shell_complete(self, ctx, incomplete)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """The table, by person, without importing anything."""
        for person, verbs in VERBS.items():
            with formatter.section(person):
                formatter.write_dl([(name, says) for name, (_, says) in verbs.items()], col_max=16)
        with formatter.section("Every command ends with"):
            formatter.write_dl([(str(code), says) for code, says in EXIT_CODES.items()], col_max=16)

    def invoke(self, ctx: click.Context) -> Any:
        """Run the verb."""
        try:
            return self._reading(ctx)
        except click.UsageError as error:
            from bailee_cli.terminal import misuse

            misuse.tell(error, ctx, as_json=ctx.meta[_AS_JSON])
            ctx.exit(error.exit_code)
        except click.Abort:  # Ctrl-C at a question, or a no
            is_known = isinstance(ctx.obj, Session)
            signed = "." if is_known and ctx.obj.has_signed else ": nothing was signed."
            is_lost = is_known and ctx.obj.asks and not (ctx.obj.has_signed or ctx.obj.is_saved)
            click.echo(f"\nAborted{signed}{' What you answered is not kept.' if is_lost else ''}", err=True)
            ctx.exit(1)
        except BaileeError as error:
            if ctx.meta[_AS_JSON]:
                from bailee_cli.terminal import show

                show.print_json({"code": error.code, "detail": error.sentence, **error.facts})
            tell(error)
            ctx.exit(exit_code(error))

    def _reading(self, ctx: click.Context) -> Any:
        """Run the verb.

        What fails while it reads what a service answered is that answer's fault, until somebody shows
        otherwise.
        """
        try:
            return super().invoke(ctx)
        except Exception as error:
            told_by = ctx.obj.told_by if isinstance(ctx.obj, Session) else None
            if told_by is None:
                raise
            from bailee_cli.device.client import MISREAD, foreign_answer

            if not isinstance(error, MISREAD):
                raise
            raise foreign_answer(told_by, error) from error


def tell(error: BaileeError) -> None:
    """The sentence of an error on standard error, and what to do now, where it says that as acts."""
    from bailee_cli.terminal import commands, layout

    layout.warn(error.sentence)
    for line in commands.offered(error.facts):
        layout.warn(f"Do: `{line}`")
        for words in commands.open_words(line):
            layout.warn(f"  {words}")


@click.group(cls=Verbs, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 110})
@click.version_option(__version__, prog_name="bailee")
@click.option(
    "--as", "name", envvar="BAILEE_AS", default="me", show_default=True, help="Which person on this device."
)
@click.option(
    "--json",
    "as_json",
    is_flag=True,
    help="Answer in JSON, for programs. Also after a command that has it in its --help.",
)
@click.pass_context
def bailee(ctx: click.Context, name: str, as_json: bool) -> None:
    """Custody of air samples: each transfer signed, findings shown before the envelope closes."""
    ctx.obj = (ctx.obj or Session()).of(name, as_json=as_json)
    ctx.call_on_close(lambda: _close(ctx.obj))


def _close(session: Session) -> None:
    """The end of a run: how wrong the clock was found is said, whatever was asked."""
    if session.asked and (wrong := session.clock_news(measured=True)):
        from bailee_cli.terminal import layout

        layout.warn(wrong)
    session.close()


def main() -> None:
    """Entry point of the console script."""
    # A command makes little waste and lives for a moment: looking for it meanwhile and at the end is a tenth
    # of a verification.
    gc.set_threshold(50_000)
    atexit.register(gc.freeze)
    bailee(prog_name="bailee")


if __name__ == "__main__":
    main()
