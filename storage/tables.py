"""The tables. Instants are UTC, dates are the patient's local dates; nothing is overwritten that a patient said."""

from datetime import UTC, date, datetime
from typing import Any

from sqlalchemy import JSON, Column, DateTime, ForeignKey, Index, Text, UniqueConstraint
from sqlalchemy import text as sql
from sqlalchemy.types import TypeDecorator
from sqlmodel import Field, SQLModel


class Instant(TypeDecorator[datetime]):
    """An aware UTC datetime, on databases with and without time zones. Refuses naive values."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Any) -> datetime | None:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant needs a time zone")
        utc = value.astimezone(UTC)
        return utc.replace(tzinfo=None) if dialect.name == "sqlite" else utc

    def process_result_value(self, value: datetime | None, dialect: Any) -> datetime | None:
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


def _instant(**more: Any) -> Any:
    return Field(sa_type=Instant, **more)


def _reference(table: str, *, goes_with: bool | None = None, **more: Any) -> Any:
    """A patient's rows go with the patient (erase). With a clinician or a message nothing goes: those deletes are refused."""
    if goes_with or (goes_with is None and table in {"patients", "evening_reports"}):
        more["ondelete"] = "CASCADE"
    return Field(foreign_key=f"{table}.id", **more)


class Clinician(SQLModel, table=True):
    """A treating clinician."""

    __tablename__ = "clinicians"
    __table_args__ = (UniqueConstraint("channel", "address"),)
    id: int | None = Field(default=None, primary_key=True)
    name: str
    channel: str
    address: str | None = None
    timezone: str
    digest_weekday: int = 0
    digest_time: str = "08:00"
    next_digest_at: datetime | None = _instant(default=None, index=True)
    tells_at_once: bool = False
    unreachable_at: datetime | None = _instant(default=None)
    created_at: datetime = _instant()


class Share(SQLModel, table=True):
    """A clinician lets a colleague see and treat one patient, or all of them for a holiday (`patient_id` None)."""

    __tablename__ = "shares"
    id: int | None = Field(default=None, primary_key=True)
    owner_id: int = _reference("clinicians", index=True)
    colleague_id: int = _reference("clinicians", index=True)
    patient_id: int | None = _reference("patients", default=None)
    until: date | None = None
    created_at: datetime = _instant()
    ended_at: datetime | None = _instant(default=None)


class Patient(SQLModel, table=True):
    """A patient: never more of a name than the clinician types."""

    __tablename__ = "patients"
    __table_args__ = (UniqueConstraint("channel", "address"),)
    id: int | None = Field(default=None, primary_key=True)
    alias: str
    clinician_id: int | None = _reference("clinicians", default=None, index=True)
    channel: str
    address: str | None = None
    foot: str = "right"
    timezone: str = "UTC"
    morning_time: str = "07:00"
    evening_time: str = "19:30"
    start: date | None = None
    prior_activity: str | None = None
    enrolled_first_step_pain: int | None = None
    enrolled_rest_pattern: str | None = None
    start_walk: int | None = None
    start_step: str | None = None
    start_sets: int | None = None
    start_reps: int | None = None
    walk_target: int | None = None
    interval: int | None = None
    status: str = "enrolling"
    paused_until: date | None = None
    loading_stopped: bool = False
    phase_by_hand: str | None = None
    phase_order_number: int = 0
    dose_order_number: int = 0
    dose_order_day: date | None = None
    dose_order_walk: int | None = None
    dose_order_step: str | None = None
    dose_order_sets: int | None = None
    dose_order_reps: int | None = None
    quiet_from: date | None = None
    quiet_until: date | None = None
    dialogue: dict[str, Any] = Field(default_factory=dict, sa_column=Column(JSON, nullable=False))
    next_due_at: datetime | None = _instant(default=None, index=True)
    next_due_kind: str | None = None
    unreachable_at: datetime | None = _instant(default=None)
    created_at: datetime = _instant()


class Invitation(SQLModel, table=True):
    """A single-use invitation, hashed at rest."""

    __tablename__ = "invitations"
    id: int | None = Field(default=None, primary_key=True)
    token_hash: str = Field(unique=True)
    role: str
    clinician_id: int | None = _reference("clinicians", default=None)
    patient_id: int | None = _reference("patients", default=None)
    expires_at: datetime = _instant()
    used_at: datetime | None = _instant(default=None)
    created_at: datetime = _instant()


