"""Tables. Four hold the evidence; the rest is an index that `rebuild` can make anew from them.

Evidence: `entry` (exact text, append-only), `disclosure` (personal fields, erasable), `tree_head`, `tile`.
Keys are chosen so that rows arrive in key order: cost stays flat as the ledger grows, and nothing random is
indexed but the names people scan.
"""

from __future__ import annotations

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
    sql,
    text,
)  # fmt: skip

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
)

# SQLite numbers rows by itself only when the column is INTEGER; PostgreSQL wants the wider type.
_Id = BigInteger().with_variant(Integer, "sqlite")

chain = Table(
    "chain",
    metadata,
    Column("id", _Id, primary_key=True, autoincrement=True),
    Column("name", String(80), nullable=False, unique=True),
    Column("length", Integer, nullable=False),
    Column("head", String(43)),
    Column("rec", String(24)),
)

entry = Table(
    "entry",
    metadata,
    Column("id", _Id, primary_key=True, autoincrement=True),
    Column("chain_id", _Id, ForeignKey("chain.id"), nullable=False),
    Column("n", Integer, nullable=False),
    Column("text", Text, nullable=False),
    Column("leaf", LargeBinary(32), nullable=False),
    Column("log_index", BigInteger, unique=True),
    UniqueConstraint("chain_id", "n"),
)
Index(
    "ix_entry_waiting",
    entry.c.id,
    sqlite_where=text("log_index IS NULL"),
    postgresql_where=text("log_index IS NULL"),
)

signer = Table(
    "signer",
    metadata,
    Column("id", _Id, primary_key=True, autoincrement=True),
    Column("kid", String(43), nullable=False, unique=True),
    Column("org", String(32), nullable=False),
)

statement = Table(
    "statement",
    metadata,
    Column("signer_id", _Id, ForeignKey("signer.id"), primary_key=True),
    Column("seq", BigInteger, primary_key=True, autoincrement=False),
    Column("entry_id", _Id, ForeignKey("entry.id"), nullable=False),
    Column("digest", String(43), nullable=False),
    Column("prev", String(43)),
    Column("signing_input", LargeBinary(32), nullable=False),
)

disclosure = Table(
    "disclosure",
    metadata,
    Column("entry_id", _Id, ForeignKey("entry.id"), primary_key=True),
    Column("position", Integer, primary_key=True, autoincrement=False),
    Column("text", Text, nullable=False),
)

conflict = Table(
    "conflict",
    metadata,
    Column("signer_id", _Id, ForeignKey("signer.id"), primary_key=True),
    Column("digest", String(43), primary_key=True),
    Column("seq", BigInteger, nullable=False),
    Column("chain", String(80), nullable=False, index=True),
    Column("text", Text, nullable=False),
    Column("rec", String(24), nullable=False),
    Column("late", Boolean, nullable=False, server_default=sql.false()),
)

refused = Table(
    "refused",
    metadata,
    Column("kid", String(43), primary_key=True),
    Column("digest", String(43), primary_key=True),
    Column("seq", BigInteger, nullable=False),
    Column("text", Text, nullable=False),
    Column("rec", String(24), nullable=False),
)

token = Table(
    "token",
    metadata,
    Column("size", BigInteger, primary_key=True, autoincrement=False),
    Column("der", LargeBinary, nullable=False),
)

tree_head = Table(
    "tree_head",
    metadata,
    Column("size", BigInteger, primary_key=True, autoincrement=False),
    Column("note", Text),
    Column("root", LargeBinary(32), nullable=False),
    Column("cosigned", Integer, nullable=False),
)
Index("ix_tree_head_cosigned", tree_head.c.cosigned, tree_head.c.size)

tile = Table(
    "tile",
    metadata,
    Column("level", Integer, primary_key=True, autoincrement=False),
    Column("place", BigInteger, primary_key=True, autoincrement=False),
    Column("hashes", LargeBinary, nullable=False),
)

log_state = Table(
    "log_state",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("size", BigInteger, nullable=False),
    Column("root", LargeBinary(32), nullable=False),
    Column("epoch", BigInteger, nullable=False),
    Column("holder", String(40), nullable=False),
    Column("host", String(40), nullable=False),
    Column("until", BigInteger, nullable=False),
)

host = Table(
    "host",
    metadata,
    Column("id", String(40), primary_key=True),
    Column("until", BigInteger, nullable=False),
)

web_session = Table(
    "web_session",
    metadata,
    Column("id", String(43), primary_key=True),
    Column("org", String(32), nullable=False),
    Column("kid", String(43), nullable=False),
    Column("until", BigInteger, nullable=False, index=True),
    Column("ended", Boolean, nullable=False, server_default=sql.false()),
)

admitted = Table("admitted", metadata, Column("kid", String(43), primary_key=True))

party = Table(
    "party",
    metadata,
    Column("org", String(32), primary_key=True),
    Column("chain_id", _Id, ForeignKey("chain.id"), primary_key=True),
    Column("n", Integer, nullable=False),
    Column("named_by", String(32), nullable=False),
    Column("spoke", Boolean, nullable=False, server_default=sql.false()),
)

Index("ix_party_chain_id", party.c.chain_id)

mention = Table(
    "mention",
    metadata,
    Column("number", String(40), primary_key=True),
    Column("chain_id", _Id, ForeignKey("chain.id"), primary_key=True),
    Column("n", Integer, primary_key=True, autoincrement=False),
    Column("what", String(10), primary_key=True),
    Column("other", String(40)),
    Column("org", String(32), nullable=False),
)

unanswered = Table(
    "unanswered",
    metadata,
    Column("chain_id", _Id, ForeignKey("chain.id"), primary_key=True),
    Column("sample", String(12), primary_key=True),
)

program_range = Table(
    "program_range",
    metadata,
    Column("id", Integer, primary_key=True, autoincrement=False),
    Column("oldest", String(4), nullable=False),
)
