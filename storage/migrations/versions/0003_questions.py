"""Indexes for what is asked with every message, so that it costs the same after months"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_index(
        "ix_outgoing_questions",
        "outgoing_messages",
        ["channel", "address", "id"],
        sqlite_where=sa.text("has_question = 1"),
        postgresql_where=sa.text("has_question"),
    )
    op.create_index(
        "ix_outgoing_open_questions",
        "outgoing_messages",
        ["channel", "address"],
        sqlite_where=sa.text("has_question = 1 AND answered_at IS NULL"),
        postgresql_where=sa.text("has_question AND answered_at IS NULL"),
    )
    op.create_index(
        "ix_incoming_strangers",
        "incoming_messages",
        ["channel", "address", "received_at"],
        sqlite_where=sa.text("role = 'stranger'"),
        postgresql_where=sa.text("role = 'stranger'"),
    )
    # A chat's waiting messages are found by ix_outgoing_chat_sent; this one led PostgreSQL astray.
    op.drop_index("ix_outgoing_waiting_chat", "outgoing_messages")


def downgrade() -> None:
    op.create_index(
        "ix_outgoing_waiting_chat",
        "outgoing_messages",
        ["channel", "address"],
        sqlite_where=sa.text("sent_at IS NULL AND refused_at IS NULL"),
        postgresql_where=sa.text("sent_at IS NULL AND refused_at IS NULL"),
    )
    op.drop_index("ix_incoming_strangers", "incoming_messages")
    op.drop_index("ix_outgoing_open_questions", "outgoing_messages")
    op.drop_index("ix_outgoing_questions", "outgoing_messages")
