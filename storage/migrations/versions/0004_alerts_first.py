"""Alerts go before replies; messages that bring a file are known before they are taken"""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    # No batch: SQLite can add a column as it is, and a table made anew has its indexes in another order.
    op.add_column("outgoing_messages", sa.Column("has_file", sa.Boolean(), nullable=False, server_default=sa.false()))
    op.execute(
        "UPDATE outgoing_messages SET priority ="
        " CASE WHEN kind = 'alert' THEN 0 WHEN kind IN ('reply', 'goodbye') THEN 1 ELSE 2 END"
    )


def downgrade() -> None:
    op.execute("UPDATE outgoing_messages SET priority = CASE WHEN priority = 2 THEN 1 ELSE 0 END")
    with op.batch_alter_table("outgoing_messages") as batch_op:
        batch_op.drop_column("has_file")
