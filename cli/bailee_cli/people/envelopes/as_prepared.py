"""What the service prepared for one gesture, one statement per form: shown, agreed to, and signed.

Before signing, each is compared with what the clerk scanned and typed: the service cannot make a device say
anything else.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import click

from bailee.domain.acts.table import ROWS
from bailee.domain.policy import digest_of
from bailee.errors import Broken
from bailee_cli.device import cache
from bailee_cli.device.session import Session
from bailee_cli.signing import submit
from bailee_cli.signing.submit import Act
from bailee_cli.terminal import layout, piped, prompts, show


def require_ready(
    session: Session,
    told: Mapping[str, Any],
    what: str,
    also: Callable[[], None] | None = None,
    mend: Callable[[], None] | None = None,
) -> None:
    """Show the verdict and what was found, then what `also` says; when it is not ready, `mend` it or end
    with 1.
    """
    if not session.json:
        show.readiness(told, what, before=session.shown)
        if also and told.get("window") not in session.shown:
            also()
        session.shown += [*told["findings"], told.get("window")]
    elif not told["ready"]:
        show.print_json(told)
    if not told["ready"]:
        if mend:
            mend()
        raise click.exceptions.Exit(1)


def agree(session: Session, told: Mapping[str, Any], yes: bool, question: str) -> None:
    """Say what the warnings become, and ask: at a terminal with all that will be signed on one screen, which
    is shown last of all.
    """
    warnings = sum(f["severity"] == "warn" for f in told["findings"])
    if warnings:
        layout.warn(show.warned(warnings))
    session.was_asked = not yes
    if prompts.may_ask(session):
        forms = [each["sub"].removeprefix("form/") for each in told["statements"]]
        cache.see(session, forms, offline=False)
    if not (yes or prompts.may_ask(session)):
        piped.agree(question)


def as_asked(
    told: Mapping[str, Any], act: str, same: Mapping[str, Any], private: Mapping[str, str] | None = None
) -> Act:
    """What was prepared, where it says what was asked, and beside it only what the ledger reckons and which
    samples are on that form.
    """
    data, row = told["data"], ROWS[act]
    added = set(data).difference(same, row.computed, row.facts.later, {"samples"})
    if (
        told["act"] != act
        or not told["sub"].startswith("form/")
        or added
        or any(data.get(n) != v for n, v in same.items())
    ):
        raise prepared_otherwise()
    return Act(told["sub"], act, data, dict(private or {}))


def require_as_shown(told: Mapping[str, Any], acts: Sequence[Act]) -> None:
    """Refuse to sign what was prepared where it counts otherwise, names other forms than those that are
    signed, or acknowledges what was not shown.

    Raises `Broken` ("prepared-otherwise").
    """
    forms = {each.chain.removeprefix("form/") for each in acts}
    shown = {(each["rule"], each["about"]) for each in told["findings"]}
    for data in (each.data for each in acts):
        samples = data.get("samples", [])
        acknowledged = {(each["rule"], each["about"]) for each in data.get("findings", [])}
        is_counted = data.get("count", len(samples)) == len(samples)
        if not (is_counted and set(data.get("forms", forms)) == forms and acknowledged <= shown):
            raise prepared_otherwise()


def require_expected(told: Mapping[str, Any], acts: Sequence[Act], asked: Mapping[str, Any]) -> None:
    """Refuse to sign another arrival than the one that was shown, or than was typed of what is carried by
    hand. Raises `Broken` ("prepared-otherwise").
    """
    window = told.get("window") or {}
    typed = asked.get("expected_delivery") if asked["by_hand"] else window.get("delivered")
    shown = {"expected_delivery": typed, "expected_receipt": window.get("received")}
    if any(each.data.get(name) != value for each in acts for name, value in shown.items()):
        raise prepared_otherwise("an expected receipt other than the one it showed")


def require_policies(session: Session, acts: Sequence[Act]) -> None:
    """Refuse to sign that an envelope was judged by other policies than those shown for the firm and the
    laboratory of each form. Raises `Broken` ("prepared-otherwise").
    """
    stated: dict[str, Mapping[str, Any] | None] = {}
    for each in acts:
        form = cache.form(session, each.chain.removeprefix("form/"))
        for member, org in (("policy", form["firm"]), ("lab_policy", form["lab"])):
            if org not in stated:
                stated[org] = session.service.get(f"/organizations/{org}")["stated"]
            shown, named = stated[org], each.data.get(member)
            is_unset = shown is not None and set(shown) <= {"edition"}
            may_lack = member == "lab_policy" and (org == form["firm"] or is_unset)
            if shown is not None and named != digest_of(shown) and not (named is None and may_lack):
                raise prepared_otherwise(f"a policy other than the one it shows of {org}")


def prepared_otherwise(what: str = "something other than what you scanned and typed") -> Broken:
    """The error of a service that would make a device say something else."""
    return Broken(
        f"The service prepared {what}. Nothing was signed: call your administrator.",
        code="prepared-otherwise",
    )


def sign(session: Session, acts: Sequence[Act]) -> None:
    """Sign and send all of them, on top of what is on record by now."""
    submit.learn_heads(session, [each.chain for each in acts])
    submit.act(session, *acts)
