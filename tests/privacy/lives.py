"""A patient with rows in every table, and with a word of their own in every text that can hold one."""

from __future__ import annotations

import random
from datetime import UTC, date, datetime, timedelta
from typing import Any

from sqlmodel import Session, SQLModel, col, select

from bot.program.protocol import DEFAULT
from bot.program.terms import Activity, Exercise, PlanDone, RestPattern
from bot.program.values import ActivityAmount, Evening, Morning, RaisesReported
from storage import decisions, flags, messages, people, records
from storage.tables import Alert, Clinician, IncomingMessage, Invitation, Patient, Share
from tests.oracle.histories import random_programme
from tests.program.differential import Engine

START = date(2026, 3, 2)
BEGUN = datetime(2026, 3, 2, 7, tzinfo=UTC)


def two_clinicians(session: Session) -> tuple[Clinician, Clinician]:
    found = tuple(
        people.add_clinician(session, name=name, channel="telegram", address=address, timezone="UTC", now=BEGUN)
        for name, address in (("Dr Vale", "900001"), ("Dr Moor", "900002"))
    )
    session.flush()
    return found[0], found[1]


def the_clinicians(session: Session) -> tuple[Clinician, Clinician]:
    """The two that are there already."""
    first, second, *_ = session.exec(select(Clinician).order_by(col(Clinician.id))).all()
    return first, second


