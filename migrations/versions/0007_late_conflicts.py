"""Whether a contradiction was brought after its key had ended: then it is its organization's affair alone."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("conflict", sa.Column("late", sa.Boolean(), nullable=False, server_default=sa.false()))


def downgrade() -> None:
    raise NotImplementedError("a ledger is never taken apart; restore a backup instead")
