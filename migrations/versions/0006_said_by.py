"""Who says what a number is mentioned for, and by which entry and whose word an organization became a party:
an index, made anew by `rebuild`.
"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    # What is here already has no name until `bailee rebuild` has read every entry again; an empty name is
    # nobody's, so nothing is believed of it.
    with op.batch_alter_table("mention") as mention:
        mention.add_column(sa.Column("org", sa.String(32), nullable=False, server_default=""))
    with op.batch_alter_table("party") as party:
        party.add_column(sa.Column("n", sa.Integer(), nullable=False, server_default="1"))
        party.add_column(sa.Column("named_by", sa.String(32), nullable=False, server_default=""))
    with op.batch_alter_table("mention") as mention:
        mention.alter_column("org", server_default=None)
    with op.batch_alter_table("party") as party:
        party.alter_column("n", server_default=None)
        party.alter_column("named_by", server_default=None)


def downgrade() -> None:
    raise NotImplementedError("a ledger is never taken apart; restore a backup instead")
