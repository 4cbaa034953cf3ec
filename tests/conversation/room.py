"""A patient, a clinician and a clock on a fresh database."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import select

from bot.conversation.days import PatientDays
from bot.conversation.prompting import schedule_next
from bot.conversation.service import Conversation
from bot.conversation.values import Incoming, Pressed
from bot.program.values import DayDecision
from storage import flags, people
from storage.database import Database
from storage.tables import Alert, Clinician, ClinicianAction, OutgoingMessage, Patient

ZONE = ZoneInfo("Europe/Lisbon")
START = date(2026, 3, 2)
_OF_A_PROGRAMME = (
    "channel", "timezone", "start", "status", "prior_activity", "enrolled_first_step_pain", "enrolled_rest_pattern",
    "start_walk", "start_step", "start_sets", "start_reps", "created_at",
)  # fmt: skip


class Room:
    """Messages go in at wall-clock times; what was sent comes out as (address, text)."""

    def __init__(self, database: Database, **columns: Any) -> None:
        self.database = database
        self.conversation = Conversation(database)
        self.updates = 0
        self.last: list[tuple[str, str]] = []
        self.pressed: Pressed | None = None
        begun = datetime.combine(START, datetime.min.time(), tzinfo=ZONE).astimezone(UTC)
        with database.session() as session:
            clinician = people.add_clinician(
                session, name="Dr Vale", channel="test", address="clinician", timezone=ZONE.key, now=begun
            )
            session.flush()
            given = {
                "alias": "Rowan",
                "clinician_id": clinician.id,
                "channel": "test",
                "address": "patient",
                "timezone": ZONE.key,
                "start": START,
                "status": "active",
                "prior_activity": "moderately",
                "enrolled_first_step_pain": 4,
                "enrolled_rest_pattern": "intermittent",
                "start_walk": 5,
                "start_step": "seated both",
                "start_sets": 2,
                "start_reps": 8,
                "created_at": begun,
            }
            patient = people.add_patient(session, **(given | columns))
            session.flush()
            self.patient_id: int = patient.id or 0
            schedule_next(patient, begun)

    @staticmethod
    def at(day: int, clock: str) -> datetime:
        """The instant of a clock on a day of the programme."""
        hours, minutes = (int(part) for part in clock.split(":"))
        moment = datetime.combine(START, datetime.min.time()) + timedelta(days=day - 1, hours=hours, minutes=minutes)
        return moment.replace(tzinfo=ZONE).astimezone(UTC)

    def tick_until(self, now: datetime) -> list[tuple[str, str]]:
        """Every prompt that falls due, at its own time."""
        sent: list[tuple[str, str]] = []
        while True:
            with self.database.session() as session:
                due_at = people.patient_by_id(session, self.patient_id).next_due_at
            if due_at is None or due_at > now:
                return sent
            self.conversation.tick(due_at)
            sent.extend(self.deliver(due_at))

    def deliver(self, now: datetime) -> list[tuple[str, str]]:
        """Empty the outbox."""
        waiting = self.conversation.deliverable(now, 1000)
        for each in waiting:
            self.conversation.delivered(each.id, now)
        return [(each.address, each.text) for each in waiting]

    def say(self, day: int, clock: str, text: str, who: str = "patient", update_id: str | None = None) -> str:
        """Say it, after the prompts before it; the replies to the one who spoke, in one text."""
        self.tick_until(self.at(day, clock))
        return self.send(day, clock, text, who, update_id=update_id)

    def send(
        self,
        day: int,
        clock: str,
        text: str = "",
        who: str = "patient",
        *,
        kind: str = "text",
        source_id: str | None = None,
        button: tuple[int, int] | None = None,
        update_id: str | None = None,
    ) -> str:
        """Send one message of any kind, without the prompts before it; the replies to the one who sent it."""
        now = self.at(day, clock)
        self.updates += 1
        self.pressed = self.conversation.handle(
            Incoming(
                channel="test",
                update_id=update_id or str(self.updates),
                address=who,
                text=text,
                sent_at=now,
                kind=kind,
                source_id=source_id,
                button=button,
            ),
            now,
        )
        self.last = self.deliver(now)
        return "\n".join(text for address, text in self.last if address == who)

    def edit(self, day: int, clock: str, text: str, source_id: str, who: str = "patient") -> str:
        """Edit the message that the channel calls `source_id`."""
        self.tick_until(self.at(day, clock))
        return self.send(day, clock, text, who, kind="edit", source_id=source_id)

    def press(self, day: int, clock: str, label: str, who: str = "patient", *, among: int = -1, by: str = "") -> str:
        """Press the button `label` of a keyboard that `who` has (the last one with it); `by`: from another chat."""
        self.tick_until(self.at(day, clock))
        keyboards = [each for each in self.keyboards(who) if label in each[1]]
        number, labels = keyboards[among]
        return self.send(day, clock, who=by or who, kind="button", button=(number, labels.index(label)))

    def keyboards(self, who: str) -> list[tuple[int, list[str]]]:
        """Every keyboard that was sent there: the message's number, and the labels."""
        with self.database.session() as session:
            rows = session.exec(
                select(OutgoingMessage).where(OutgoingMessage.address == who).order_by(OutgoingMessage.id)  # type: ignore[arg-type]
            ).all()
            found = [
                (row.id or 0, [each if isinstance(each, str) else each[0] for line in row.buttons for each in line])
                for row in rows
            ]
        return [each for each in found if each[1]]

    def add_clinician(self, name: str, address: str | None, zone: str = ZONE.key) -> int:
        """Another clinician, who has joined."""
        with self.database.session() as session:
            made = people.add_clinician(
                session, name=name, channel="test", address=address, timezone=zone, now=self.at(1, "00:00")
            )
            session.flush()
            return made.id or 0

    def add_patient(self, alias: str, address: str | None, clinician_id: int = 1, **columns: Any) -> int:
        """Another patient with a programme, of the same kind as the first."""
        with self.database.session() as session:
            first = people.patient_by_id(session, self.patient_id).model_dump()
            given = {name: first[name] for name in _OF_A_PROGRAMME} | {"alias": alias, "address": address} | columns
            made = people.add_patient(session, clinician_id=clinician_id, **given)
            session.flush()
            return made.id or 0

    def get(self, patient_id: int | None = None) -> Patient:
        """A patient's row as it is now."""
        with self.database.session() as session:
            return people.patient_by_id(session, patient_id or self.patient_id)

    def set(self, patient_id: int | None = None, **columns: Any) -> None:
        """Change a patient's row."""
        with self.database.session() as session:
            patient = people.patient_by_id(session, patient_id or self.patient_id)
            for name, value in columns.items():
                setattr(patient, name, value)
            if patient.status != "active":
                patient.next_due_at = patient.next_due_kind = None

    def actions(self, patient_id: int | None = None) -> list[ClinicianAction]:
        """Who did what for a patient."""
        with self.database.session() as session:
            return people.actions_of(session, patient_id or self.patient_id)

    def pass_time(self, until: datetime) -> list[tuple[datetime, str, str]]:
        """Everything that falls due (prompts, alerts, digests) at its own time: (when, to whom, text)."""
        sent: list[tuple[datetime, str, str]] = []
        while True:
            with self.database.session() as session:
                dues = [
                    *session.exec(select(Patient.next_due_at).where(Patient.status == "active")),
                    *session.exec(select(Alert.next_at)),
                    *session.exec(select(Clinician.next_digest_at)),
                ]
            known = [each for each in dues if each is not None and each <= until]
            if not known:
                return sent
            now = min(known)
            self.conversation.tick(now)
            sent.extend((now, address, text) for address, text in self.deliver(now))

    def sent_to(self, who: str) -> str:
        """What the last message led to for somebody."""
        return "\n".join(text for address, text in self.last if address == who)

    def decision(self, day: int) -> DayDecision | None:
        """The decision of a day of the programme."""
        with self.database.session() as session:
            patient = people.patient_by_id(session, self.patient_id)
            return PatientDays(session, patient, self.at(day, "12:00")).decision(START + timedelta(days=day - 1))

    def open_flags(self) -> list[str]:
        """The codes that are open."""
        with self.database.session() as session:
            return [row.code for row in flags.open_flags(session, self.patient_id)]
