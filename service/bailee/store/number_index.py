"""Where each scanned number is spoken of, and which organizations may see a chain: an index, rebuildable from
the entries.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from datetime import date, datetime
from hashlib import sha256
from typing import Any, Final

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from bailee.domain.acts import mentions
from bailee.domain.acts.form import Collected, Forwarded
from bailee.domain.acts.surface import SurfaceCollected
from bailee.domain.statements import Recorded
from bailee.frozen import frozen
from bailee.ledger import entry as entries
from bailee.ledger.base64url import b64u
from bailee.signing import signed_statement
from bailee.store import opened, schema, unanswered
from bailee.store.prepared import PreparedQuery

_NAME: Final = 40
"""Characters of a key's name that are kept here: 240 bits of it tell it from every other."""


@frozen
class Mention:
    """A number, the chain and entry that speak of it, in what way, the number it is tied to there, and the
    organization that says so.

    `since`: the entry of the chain by which whoever asks may see it; None when they may not.
    """

    number: str
    chain: str
    n: int
    what: str
    other: str | None
    org: str
    since: int | None


@frozen
class Use:
    """A form that used a lot: who says so, the sample (None: a correction says it, and only the form knows),
    where it lay, what it became.
    """

    chain: str
    n: int
    org: str
    sample: str | None
    envelopes: tuple[str, ...]
    child: str | None


def index(connection: Connection, chain_id: int, entry: Recorded) -> None:
    """Enter one new statement into the index."""
    for_nothing = _is_for_nothing(connection, chain_id, entry)
    for org in () if for_nothing else entry.row.admits(entry.body, entry.org):
        known = schema.party.select().where(schema.party.c.org == org, schema.party.c.chain_id == chain_id)
        if connection.execute(known).first() is None:
            made = {"org": org, "chain_id": chain_id, "n": entry.n, "named_by": entry.org}
            connection.execute(schema.party.insert().values(made))
    _SPEAKS.rows(connection, speaker=entry.org, chain=chain_id)
    if for_nothing:
        return
    rows = [
        {"number": number, "chain_id": chain_id, "n": entry.n, "what": what, "other": other, "org": entry.org}
        for number, what, other in sorted(set(_mentions(entry)), key=str)
    ]
    _ENTER.for_each(connection, rows)
    unanswered.note(connection, chain_id, entry)


def _is_for_nothing(connection: Connection, chain_id: int, entry: Recorded) -> bool:
    """Whether it names numbers and parties that no one will know: a sampling firm sends nothing on, and it
    alone collects.
    """
    match entry.body:
        case Forwarded():
            return not opened.parties(connection, chain_id).answers(entry.org)
        case Collected() | SurfaceCollected():
            return opened.parties(connection, chain_id).firm != entry.org
    return False


def of(
    connection: Connection, numbers: Sequence[str], asker: str, said_by: Collection[str] | None = None
) -> list[Mention]:
    """Mentions of any of the numbers in the order of recording, and whether `asker` may see each.

    By these organizations; or by all, and then only of numbers of which `asker` sees something: of others
    nothing is read, so that they cost no more than what is nowhere.
    """
    asked: dict[str, Any] = {"numbers": list(numbers), "asker": asker}
    query = _SPOKEN if said_by is None else _SPOKEN_BY
    if said_by is not None:
        asked["said_by"] = sorted(said_by)
    return [
        Mention(row.number, row.name, row.n, row.what, row.other, row.org, row.since)
        for row in connection.execute(query, asked)
    ]


def recorded(connection: Connection, mentions: Sequence[Mention]) -> dict[Mention, date]:
    """The days (UTC) on which the entries behind mentions were recorded. One question."""
    entry, wanted = schema.entry.c, sorted({(each.chain, each.n) for each in mentions})
    query = (
        sa.select(schema.chain.c.name, entry.n, entry.text)
        .join(schema.chain)
        .where(sa.tuple_(schema.chain.c.name, entry.n).in_(wanted))
    )
    days = {
        (row.name, row.n): datetime.fromisoformat(entries.read(row.text).rec).date()
        for row in connection.execute(query)
    }
    return {each: days[each.chain, each.n] for each in mentions}


