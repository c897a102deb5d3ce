"""The offline verifier: whether anything in this file is altered or missing, and what it says about the
samples.

 1. The file can be read as a bundle (`bundle.read`; nothing below happens otherwise).
 2. Its checkpoint is signed by a log key that the auditor brings, and by as many of the auditor's cosigners
    as the auditor asks for. The same key signed where each chain ends under it.
 3. Every entry is in its one exact form and proven to be at its index of the log; no index is taken twice.
 4. Every chain is whole: from its first entry to the one with which the log said that it ends, without a gap,
    each naming the one before, in the order of the log, recorded times never running back. The chain of the
    form, of everybody who signs, and every other chain that the log spoke of, is here.
 5. Every statement is in its one exact form, made for this log and about the chain it stands on.
 6. Every signature holds, by a key that stood when the statement was recorded, in a role that may say it,
    enrolled by a key that could, down to the organization's root that the auditor brings. Weak keys are
    refused. What a key said that was revoked later is marked.
 7. Every device counts without a fork, and every entry it had seen of the chain is here. A refused statement
    of administration that is shown takes its place in that count.
 8. The checkpoint continues every tree head that a device had seen. A time stamp is over such a tree head;
    with a root of its authority from the auditor, its signature and certificate are checked too. Entries
    that the auditor has on paper are here as they were printed.
 9. Private fields that are shown are the ones that were signed; the others are counted.
10. What the statements mean: the fold, the rules, the verdicts.

A key that the auditor brings and that the file does not lead to (the log's in 2, a root in 6) is no fault of
the file: it may be mistyped. Then the file has no verdict, unless it contradicts itself. Nor has a file in
which this program does not know an act, a member or an edition: what rests on it is not judged either. A
fault is noted with its step and place, and the rest is looked at all the same. What fails a step of 5 or 6 is
not believed and left out of step 10. A proof that is missing is a fault, never a step left out; what no file
of this kind can show stands in `not_checked`. No network, no clock, no database: `at` and `trust` come from
the caller.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from hashlib import sha256
from typing import Final

from bailee import __version__
from bailee.domain import forms, lots
from bailee.domain.acts.form import Opened
from bailee.domain.acts.privacy import Erased
from bailee.domain.authorization import affirmed
from bailee.domain.custody import Form
from bailee.domain.moments import Moment
from bailee.domain.organizations import Organization
from bailee.domain.statements import Recorded
from bailee.errors import BaileeError, Broken, OtherKey
from bailee.frozen import field, frozen
from bailee.ledger import ends
from bailee.ledger.checkpoint import Checkpoint, VerifierKey, format_vkey, parse, read_note
from bailee.ledger.ends import Ends
from bailee.presentation.sample_view import sample_views
from bailee.rules import registry
from bailee.rules.case import Case
from bailee.signing import notes as signed_notes
from bailee.verify import (
    accounts,
    conflicts,
    cosigned_checkpoints,
    devices,
    evidence,
    printed,
    records_verdict,
    refusals,
    stamped_checkpoints,
)
from bailee.verify.authorship import Heard, Replay, Steps, unseen
from bailee.verify.bundle import Bundle
from bailee.verify.evidence import ClaimedEntry, Notes, ReadEntry
from bailee.verify.result import (
    BROKEN,
    COSIGNED,
    INTACT,
    NOT_UNDERSTOOD,
    NOT_YOURS,
    CheckedWith,
    PlaceInFile,
    Report,
    State,
)

_ALWAYS_UNCHECKED: Final[Mapping[str, str]] = {
    "cosigners": "Cosignatures: that all are shown this same log rests on its operator alone.",
    "tail": (
        "Later entries: the log signed that there was nothing more, up to the checkpoint of this file. A"
        " receipt or the paper form can contradict it, and a newer file shows what came after."
    ),
    "elsewhere": (
        "Other forms: only the forms here were compared for samples, serials, seals and envelopes, and for"
        " pumps that ran at the same time."
    ),
    "world": "Truth of what was entered: signatures show who signed what, and the log when it was recorded.",
}


@frozen
class Trust:
    """What the auditor brings from outside: the root key of each organization (thumbprint), and the keys of
    the log.

    `cosigners` by the auditor's names for them, and how many of them make a `quorum` (0: none is asked for).
    `stamp_roots` are the certificates (DER) of the time stamp authorities to be believed. `printed` are leaf
    hashes of entries of the form, by number, as a paper shows them.
    """

    roots: Mapping[str, str]
    log_keys: tuple[VerifierKey, ...]
    cosigners: Mapping[str, VerifierKey] = field(default_factory=dict)
    quorum: int = 0
    stamp_roots: tuple[bytes, ...] = ()
    printed: Mapping[int, str] = field(default_factory=dict)

    def told(self, file: str) -> CheckedWith:
        """The same in words, with the SHA-256 of the file: what a report says that it rests on."""
        return CheckedWith(
            sha256=file,
            roots=dict(self.roots),
            log_keys=tuple(map(format_vkey, self.log_keys)),
            cosigners={name: format_vkey(key) for name, key in self.cosigners.items()},
            quorum=self.quorum,
            stamp_roots=tuple(sha256(each).hexdigest() for each in self.stamp_roots),
            program=__version__,
            printed={str(n): leaf for n, leaf in sorted(self.printed.items())},
        )


def verify(bundle: Bundle, trust: Trust, at: Moment, steps: Steps = unseen) -> Report:
    """Verify a bundle that `bundle.read` could read (step 1).

    Never raises for what the bundle says: every fault is in the report.

    `at` is the moment of asking, against which rules reckon what is overdue.
    """
    notes = Notes()
    checkpoint = _open_checkpoint(bundle.note, trust, notes)  # 2
    ended = _open_ends(bundle, checkpoint, trust, notes)  # 2
    cosigned = cosigned_checkpoints.weigh(bundle.note, trust.cosigners, trust.quorum, notes)  # 2
    items = evidence.read_entries(bundle.entries, checkpoint, notes)  # 3
    evidence.check_chains(items, notes)  # 4
    evidence.check_ends(items, ended, notes)  # 4
    told = evidence.read_statements(items, checkpoint.origin if checkpoint else None, notes)  # 5
    replay = Replay(trust.roots, notes)
    heard = replay.hear(told, f"form/{bundle.form}", steps)  # 6 and 9
    chains = _believed(heard)
    replay.weigh_keys(heard, affirmed(chains.get(f"form/{bundle.form}", ()), replay.organizations))  # 6
    origin = checkpoint.origin if checkpoint else None
    explained = refusals.check(
        () if notes.unknown else bundle.refused,
        origin,
        replay.organizations,
        {each.digest for each in heard},
        notes,
    )
    devices.check_order(heard, items, notes, explained)  # 7
    proven = devices.check_seen(heard, bundle.earlier, checkpoint, notes)  # 8
    printed.check(trust.printed, items, f"form/{bundle.form}", notes)  # 8
    stamped = stamped_checkpoints.check(bundle.tokens, origin, proven, trust.stamp_roots, notes)  # 8
    parties = replay.authorship.owners.get(f"form/{bundle.form}", frozenset())
    conflicts.name_ended(heard, replay.organizations, notes)  # 7
    # 7
    doubted = conflicts.check(
        () if notes.unknown else bundle.conflicts, origin, replay.organizations, parties, notes
    )
    case = replace(_case(bundle.form, chains, replay, at), conflicts={bundle.form: doubted})  # 10
    form = case.forms.get(bundle.form)
    _require_chains(
        bundle.form, form, items, told, ended, notes
    )  # 4, now that it is known what the form leans on
    left_out = len(bundle.entries) - sum(map(len, chains.values())) - len(notes.unknown)
    # Nobody is accused of what an entry would say that is not believed, or not here.
    withheld = bool(notes.unknown or left_out or notes.is_missing)
    findings = registry.evaluate(case) if form and not withheld else []
    records_verdict.weigh_editions(notes)
    outside = records_verdict.seen_outside(checkpoint, cosigned, stamped)
    records_verdict.weigh_clock(items, outside, notes)
    records_verdict.weigh_future(items, cosigned, at, notes)
    records_verdict.weigh_roots(trust.roots, replay.organizations, replay.unpinned, notes)  # 6
    complete = cosigned.enough and not replay.unpinned
    state = _state(notes, complete=complete)
    for code, sentence in _ALWAYS_UNCHECKED.items():
        if not (code == "cosigners" and cosigned.enough):
            notes.not_checked(code, sentence)
    return Report(
        form=bundle.form,
        origin=origin,
        size=checkpoint.size if checkpoint else None,
        state=state,
        at=at.text(),
        entries=tuple(
            accounts.lines(
                heard, items, replay.organizations, proven, partial(records_verdict.seen_by, outside)
            )
        ),
        faults=tuple(sorted(notes.faults, key=lambda fault: (fault.step, _index(fault.place)))),
        remarks=tuple(notes.remarks),
        verdicts=records_verdict.judge(
            case, findings, state, len(bundle.entries), notes, cosigned, replay.unpinned, withheld=withheld
        ),
        findings=tuple(findings),
        samples=(
            tuple(view for _, view in sorted(sample_views(form, case).items()))
            if form and not notes.unknown
            else ()
        ),
        signers=tuple(accounts.signers(heard, replay.organizations)),
        visit=accounts.visit(form) if form else None,
        redacted=sum(each.hidden for each in heard),
        left_out=left_out,
        not_checked=tuple(notes.unchecked),
        unauthenticated=bundle.unauthenticated,
        checked_with=trust.told(bundle.sha256),
        other_keys=tuple(notes.other_keys),
        unpinned=tuple(sorted(replay.unpinned)),
        erased=sum(
            each.recorded.body.count
            for each in heard
            if each.recorded and isinstance(each.recorded.body, Erased)
        ),
        stamps=stamped,
        endorsements=tuple(accounts.endorsements(replay.organizations, trust.roots)),
        claims={"exported": bundle.exported, "roots": dict(bundle.roots)},
        cosigned=cosigned.by,
    )


def _open_checkpoint(note: str, trust: Trust, notes: Notes) -> Checkpoint | None:
    """Step 2.

    A checkpoint that is not believed still says what the proofs were made for, so that other faults show too.
    """
    try:
        return signed_notes.open_checkpoint(note, trust.log_keys)
    except OtherKey:
        checkpoint = parse(read_note(note).text)
        said = records_verdict.other_log_key(checkpoint.origin, trust.log_keys)
        notes.other_key("other-log-key", PlaceInFile(), said)
        return checkpoint
    except BaileeError as error:
        notes.fault(2, error.code, PlaceInFile(), error.sentence)
    try:
        return parse(read_note(note).text)
    except BaileeError:
        return None


def _open_ends(bundle: Bundle, checkpoint: Checkpoint | None, trust: Trust, notes: Notes) -> Ends | None:
    """Step 2.

    Under a checkpoint that is not believed, what was said of ends is looked at all the same; it must be of
    the same key.
    """
    try:
        if notes.faults:
            found = ends.read(read_note(bundle.ends).text)
        elif notes.other_keys:
            found = _of_one_key(bundle)
        else:
            found = signed_notes.open_ends(bundle.ends, trust.log_keys)
    except BaileeError as error:
        notes.fault(2, "ends", PlaceInFile(), error.sentence)
        return None
    if checkpoint and found.checkpoint != checkpoint:
        said = (
            f"The log's signed list of chain ends is about {found.checkpoint.size} entries, and the"
            f" checkpoint about {checkpoint.size}."
        )
        notes.fault(2, "ends-of-another", PlaceInFile(), said)
        return None
    return found


def _of_one_key(bundle: Bundle) -> Ends:
    """Where chains end, in a file whose log key the auditor did not bring.

    Raises `Malformed`, `Broken` for one of two logs.
    """
    checkpoint, said = read_note(bundle.note), read_note(bundle.ends)
    signing = [
        {line.key_id for line in note.signatures if line.name == parse(checkpoint.text).origin}
        for note in (checkpoint, said)
    ]
    if signing[0] != signing[1]:
        raise Broken(
            "The checkpoint and the log's signed list of chain ends are not signed by the same key: they are"
            " of two logs.",
            code="ends",
        )
    return ends.read(said.text)


def _state(notes: Notes, *, complete: bool) -> State:
    if notes.faults:
        return BROKEN
    if notes.other_keys:
        return NOT_YOURS
    if notes.unknown:
        return NOT_UNDERSTOOD
    return COSIGNED if complete else INTACT


def _believed(heard: Iterable[Heard]) -> dict[str, list[Recorded]]:
    """Statements that may count, by chain and number; of two with one number the first in the log."""
    chains: dict[str, dict[int, Recorded]] = {}
    for each in heard:
        if each.recorded:
            chains.setdefault(each.recorded.chain, {}).setdefault(each.recorded.n, each.recorded)
    return {chain: [found[n] for n in sorted(found)] for chain, found in chains.items()}


def _require_chains(
    number: str,
    form: Form | None,
    items: Iterable[ReadEntry],
    told: Iterable[ClaimedEntry],
    ended: Ends | None,
    notes: Notes,
) -> None:
    """Step 4, second half: the chains the form leans on.

    Who signs must be here. A lot or a party that is only named may never have been recorded, which is no
    forgery: then the log says so, and the rules judge the sample without it.
    """
    here = {item.entry.chain for item in items}
    spoken_of = ended.chains if ended else {}
    missed = {chain for chain, end in spoken_of.items() if end.n}  # `check_ends` names them
    if f"form/{number}" not in here | missed:
        said = f"There is no entry of form/{number}: this is the file of another form, or of none."
        notes.fault(4, "chain-missing", PlaceInFile(chain=f"form/{number}"), said)
    signing = {f"org/{each.statement.claims.iss}" for each in told}
    for chain in sorted(signing - here - missed):
        notes.fault(
            4,
            "chain-missing",
            PlaceInFile(chain=chain),
            f"Keys of {chain} sign here, and its entries are not in this file.",
        )
    for chain in sorted(_named(form) - here - signing - spoken_of.keys() if form else ()):
        said = (
            f"{chain} is referred to here, is not in this file, and the log's signed list does not"
            " exclude it."
        )
        notes.fault(4, "chain-missing", PlaceInFile(chain=chain), said)


def _named(form: Form) -> set[str]:
    parties = form.opened.of(Opened).parties
    lots_used = {f"lot/{sample.lot}" for sample in form.samples.values() if sample.lot}
    return lots_used | {f"org/{parties.firm}", f"org/{parties.lab}"}


def _case(number: str, chains: Mapping[str, Sequence[Recorded]], replay: Replay, at: Moment) -> Case:
    """Everything the rules may look at; without its first entry a chain has no meaning and is left out."""
    whole = {chain: entries for chain, entries in chains.items() if _begins(entries[0])}
    form = whole.get(f"form/{number}")
    return Case(
        at=at,
        forms={number: forms.fold(number, form, _owners(replay), _roles(replay))} if form else {},
        lots={
            chain.removeprefix("lot/"): lots.fold(found)
            for chain, found in whole.items()
            if chain.startswith("lot/")
        },
        organizations=_as_of_sealing(replay),
    )


def _owners(replay: Replay) -> dict[str, str]:
    return {kid: one for org in replay.organizations.values() for kid, one in org.owners.items()}


def _roles(replay: Replay) -> dict[str, str]:
    return {kid: role for org in replay.organizations.values() for kid, role in org.roles.items()}


def _begins(entry: Recorded) -> bool:
    return entry.n == 1 and entry.row.opens


def _as_of_sealing(replay: Replay) -> dict[str, Organization]:
    """Organizations with all their keys, and with the policy and calendars by which the form's envelope was
    last sealed.

    A later policy must not change what was found when the clerk asked. Before any sealing the newest ones
    count.
    """
    then = replay.sealed_under
    return {
        org: (
            replace(
                state,
                policy=then[org].policy,
                policy_n=then[org].policy_n,
                calendars=then[org].calendars,
                hours_rec=then[org].hours_rec,
            )
            if org in then
            else state
        )
        for org, state in replay.organizations.items()
    }


def _index(place: PlaceInFile) -> int:
    return -1 if place.index is None else place.index
