"""The shipping clerk hands an envelope over: with which carrier, or by whom."""

from __future__ import annotations

from contextlib import suppress
from functools import partial
from typing import Any, Final, get_args

import click

from bailee.asking import hand_over_slips, hand_over_steps, unit_slips, written
from bailee.domain import numbers
from bailee.domain.acts import form as form_acts
from bailee.domain.acts.form import Sealed, Shipped, Unsealed
from bailee.domain.acts.table import name_of
from bailee.errors import BaileeError, Malformed
from bailee_cli.device.session import Session
from bailee_cli.people import courier, shipping_windows
from bailee_cli.people.envelopes.as_prepared import (
    agree,
    as_asked,
    require_expected,
    require_ready,
    sign,
)
from bailee_cli.signing import carriers, duplicates, submit, time_order
from bailee_cli.signing.answered import as_read, ask_anew
from bailee_cli.terminal import prompts, show, time_zones
from bailee_cli.terminal.command_kinds import AskingCommand
from bailee_cli.terminal.options import (
    Number,
    Whole,
    Written,
    act_options,
    anyway_option,
    moment,
    present,
    time_options,
    yes_option,
)


class _ShippingCommand(AskingCommand):
    """Where this device sealed one envelope that it has not shipped, Enter is that one."""

    def usual(self, ctx: click.Context, param: click.Parameter) -> str | None:
        """Its number."""
        if param.name != "envelope" or not isinstance(ctx.obj, Session):
            return None
        open_: dict[str, bool] = {}
        for each in ctx.obj.outbox.newest(_LAST):
            if each.counts and each.act in (name_of(Sealed), name_of(Unsealed), name_of(Shipped)):
                open_.setdefault(submit.data_of(each)["envelope"], each.act == name_of(Sealed))
        waiting = [number for number, is_open in open_.items() if is_open]
        return waiting[0] if len(waiting) == 1 else None


_LAST: Final = 200
"""So many statements back."""


@click.command("ship", cls=_ShippingCommand)
@click.argument("envelope", type=Number("envelope"))
@click.option("--carrier", help="Carrier, or who carries it. [default: asked; with --by-hand, by hand]")
@click.option(
    "--service", "service_name", help="The carrier's service.  [default: asked; with --by-hand, by hand]"
)
@click.option(
    "--service-days",
    type=Whole(0, 30),
    help="Working days in transit.  [default: asked at a terminal; 1]",
)
@click.option("--saturday", is_flag=True, help="With Saturday delivery.")
@click.option("--by-hand", is_flag=True, help="Carried by a person, without a carrier.")
@click.option("--tracking", help="Number on the airbill. [default: asked, unless hand-carried]")
@click.option(
    "--classified",
    type=click.Choice(get_args(form_acts.Transport)),
    help="Transport class, as the shipper decided it.",
)
@click.option(
    "--forecast-low",
    "forecast_low_c",
    type=Written("degrees_celsius"),
    help="Coldest air forecast on the way, degrees Celsius.",
)
@click.option(
    "--forecast-high",
    "forecast_high_c",
    type=Written("degrees_celsius"),
    help="Hottest air forecast on the way, degrees Celsius.",
)
@courier.options
@anyway_option
@yes_option
@time_options
@act_options
@click.pass_obj
def ship_command(
    session: Session, /, envelope: str, carrier: str | None, service_name: str | None,
    service_days: int | None, saturday: bool, by_hand: bool, tracking: str | None, yes: bool, at: str | None,
    zone: str | None, offline: bool, **said: Any,
) -> None:  # fmt: skip
    """Check when ENVELOPE would arrive, then record that it was shipped."""
    if offline:
        raise Malformed(
            "Readiness needs the ledger: record the shipment when there is a network.", code="needs-network"
        )
    typed = {"carrier": carrier, "service": service_name, "service_days": service_days, "tracking": tracking}
    if submit.finish(
        session,
        name_of(Shipped),
        [envelope],
        lambda data: all(data.get(n) == v for n, v in present(typed).items()),
    ):
        return
    duplicates.refuse_shipped(session, envelope)
    forecast = ("forecast_low_c", "forecast_high_c")
    prompts.settle(
        session,
        lambda: unit_slips.temperatures(said, *forecast),
        prompts.typed_again(said, **dict.fromkeys(forecast, written.degrees_celsius)),
    )
    last, typed_of_courier = carriers.last_way(session), courier.taken(said)
    by_hand = by_hand or bool(typed_of_courier)
    if not by_hand:
        carrier = carriers.asked(session, carrier, last)
    carrier = carrier or carriers.BY_HAND
    by_hand = by_hand or carrier == carriers.BY_HAND
    last = carriers.of_carrier(carrier, last)
    service_name = service_name or (carriers.BY_HAND if by_hand else carriers.service(session, last))
    if service_days is None:
        service_days = 0 if by_hand else carriers.days(session, last)
    if prompts.may_ask(session) and not by_hand:
        tracking = tracking or prompts.answer(session, hand_over_steps.TRACKING)
        tracking = _on_airbill(session, envelope, tracking)
        said["classified"] = said["classified"] or prompts.answer(session, hand_over_steps.CLASSIFIED)
    elif tracking:
        tracking = _on_airbill(session, envelope, tracking)
    zone = zone or time_zones.of_envelope(session, envelope)
    handed_over = time_order.when(
        session,
        name_of(Shipped),
        at,
        zone,
        lambda: time_order.before_shipping(session.service.get(f"/envelopes/{envelope}")),
    )
    who = courier.asked(session, typed_of_courier) if by_hand else {}
    expected = moment(session, who["expected"], zone).text() if "expected" in who else None
    asked = {
        "envelope": envelope,
        "carrier": carrier,
        "service": service_name,
        "service_days": service_days,
        "saturday": saturday,
        "by_hand": by_hand,
        "tracking": tracking,
        "handed_over": handed_over.text(),
        **present(said | {"expected_delivery": expected} | courier.facts(who)),
    }
    told = session.service.post("/readiness", {"act": name_of(Shipped), "data": asked})
    require_ready(
        session,
        told,
        f"envelope {numbers.grouped(envelope)}",
        lambda: shipping_windows.say(told["window"] or {}, zone=zone, by_hand=by_hand),
        lambda: ask_anew(session, told, name_of(Shipped)),
    )
    private = courier.private(who)
    acts = [as_asked(each, name_of(Shipped), asked, private) for each in told["statements"]]
    require_expected(told, acts, asked)
    to = who.get("courier_name", "the person who carries it") if by_hand else f"{carrier}, {service_name}"
    agree(
        session,
        told,
        yes,
        f"Ship {numbers.grouped(envelope)} with {to}, at {show.when(handed_over.text(), zone)}?",
    )
    sign(session, acts)


def _on_airbill(session: Session, envelope: str, tracking: str | None) -> str | None:
    """The carrier's number as read; that of a label, or of the seal on this envelope, is asked back."""
    seal = None
    with suppress(BaileeError):  # several senders' envelopes have this number: readiness tells
        seal = session.service.get(f"/envelopes/{envelope}")["seal"]
    found = partial(hand_over_slips.read_on_airbill, seal=seal)
    return as_read(session, "tracking", tracking, found) if tracking else None
