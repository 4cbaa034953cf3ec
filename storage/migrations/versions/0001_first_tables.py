"""First tables"""

import sqlalchemy as sa
import sqlmodel
from alembic import op

from storage.tables import Instant

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "clinicians",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("channel", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("address", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("timezone", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("digest_weekday", sa.Integer(), nullable=False),
        sa.Column("digest_time", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("created_at", Instant(), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("channel", "address"),
    )
    op.create_table(
        "patients",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("alias", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("clinician_id", sa.Integer(), nullable=True),
        sa.Column("channel", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("address", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("foot", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("timezone", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("morning_time", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("evening_time", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("start", sa.Date(), nullable=True),
        sa.Column("prior_activity", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("enrolled_first_step_pain", sa.Integer(), nullable=True),
        sa.Column("enrolled_rest_pattern", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("start_walk", sa.Integer(), nullable=True),
        sa.Column("start_step", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("start_sets", sa.Integer(), nullable=True),
        sa.Column("start_reps", sa.Integer(), nullable=True),
        sa.Column("walk_target", sa.Integer(), nullable=True),
        sa.Column("interval", sa.Integer(), nullable=True),
        sa.Column("status", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("paused_until", sa.Date(), nullable=True),
        sa.Column("loading_stopped", sa.Boolean(), nullable=False),
        sa.Column("phase_by_hand", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("phase_order_number", sa.Integer(), nullable=False),
        sa.Column("dose_order_number", sa.Integer(), nullable=False),
        sa.Column("dose_order_day", sa.Date(), nullable=True),
        sa.Column("dose_order_walk", sa.Integer(), nullable=True),
        sa.Column("dose_order_step", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("dose_order_sets", sa.Integer(), nullable=True),
        sa.Column("dose_order_reps", sa.Integer(), nullable=True),
        sa.Column("quiet_from", sa.Date(), nullable=True),
        sa.Column("quiet_until", sa.Date(), nullable=True),
        sa.Column("dialogue", sa.JSON(), nullable=False),
        sa.Column("next_due_at", Instant(), nullable=True),
        sa.Column("next_due_kind", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("created_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["clinician_id"], ["clinicians.id"]),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("channel", "address"),
    )
    with op.batch_alter_table("patients", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_patients_clinician_id"), ["clinician_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_patients_next_due_at"), ["next_due_at"], unique=False)

    op.create_table(
        "clinician_actions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("patient_id", sa.Integer(), nullable=False),
        sa.Column("clinician_id", sa.Integer(), nullable=True),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("details", sa.JSON(), nullable=False),
        sa.Column("at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["clinician_id"], ["clinicians.id"]),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("clinician_actions", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_clinician_actions_patient_id"), ["patient_id"], unique=False)

    op.create_table(
        "day_decisions",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("patient_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("phase", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("decision", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("reasons", sa.JSON(), nullable=False),
        sa.Column("walk", sa.Integer(), nullable=False),
        sa.Column("step", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("sets", sa.Integer(), nullable=False),
        sa.Column("reps", sa.Integer(), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.Column("protocol", sa.JSON(), nullable=False),
        sa.Column("decided_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("day_decisions", schema=None) as batch_op:
        batch_op.create_index("ix_day_decisions_patient_day", ["patient_id", "day", "id"], unique=False)

    op.create_table(
        "flares",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("patient_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("cause", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("candidates", sa.JSON(), nullable=False),
        sa.Column("superseded_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("flares", schema=None) as batch_op:
        batch_op.create_index("ix_flares_patient_day", ["patient_id", "day"], unique=False)

    op.create_table(
        "incoming_messages",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("channel", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("update_id", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("address", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("sent_at", Instant(), nullable=False),
        sa.Column("received_at", Instant(), nullable=False),
        sa.Column("role", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("patient_id", sa.Integer(), nullable=True),
        sa.Column("reading", sa.JSON(), nullable=True),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("channel", "update_id"),
    )
    with op.batch_alter_table("incoming_messages", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_incoming_messages_patient_id"), ["patient_id"], unique=False)

    op.create_table(
        "invitations",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("token_hash", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("role", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("clinician_id", sa.Integer(), nullable=True),
        sa.Column("patient_id", sa.Integer(), nullable=True),
        sa.Column("expires_at", Instant(), nullable=False),
        sa.Column("used_at", Instant(), nullable=True),
        sa.Column("created_at", Instant(), nullable=False),
        sa.ForeignKeyConstraint(["clinician_id"], ["clinicians.id"]),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("token_hash"),
    )
    op.create_table(
        "program_states",
        sa.Column("patient_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("value", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("patient_id", "day"),
    )
    op.create_table(
        "evening_reports",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("patient_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("worst_pain", sa.Integer(), nullable=True),
        sa.Column("plan_done", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("says_what_was_done", sa.Boolean(), nullable=False),
        sa.Column("message_id", sa.Integer(), nullable=True),
        sa.Column("created_at", Instant(), nullable=False),
        sa.Column("withdrawn_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(["message_id"], ["incoming_messages.id"]),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("evening_reports", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_evening_reports_message_id"), ["message_id"], unique=False)
        batch_op.create_index("ix_evening_reports_patient_day", ["patient_id", "day"], unique=False)

    op.create_table(
        "morning_reports",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("patient_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("first_step_pain", sa.Integer(), nullable=True),
        sa.Column("rest_pattern", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("settle_minutes", sa.Float(), nullable=True),
        sa.Column("message_id", sa.Integer(), nullable=True),
        sa.Column("created_at", Instant(), nullable=False),
        sa.Column("withdrawn_at", Instant(), nullable=True),
        sa.ForeignKeyConstraint(["message_id"], ["incoming_messages.id"]),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("morning_reports", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_morning_reports_message_id"), ["message_id"], unique=False)
        batch_op.create_index("ix_morning_reports_patient_day", ["patient_id", "day"], unique=False)

    op.create_table(
        "outgoing_messages",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("channel", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("address", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("buttons", sa.JSON(), nullable=False),
        sa.Column("patient_id", sa.Integer(), nullable=True),
        sa.Column("clinician_id", sa.Integer(), nullable=True),
        sa.Column("in_reply_to", sa.Integer(), nullable=True),
        sa.Column("day", sa.Date(), nullable=True),
        sa.Column("due_at", Instant(), nullable=False),
        sa.Column("sent_at", Instant(), nullable=True),
        sa.Column("refused_at", Instant(), nullable=True),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("last_error", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.ForeignKeyConstraint(["clinician_id"], ["clinicians.id"]),
        sa.ForeignKeyConstraint(["in_reply_to"], ["incoming_messages.id"], ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("key"),
    )
    with op.batch_alter_table("outgoing_messages", schema=None) as batch_op:
        batch_op.create_index("ix_outgoing_patient_day", ["patient_id", "day"], unique=False)
        batch_op.create_index("ix_outgoing_waiting", ["sent_at", "refused_at", "due_at"], unique=False)

    op.create_table(
        "red_flags",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("patient_id", sa.Integer(), nullable=False),
        sa.Column("code", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("score", sa.Integer(), nullable=True),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("opened_at", Instant(), nullable=False),
        sa.Column("opened_by_message", sa.Integer(), nullable=True),
        sa.Column("cleared_at", Instant(), nullable=True),
        sa.Column("cleared_day", sa.Date(), nullable=True),
        sa.Column("cleared_by", sa.Integer(), nullable=True),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.ForeignKeyConstraint(["cleared_by"], ["clinicians.id"]),
        sa.ForeignKeyConstraint(["opened_by_message"], ["incoming_messages.id"]),
        sa.ForeignKeyConstraint(["patient_id"], ["patients.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("red_flags", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_red_flags_patient_id"), ["patient_id"], unique=False)

    op.create_table(
        "activities",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("report_id", sa.Integer(), nullable=False),
        sa.Column("activity", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("minutes", sa.Float(), nullable=True),
        sa.Column("count", sa.Float(), nullable=True),
        sa.Column("steps", sa.Integer(), nullable=True),
        sa.Column("km", sa.Float(), nullable=True),
        sa.ForeignKeyConstraint(["report_id"], ["evening_reports.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("activities", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_activities_report_id"), ["report_id"], unique=False)

    op.create_table(
        "exercises",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("report_id", sa.Integer(), nullable=False),
        sa.Column("exercise", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("sets", sa.Integer(), nullable=True),
        sa.Column("reps", sa.Integer(), nullable=True),
        sa.Column("seconds", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["report_id"], ["evening_reports.id"], ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("exercises", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_exercises_report_id"), ["report_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("exercises", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_exercises_report_id"))

    op.drop_table("exercises")
    with op.batch_alter_table("activities", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_activities_report_id"))

    op.drop_table("activities")
    with op.batch_alter_table("red_flags", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_red_flags_patient_id"))

    op.drop_table("red_flags")
    with op.batch_alter_table("outgoing_messages", schema=None) as batch_op:
        batch_op.drop_index("ix_outgoing_waiting")
        batch_op.drop_index("ix_outgoing_patient_day")

    op.drop_table("outgoing_messages")
    with op.batch_alter_table("morning_reports", schema=None) as batch_op:
        batch_op.drop_index("ix_morning_reports_patient_day")
        batch_op.drop_index(batch_op.f("ix_morning_reports_message_id"))

    op.drop_table("morning_reports")
    with op.batch_alter_table("evening_reports", schema=None) as batch_op:
        batch_op.drop_index("ix_evening_reports_patient_day")
        batch_op.drop_index(batch_op.f("ix_evening_reports_message_id"))

    op.drop_table("evening_reports")
    op.drop_table("program_states")
    op.drop_table("invitations")
    with op.batch_alter_table("incoming_messages", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_incoming_messages_patient_id"))

    op.drop_table("incoming_messages")
    with op.batch_alter_table("flares", schema=None) as batch_op:
        batch_op.drop_index("ix_flares_patient_day")

    op.drop_table("flares")
    with op.batch_alter_table("day_decisions", schema=None) as batch_op:
        batch_op.drop_index("ix_day_decisions_patient_day")

    op.drop_table("day_decisions")
    with op.batch_alter_table("clinician_actions", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_clinician_actions_patient_id"))

    op.drop_table("clinician_actions")
    with op.batch_alter_table("patients", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_patients_next_due_at"))
        batch_op.drop_index(batch_op.f("ix_patients_clinician_id"))

    op.drop_table("patients")
    op.drop_table("clinicians")
