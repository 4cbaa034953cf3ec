"""A patient, a clinician and a clock on a fresh database."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from bot.conversation.days import PatientDays
from bot.conversation.prompting import schedule_next
from bot.conversation.service import Conversation
from bot.conversation.values import Incoming
from bot.program.values import DayDecision
from storage import flags, people
from storage.database import Database

ZONE = ZoneInfo("Europe/Lisbon")
START = date(2026, 3, 2)


class Room:
    """Messages go in at wall-clock times; what was sent comes out as (address, text)."""

    def __init__(self, database: Database, **columns: Any) -> None:
        self.database = database
        self.conversation = Conversation(database)
        self.updates = 0
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
        now = self.at(day, clock)
        self.tick_until(now)
        self.updates += 1
        self.conversation.handle(
            Incoming(channel="test", update_id=update_id or str(self.updates), address=who, text=text, sent_at=now), now
        )
        self.last = self.deliver(now)
        return "\n".join(text for address, text in self.last if address == who)

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
