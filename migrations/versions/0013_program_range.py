"""One row says how old a program may be that goes on with these tables: the newest migration it must know."""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    made = op.create_table(
        "program_range",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("oldest", sa.String(4), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_program_range"),
    )
    op.bulk_insert(made, [{"id": 1, "oldest": "0013"}])


def downgrade() -> None:
    raise NotImplementedError("a ledger is never taken apart; restore a backup instead")
