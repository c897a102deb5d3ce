"""One row says how large the log is and who may go on writing it.

Hosts that serve the log are known to each other.
"""

import hashlib

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    state = op.create_table(
        "log_state",
        sa.Column("id", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("root", sa.LargeBinary(32), nullable=False),
        sa.Column("epoch", sa.BigInteger(), nullable=False),
        sa.Column("holder", sa.String(40), nullable=False),
        sa.Column("host", sa.String(40), nullable=False),
        sa.Column("until", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_log_state"),
    )
    head = sa.table("tree_head", sa.column("size"), sa.column("root"))
    newest = op.get_bind().execute(sa.select(head).order_by(head.c.size.desc()).limit(1)).one_or_none()
    size, root = newest or (0, hashlib.sha256().digest())  # RFC 9162 2.1.1: the empty tree
    first = {"id": 1, "size": size, "root": root, "epoch": 0, "holder": "", "host": "", "until": 0}
    op.bulk_insert(state, [first])
    op.create_table(
        "host",
        sa.Column("id", sa.String(40), nullable=False),
        sa.Column("until", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_host"),
    )
    op.drop_table("lease")


def downgrade() -> None:
    raise NotImplementedError("a ledger is never taken apart; restore a backup instead")
