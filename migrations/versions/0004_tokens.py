"""Time stamps by outside authorities, beside the tree heads they are over."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "token",
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("der", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("size", name="pk_token"),
    )


def downgrade() -> None:
    raise NotImplementedError("a ledger is never taken apart; restore a backup instead")
