"""Samples nobody has answered for yet, so that a chase list reads open forms only.

And who may see a chain, by chain.
"""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def upgrade() -> None:
    op.create_table(
        "unanswered",
        sa.Column("chain_id", ID, sa.ForeignKey("chain.id", name="fk_unanswered_chain_id"), nullable=False),
        sa.Column("sample", sa.String(12), nullable=False),
        sa.PrimaryKeyConstraint("chain_id", "sample", name="pk_unanswered"),
    )
    op.create_index("ix_party_chain_id", "party", ["chain_id"])
    # What was collected and not voided; `bailee rebuild` takes out what was answered for since.
    op.execute(
        "INSERT INTO unanswered (chain_id, sample) SELECT DISTINCT m.chain_id, m.number FROM mention AS m"
        " WHERE m.what = 'collected' AND NOT EXISTS (SELECT 1 FROM mention AS v WHERE v.number = m.number AND"
        " v.chain_id = m.chain_id AND v.what = 'voided')"
    )


def downgrade() -> None:
    raise NotImplementedError("a ledger is never taken apart; restore a backup instead")
