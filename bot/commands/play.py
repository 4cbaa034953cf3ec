"""`heel-checkin play`: conversations through the real code, with the clock of the file."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session

from bot.commands.chat_file import ChatFile, ChatFileError, Line, days_of, read_chat
from bot.conversation.days import PatientDays
from bot.conversation.prompting import schedule_next
from bot.conversation.service import Conversation
from bot.conversation.values import Incoming, Outgoing
from bot.program.load import activity_loads, total_load, usual_after
from bot.program.rounding import one_decimal
from bot.program.values import Usual
from scheduler.times import day_start
from storage import flags, messages, people, records
from storage.database import Database, open_database

_CHANNEL = "play"
_CLINICIAN = "clinician"
_PATIENT = "patient"


@dataclass(frozen=True, kw_only=True, slots=True)
class Said:
    """One line of the played chat."""

    at: datetime
    who: str
    """patient, clinician, bot (to the patient) or bot to clinician."""
    text: str


class Player:
    """One conversation on a fresh database in memory."""

    def __init__(self, chat: ChatFile, show: Callable[[Said], None] | None = None, url: str = "sqlite://") -> None:
        self.chat = chat
        self.zone = ZoneInfo(chat.timezone)
        self.database: Database = open_database(url)
        self.conversation = Conversation(self.database)
        self.show = show or (lambda said: None)
        self.updates = 0
        self.replies: list[Outgoing] = []
        self.spoke = _PATIENT
        self.misses: list[str] = []
        begun = day_start(chat.start, self.zone)
        with self.database.session() as session:
            clinician = people.add_clinician(
                session, name=chat.clinician, channel=_CHANNEL, address=_CLINICIAN, timezone=chat.timezone, now=begun
            )
            session.flush()
            patient = people.add_patient(
                session,
                alias=chat.patient,
                clinician_id=clinician.id,
                channel=_CHANNEL,
                address=_PATIENT,
                foot=chat.foot,
                timezone=chat.timezone,
                morning_time=chat.morning,
                evening_time=chat.evening,
                start=chat.start,
                prior_activity=str(chat.active_before),
                enrolled_first_step_pain=chat.first_steps,
                enrolled_rest_pattern=str(chat.rest_pain),
                start_walk=chat.walking,
                start_step=str(chat.raises.step),
                start_sets=chat.raises.sets,
                start_reps=chat.raises.reps,
                walk_target=chat.target,
                status="active",
                created_at=begun,
            )
            session.flush()
            if patient.id is None:
                raise ValueError("a stored patient has an id")
            self.patient_id: int = patient.id
            schedule_next(patient, begun - timedelta(seconds=1))

    def instant(self, wall: datetime) -> datetime:
        """The instant of a wall clock; in an overlap the first of the two."""
        return wall.replace(tzinfo=self.zone, fold=0).astimezone(UTC)

    def run(self) -> list[str]:
        """Play to the end of the last day. Returns what was expected and not found."""
        for line in self.chat.lines:
            if line.who == "bot":
                self._expect(line)
                continue
            now = self.instant(line.at)
            self._prompts_until(now)
            self.updates += 1
            self.show(Said(at=line.at, who=line.who, text=line.text))
            incoming = Incoming(
                channel=_CHANNEL,
                update_id=str(self.updates),
                address=_PATIENT if line.who == "patient" else _CLINICIAN,
                text=line.text,
                sent_at=now,
            )
            self.conversation.handle(incoming, now)
            self.replies, self.spoke = self._deliver(now), line.who
        end = day_start(self.chat.last_day + timedelta(days=1), self.zone)
        self._prompts_until(end - timedelta(seconds=1))
        with self.database.session() as session:
            patient = people.patient_by_id(session, self.patient_id)
            PatientDays(session, patient, end).close_until(self.chat.last_day + timedelta(days=1))
        return self.misses

    def close(self) -> None:
        """Let the database go."""
        self.database.close()

    def _prompts_until(self, now: datetime) -> None:
        """Send what falls due up to `now`, each at its own time, as the scheduler would."""
        while True:
            with self.database.session() as session:
                due_at = people.patient_by_id(session, self.patient_id).next_due_at
            if due_at is None or due_at > now:
                return
            self.conversation.tick(due_at)
            self._deliver(due_at)

    def _deliver(self, now: datetime) -> list[Outgoing]:
        sent = self.conversation.deliverable(now, 1000)
        for each in sent:
            self.conversation.delivered(each.id, now)
            to = "bot" if each.address == _PATIENT else "bot to clinician"
            self.show(Said(at=now.astimezone(self.zone), who=to, text=each.text))
        return sent

    def _expect(self, line: Line) -> None:
        address = _CLINICIAN if line.to == "clinician" else _PATIENT
        # What a clinician is sent must not stand in for what the patient reads; a clinician's line is answered to both.
        said = [
            each.text
            for each in self.replies
            if each.address == address or (line.to == "patient" and self.spoke == "clinician")
        ]
        together = "\n".join(said)
        found = line.text.casefold() in together.casefold()
        if found is not line.expected:
            wanted = "to contain" if line.expected else "not to contain"
            self.misses.append(
                f"{self.chat.path}:{line.number}: expected the replies {wanted} {line.text!r}, got: {together or 'nothing'!r}"
            )

    def json_days(self) -> list[dict[str, Any]]:
        """The days as the contract has them."""
        with self.database.session() as session:
            usual = self._usual_loads(session)
            return [self._json_day(session, day, usual[day]) for day in days_of(self.chat)]

    def _json_day(self, session: Session, day: date, usual: float | None) -> dict[str, Any]:
        patient = people.patient_by_id(session, self.patient_id)
        days = PatientDays(session, patient, day_start(day, self.zone))
        decision = days.decision(day)
        if decision is None:
            raise LookupError(f"{day} was not decided")
        evening = records.evening_of(session, self.patient_id, day)
        loads = activity_loads(evening, decision.shown, days.protocol)
        morning = records.morning_of(session, self.patient_id, day)
        answers = int(not morning.silent) + int(evening.reported or evening.worst_pain is not None)
        end = day_start(day + timedelta(days=1), self.zone)
        open_then = flags.open_at(session, self.patient_id, end)
        flare = decision.flare
        return {
            "patient": self.chat.patient,
            "date": day.isoformat(),
            "week": days.week(day),
            "phase": str(decision.phase),
            "decision": str(decision.decision),
            "reasons": [str(each) for each in decision.reasons],
            "walk_minutes": decision.plan.walk,
            "heel_raises": {
                "step": str(decision.plan.step),
                "sets": decision.plan.sets,
                "reps": decision.plan.reps,
            },
            "flare": None
            if flare is None
            else {"cause": str(flare.cause), "candidates": [str(each) for each in flare.candidates]},
            "load": None if loads is None else one_decimal(total_load(loads)),
            "usual_load": None if usual is None else one_decimal(usual),
            "red_flags": sorted({row.code for row in open_then}),
            "prompts_sent": len(messages.prompts_sent(session, self.patient_id, day)),
            "answers": answers,
        }

    def _usual_loads(self, session: Session) -> dict[date, float | None]:
        """The usual load before each day, from the records as they stand in the end."""
        found: dict[date, float | None] = {}
        usual = Usual()
        patient = people.patient_by_id(session, self.patient_id)
        days = PatientDays(session, patient, day_start(self.chat.start, self.zone))
        for day in days_of(self.chat):
            found[day] = usual.total
            decision = days.decision(day)
            evening = records.evening_of(session, self.patient_id, day)
            if decision is not None:
                loads = activity_loads(evening, decision.shown, days.protocol)
                usual = usual_after(usual, loads, days.protocol)
        return found


def demo_files() -> list[Path]:
    """The conversations that come with the program."""
    from importlib.resources import files

    folder = files("demo_conversations")
    return sorted(Path(str(each)) for each in folder.iterdir() if each.name.endswith(".chat"))


def play(paths: list[Path], *, as_json: bool, show: Callable[[Said], None], say: Callable[[str], None],
         complain: Callable[[str], None], announce: Callable[[ChatFile], None]) -> int:  # fmt: skip
    """Play the files. Returns the exit status: 0 as expected, 1 not, 2 a file that cannot be read."""
    status = 0
    for path in paths or demo_files():
        try:
            chat = read_chat(path)
        except ChatFileError as problem:
            complain(str(problem))
            status = 2
            continue
        if not as_json:
            announce(chat)
        player = Player(chat, None if as_json else show)
        try:
            misses = player.run()
            if as_json:
                for day in player.json_days():
                    say(json.dumps(day, ensure_ascii=False))
        finally:
            player.close()
        for miss in misses:
            complain(miss)
        if misses:
            status = max(status, 1)
    return status
