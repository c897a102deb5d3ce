"""The laboratory decides: accepted, on hold, rejected; and in the end, disposed of."""

from __future__ import annotations

from typing import Any, Final

import click

from bailee.domain.acts import form as form_acts
from bailee.domain.facts import choices
from bailee.errors import Malformed
from bailee_cli import acting, reading
from bailee_cli.acting import Act
from bailee_cli.options import Number, act_options, moment, present, time_options
from bailee_cli.session import Session

_REASONS: Final = (
    "seal", "count", "identity", "condition", "media_expired", "no_outdoor_control", "paperwork", "late", "other",
)  # fmt: skip


def _decision(name: str, act: str, says: str) -> click.Command:
    @click.command(name, help=says)
    @click.argument("numbers", nargs=-1, required=True, type=Number())
    @click.option("--reason", "reasons", multiple=True, type=click.Choice(_REASONS))
    @click.option("--called", help="When the sender was called.")
    @click.option("--called-person", help="Who was called; kept out of the log.")
    @click.option("--answer", help="What they said; kept out of the log.")
    @click.option("--qualified", is_flag=True, help="Results will be reported with a qualification.")
    @click.option(
        "--resample",
        type=click.Choice(["possible", "not_possible", "asked"]),
        help="Can a new sample be taken? Of rejected ones.",
    )
    @click.option(
        "--lab-number",
        "lab_numbers",
        multiple=True,
        metavar="SAMPLE=NUMBER",
        help="Your own number for a sample.",
    )
    @click.option("--form", "form", type=Number("form"), help="All are on this form (needed with --offline).")
    @click.option("--note", help="Free text; kept out of the log.")
    @time_options
    @act_options
    @click.pass_obj
    def decide(
        session: Session,
        /,
        numbers: tuple[str, ...],
        form: str | None,
        at: str | None,
        zone: str | None,
        offline: bool,
        **said: Any,
    ) -> None:
        groups = reading.by_form(session, numbers, form)
        own = _lab_numbers(said["lab_numbers"])
        reading.see(session, groups, offline=offline)
        facts = {
            "at": moment(session, at, zone).text(),
            "reasons": list(said["reasons"]),
            "called": moment(session, said["called"], zone).text() if said["called"] else None,
            "qualified": said["qualified"],
            "resample": said["resample"],
        }
        private = {name: said[name] for name in ("called_person", "answer", "note")}
        acts = []
        for number, samples in groups.items():
            mine = {sample: own[sample] for sample in samples if sample in own}
            data = present(facts | {"samples": samples, "lab_numbers": mine or None})
            acts.append(Act(f"form/{number}", act, data, private))
        acting.act(session, *acts, offline=offline)

    return decide


_WHICH: Final = "NUMBERS are samples, forms (all samples on them) or envelopes (all in them)."
accept_command: Final = _decision("accept", "accepted", f"Accept samples for analysis. {_WHICH}")
put_on_hold_command: Final = _decision(
    "put-on-hold", "on_hold", f"Put samples on hold until a question is answered. {_WHICH}"
)
reject_command: Final = _decision("reject", "rejected", f"Reject samples, with the reasons. {_WHICH}")


@click.command("dispose")
@click.argument("numbers", nargs=-1, required=True, type=Number())
@click.option("--how", required=True, type=click.Choice(choices(form_acts.Disposed, "how")))
@click.option("--form", "form", type=Number("form"), help="All are on this form (needed with --offline).")
@time_options
@act_options
@click.pass_obj
def dispose_command(
    session: Session,
    numbers: tuple[str, ...],
    how: str,
    form: str | None,
    at: str | None,
    zone: str | None,
    offline: bool,
) -> None:
    """Record the end of custody. NUMBERS are samples, forms or envelopes."""
    groups = reading.by_form(session, numbers, form)
    reading.see(session, groups, offline=offline)
    when = moment(session, at, zone).text()
    acts = [
        Act(f"form/{n}", "disposed", {"samples": samples, "how": how, "at": when})
        for n, samples in groups.items()
    ]
    acting.act(session, *acts, offline=offline)


def _lab_numbers(given: tuple[str, ...]) -> dict[str, str]:
    from bailee.domain import numbers

    found = {}
    for each in given:
        sample, is_there, own = each.partition("=")
        if not is_there or not own:
            raise Malformed(f"{each!r}: write --lab-number SAMPLE=NUMBER.", code="bad-lab-number")
        found[numbers.read(sample, "sample")] = own
    return found
