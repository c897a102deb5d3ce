"""Statements of administration that were refused, each of which explains a missing number of its device."""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "refused",
        sa.Column("kid", sa.String(43), nullable=False),
        sa.Column("digest", sa.String(43), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("rec", sa.String(24), nullable=False),
        sa.PrimaryKeyConstraint("kid", "digest", name="pk_refused"),
    )


def downgrade() -> None:
    raise NotImplementedError("a ledger is never taken apart; restore a backup instead")
