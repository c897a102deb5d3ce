"""Registering statements: the only way anything enters the ledger.

For each statement, in the order sent:

1. `signed_statement.read`: canonical text, strict claims;
2. `key_lookup.public_of`: the key it names is enrolled with the organization it claims;
3. `signed_statement.open_with`: the signature holds, the disclosures fit;
4. `statements.parse`: the act is well formed, all faults at once;
5. `authorization.require`: this key may say this here;
6. `log.append`: it continues its device and its chain; durable when the transaction ends.

1 to 4 run before the write lock is taken; 5 and 6 inside it, on the state as it then is. Every statement gets
an answer of its own; one refusal stops nobody else. A true bad fact is never refused: whether it is in order
is for the rules, afterwards. An exception of a rule that does not exist or may not be excepted is no fact at
all, and is refused.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from os import cpu_count
from typing import Final

from sqlalchemy.engine import Connection

from bailee.domain import authorization, organizations, statements
from bailee.domain.acts import mentions
from bailee.domain.acts.form import Copied, Corrected, Excepted
from bailee.domain.acts.lot import Issued
from bailee.domain.acts.organization import CalendarSet, Enrolled, Founded, Recovered, Rotated
from bailee.domain.acts.privacy import Erased
from bailee.domain.acts.table import ROWS, name_of
from bailee.domain.facts import Facts, plain
from bailee.domain.fields import EDITION
from bailee.domain.opening_hours.calendars import Calendar
from bailee.domain.organizations import Key, Organization
from bailee.errors import NOT_KNOWN, BadStatement, BaileeError, Forged
from bailee.frozen import frozen
from bailee.ledger.base64url import b64u, unb64u
from bailee.operations import erasing, kept_evidence
from bailee.operations.publishing.freeze import Guard
from bailee.operations.snapshots import Books
from bailee.rules import exceptions
from bailee.signing import key_lookup, key_proof, keys, recording, signed_statement
from bailee.signing.signed_statement import SignedStatement, Unverified
from bailee.store import log, number_index, tree
from bailee.store.database import Database
from bailee.store.founding import is_admitted
from bailee.store.log import Logged

_ROOTS_KEPT: Final = 64
"""Roots of past sizes remembered: devices name the newest checkpoint they saw, so few sizes are asked about
at once."""
_AT_A_TIME: Final = 2**18
"""Characters of statements in one transaction: 500 hand-overs of an ordinary size, 40 envelopes of 500
cassettes."""
_THREADED_FROM: Final = 8
"""Below this many statements a thread costs more than it saves; Ed25519 releases the interpreter lock."""

_NOT_ITS_HOLDER: Final = frozenset({"bad-signature", "wrong-key-name", "weak-key", "bad-key"})
"""What whoever has read the name of a key can bring about, and nobody who holds it."""


@frozen
class Submission:
    """One signed statement and the private fields that go with it."""

    text: str
    disclosures: tuple[str, ...] = ()


@frozen
class Outcome:
    """What became of it: an entry (new, or the one it already had), or the reason why not.

    `amends`: it corrects or excepts something, so whether it counts is worth saying (`amendments.notes`).
    """

    logged: Logged | None = None
    again: bool = False
    gap: int = 0
    problem: BaileeError | None = None
    amends: bool = False


@frozen
class _Read:
    """A submission after `signed_statement.read`: what it claims, or why it cannot be read."""

    submission: Submission
    unverified: Unverified | None = None
    problem: BaileeError | None = None

    @property
    def speaks_of_keys(self) -> bool:
        return self.unverified is not None and self.unverified.claims.sub.startswith("org/")


NOT_ADMITTED: Final = (
    "This ledger takes only organizations its operator has admitted: send the operator your root key's ID,"
    " {kid}."
)


@frozen
class _Checked:
    submission: Submission
    unverified: Unverified
    signed: SignedStatement
    body: Facts


class Register:
    """The front door of one log.

    `open_founding`: whether any key may found an organization, or only admitted ones.

    `own_kid` is the name of the log's own key, which never signs for a person.
    """

    def __init__(
        self,
        database: Database,
        guard: Guard,
        books: Books,
        require_current: Callable[[], None],
        origin: str,
        *,
        open_founding: bool,
        own_kid: str = "",
    ) -> None:
        self._database = database
        self._guard = guard
        self._books = books
        self._require_current = require_current
        self._origin = origin
        self._open_founding = open_founding
        self.own_kid = own_kid
        self._roots: dict[int, str] = {}

    def register(self, submissions: Sequence[Submission], now: datetime) -> list[Outcome]:
        """Answers in the order of `submissions`.

        Raises only `Unavailable`: then what came before may be stored, and is told when sent again.
        """
        self._require_current()
        answers: list[Outcome] = []
        group: list[_Read] = []
        size = 0
        for read in map(_read, submissions):
            group.append(read)
            size += len(read.submission.text)
            # What follows may be signed by a key that this one enrolls; and others wait for the end of a
            # transaction.
            if read.speaks_of_keys or size >= _AT_A_TIME:
                answers += self._register_group(group, now)
                group, size = [], 0
        return answers + (self._register_group(group, now) if group else [])

    def _register_group(self, group: Sequence[_Read], now: datetime) -> list[Outcome]:
        orgs = self._organizations(group)
        if len(group) < _THREADED_FROM:
            checked = [self._check(each, orgs) for each in group]
        else:
            with ThreadPoolExecutor(cpu_count()) as pool:
                checked = list(pool.map(lambda each: self._check(each, orgs), group))
        if not any(isinstance(each, _Checked) for each in checked):
            return [Outcome(problem=each) for each in checked if isinstance(each, BaileeError)]
        return self._database.write(lambda connection: self._append_all(connection, checked, now))

    def _organizations(self, group: Sequence[_Read]) -> dict[str, Organization | None]:
        """States that hold every key the group names, if any does.

        Keys never change, so remembered ones will do.
        """
        named = [each.unverified for each in group if each.unverified]
        found = {each.claims.iss: self._books.remembered(each.claims.iss) for each in named}
        strange = {each.claims.iss for each in named if each.kid not in _keys(found[each.claims.iss])}
        if strange:
            with self._database.reading() as connection:
                found |= {org: self._books.organization(connection, org) for org in strange}
        return found

    def _check(self, read: _Read, orgs: dict[str, Organization | None]) -> _Checked | BaileeError:
        try:
            if read.unverified is None:
                assert read.problem is not None
                return read.problem
            claims = read.unverified.claims
            if claims.aud != self._origin:
                raise Forged(
                    f"This entry is for {claims.aud}, and this ledger is {self._origin}.",
                    code="wrong-audience",
                )
            if claims.act == name_of(Founded):
                self._require_admitted(read.unverified.kid, orgs.get(claims.iss))
            signed = self._opened(read.unverified, read.submission, orgs.get(claims.iss))
            body = statements.parse(claims.sub, claims.act, claims.data)
            _require_usable(signed, body)
            return _Checked(read.submission, read.unverified, signed, body)
        except BaileeError as error:
            return _too_new(error) if error.code == NOT_KNOWN else error

    def _append_all(
        self, connection: Connection, checked: Sequence[_Checked | BaileeError], now: datetime
    ) -> list[Outcome]:
        self._guard.require(connection)
        heads = {
            name: log.lock_chain(connection, name)
            for name in sorted({each.signed.claims.sub for each in checked if isinstance(each, _Checked)})
        }
        answers = []
        for each in checked:
            if isinstance(each, BaileeError):
                answers.append(Outcome(problem=each))
                continue
            chain = each.signed.claims.sub
            try:
                answer, heads[chain] = self._append(connection, heads[chain], each, now)
            except BaileeError as error:
                answer = Outcome(problem=error)
                self._keep(connection, heads[chain], each, error, now)
            answers.append(answer)
        return answers

    def _append(
        self, connection: Connection, head: log.Head, checked: _Checked, now: datetime
    ) -> tuple[Outcome, log.Head]:
        signer = log.device(connection, checked.signed)
        already = log.find_again(connection, signer, checked.signed)
        amends = isinstance(checked.body, Corrected | Excepted)
        if already is not None:
            return Outcome(already, again=True, amends=amends), head
        self._require_standing(connection, head, checked)
        if head.length and _opens(
            checked
        ):  # last: whoever has not opened it learns of a number no sooner than by taking it
            log.require_next(connection, log.Head(), signer, checked.signed)
            raise authorization.begun(checked.signed.claims.sub)
        kept = checked.submission.disclosures
        erasure = None
        if isinstance(checked.body, Erased):
            erasure, kept = erasing.require(connection, self._books, checked.signed, checked.body), ()
        done = log.append(connection, head, signer, checked.signed, kept, now)
        if done.refused:
            kept_evidence.after_recording(connection, self._books, checked.signed, now)
        if erasure:
            erasure.done(connection)
        assert done.head.chain_id is not None
        told = recording.told(done.entry, done.logged.leaf, checked.unverified, checked.body)
        number_index.index(connection, done.head.chain_id, told)
        return Outcome(done.logged, gap=done.gap, amends=amends), done.head

    def _keep(
        self, connection: Connection, head: log.Head, checked: _Checked, refused: BaileeError, now: datetime
    ) -> None:
        """Keep a contradiction that this key could have said here; what comes after its end is its
        organization's affair alone.

        What would begin a chain is kept whether or not it has begun: the list would tell which numbers others
        use. An act of administration that shows by itself why it was refused is kept too: it explains the
        number that it has used up, unless its key has signed another text under that number.
        """
        why = refused
        if refused.code == "device-fork":
            try:
                self._require_standing(connection, head, checked)
            except BaileeError as error:
                why = error
        kept_evidence.after_refusal(connection, self._books, checked.signed, refused, why, now)

    def _require_standing(self, connection: Connection, head: log.Head, checked: _Checked) -> None:
        claims = checked.signed.claims
        if claims.seen is not None:
            # First of all: where entries were lost, whatever else is missing is missing for that reason.
            self._require_seen(connection, claims.seen)
        speech = authorization.Speech(
            checked.signed.kid, claims.iss, claims.sub, claims.act, claims.seq, checked.body
        )
        # Held steady, so that a revocation cannot slip in before this statement and get the lower index.
        organization = self._books.organization(connection, claims.iss, steady=True)
        owners = number_index.parties(connection, claims.sub)
        length = 0 if _opens(checked) else head.length
        authorization.require(speech, organization, length=length, owners=owners)
        require_own_key(checked.body, organization, self.own_kid)
        if organization and claims.sub.startswith("form/") and not _opens(checked):
            self._require_spoken(connection, claims.sub, organization, checked.signed.kid)
        if isinstance(checked.body, Issued):
            _require_new_numbers(connection, claims.iss, checked.body)
        if isinstance(checked.body, Excepted):
            exceptions.require(checked.body.rule)
        require_own_result(connection, self._books, claims.iss, claims.sub, checked.body)

    def _require_spoken(
        self, connection: Connection, chain: str, organization: Organization, kid: str
    ) -> None:
        """A key that was lost is not the first to speak for its organization on a form that others opened:
        that would open its chains to them.
        """
        key = organization.keys.get(kid)
        if key is None or key.revocation is None or key.revocation.successor:
            return
        opened, *more = self._books.entries(connection, chain)
        said = [each for each in more if each.org == organization.id]
        if opened.org == organization.id:  # a whole visit that comes late from a basement
            return
        if not any(not authorization.doubt(organization.keys[each.kid], each) for each in said):
            raise Forged(
                f"The key {kid[:8]}… was revoked, and {organization.id} has no entry on this form yet. A"
                f" person of {organization.id} with a valid key signs an entry on it; then send this again.",
                code="not-spoken",
                kid=kid,
            )

    def _require_admitted(self, kid: str, named: Organization | None) -> None:
        """Who was not admitted is sent away before anything is computed or locked, and does not learn which
        names are taken.

        The operator's word is never taken back: what is true here stays true. A root that founded while
        founding was open may repeat it.
        """
        if self._open_founding or (named and kid in named.keys):
            return
        with self._database.reading() as connection:
            if is_admitted(connection, kid):
                return
        raise _not_admitted(kid)

    def _opened(
        self, unverified: Unverified, submission: Submission, organization: Organization | None
    ) -> SignedStatement:
        """The statement, its signature checked.

        Who does not hold the key learns neither whose it is nor that it is known here.
        """
        try:
            public = key_lookup.public_of(unverified, organization)
            return signed_statement.open_with(unverified, public, submission.disclosures)
        except BaileeError as error:
            if error.code not in _NOT_ITS_HOLDER:
                raise
            is_founding = unverified.claims.act == name_of(Founded)
            if is_founding and self._open_founding:
                raise
            raise (
                _not_admitted(unverified.kid) if is_founding else key_lookup.unknown(unverified)
            ) from error

    def _require_seen(self, connection: Connection, seen: signed_statement.Seen) -> None:
        """The tree head a device says it saw must be one of this log's own: otherwise one of the two has lost
        something.
        """
        known = self._roots.get(seen.size)
        if known is None:
            found = tree.root_at(connection, seen.size)
            known = b64u(found) if found is not None else ""
            if known:
                self._roots = {**dict(list(self._roots.items())[-_ROOTS_KEPT:]), seen.size: known}
        if known != seen.root:
            raise Forged(
                f"This device saw the log with {seen.size} entries in a state that this ledger never had."
                " Nothing was recorded; leave the device as it is and call the operator: the ledger may have"
                " lost entries.",
                code="unknown-head",
                size=seen.size,
            )


def _read(submission: Submission) -> _Read:
    try:
        return _Read(submission, signed_statement.read(submission.text))
    except BaileeError as error:
        return _Read(submission, problem=error)


def _too_new(error: BaileeError) -> BaileeError:
    """What this program has no word for is not kept: nobody here could judge what leans on it."""
    return BadStatement(
        f"{error.sentence} This ledger knows edition {EDITION} of the rule book. Unless that is a slip, a"
        " newer program wrote it: nothing was recorded and nothing is lost. Ask the ledger's operator for"
        " the newer program, and send it again.",
        code=error.code,
        **error.facts,
    )


def _opens(checked: _Checked) -> bool:
    return ROWS[checked.signed.claims.act].opens


def _keys(organization: Organization | None) -> Mapping[str, Key]:
    return organization.keys if organization else {}


def require_own_result(connection: Connection, books: Books, org: str, chain: str, body: Facts) -> None:
    """As `authorization.require_own_result` says. Raises `Forged`."""
    if isinstance(body, Copied):
        opening = next((each.body for each in books.entries(connection, chain)), None)
        authorization.require_own_result(body, org, opening)


def require_own_key(body: Facts, organization: Organization | None, own_kid: str) -> None:
    """A key that begins to speak must be one person's and new here (SI-05), and not the service's own
    (SI-14).

    Enrolling a known key once more is heard only to say how its owner was identified, when nobody has said
    so. Raises `Forged`.
    """
    if not isinstance(body, Enrolled | Rotated | Recovered | Founded):
        return
    kid = keys.kid_of(unb64u(body.jwk.x)) if isinstance(body, Founded) else body.kid
    if kid == own_kid:
        raise Forged(
            "This is the ledger's own key. A service never signs for a person: let the person's device make a"
            " key.",
            code="service-key",
            kid=kid,
        )
    if organization is None or kid not in organization.keys:
        return
    if not (isinstance(body, Enrolled) and organizations.is_identity_check(organization, body)):
        raise Forged(
            f"The key {kid[:8]}… is enrolled with {organization.id} already, for {organization.person(kid)}:"
            " one key is one person's. Let the other person's device make a key of its own.",
            code="key-taken",
            kid=kid,
        )


def _not_admitted(kid: str) -> Forged:
    return Forged(
        NOT_ADMITTED.format(kid=kid),
        code="not-admitted",
        kid=kid,
    )


def _require_usable(signed: SignedStatement, body: Facts) -> None:
    """What a key or a calendar brings must be usable before anybody relies on it."""
    match body:
        case Founded():
            pass  # its key has just checked its own signature
        case Enrolled() | Rotated() | Recovered():
            public = keys.public_bytes(plain(body.jwk))
            keys.require_name(public, body.kid)
            key_proof.check(body.proof, body.kid, public, signed.claims.iss, signed.claims.aud)
        case CalendarSet():
            Calendar.from_data(body.calendar)


def _require_new_numbers(connection: Connection, org: str, body: Issued) -> None:
    """No organization issues a number twice.

    What another one issued under it is no reason: a stranger could take it first.
    """
    spoken = number_index.of(connection, body.samples, org, {org})
    taken = {mention.number for mention in spoken if mention.what == mentions.ISSUED}
    if taken or len(set(body.samples)) < len(body.samples):
        raise Forged(
            "These sample numbers were issued before and can never be issued again:"
            f" {', '.join(sorted(taken)) or 'twice here'}.",
            code="number-taken",
            numbers=sorted(taken),
        )