def ever_retained(connection: Connection, org: str) -> list[str]:
    """Numbers of forms on which an organization spoke and whose private fields somebody has ever held.

    Whether one is held now only the form knows.
    """
    query = (
        sa.select(schema.chain.c.name)
        .join(schema.mention)
        .join(schema.party, schema.party.c.chain_id == schema.chain.c.id)
        .where(schema.mention.c.number == _RETENTION, schema.mention.c.what == mentions.HELD)
        .where(schema.party.c.org == org, schema.party.c.spoke)
        .distinct()
    )
    return [name.removeprefix("form/") for name in connection.execute(query).scalars()]


def erased(
    connection: Connection, org: str, known: Collection[str], limit: int
) -> Iterator[tuple[str, str, datetime]]:
    """Of the newest so many erasures on forms on which an organization spoke, or that one of these opened:
    the form, the statement whose private fields went, and when it was recorded.
    """
    party = schema.party.c
    query = (
        sa.select(schema.chain.c.name, schema.entry.c.text)
        .select_from(
            schema.mention.join(schema.party, party.chain_id == schema.mention.c.chain_id)
            .join(
                schema.entry,
                (schema.entry.c.chain_id == schema.mention.c.chain_id)
                & (schema.entry.c.n == schema.mention.c.n),
            )
            .join(schema.chain, schema.chain.c.id == schema.mention.c.chain_id)
        )
        .where(schema.mention.c.number == _ERASURE, schema.mention.c.what == mentions.ERASED)
        .where(party.org == org, party.spoke | party.named_by.in_(sorted(known)))
        .order_by(schema.entry.c.id.desc())
    )
    for name, text in connection.execute(query.limit(limit)):
        entry = entries.read(text)
        statement = signed_statement.read(entry.stmt).claims.data["statement"]
        yield name.removeprefix("form/"), statement, datetime.fromisoformat(entry.rec)


def uses(connection: Connection, lot: str, asker: str) -> list[Use]:
    """Every use of a lot on forms that `asker` may see, by form and entry; who says the same of a sample
    again says nothing new.

    Of other forms nothing is read; and what is said of a sample in one way is read beside what is said in
    another, never times it.
    """
    asked = {"lot": lot, "asker": asker}
    envelopes: dict[tuple[str, str], dict[str, None]] = {}
    children: dict[tuple[str, str], str] = {}
    for row in connection.execute(_BECAME, asked):
        if row.what == mentions.PACKED:
            envelopes.setdefault((row.name, row.number), {})[row.other] = None
        else:
            children.setdefault((row.name, row.number), row.other)
    found: dict[tuple[str, str, str | None], Use] = {}
    for row in connection.execute(_USES, asked):
        place = row.name, row.other or ""
        if (who := (row.name, row.org, row.other)) not in found:
            lay = tuple(envelopes.get(place, ()))
            found[who] = Use(row.name, row.n, row.org, row.other, lay, children.get(place))
    return list(found.values())


def parties_of(connection: Connection, chains: Sequence[str]) -> dict[str, frozenset[str]]:
    """By chain: the organizations that may read and write it."""
    query = (
        sa.select(schema.chain.c.name, schema.party.c.org)
        .join(schema.party)
        .where(schema.chain.c.name.in_(sorted(set(chains))))
    )
    found: dict[str, set[str]] = {}
    for row in connection.execute(query):
        found.setdefault(row.name, set()).add(row.org)
    return {chain: frozenset(orgs) for chain, orgs in found.items()}


def seen_by(org: str) -> sa.ColumnElement[bool]:
    """Of chains: those that the organization may see.

    That of another organization once that has spoken on a form that both see.
    """
    return _seen_by(sa.literal(org))


def is_visible(connection: Connection, chain: str, org: str) -> bool:
    """Whether the organization may see the chain; not, when there is none."""
    return _VISIBLE.row(connection, chain=chain, org=org) is not None


def parties(connection: Connection, chain: str) -> frozenset[str]:
    """Organizations that may read and write the chain; empty for an unknown chain."""
    return frozenset(org for (org,) in _PARTIES.rows(connection, chain=chain))


def handed_over(connection: Connection, samples: Collection[str], kids: Collection[str]) -> set[str]:
    """Chains of lots of which any of these samples was issued to any of these keys.

    One question, whether or not there are such lots.
    """
    table, short = schema.mention, {kid[:_NAME] for kid in kids}
    query = (
        sa.select(schema.chain.c.name, table.c.other)
        .join(schema.chain, schema.chain.c.id == table.c.chain_id)
        .where(
            table.c.number.in_(sorted(samples)), table.c.what == mentions.ISSUED, table.c.other.is_not(None)
        )
    )
    return {row.name for row in connection.execute(query) if row.other in short}


