"""The acts that a finding, a list or an error offers, as commands to type.

Only here are acts turned into verbs and options.

What is known stands in the command; `…` is for the person to fill in.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterable, Mapping
from typing import Any, Final

OPEN: Final = "…"

_VERBS: Final[Mapping[str, str]] = {
    # on a form
    "opened": "open …",
    "collected": "collect {sample} …",
    "pump_checked": "check-pump …",
    "outdoor_ruled_out": "rule-out-outdoor {form}",
    "surface_collected": "collect-surface {sample} …",
    "conditions_read": "read-conditions {form}",
    "building_changed": "report-change {form}",
    "requested": "request {form}",
    "stored": "store {sample}",
    "withdrawn": "withdraw {sample}",
    "held": "secure {sample|envelope}",
    "relinquished": "give {sample|envelope}",
    "received": "take {sample|envelope}",
    "taken_in": "take-in {envelope}",
    "received at the dock": "receive {envelope} {sample?} …",
    "sealed": "seal {sample} … --envelope {envelope}",
    "sealed without": "seal --envelope {envelope} --leave-out {sample}",
    "unsealed": "unseal {envelope}",
    "shipped": "ship {envelope} …",
    "accepted": "accept {sample|envelope}",
    "on_hold": "put-on-hold {sample|envelope}",
    "rejected": "reject {sample|envelope}",
    "voided": "void {sample}",
    "corrected": "correct {sample|form}",
    "excepted": "except {rule} {about}",
    "affirmed": "affirm {form} {statements}",
    "witnessed": "witness {form} {statements}",
    "copied": "copy {form} --of {of}",
    "notified": "notify {form} --of {of} --about {about|lot}",
    # on a lot
    "lot_received": "lot receive …",
    "issued": "lot issue {lot}",
    "recalled": "lot recall {lot}",
    "counted": "lot count {lot}",
    "expiry_corrected": "lot expiry {lot} {new}",
    # of an organization
    "enrolled": "enroll {kid}",
    "revoked": "revoke {kid}",
    "policy_set": "policy …",
    "calendar_set": "calendar {which} …",
    "equipment_set": "equipment {kind} {id}",
    "trained": "train {kid}",
    # on a device, signing nothing
    "print_label": "label sample {sample} --png …",
    "print_label of an envelope": "label envelope {envelope} --pdf …",
    "print_record": "record {form} -o …",
    "send_waiting": "send",
    "ask_window": "window --for {envelope|form}",
    "look_up": "show {sample|envelope|form|lot}",
    "look_at_lots": "lot show {lot?}",
    "find_uses": "lot uses {lot}",
    "check_kit": "kit",
    "write_notice": "notice",
    "make_link": "pages",
    "ask_time_stamp": "timestamp --home … --request …",
    "check_ledger": "check-ledger --home …",
    "repair_ledger": "repair --home …",
}
"""By act: `{fact}` what is known of it, `{a|b}` the one that is known, `{fact?}` nothing when it is not.

