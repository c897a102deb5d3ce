"""Nothing to change: since the first release every form and every policy names its edition of the rule book.

A ledger that was begun before holds none that does, and is not read any more.
"""

import sqlalchemy as sa
from alembic import op

from bailee.errors import Unavailable

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None


def upgrade() -> None:
    if op.get_bind().execute(sa.text("SELECT 1 FROM entry LIMIT 1")).first():
        raise Unavailable(
            "This ledger was begun before the first release of Bailee, when no form named the edition of the"
            " rule book that it is judged by: no program reads it any more. Keep it with the program that"
            " wrote it, and begin a new one: `bailee init`.",
            code="before-editions",
        )


def downgrade() -> None:
    raise NotImplementedError("a ledger is never taken apart; restore a backup instead")