MOST_UNINVITED: Final = 5
"""Of one organization on none of whose forms this one ever spoke: it may name others on as many forms as it
likes, and was not asked to."""


def chains_of(
    connection: Connection, org: str, kind: str, limit: int, before: str | None = None, *, apart: bool = False
) -> list[str]:
    """Names of the newest chains of one kind that the organization may see; `before`: of those that began
    before this one, which it sees too.

    Of each organization that it never dealt with the newest `MOST_UNINVITED`, so that a heap of these hides
    nothing and costs little. `apart`: so many of those it dealt with and as many of all others, so that many
    others hide nothing either.
    """
    party, chain = schema.party.c, schema.chain.c
    met = party.named_by.in_(sa.select(party.named_by).where(party.org == org, party.spoke).distinct())
    place = sa.func.row_number().over(partition_by=party.named_by, order_by=chain.id.desc())
    seen = (
        sa.select(chain.name, chain.id)
        .join(schema.party)
        .where(party.org == org, chain.name.startswith(f"{kind}/"))
    )
    placed = seen.where(~met).add_columns(place.label("place")).subquery()
    groups = (
        (seen.where(met), chain.id),
        (sa.select(placed.c.name, placed.c.id).where(placed.c.place <= MOST_UNINVITED), placed.c.id),
    )
    after = seen.with_only_columns(chain.id).where(chain.name == before).scalar_subquery()
    found: dict[int, str] = {}
    for group, began in groups:
        query = group if before is None else group.where(began < after)
        found |= {row.id: row.name for row in connection.execute(query.order_by(began.desc()).limit(limit))}
    return [found[began] for began in sorted(found, reverse=True)[: None if apart else limit]]


def _seen_by(org: sa.ColumnElement[str]) -> sa.ColumnElement[bool]:
    mine, said, signer = schema.party.alias("mine"), schema.entry.alias("said"), schema.signer.alias("by")
    party = schema.party.c.chain_id == schema.chain.c.id
    shared = (
        sa.select(sa.literal(1))
        .select_from(
            mine.join(said, said.c.chain_id == mine.c.chain_id)
            .join(schema.statement, schema.statement.c.entry_id == said.c.id)
            .join(signer, signer.c.id == schema.statement.c.signer_id)
        )
        .where(mine.c.org == org, signer.c.org == sa.func.substr(schema.chain.c.name, len("org/") + 1))
        .correlate(schema.chain)
    )
    return sa.or_(
        sa.exists().where(party, schema.party.c.org == org).correlate(schema.chain),
        schema.chain.c.name == sa.literal("org/").concat(org),
        schema.chain.c.name.startswith("org/") & shared.exists(),
    )


