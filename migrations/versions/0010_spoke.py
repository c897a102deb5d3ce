"""Whether a party has ever said anything on its chain, or was only named there: an index, made anew by
`rebuild`.
"""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("party") as party:
        party.add_column(sa.Column("spoke", sa.Boolean(), nullable=False, server_default=sa.false()))
    op.execute(
        "UPDATE party SET spoke = true WHERE (org, chain_id) IN (SELECT signer.org, entry.chain_id FROM"
        " signer JOIN statement ON statement.signer_id = signer.id JOIN entry ON entry.id ="
        " statement.entry_id)"
    )


def downgrade() -> None:
    raise NotImplementedError("a ledger is never taken apart; restore a backup instead")