Other facts follow as options.
"""

_ACTS: Final = {re.split(r" [{…-]", typed)[0]: act.partition(" ")[0] for act, typed in _VERBS.items()}
"""The act of a verb."""

_VARIANTS: Final[Mapping[tuple[str, str], str]] = {
    ("received", "dock"): "received at the dock",
    ("sealed", "leave_out"): "sealed without",
    ("print_label", "envelope"): "print_label of an envelope",
}
"""An act with this fact has a verb of its own."""

OPTIONS: Final[Mapping[str, str]] = {
    "secured": "how",
    "since": "at",
    "to_kid": "to-key",
    "handed_over": "at",
    "total": "counted",
    "covers_on": "covers",
    "of": "act",
    "identity_check": "checked",
    "last_good_seq": "last-good",
    "courier": "courier-name",
    "expected_delivery": "expected",
    "mirror": "from",
}
"""Facts whose option has another name."""

_FLAGS: Final = frozenset(
    {"across_opening", "by_hand", "covers_on", "new_high_water", "qualified", "record_enclosed", "saturday"}
)
_LEFT_OPEN: Final = re.compile(r" --([a-z-]+) …")
_FACT: Final = re.compile(r"\{([a-z_|]+)(\?)?\}")


def command(*acts: Mapping[str, Any]) -> str:
    """The command of an act, as one types it after the prompt: `bailee void S7K3… --reason …`.

    Of several: corrections of facts that must be said together.
    """
    return " ".join(["bailee", *map(_quoted, argv(*acts))])


def offered(facts: Mapping[str, Any]) -> list[str]:
    """What an error offers to be typed: whole commands, and the option that the same command needs."""
    acts, also = facts.get("acts"), facts.get("also")
    option = [f"--{also.replace('_', '-')} {OPEN}"] if isinstance(also, str) else []
    return [*commands(acts if isinstance(acts, list) else []), *option]


def commands(acts: Iterable[Any]) -> list[str]:
    """The commands of several acts, each once; corrections of one object's members are one command.

    What a newer service offers and this program has no verb for is left out.
    """
    known = [act for act in acts if isinstance(act, Mapping) and str(act.get("act")) in _VERBS]
    told: list[list[Mapping[str, Any]]] = []
    for act in known:
        if told and _outer(act) and _outer(act) == _outer(told[-1][0]):
            told[-1].append(act)
        else:
            told.append([act])
    return list(dict.fromkeys(command(*together) for together in told))


def open_words(line: str) -> list[str]:
    """What may stand for each `…` after an option that takes one of a few words: `--reason: lost, other`."""
    found = {each: _words(line, each.replace("-", "_")) for each in _LEFT_OPEN.findall(line)}
    return [f"--{option}: {', '.join(known)}" for option, known in found.items() if known]


def _words(line: str, option: str) -> tuple[str, ...]:
    from bailee.domain.acts.table import ROWS
    from bailee.domain.facts import choices, members

    act = next((act for verb, act in _ACTS.items() if line.startswith(f"bailee {verb} ")), "")
    names = {fact for fact, named in OPTIONS.items() if named == option} | {option, f"{option}s"}
    known = members(ROWS[act].facts).keys() & names if act in ROWS else set()
    return next((choices(ROWS[act].facts, name) for name in sorted(known)), ())


def _outer(act: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """A correction of an inner fact, without saying of which: its object has to stand as a whole."""
    outer, is_inner, _ = str(act.get("field")).partition(".")
    return {**act, "field": outer, "new": None} if is_inner else None


def argv(act: Mapping[str, Any], *others: Mapping[str, Any]) -> list[str]:
    """Verb, operands and options of an act, and what others correct beside it.

    Raises `KeyError` for an act without a verb.
    """
    facts = {name: value for name, value in act.items() if name not in ("act", "field", "new")}
    kind = str(act["act"])
    for (general, fact), special in _VARIANTS.items():
        if general == kind and fact in facts:
            kind = special
    typed: list[str] = []
    for part in _VERBS[kind].split():
        found = _FACT.fullmatch(part)
        if not found:
            typed += [part] if part != OPEN or typed[-1] != OPEN else []
            continue
        names = found[1].split("|")
        known = [value for name in names if (value := facts.pop(name, None)) is not None]
        typed += [_text(value) for value in known[:1]] or ([] if found[2] else [OPEN])
    for said_by_verb in ("dock", "leave_out"):
        facts.pop(said_by_verb, None)
    if "field" in act:
        typed += [
            f"{each['field']}={_text(each['new'])}" if each["field"] else OPEN for each in (act, *others)
        ]
    for name, value in facts.items():
        typed += _option(OPTIONS.get(name, name), name, value)
    return typed


def _option(option: str, name: str, value: Any) -> list[str]:
    written = f"--{option.replace('_', '-')}"
    if name in _FLAGS:
        return [written] if value else []
    return [written, _text(value)]


def _text(value: Any) -> str:
    if value is None:
        return OPEN
    return str(value).lower() if isinstance(value, bool) else str(value)


def _quoted(word: str) -> str:
    known, ends_open, _ = word.partition(OPEN)
    return f"{shlex.quote(known) if known else ''}{ends_open}" if ends_open else shlex.quote(word)
