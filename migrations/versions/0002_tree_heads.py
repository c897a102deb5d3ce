"""A tree head is noted before it is signed: its root in a column, its note later, the number of its
cosignatures.
"""

import base64

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("tree_head") as batch:
        batch.add_column(sa.Column("root", sa.LargeBinary(32)))
        batch.add_column(sa.Column("cosigned", sa.Integer()))
        batch.alter_column("note", existing_type=sa.Text(), nullable=True)
    head = sa.table(
        "tree_head", sa.column("size"), sa.column("note"), sa.column("root"), sa.column("cosigned")
    )
    connection = op.get_bind()
    found = connection.execute(sa.select(head.c.size, head.c.note)).all()
    for row in found:
        root = base64.b64decode(
            row.note.split("\n")[2], validate=True
        )  # C2SP tlog-checkpoint: the third line
        connection.execute(head.update().where(head.c.size == row.size).values(root=root, cosigned=0))
    with op.batch_alter_table("tree_head") as batch:
        batch.alter_column("root", existing_type=sa.LargeBinary(32), nullable=False)
        batch.alter_column("cosigned", existing_type=sa.Integer(), nullable=False)
    op.create_index("ix_tree_head_cosigned", "tree_head", ["cosigned", "size"])


def downgrade() -> None:
    raise NotImplementedError("a ledger is never taken apart; restore a backup instead")