class Life:
    """Twenty days of one patient, written through the same functions that the service uses."""

    def __init__(
        self,
        session: Session,
        *,
        alias: str,
        address: str,
        word: str,
        clinicians: tuple[Clinician, Clinician],
        days: int = 20,
        seed: int = 0,
        begun: datetime = BEGUN,
        **columns: Any,
    ) -> None:
        self.session, self.alias, self.address, self.word = session, alias, address, word
        self.clinician, self.colleague = clinicians
        self.begun = begun
        self.start = begun.date()
        self.updates = 0
        patient = people.add_patient(
            session,
            **{
                "alias": alias,
                "clinician_id": self.clinician.id,
                "channel": "telegram",
                "address": address,
                "timezone": "UTC",
                "start": self.start,
                "status": "active",
                "prior_activity": "moderately",
                "enrolled_first_step_pain": 5,
                "enrolled_rest_pattern": "intermittent",
                "dialogue": {"asked": word},
                "created_at": begun,
            }
            | columns,
        )
        session.flush()
        self.patient = patient
        self.id = patient.id or 0
        self._invited()
        self._reports(days)
        self._decided(days, seed)
        self._treated()
        session.flush()

    def hears(self, text: str, at: datetime, *, reading: dict[str, Any] | None = None) -> IncomingMessage:
        """The patient says something."""
        return self._message(self.address, text, at, patient_id=self.id, role="patient", reading=reading)

    def clinician_says(
        self, text: str, at: datetime, answer: str, *, about: bool = True, patient_id: int | None = None
    ) -> IncomingMessage:
        """The clinician says something and is answered."""
        message = self._message(
            str(self.clinician.address), text, at, patient_id=patient_id, role="clinician", reading=None
        )
        self.tell_clinician(f"reply:{message.id}:1", answer, at, about=about, in_reply_to=message.id)
        return message

    def tell_clinician(self, key: str, text: str, at: datetime, *, about: bool = True, **more: Any) -> None:
        """The clinician is told something, about this patient or about all of them."""
        messages.queue(
            self.session,
            key=key,
            channel="telegram",
            address=str(self.clinician.address),
            text=text,
            kind="reply",
            clinician_id=self.clinician.id,
            about_id=self.id if about else None,
            buttons=[[[self.alias, f"/patient {self.alias}"]]],
            due_at=at,
            **more,
        )

    def tell(self, key: str, text: str, at: datetime, **more: Any) -> None:
        """The patient is told something."""
        messages.queue(
            self.session,
            key=key,
            channel="telegram",
            address=self.address,
            text=text,
            patient_id=self.id,
            due_at=at,
            **{"kind": "reply", **more},
        )

    def _message(
        self,
        address: str,
        text: str,
        at: datetime,
        *,
        patient_id: int | None,
        role: str,
        reading: dict[str, Any] | None,
    ) -> IncomingMessage:
        self.updates += 1
        message = messages.store_incoming(
            self.session,
            channel="telegram",
            update_id=f"{self.id}-{self.updates}",
            address=address,
            source_id=f"s{self.id}-{self.updates}",
            kind="text",
            text=text,
            sent_at=at,
            received_at=at,
        )
        assert message is not None
        messages.mark_understood(self.session, message, patient_id=patient_id, role=role, reading=reading)
        self.session.flush()
        return message

    def _invited(self) -> None:
        self.session.add(
            Invitation(
                token_hash=f"hash-of-{self.word}",
                role="patient",
                clinician_id=self.clinician.id,
                patient_id=self.id,
                expires_at=self.begun + timedelta(days=7),
                used_at=self.begun,
                created_at=self.begun,
            )
        )
        self.session.add(
            Share(
                owner_id=self.clinician.id or 0,
                colleague_id=self.colleague.id or 0,
                patient_id=self.id,
                created_at=self.begun,
            )
        )
        self.clinician_says(f"/invite {self.alias}", self.begun, f"The invitation for {self.alias}", about=False)
        # The first message of the chat came from somebody unknown, with the invitation in it.
        self._message(self.address, f"/start {self.word}", self.begun, patient_id=None, role="stranger", reading=None)

    def _reports(self, days: int) -> None:
        for number in range(days):
            day = self.start + timedelta(days=number)
            at = self.begun + timedelta(days=number)
            self.tell(f"prompt:{self.id}:{day}:morning", f"Good morning {self.alias}", at, kind="prompt", day=day)
            said = self.hears(f"{number % 9}, {self.word}", at, reading={"words": self.word})
            records.add_morning(
                self.session,
                patient_id=self.id,
                day=day,
                morning=Morning(first_step_pain=number % 9, rest_pattern=RestPattern.INTERMITTENT, settle_minutes=5.5),
                message_id=said.id,
                now=at,
            )
            self.tell(f"reply:{said.id}:1", f"{self.alias}: {self.word}", at, in_reply_to=said.id, day=day)
            evening = self.hears(f"walked, {self.word}", at + timedelta(hours=12))
            records.add_evening(
                self.session,
                patient_id=self.id,
                day=day,
                evening=Evening(
                    worst_pain=4,
                    plan_done=PlanDone.SOME,
                    activities=(
                        ActivityAmount(activity=Activity.WALKING, minutes=12.5),
                        ActivityAmount(activity=Activity.STAIRS, count=3),
                    ),
                    raises=RaisesReported(sets=2, reps=8),
                    says_what_was_done=True,
                ),
                exercises=((Exercise.HEEL_RAISE, 2, 8, None), (Exercise.TOE_HOLD, 1, None, 30)),
                message_id=evening.id,
                now=at + timedelta(hours=12),
            )
        # One that was taken back.
        records.withdraw(self.session, said.id or 0, at)

    def _decided(self, days: int, seed: int) -> None:
        programme = random_programme(random.Random(seed), days)
        engine = Engine(programme)
        for number, day in enumerate(programme["days"]):
            engine.day(day["events"])
            assert engine.previous is not None
            _, decision, _ = engine.previous
            at = self.start + timedelta(days=number)
            decisions.put_state(self.session, self.id, at, engine.state)
            decisions.add_decision(
                self.session,
                patient_id=self.id,
                day=at,
                decision=decision,
                protocol=DEFAULT,
                decided_at=self.begun + timedelta(days=number),
            )

    def _treated(self) -> None:
        at = self.begun + timedelta(days=3)
        for note in (self.word, "later"):
            said = self.hears(f"my calf is hot, {self.word}", at)
            flags.open_flag(
                self.session,
                patient_id=self.id,
                code="clot_signs",
                score=None,
                words=f"my calf is hot, {self.word}",
                message_id=said.id,
                now=at,
            )
            self.tell_clinician(f"alert:{said.id}", f"{self.alias}: {self.word}", at, in_reply_to=said.id)
            if note == self.word:
                flags.clear_flags(
                    self.session, patient_id=self.id, clinician_id=self.clinician.id, note=note, now=at, day=at.date()
                )
        self.session.add(
            Alert(
                patient_id=self.id,
                urgency="emergency",
                codes=["clot_signs"],
                words=f"{self.alias}: {self.word}",
                opened_at=at,
                seen_at=at,
                seen_by=self.colleague.id,
            )
        )
        for kind, details in (("note", {"text": f"private-{self.word}"}), ("dose", {"walk": 9}),
                              ("clear", {"codes": ["clot_signs"], "note": f"private-{self.word}"})):  # fmt: skip
            people.add_action(
                self.session, patient_id=self.id, clinician_id=self.clinician.id, kind=kind, details=details, now=at
            )
        self.clinician_says(
            f"/note {self.alias} private-{self.word}", at, f"Kept a note on {self.alias}.", patient_id=self.id
        )
        # Written with the beginning of the alias only: what links it to the patient is the reply.
        self.clinician_says(f"/note {self.alias[:2]} {self.word}", at, "Kept.")
        at += timedelta(minutes=1)
        self.clinician_says("/caseload", at, f"1. {self.alias.upper()}: fine", about=False)


def everything(session: Session) -> dict[str, list[dict[str, Any]]]:
    """Every column of every row of every table."""
    return {
        table.name: [dict(row) for row in session.execute(select(table).order_by(*table.primary_key)).mappings()]
        for table in SQLModel.metadata.sorted_tables
    }


def traces(session: Session, *words: str) -> list[str]:
    """Where one of the words stands, whatever the case."""
    return [
        f"{table}.{column}: {value!r}"
        for table, rows in everything(session).items()
        for row in rows
        for column, value in row.items()
        for word in words
        if word.casefold() in repr(value).casefold()
    ]


def find(session: Session, alias: str) -> Patient | None:
    return session.exec(select(Patient).where(Patient.alias == alias)).first()