class IncomingMessage(SQLModel, table=True):
    """A message as it arrived, stored before it is understood."""

    __tablename__ = "incoming_messages"
    __table_args__ = (
        UniqueConstraint("channel", "update_id"),
        Index("ix_incoming_source", "channel", "address", "source_id"),
        # One who floods is counted with every message.
        Index(
            "ix_incoming_strangers",
            "channel",
            "address",
            "received_at",
            sqlite_where=sql("role = 'stranger'"),
            postgresql_where=sql("role = 'stranger'"),
        ),
    )
    id: int | None = Field(default=None, primary_key=True)
    channel: str
    update_id: str
    address: str
    source_id: str | None = None
    kind: str = "text"
    text: str = Field(sa_column=Column(Text, nullable=False))
    sent_at: datetime = _instant()
    received_at: datetime = _instant()
    role: str | None = None
    patient_id: int | None = _reference("patients", default=None, index=True)
    reading: dict[str, Any] | None = Field(default=None, sa_column=Column(JSON))


class MorningReport(SQLModel, table=True):
    """What one message said of a morning."""

    __tablename__ = "morning_reports"
    __table_args__ = (Index("ix_morning_reports_patient_day", "patient_id", "day"),)
    id: int | None = Field(default=None, primary_key=True)
    patient_id: int = _reference("patients")
    day: date
    first_step_pain: int | None = None
    rest_pattern: str | None = None
    settle_minutes: float | None = None
    message_id: int | None = _reference("incoming_messages", default=None, index=True)
    created_at: datetime = _instant()
    withdrawn_at: datetime | None = _instant(default=None)


class EveningReport(SQLModel, table=True):
    """What one message said of what was done, and of the worst pain."""

    __tablename__ = "evening_reports"
    __table_args__ = (Index("ix_evening_reports_patient_day", "patient_id", "day"),)
    id: int | None = Field(default=None, primary_key=True)
    patient_id: int = _reference("patients")
    day: date
    worst_pain: int | None = None
    plan_done: str | None = None
    says_what_was_done: bool = False
    message_id: int | None = _reference("incoming_messages", default=None, index=True)
    created_at: datetime = _instant()
    withdrawn_at: datetime | None = _instant(default=None)


class ActivityRecord(SQLModel, table=True):
    """One kind of activity of an evening report."""

    __tablename__ = "activities"
    id: int | None = Field(default=None, primary_key=True)
    report_id: int = _reference("evening_reports", index=True)
    activity: str
    minutes: float | None = None
    count: float | None = None
    steps: int | None = None
    km: float | None = None


class ExerciseRecord(SQLModel, table=True):
    """One exercise of an evening report."""

    __tablename__ = "exercises"
    id: int | None = Field(default=None, primary_key=True)
    report_id: int = _reference("evening_reports", index=True)
    exercise: str
    sets: int | None = None
    reps: int | None = None
    seconds: int | None = None


class DayDecisionRow(SQLModel, table=True):
    """A decision, immutable, with its reasons and the protocol's values; the last of a day is the day's."""

    __tablename__ = "day_decisions"
    __table_args__ = (Index("ix_day_decisions_patient_day", "patient_id", "day", "id"),)
    id: int | None = Field(default=None, primary_key=True)
    patient_id: int = _reference("patients")
    day: date
    phase: str
    decision: str
    reasons: list[str] = Field(default_factory=list, sa_column=Column(JSON, nullable=False))
    walk: int
    step: str
    sets: int
    reps: int
    value: dict[str, Any] = Field(sa_column=Column(JSON, nullable=False))
    protocol: dict[str, Any] = Field(default_factory=dict, sa_column=Column(JSON, nullable=False))
    decided_at: datetime = _instant()


class ProgramState(SQLModel, table=True):
    """The state at the start of a day; only the last days are kept."""

    __tablename__ = "program_states"
    patient_id: int = Field(sa_column=Column(ForeignKey("patients.id", ondelete="CASCADE"), primary_key=True))
    day: date = Field(primary_key=True)
    value: dict[str, Any] = Field(sa_column=Column(JSON, nullable=False))


class FlareRow(SQLModel, table=True):
    """A flare with its likely cause; superseded when its day is decided anew."""

    __tablename__ = "flares"
    __table_args__ = (Index("ix_flares_patient_day", "patient_id", "day"),)
    id: int | None = Field(default=None, primary_key=True)
    patient_id: int = _reference("patients")
    day: date
    cause: str
    candidates: list[str] = Field(default_factory=list, sa_column=Column(JSON, nullable=False))
    superseded_at: datetime | None = _instant(default=None)


class RedFlagRow(SQLModel, table=True):
    """A red flag: opened by which words, cleared by whom."""

    __tablename__ = "red_flags"
    id: int | None = Field(default=None, primary_key=True)
    patient_id: int = _reference("patients", index=True)
    code: str
    score: int | None = None
    words: str = Field(default="", sa_column=Column(Text, nullable=False))
    opened_at: datetime = _instant()
    opened_by_message: int | None = _reference("incoming_messages", default=None)
    cleared_at: datetime | None = _instant(default=None)
    cleared_day: date | None = None
    cleared_by: int | None = _reference("clinicians", default=None)
    note: str | None = None


