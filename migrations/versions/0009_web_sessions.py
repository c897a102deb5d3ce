"""Who entered the pages, until when, and who left: a cookie is worth nothing after its person has left."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "web_session",
        sa.Column("id", sa.String(43), nullable=False),
        sa.Column("org", sa.String(32), nullable=False),
        sa.Column("kid", sa.String(43), nullable=False),
        sa.Column("until", sa.BigInteger(), nullable=False),
        sa.Column("ended", sa.Boolean(), nullable=False, server_default=sa.false()),
        sa.PrimaryKeyConstraint("id", name="pk_web_session"),
    )
    op.create_index("ix_web_session_until", "web_session", ["until"])


def downgrade() -> None:
    raise NotImplementedError("a ledger is never taken apart; restore a backup instead")
