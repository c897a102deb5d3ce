"""Statements that contradict what their device said before, kept as evidence beside the log."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "conflict",
        sa.Column("signer_id", ID, sa.ForeignKey("signer.id", name="fk_conflict_signer_id"), nullable=False),
        sa.Column("digest", sa.String(43), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("chain", sa.String(80), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("rec", sa.String(24), nullable=False),
        sa.PrimaryKeyConstraint("signer_id", "digest", name="pk_conflict"),
    )
    op.create_index("ix_conflict_chain", "conflict", ["chain"])


def downgrade() -> None:
    raise NotImplementedError("a ledger is never taken apart; restore a backup instead")
