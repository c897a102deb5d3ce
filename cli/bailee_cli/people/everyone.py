"""Looking: a sample, a form, an envelope, a lot, and what the rules find.

What waits: for whom, by when, and what is overdue.

Asking again what was asked when an envelope was sealed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

import click

from bailee.domain import numbers
from bailee.domain.acts.form import BuildingChanged, ConditionsRead
from bailee.domain.requests import Order
from bailee.errors import Malformed
from bailee.presentation import on_site_words, request_words, surface_words, words
from bailee.presentation.words import Heading
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.terminal import show, time_zones
from bailee_cli.terminal.commands import commands
from bailee_cli.terminal.options import Number, Written, json_option, moment


@click.command("show")
@click.argument("number", type=Number(), required=False)
@json_option
@click.pass_obj
def show_command(session: Session, number: str | None) -> None:
    """Show what NUMBER is: a sample, form, envelope or lot. Without one, your organization's newest forms."""
    kind = numbers.kind_of(number) if number else None
    path = f"/{_PATHS[kind]}/{number}" if kind else "/forms"
    if kind == "seal":
        raise Malformed("A seal is shown with its envelope: enter the envelope's number.", code="seal")
    told = cache.form(session, number) if kind == "form" and number else session.service.get(path)
    if session.json:
        show.print_json(told)
        return
    if kind == "sample":
        _sample(told, time_zones.of_form(session, told["form"]) if told["form"] else None)
    elif kind == "envelope":
        _envelope(told, time_zones.of_envelope(session, told["envelope"]))
    else:
        {"form": _form, "lot": lot, None: _forms}[kind](told)


@click.command("check")
@click.argument("number", type=Number())
@click.option("--as-of", help='As it was then: "2026-11-25 14:00", with what was recorded by then.')
@click.option(
    "--zone",
    type=Written("zone"),
    help="Time zone of --as-of, like America/New_York.  [default: this device's]",
)
@click.option(
    "--as-sealed",
    is_flag=True,
    help="As it was when the envelope was sealed; compares with what was acknowledged.",
)
@json_option
@click.pass_obj
def check_command(
    session: Session, number: str, as_of: str | None, zone: str | None, as_sealed: bool
) -> None:
    """Show what the rules find on a form or envelope, and the four verdicts: now, or as it was at a moment.

    Ends with 1 when something stops the samples or is flagged, with 0 otherwise; warnings and notes do not
    count. With --as-sealed it ends with 1 when the check asked again differs from what the sealer
    acknowledged.
    """
    kind = numbers.kind_of(number)
    if kind not in ("form", "envelope"):
        raise Malformed("Give the number of a form or an envelope.", code="wrong-kind")
    if as_sealed:
        if kind != "envelope" or as_of:
            raise Malformed(
                "Enter the number of an envelope with --as-sealed, and no moment.", code="wrong-kind"
            )
        sealing(session, number)
        return
    at = moment(session, as_of, zone).text() if as_of else None
    told = session.service.get(f"/{_PATHS[kind]}/{number}", as_of=at)
    if session.json:
        found = {name: told[name] for name in ("at", "findings", "verdicts")}
        show.print_json({"number": number, **found})
    else:
        if at:
            click.echo(f"As of {show.when(at, zone)}:")
        show.findings(told["findings"])
        show.verdicts(told["verdicts"])
    if any(f["severity"] in ("block", "flag", "refuse") for f in told["findings"]):
        raise click.exceptions.Exit(1)


@click.command("pages")
@json_option
@click.pass_obj
def pages_command(session: Session) -> None:
    """Print a link that opens the pages in a browser, once and within five minutes.

    It reads in your name: do not pass it on.
    """
    from bailee.signing import access

    token = access.issue_for_pages(
        session.key, session.profile.org, session.profile.origin, int(session.now.timestamp())
    )
    # After the hash sign a browser keeps it to itself: it appears in no log of any server on the way.
    link = f"{session.profile.service.rstrip('/')}/enter#{token}"
    if session.json:
        show.print_json({"link": link})
    else:
        click.echo(link)


