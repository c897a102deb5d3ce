"""The tables of a ledger, and the locks that keep its entries append-only."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

# The application never changes or deletes an entry and does not lean on these; they stop everybody else. An
# engine without triggers may skip them. The one change allowed is giving an entry its place in the log, once.
SQLITE_LOCKS = (
    """
    CREATE TRIGGER entry_no_delete BEFORE DELETE ON entry
    BEGIN SELECT RAISE(ABORT, 'log entries are append-only'); END
    """,
    """
    CREATE TRIGGER entry_no_change BEFORE UPDATE ON entry
    WHEN OLD.log_index IS NOT NULL OR NEW.id <> OLD.id OR NEW.chain_id <> OLD.chain_id OR NEW.n <> OLD.n
      OR NEW.text <> OLD.text OR NEW.leaf <> OLD.leaf
    BEGIN SELECT RAISE(ABORT, 'log entries are append-only'); END
    """,
)
POSTGRESQL_LOCKS = (
    """
    CREATE FUNCTION entry_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
    BEGIN
      IF TG_OP = 'UPDATE' AND OLD.log_index IS NULL
         AND (NEW.id, NEW.chain_id, NEW.n, NEW.text, NEW.leaf)
          = (OLD.id, OLD.chain_id, OLD.n, OLD.text, OLD.leaf)
      THEN RETURN NEW; END IF;
      RAISE EXCEPTION 'log entries are append-only';
    END $$
    """,
    """
    CREATE TRIGGER entry_append_only BEFORE UPDATE OR DELETE ON entry
    FOR EACH ROW EXECUTE FUNCTION entry_append_only()
    """,
    """
    CREATE TRIGGER entry_no_truncate BEFORE TRUNCATE ON entry
    FOR EACH STATEMENT EXECUTE FUNCTION entry_append_only()
    """,
)


def upgrade() -> None:
    op.create_table(
        "admitted",
        sa.Column("kid", sa.String(length=43), nullable=False),
        sa.PrimaryKeyConstraint("kid", name=op.f("pk_admitted")),
    )
    op.create_table(
        "chain",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("length", sa.Integer(), nullable=False),
        sa.Column("head", sa.String(length=43), nullable=True),
        sa.Column("rec", sa.String(length=24), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_chain")),
        sa.UniqueConstraint("name", name=op.f("uq_chain_name")),
    )
    op.create_table(
        "lease",
        sa.Column("name", sa.String(length=20), nullable=False),
        sa.Column("holder", sa.String(length=40), nullable=False),
        sa.Column("until", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_lease")),
    )
    op.create_table(
        "signer",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("kid", sa.String(length=43), nullable=False),
        sa.Column("org", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_signer")),
        sa.UniqueConstraint("kid", name=op.f("uq_signer_kid")),
    )
    op.create_table(
        "tile",
        sa.Column("level", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("place", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("hashes", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("level", "place", name=op.f("pk_tile")),
    )
    op.create_table(
        "tree_head",
        sa.Column("size", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("size", name=op.f("pk_tree_head")),
    )
    op.create_table(
        "entry",
        sa.Column("id", ID, autoincrement=True, nullable=False),
        sa.Column("chain_id", ID, nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("leaf", sa.LargeBinary(length=32), nullable=False),
        sa.Column("log_index", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["chain_id"], ["chain.id"], name=op.f("fk_entry_chain_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_entry")),
        sa.UniqueConstraint("chain_id", "n", name=op.f("uq_entry_chain_id")),
        sa.UniqueConstraint("log_index", name=op.f("uq_entry_log_index")),
    )
    op.create_index(
        "ix_entry_waiting",
        "entry",
        ["id"],
        unique=False,
        sqlite_where=sa.text("log_index IS NULL"),
        postgresql_where=sa.text("log_index IS NULL"),
    )
    op.create_table(
        "mention",
        sa.Column("number", sa.String(length=40), nullable=False),
        sa.Column("chain_id", ID, nullable=False),
        sa.Column("n", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("what", sa.String(length=10), nullable=False),
        sa.Column("other", sa.String(length=40), nullable=True),
        sa.ForeignKeyConstraint(["chain_id"], ["chain.id"], name=op.f("fk_mention_chain_id")),
        sa.PrimaryKeyConstraint("number", "chain_id", "n", "what", name=op.f("pk_mention")),
    )
    op.create_table(
        "party",
        sa.Column("org", sa.String(length=32), nullable=False),
        sa.Column("chain_id", ID, nullable=False),
        sa.ForeignKeyConstraint(["chain_id"], ["chain.id"], name=op.f("fk_party_chain_id")),
        sa.PrimaryKeyConstraint("org", "chain_id", name=op.f("pk_party")),
    )
    op.create_table(
        "disclosure",
        sa.Column("entry_id", ID, nullable=False),
        sa.Column("position", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name=op.f("fk_disclosure_entry_id")),
        sa.PrimaryKeyConstraint("entry_id", "position", name=op.f("pk_disclosure")),
    )
    op.create_table(
        "statement",
        sa.Column("signer_id", ID, nullable=False),
        sa.Column("seq", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("entry_id", ID, nullable=False),
        sa.Column("digest", sa.String(length=43), nullable=False),
        sa.Column("prev", sa.String(length=43), nullable=True),
        sa.Column("signing_input", sa.LargeBinary(length=32), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name=op.f("fk_statement_entry_id")),
        sa.ForeignKeyConstraint(["signer_id"], ["signer.id"], name=op.f("fk_statement_signer_id")),
        sa.PrimaryKeyConstraint("signer_id", "seq", name=op.f("pk_statement")),
    )
    locks = {"sqlite": SQLITE_LOCKS, "postgresql": POSTGRESQL_LOCKS}.get(op.get_bind().dialect.name, ())
    for lock in locks:
        op.execute(lock)


def downgrade() -> None:
    raise NotImplementedError("a ledger is never taken apart; restore a backup instead")