class ClinicianAction(SQLModel, table=True):
    """The audit trail: who did what for a patient. Without a clinician: the rules did."""

    __tablename__ = "clinician_actions"
    id: int | None = Field(default=None, primary_key=True)
    patient_id: int = _reference("patients", index=True)
    clinician_id: int | None = _reference("clinicians", default=None)
    kind: str
    details: dict[str, Any] = Field(default_factory=dict, sa_column=Column(JSON, nullable=False))
    at: datetime = _instant()
    undone_at: datetime | None = _instant(default=None)


class Alert(SQLModel, table=True):
    """A warning sign that a clinician has to see: repeated until somebody has, then passed on to a colleague."""

    __tablename__ = "alerts"
    __table_args__ = (Index("ix_alerts_next", "next_at"),)
    id: int | None = Field(default=None, primary_key=True)
    patient_id: int = _reference("patients", index=True)
    urgency: str
    codes: list[str] = Field(default_factory=list, sa_column=Column(JSON, nullable=False))
    # The patient's own: quoted again each time it is repeated.
    words: str = Field(sa_column=Column(Text, nullable=False))
    opened_at: datetime = _instant()
    repeats: int = 0
    next_at: datetime | None = _instant(default=None)
    passed_on_at: datetime | None = _instant(default=None)
    seen_at: datetime | None = _instant(default=None)
    seen_by: int | None = _reference("clinicians", default=None)


class Erasure(SQLModel, table=True):
    """That somebody was erased, and nothing of whom."""

    __tablename__ = "erasures"
    id: int | None = Field(default=None, primary_key=True)
    erased_on: date


class SendingPace(SQLModel, table=True):
    """One row: how many messages may go out now, shared by every process that delivers."""

    __tablename__ = "sending_pace"
    id: int = Field(default=1, primary_key=True)
    tokens: float = 0.0
    counted_at: datetime = _instant()


class OutgoingMessage(SQLModel, table=True):
    """The outbox. The key is unique, so that nothing is queued twice by any number of processes."""

    __tablename__ = "outgoing_messages"
    __table_args__ = (
        Index(
            "ix_outgoing_waiting",
            "priority",
            "id",
            sqlite_where=sql("sent_at IS NULL AND refused_at IS NULL"),
            postgresql_where=sql("sent_at IS NULL AND refused_at IS NULL"),
        ),
        Index("ix_outgoing_chat_sent", "channel", "address", "sent_at"),
        # Questions are few among the messages of a chat, and open ones fewer still, however long its history is.
        Index(
            "ix_outgoing_questions",
            "channel",
            "address",
            "id",
            sqlite_where=sql("has_question = 1"),
            postgresql_where=sql("has_question"),
        ),
        Index(
            "ix_outgoing_open_questions",
            "channel",
            "address",
            sqlite_where=sql("has_question = 1 AND answered_at IS NULL"),
            postgresql_where=sql("has_question AND answered_at IS NULL"),
        ),
        Index("ix_outgoing_patient_day", "patient_id", "day"),
    )
    id: int | None = Field(default=None, primary_key=True)
    key: str = Field(unique=True)
    channel: str
    address: str
    kind: str
    # Alerts (0) go before replies (1), replies before what can wait (2).
    priority: int = 2
    text: str = Field(sa_column=Column(Text, nullable=False))
    # Rows of buttons: a label, or a label and the words it stands for.
    buttons: list[list[Any]] = Field(default_factory=list, sa_column=Column(JSON, nullable=False))
    # The buttons answer a question, which is over once it is answered. Other buttons are a list to choose from.
    has_question: bool = False
    # What to draw when it is sent (a chart, a PDF, a QR code), never the file itself.
    attachment: dict[str, Any] | None = Field(default=None, sa_column=Column(JSON))
    # Drawing takes seconds, so only few of these are on their way at once.
    has_file: bool = False
    # Holds a secret: the text is taken out once it is sent.
    secret: bool = False
    patient_id: int | None = _reference("patients", default=None)
    clinician_id: int | None = _reference("clinicians", default=None)
    # The patient of whom a message to a clinician speaks: it goes with them.
    about_id: int | None = _reference("patients", default=None)
    # A reply, or an alert that quotes the message, goes with it.
    in_reply_to: int | None = _reference("incoming_messages", goes_with=True, default=None)
    day: date | None = None
    queued_at: datetime | None = _instant(default=None)
    due_at: datetime = _instant()
    claimed_until: datetime | None = _instant(default=None)
    sent_at: datetime | None = _instant(default=None)
    source_id: str | None = None
    answered_at: datetime | None = _instant(default=None)
    refused_at: datetime | None = _instant(default=None)
    attempts: int = 0
    last_error: str | None = None