_PATHS: Final[dict[Any, str]] = {
    "sample": "samples",
    "form": "forms",
    "envelope": "envelopes",
    "lot": "lots",
    "seal": "",
}


def lot(told: Mapping[str, Any]) -> None:
    """One lot, line by line."""
    show.facts(
        f"Lot {show.name(told['lot'])}",
        [
            _fact(Heading.MAKER_LOT, told["maker_lot"]),
            _fact(Heading.CASSETTE, words.cassette(told["cassette"], told["nominal_flow"], told["run_s"])),
            _fact(Heading.EXPIRATION, words.expiration(told["expires"])),
            _fact(Heading.LOT_RECEIVED, told["count"]),
            *([] if told["counted"] is None else [_fact(Heading.LOT_COUNTED, told["counted"])]),
            _fact(Heading.ISSUED, len(told["issued"])),
            _fact(Heading.RECALLED, _recalled(told)),
        ],
    )


def _recalled(told: Mapping[str, Any]) -> str:
    """Whether a lot is recalled, and every recall that was lifted."""
    lifted = [
        f"{show.when(each['since'])} ({words.plain(each['reason'])}), lifted {show.when(each['until'])}"
        for each in told["recalls"]
        if each["until"]
    ]
    now = "yes: do not use" if told["recalled"] else "not now" if lifted else "no"
    return "; ".join([now, *lifted])


def samples(told: Sequence[Mapping[str, Any]], zone: str | None = None) -> None:
    """The samples of a form as a table, their times on the clocks of a zone."""
    columns = [
        Heading.SAMPLE,
        Heading.KIND,
        Heading.WHERE,
        Heading.STARTED,
        Heading.VOLUME,
        Heading.OUTDOOR,
        Heading.STATUS,
        Heading.CONDITION,
        Heading.LAB_NUMBER,
        Heading.HOLDER,
    ]
    rows = [
        (
            s["sample"],
            words.KINDS.get(s["kind"], "") or surface_words.MEDIA.get(s["medium"], ""),
            ", ".join(filter(None, (show.words(s["room"]), s["point"], s["place"], _taken_from(s)))),
            show.clock(s["started"], zone),
            _drawn(s),
            f"{show.name(s['outdoor'])}, {words.apart(s['minutes_apart'])}" if s["outdoor"] else "",
            _status(s),
            words.condition(s["status"], s["condition"]),
            s["lab_number"],
            s["holder"] if s["status"] != "disposed" else "",
        )
        for s in told
    ]
    show.table(_timed("Samples", zone), [each.lower() for each in columns], rows)


def _taken_from(s: Mapping[str, Any]) -> str:
    return surface_words.of_what(s["material"], s["surface"]) if s["medium"] else ""


def _drawn(s: Mapping[str, Any]) -> str:
    """Air, or in its place how much of a surface."""
    if s["medium"]:
        return surface_words.amount(s["area_cm2"], s["mass_g"])
    return words.drawn(s["kind"], s["volume_l"], None) if s["kind"] else ""


def _fact(label: str, value: object) -> tuple[str, object]:
    return label.lower(), value


def _status(sample: Mapping[str, Any]) -> str:
    newest = sample["decisions"][-1] if sample["decisions"] else {}
    qualified = newest.get("decision") == "accepted" and newest["qualified"]
    return words.status(sample["status"], sample["void"], qualified=qualified)


def _timed(title: str, zone: str | None) -> str:
    return f"{title} (times in {zone})" if zone else title


def _forms(told: Mapping[str, Any]) -> None:
    rows = [
        (
            f["form"],
            f["visit"],
            f["firm"],
            f["lab"],
            f["samples"],
            ", ".join(map(words.status, f["status"].split(", "))),
        )
        for f in told["forms"]
    ]
    if not rows:
        show.say("No form is on record here yet.")
        return
    show.table("Forms", ["form", "visit", Heading.FIRM.lower(), "laboratory", "samples", "status"], rows)


