"""Sending to chats, alerts, colleagues, erasure"""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import AutoString

from storage.tables import Instant

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_WAITING = sa.text("sent_at IS NULL AND refused_at IS NULL")


def upgrade() -> None:
    with op.batch_alter_table("clinicians") as batch_op:
        batch_op.add_column(sa.Column("next_digest_at", Instant(), nullable=True))
        batch_op.add_column(sa.Column("tells_at_once", sa.Boolean(), nullable=False, server_default=sa.false()))
        batch_op.add_column(sa.Column("unreachable_at", Instant(), nullable=True))
        batch_op.create_index(op.f("ix_clinicians_next_digest_at"), ["next_digest_at"])
    with op.batch_alter_table("patients") as batch_op:
        batch_op.add_column(sa.Column("unreachable_at", Instant(), nullable=True))
    with op.batch_alter_table("incoming_messages") as batch_op:
        batch_op.add_column(sa.Column("source_id", AutoString(), nullable=True))
        batch_op.create_index("ix_incoming_source", ["channel", "address", "source_id"])
    with op.batch_alter_table("clinician_actions") as batch_op:
        batch_op.add_column(sa.Column("undone_at", Instant(), nullable=True))
    op.create_table(
        "shares",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("owner_id", sa.Integer(), nullable=False),
        sa.Column("colleague_id", sa.Integer(), nullable=False),
        sa.Column("patient_id", sa.Integer(), nullable=True),
        sa.Column("until", sa.Date(), nullable=True),
        sa.Column("created_at", Instant(), nullable=False),
        sa.Column("ended_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(["owner_id"], ["clinicians.id"]),
        sa.ForeignKeyConstraint(["colleague_id"], ["clinicians.id"]),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("shares") as batch_op:
        batch_op.create_index(op.f("ix_shares_owner_id"), ["owner_id"])
        batch_op.create_index(op.f("ix_shares_colleague_id"), ["colleague_id"])
    op.create_table(
        "alerts",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("patient_id", sa.Integer(), nullable=False),
        sa.Column("urgency", AutoString(), nullable=False),
        sa.Column("codes", sa.JSON(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("opened_at", Instant(), nullable=False),
        sa.Column("repeats", sa.Integer(), nullable=False),
        sa.Column("next_at", Instant(), nullable=True),
        sa.Column("passed_on_at", Instant(), nullable=True),
        sa.Column("seen_at", Instant(), nullable=True),
        sa.Column("seen_by", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["seen_by"], ["clinicians.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("alerts") as batch_op:
        batch_op.create_index(op.f("ix_alerts_patient_id"), ["patient_id"])
        batch_op.create_index("ix_alerts_next", ["next_at"])
    op.create_table(
        "erasures",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("erased_on", sa.Date(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_table(
        "sending_pace",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("tokens", sa.Float(), nullable=False),
        sa.Column("counted_at", Instant(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("outgoing_messages") as batch_op:
        batch_op.add_column(sa.Column("priority", sa.Integer(), nullable=False, server_default="1"))
        batch_op.add_column(sa.Column("has_question", sa.Boolean(), nullable=False, server_default=sa.false()))
        batch_op.add_column(sa.Column("attachment", sa.JSON(), nullable=True))
        batch_op.add_column(sa.Column("secret", sa.Boolean(), nullable=False, server_default=sa.false()))
        batch_op.add_column(sa.Column("queued_at", Instant(), nullable=True))
        batch_op.add_column(sa.Column("claimed_until", Instant(), nullable=True))
        batch_op.add_column(sa.Column("source_id", AutoString(), nullable=True))
        batch_op.add_column(sa.Column("answered_at", Instant(), nullable=True))
        batch_op.add_column(sa.Column("about_id", sa.Integer(), nullable=True))
        batch_op.create_foreign_key("fk_outgoing_about", "patients", ["about_id"], ["id"], ondelete="CASCADE")
        batch_op.drop_index("ix_outgoing_waiting")
        batch_op.create_index(
            "ix_outgoing_waiting", ["priority", "id"], sqlite_where=_WAITING, postgresql_where=_WAITING
        )
        batch_op.create_index(
            "ix_outgoing_waiting_chat", ["channel", "address"], sqlite_where=_WAITING, postgresql_where=_WAITING
        )
        batch_op.create_index("ix_outgoing_chat_sent", ["channel", "address", "sent_at"])
    # What waited before keeps its place.
    op.execute("UPDATE outgoing_messages SET queued_at = due_at")
    op.execute("UPDATE outgoing_messages SET priority = 0 WHERE kind IN ('reply', 'alert')")


def downgrade() -> None:
    with op.batch_alter_table("outgoing_messages") as batch_op:
        batch_op.drop_index("ix_outgoing_chat_sent")
        batch_op.drop_index("ix_outgoing_waiting_chat")
        batch_op.drop_index("ix_outgoing_waiting")
        batch_op.create_index("ix_outgoing_waiting", ["sent_at", "refused_at", "due_at"])
        batch_op.drop_constraint("fk_outgoing_about", type_="foreignkey")
        for name in (
            "about_id",
            "answered_at",
            "source_id",
            "claimed_until",
            "secret",
            "attachment",
            "has_question",
            "priority",
        ):
            batch_op.drop_column(name)
    for table in ("sending_pace", "erasures", "alerts", "shares"):
        op.drop_table(table)
    with op.batch_alter_table("clinician_actions") as batch_op:
        batch_op.drop_column("undone_at")
    with op.batch_alter_table("incoming_messages") as batch_op:
        batch_op.drop_index("ix_incoming_source")
        batch_op.drop_column("source_id")
    with op.batch_alter_table("patients") as batch_op:
        batch_op.drop_column("unreachable_at")
    with op.batch_alter_table("clinicians") as batch_op:
        batch_op.drop_index(op.f("ix_clinicians_next_digest_at"))
        for name in ("unreachable_at", "tells_at_once", "next_digest_at"):
            batch_op.drop_column(name)