_VISIBLE: Final = PreparedQuery(
    sa.select(schema.chain.c.id).where(
        schema.chain.c.name == sa.bindparam("chain"), _seen_by(sa.bindparam("org", type_=sa.String))
    )
)
_NUMBERS: Final[sa.BindParameter[Any]] = sa.bindparam("numbers", expanding=True)
_SINCE: Final = schema.party.alias("seen")
_SPOKEN_ANYHOW: Final = (
    sa.select(schema.mention, schema.chain.c.name, _SINCE.c.n.label("since"))
    .select_from(
        schema.mention.join(schema.chain)
        .join(
            schema.entry,
            (schema.entry.c.chain_id == schema.mention.c.chain_id) & (schema.entry.c.n == schema.mention.c.n),
        )
        .outerjoin(
            _SINCE,
            (_SINCE.c.chain_id == schema.mention.c.chain_id) & (_SINCE.c.org == sa.bindparam("asker")),
        )
    )
    .where(schema.mention.c.number.in_(_NUMBERS))
    .order_by(schema.entry.c.id)
)
_SPOKEN_BY: Final = _SPOKEN_ANYHOW.where(schema.mention.c.org.in_(sa.bindparam("said_by", expanding=True)))
_MET: Final = schema.mention.alias("met")
_HERE: Final = schema.party.alias("here")
_SPOKEN: Final = _SPOKEN_ANYHOW.where(
    schema.mention.c.number.in_(
        sa.select(_MET.c.number)
        .join(_HERE, (_HERE.c.chain_id == _MET.c.chain_id) & (_HERE.c.org == sa.bindparam("asker")))
        .where(_MET.c.number.in_(_NUMBERS))
    )
)
_ENTER: Final = PreparedQuery(schema.mention.insert())
_SPEAKS: Final = PreparedQuery(
    schema.party.update()
    .where(schema.party.c.org == sa.bindparam("speaker"), schema.party.c.chain_id == sa.bindparam("chain"))
    .where(~schema.party.c.spoke)
    .values(spoke=sa.true())
)
_USED: Final = schema.mention.alias("used")
_SEEN: Final = sa.select(schema.party.c.chain_id).where(schema.party.c.org == sa.bindparam("asker"))
_IN_LOT: Final = (
    (_USED.c.number == sa.bindparam("lot")) & (_USED.c.what == mentions.USED) & _USED.c.chain_id.in_(_SEEN)
)
_USES: Final = (
    sa.select(schema.chain.c.name, _USED.c.n, _USED.c.org, _USED.c.other)
    .join(schema.chain, schema.chain.c.id == _USED.c.chain_id)
    .where(_IN_LOT)
    .order_by(_USED.c.chain_id, _USED.c.n)
)
_SAMPLES: Final = sa.select(_USED.c.other, _USED.c.chain_id).where(_IN_LOT).distinct().subquery()
_BECAME: Final = (
    sa.select(schema.chain.c.name, schema.mention.c.number, schema.mention.c.what, schema.mention.c.other)
    .select_from(
        _SAMPLES.join(
            schema.mention,
            (schema.mention.c.number == _SAMPLES.c.other)
            & (schema.mention.c.chain_id == _SAMPLES.c.chain_id),
        ).join(schema.chain, schema.chain.c.id == _SAMPLES.c.chain_id)
    )
    .where(schema.mention.c.what.in_((mentions.PACKED, mentions.SENT_ON)))
    .order_by(schema.mention.c.chain_id, schema.mention.c.n)
)
_PARTIES: Final = PreparedQuery(
    sa.select(schema.party.c.org).join(schema.chain).where(schema.chain.c.name == sa.bindparam("chain"))
)


def lab_number(name: str) -> str:
    """The name under which a laboratory's own number is indexed, of `mentions.lab_number`: as long as it may
    be.
    """
    return _digest(name)


def seal(name: str) -> str:
    """The name under which the number of a seal is indexed, of `mentions.own_seal`."""
    return _digest(f"seal/{name}")


def airbill(name: str) -> str:
    """The name under which a tracking number is indexed, of `mentions.airbill`: as long as it may be."""
    return _digest(f"airbill/{name}")


def serial(name: str) -> str:
    """The name under which a cassette's serial is indexed, of `mentions.glass`: as long as it may be."""
    return _digest(f"serial/{name}")


def run(name: str) -> str:
    """The name under which a pump's run is indexed, of `mentions.runs`: as long as it may be."""
    return _digest(f"run/{name}")


def again(name: str) -> str:
    """The name under which a sample that was collected again is indexed, of `mentions.again`."""
    return _digest(f"again/{name}")


def _digest(name: str) -> str:
    return b64u(sha256(name.encode()).digest())[:_NAME]


_RETENTION: Final = _digest(mentions.RETENTION)
"""Nobody prints this on a seal."""
_ERASURE: Final = _digest(mentions.ERASURE)

_INDEXED: Final[Mapping[str, Callable[[str], str]]] = {
    mentions.NUMBERED: lab_number,
    mentions.SEAL: seal,
    mentions.AIRBILL: airbill,
    mentions.SERIAL: serial,
    mentions.HELD: _digest,
    mentions.ERASED: _digest,
    mentions.RUN: run,
    mentions.REPLACED: again,
}
"""By what is said of a number: the name under which it is indexed, where that is not the number itself."""


def clear(connection: Connection) -> None:
    """Forget the index, before making it anew.

    Nobody else reads or enters anything meanwhile: an entry that is recorded beside would be missing in it.
    """
    if connection.dialect.name == "postgresql":  # SQLite has one writer
        connection.exec_driver_sql("LOCK TABLE unanswered, mention, party IN ACCESS EXCLUSIVE MODE")
    unanswered.clear(connection)
    connection.execute(schema.mention.delete())
    connection.execute(schema.party.delete())


def _mentions(entry: Recorded) -> Iterator[tuple[str, str, str | None]]:
    for number, what, other in entry.row.mentions(entry.body, entry.org):
        yield _INDEXED.get(what, _short)(number), what, other and _short(other)


def _short(number: str) -> str:
    return number[:_NAME]