def _form(told: Mapping[str, Any]) -> None:
    show.say(
        f"Form {show.name(told['form'])}: visit {told['visit']} ({told['zone']}),"
        f" {words.parties(told['firm'], told['lab'])}"
    )
    for name, value in told["private"].items():
        show.say(f"{name}: {value}", "  ", "    ")
    for line in request_words.lines([(each["samples"], Order.read(each)) for each in told["requests"]]):
        show.say(f"{Heading.REQUESTED.lower()}: {line}", "  ", "    ")
    for each in told["changes"]:
        show.say(
            f"{Heading.CONDITIONS.lower()}: {on_site_words.line(BuildingChanged.read(each))}", "  ", "    "
        )
    for each in told["conditions"]:
        show.say(
            f"{Heading.CONDITIONS.lower()}: {on_site_words.line(ConditionsRead.read(each))}", "  ", "    "
        )
    samples(told["samples"], told["zone"])
    _qualified(told["samples"])
    for envelope in told["envelopes"]:
        click.echo(f"Envelope {show.name(envelope)}")
    show.findings(told["findings"])
    show.verdicts(told["verdicts"])


def _sample(told: Mapping[str, Any], zone: str | None) -> None:
    state = told["state"]
    if told["lot"]:
        lot(told["lot"])
    if state is None:
        show.say(f"Sample {show.name(told['sample'])}. {words.ONLY_ISSUED}")
        return
    show.say(f"Sample {show.name(told['sample'])} on form {show.name(told['form'])}")
    samples([state], zone)
    rows = [
        (
            link["holder"],
            link["organization"],
            show.clock(link["since"], zone),
            show.clock(link["until"], zone),
            f"{link['gap_min']} min" if float(link["gap_min"] or 0) else "",
            _kept(link, zone),
        )
        for link in state["links"]
    ]
    columns = [Heading.HOLDER, "organization", "from", "until", Heading.GAP, Heading.SECURED]
    show.table(_timed(Heading.CUSTODY, zone), [each.lower() for each in columns], rows)
    if state["parent"] or state["child"]:
        was = state["parent"] and f"was {show.name(state['parent'])} before it was forwarded"
        now = state["child"] and f"was forwarded as {show.name(state['child'])}"
        show.say(f"The same trace {' and '.join(filter(None, (was, now)))}.")
    _answers(state["decisions"], zone)
    _qualified([state])
    show.findings(told["findings"])


def _way(shipped: Mapping[str, Any], courier: str | None, zone: str | None) -> Iterator[tuple[str, object]]:
    """By whom and how an envelope went, and when it is expected."""
    if shipped:
        by_hand = shipped.get("by_hand", False)
        if by_hand:
            slip = (shipped.get("courier") or {}).get("slip")
            yield _fact(Heading.COURIER, courier or words.NOT_NAMED)
            yield _fact(Heading.SLIP, slip or words.NO_SLIP)
        else:
            saturday = shipped.get("saturday", False)
            who = words.carrier(shipped["carrier"], shipped["service"], by_hand=False, saturday=saturday)
            yield _fact(Heading.CARRIER, who)
            yield _fact(Heading.TRACKING, words.tracking(shipped.get("tracking")))
        yield _fact(words.left(by_hand=by_hand), show.when(shipped["handed_over"], zone))
        expected = shipped.get("expected_receipt")
        yield _fact(Heading.EXPECTED, show.when(expected, zone) if expected else words.NOT_RECORDED)


def _taken_in(said: Mapping[str, Any], zone: str | None) -> Iterator[tuple[str, object]]:
    """What the laboratory signed when it took an envelope in unopened."""
    if said:
        yield _fact(Heading.TAKEN_IN, show.when(said["at"], zone))
        yield _fact(Heading.SEAL_TAKEN_IN, words.seal_as_read(said["seal"], said["seal_state"]))
        yield _fact(Heading.PACKAGE, words.listed(said["package"]))
        yield _fact(Heading.SECURED, words.way(said["secured"], said["where"]))
        yield from _containers(said)


def _containers(said: Mapping[str, Any]) -> Iterator[tuple[str, object]]:
    if said.get("containers") is not None:
        yield _fact(Heading.CONTAINERS, said["containers"])


def _arrival(received: Mapping[str, Any], zone: str | None) -> Iterator[tuple[str, object]]:
    """What the dock found."""
    if received:
        dock = received["dock"]
        yield _fact(Heading.RECEIVED, show.when(received["at"], zone))
        yield _fact(Heading.SEAL_READ, words.seal_as_read(dock["seal"], dock["seal_state"]))
        yield _fact(Heading.PACKAGE, words.listed(dock["package"]))
        yield _fact(Heading.COUNTED, f"{dock['total']} in all")
        yield from _containers(dock)
        if closed := dock.get("closed_again"):
            seal = show.name(closed["seal"]) if closed.get("seal") else words.NO_SEAL_NUMBER
            yield _fact(Heading.CLOSED_AGAIN, f"{seal}, {show.when(closed['at'], zone)}")


def _answers(told: Sequence[Mapping[str, Any]], zone: str | None) -> None:
    """What the laboratory answered: who was called, when, and what they said."""
    rows = [
        (
            words.status(d["decision"]),
            show.clock(d["at"], zone),
            d["by"],
            ", ".join(map(show.words, d["reasons"])),
            show.clock(d["called"], zone),
            d["whom"],
            d["answer"],
            "yes" if d["qualified"] else "",
            show.words(d["resample"]),
        )
        for d in told
    ]
    if rows:
        columns = [
            "decision",
            "at",
            "by",
            "reasons",
            Heading.CALLED.lower(),
            "whom",
            "their reply",
            "qualified",
            "new sample",
        ]
        show.table(_timed("Decisions of the laboratory", zone), columns, rows)


def _qualified(told: Sequence[Mapping[str, Any]]) -> None:
    """What results must be reported with; the same words for several samples are said once."""
    alike: dict[str, list[str]] = {}
    for each in told:
        if each["qualification"]:
            alike.setdefault(each["qualification"], []).append(show.name(each["sample"]))
    if alike:
        show.say(words.over_qualifications(alike), style="bold")
    for sentence, numbers_ in alike.items():
        show.say(", ".join(numbers_), "  ")
        show.say(sentence, "    ")


def _kept(link: Mapping[str, Any], zone: str | None) -> str:
    return (
        "; ".join(
            f"{words.way(k['secured'], k['where'])}, from {show.clock(k['since'], zone)}"
            for k in link["kept"]
        )
        or words.NOT_RECORDED
    )


def _envelope(told: Mapping[str, Any], zone: str | None) -> None:
    show.facts(
        f"Envelope {show.name(told['envelope'])}",
        [
            ("forms", ", ".join(show.name(f) for f in told["forms"])),
            _fact(Heading.MANIFEST, ", ".join(show.name(s) for s in told["samples"])),
            _fact(Heading.SEAL, told["seal"] or words.NONE),
            _fact(Heading.SEALED, show.when(told["sealed_at"], zone)),
            *_containers(told),
            *_way(told["shipped"] or {}, told["courier"], zone),
            *_taken_in(told["taken_in"] or {}, zone),
            *_arrival(told["received"] or {}, zone),
        ],
    )
    show.findings(told["findings"])
    show.verdicts(told["verdicts"])


@click.command("chase")
@click.option("--overdue", "only", is_flag=True, help="Only what is overdue.")
@json_option
@click.pass_obj
def chase_command(session: Session, only: bool) -> None:
    """Envelopes sealed and not shipped, expected and not received, taken in and not opened, discrepancies
    without a call, results requested and not issued, lots near their expiration date, kits.

    Ends with 1 when something is overdue, with 0 otherwise: a scheduler may call it.
    """
    told = session.service.get("/chase")
    items = [each for each in told["items"] if each["overdue"] or not only]
    if session.json:
        show.print_json({**told, "items": items})
    elif not items:
        show.say("Nothing is overdue." if only else "Nothing waits.")
    else:
        _say(session, items)
    if (more := told["left_out"]) and not session.json:
        were = "form is open and was" if more == 1 else "forms are open and were"
        click.echo(
            f"{more} more {were} not looked at: the oldest of each organization are, and few of one you never"
            " answered.",
            err=True,
        )
    if told["overdue"]:
        raise click.exceptions.Exit(1)


_ON_RECORD: Final = {
    "not secured": "no entry of how they are secured",
    "not sealed": "no sealing on record",
    "not shipped": "no shipment on record",
    "not received": "no receipt on record",
    "not opened": "no opening on record",
    "not called": "no call on record",
    "not notified": "no notice on record",
    "result due": "no result on record",
}
"""What waits, as a heading: the ledger knows what is on record, not what was done."""


def _say(session: Session, items: Sequence[Mapping[str, Any]]) -> None:
    """What is overdue first, each with what to do; the same cure for several things is said once."""
    late = sum(each["overdue"] for each in items)
    show.say(
        f"To chase: {late} overdue, {len(items) - late} not yet due.", style="bold red" if late else "bold"
    )
    alike: dict[tuple[bool, str, str], list[Mapping[str, Any]]] = {}
    for each in sorted(items, key=lambda each: not each["overdue"]):
        alike.setdefault((each["overdue"], each["kind"], each["remedy"]), []).append(each)
    for (overdue, kind, remedy), group in alike.items():
        show.say(
            f"{'OVERDUE  ' if overdue else ''}{_ON_RECORD.get(kind, kind)}",
            style="red" if overdue else "bold",
        )
        for each in group:
            show.say(f"{show.thing(each['about'])}, due {_due(session, each)}", "  ")
            show.say(each["sentence"], "    ")
        show.say(remedy, "  do: ")
        show.offer(commands(act for each in group for act in each["acts"]), " " * 6)


def _due(session: Session, each: Mapping[str, Any]) -> str:
    """A day as it is, a moment on the clocks of the visit, as everywhere else."""
    is_moment = "T" in each["due"]
    return show.when(each["due"], time_zones.of_number(session, each["about"]) if is_moment else None)


def sealing(session: Session, envelope: str) -> None:
    """Judge an envelope from what was recorded before it was sealed.

    End with 1 when it differs from what was acknowledged.
    """
    told = session.service.get(f"/envelopes/{envelope}/sealing")
    if session.json:
        show.print_json(told)
    else:
        sealed = show.when(told["sealed_at"], time_zones.of_envelope(session, envelope))
        show.say(f"Envelope {show.name(envelope)}, sealed {sealed} with {show.name(told['seal'])}:")
        show.findings(told["findings"])
        for part in told["forms"]:
            _replayed_form(part)
    if not told["same"]:
        raise click.exceptions.Exit(1)


def _replayed_form(part: Mapping[str, Any]) -> None:
    said, found = _pairs(part["acknowledged"]), _pairs(part["found_again"])
    acknowledged = f"{show.counted(len(said), 'warning was', 'warnings were')} acknowledged"
    again = f"{show.counted(len(found), 'is', 'are')} found again"
    show.say(f"Form {show.name(part['form'])}: {acknowledged}, {again}.")
    for rule, about in [each for each in said if each not in found]:
        show.say(f"  acknowledged then, not found now: {rule} {show.name(about)}")
    for rule, about in [each for each in found if each not in said]:
        show.say(f"  found now, not acknowledged then: {rule} {show.name(about)}")
    for whose, same in (
        ("the firm's thresholds", part["policy_same"]),
        ("the laboratory's limits", part["lab_policy_same"]),
    ):
        if same is not None:
            show.say(f"  {whose}: {'those of then' if same else 'not those that the seal names'}")


def _pairs(warned: Sequence[Mapping[str, str]]) -> list[tuple[str, str]]:
    return [(each["rule"], each["about"]) for each in warned]
