"""`heel-checkin chat`: talk to the bot in the terminal, with a clock that you move yourself."""

from __future__ import annotations

import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import typer

from bot.channels.attachments import draw
from bot.commands.play import Said
from bot.commands.show import ChatPrinter
from bot.conversation.digests import schedule_digest
from bot.conversation.enrolling import EnrolmentDialogue
from bot.conversation.prompting import schedule_next
from bot.conversation.replies import Replies
from bot.conversation.service import Conversation
from bot.conversation.values import Incoming, Outgoing, label_of
from scheduler.times import local_day
from storage import alerts, messages, people
from storage.database import open_database

_HELP = """You are the patient. What you type goes to the bot. Lines that begin with a dot move things:
  .next           on to the next prompt          .morning / .evening   on to the next 07:10 / 19:40
  .at 21:15       on to that time of day          .days 3               on by three days, without answers
  .dr /help       speak as the clinician          .oak /caseload        speak as a colleague (share, cover)
  .who            who is who, and what time it is
  .help           this text                       .quit                 leave"""

_CHANNEL = "terminal"
_CLINICIANS = {".dr": ("clinician", "Dr Vale"), ".oak": ("colleague", "Dr Oak")}
"""What a line of theirs begins with, where they write from, what they are called."""
_LONGEST_JUMP = 200
"""Days that the clock moves on at once, at most."""


class _Room:
    """The patient, the clinician and the clock."""

    def __init__(self, now: datetime, zone: ZoneInfo) -> None:
        self.now, self.zone = now, zone
        self.database = open_database("sqlite://")
        self.conversation = Conversation(self.database)
        self.printer = ChatPrinter()
        self.updates = 0
        self.folder: Path | None = None
        with self.database.session() as session:
            self.clinician_ids: list[int | None] = []
            for address, name in _CLINICIANS.values():
                clinician = people.add_clinician(
                    session, name=name, channel=_CHANNEL, address=address, timezone=zone.key, now=now
                )
                session.flush()
                self.clinician_ids.append(clinician.id)
                schedule_digest(clinician, now)

    def enrol(self, ready: bool) -> None:
        """Add the patient: enrolled at once, or about to be asked."""
        with self.database.session() as session:
            patient = people.add_patient(
                session,
                alias="Rowan",
                clinician_id=self.clinician_ids[0],
                channel=_CHANNEL,
                address="patient",
                foot="right",
                timezone=self.zone.key,
                morning_time="07:00",
                evening_time="19:30",
                status="enrolling",
                created_at=self.now,
            )
            session.flush()
            if ready:
                patient.status = "active"
                patient.start = local_day(self.now, self.zone) + timedelta(days=1)
                patient.prior_activity = "moderately"
                patient.enrolled_first_step_pain = 5
                patient.enrolled_rest_pattern = "intermittent"
                patient.start_walk, patient.start_step, patient.start_sets, patient.start_reps = 5, "seated both", 2, 8
                schedule_next(patient, self.now)
            else:
                EnrolmentDialogue(session, patient, Replies(session, self.now), self.now).begin()
        self.show_outbox()

    def say(self, who: str, text: str) -> None:
        """Hand a message over and show the replies."""
        self.updates += 1
        self.now += timedelta(seconds=20)
        self.conversation.handle(
            Incoming(channel=_CHANNEL, update_id=str(self.updates), address=who, text=text, sent_at=self.now), self.now
        )
        self.show_outbox()

    def show_outbox(self, *, asked_for: bool = True) -> None:
        """Deliver what waits."""
        for each in self.conversation.deliverable(self.now, 1000):
            self.conversation.delivered(each.id, self.now)
            to = {"patient": "bot", "colleague": "bot to Dr Oak"}.get(each.address, "bot to clinician")
            self.printer.said(Said(at=self.now.astimezone(self.zone), who=to, text=each.text))
            if each.buttons:
                labels = "  ".join(f"({label_of(button)})" for row in each.buttons for button in row)
                self.printer.console.print(f"        {labels}", markup=False)
            self._show_files(each, asked_for=asked_for)

    def _show_files(self, message: Outgoing, *, asked_for: bool) -> None:
        """A picture or file cannot be shown in a terminal: it is put into a folder, and named."""
        wanted = message.attachment
        if wanted is None or not messages.brings_file(wanted):
            return
        if message.kind == "digest" and not asked_for:
            # Drawn anew each week while the clock is moved on, it would make one wait.
            self.printer.console.print("        [.dr /digest makes the file]", markup=False)
            return
        if self.folder is None:
            self.folder = Path(tempfile.mkdtemp(prefix="heel-checkin-"))
        for number, file in enumerate(draw(self.database, wanted, self.now)):
            path = self.folder / f"{message.id}-{number}-{file.name}"
            path.write_bytes(file.content)
            self.printer.console.print(f"        [{path}]", markup=False)

    def move_to(self, then: datetime) -> None:
        """Move the clock on, through every prompt that falls due."""
        while True:
            due_at = self._next_due()
            if due_at is None or due_at > then:
                break
            self.now = max(self.now, due_at)
            self.conversation.tick(self.now)
            self.show_outbox(asked_for=False)
        self.now = max(self.now, then)

    def next_prompt(self) -> None:
        """Move on until something was sent."""
        due_at = self._next_due()
        self.move_to(self.now + timedelta(hours=12) if due_at is None else due_at)

    def _next_due(self) -> datetime | None:
        with self.database.session() as session:
            patient = people.patient_by_address(session, _CHANNEL, "patient")
            clinicians = [people.clinician_by_id(session, each) for each in self.clinician_ids]
            waiting = [each.next_at for each in alerts.unseen(session, [] if patient is None else [patient.id or 0])]
            due = [
                None if patient is None else patient.next_due_at,
                *(each.next_digest_at for each in clinicians if each is not None),
                *waiting,
            ]
            return min((each for each in due if each is not None), default=None)

    def clock(self, clock: str) -> datetime:
        """The next instant with that time of day. Raises `ValueError`."""
        hours, minutes = (int(part) for part in clock.split(":"))
        local = self.now.astimezone(self.zone)
        then = local.replace(hour=hours, minute=minutes, second=0, microsecond=0)
        if then <= local:
            then += timedelta(days=1)
        return then.astimezone(UTC)


def chat(*, start: str | None, timezone: str, ready: bool) -> int:
    """Run the room until the input ends. Returns the exit status."""
    try:
        zone = ZoneInfo(timezone)
        now = datetime.fromisoformat(start) if start else datetime.now(UTC).astimezone(zone).replace(tzinfo=None)
    except (ZoneInfoNotFoundError, ValueError) as problem:
        typer.echo(
            f"That does not work: {problem}. Example: --start '2026-03-01 18:00' --timezone Europe/Lisbon", err=True
        )
        return 2
    room = _Room(now.replace(tzinfo=zone).astimezone(UTC), zone)
    console = room.printer.console
    console.print(_HELP, markup=False)
    room.enrol(ready)
    while True:
        try:
            line = input(f"{room.now.astimezone(zone):%a %H:%M} > ")
        except (EOFError, KeyboardInterrupt):
            return 0
        if not line.strip():
            continue
        command, _, rest = line.strip().partition(" ")
        try:
            if command == ".quit":
                return 0
            if command == ".help":
                console.print(_HELP, markup=False)
            elif command == ".next":
                room.next_prompt()
            elif command == ".morning":
                room.move_to(room.clock("07:10"))
            elif command == ".evening":
                room.move_to(room.clock("19:40"))
            elif command == ".at":
                room.move_to(room.clock(rest))
            elif command == ".days":
                room.move_to(room.now + timedelta(days=min(int(rest), _LONGEST_JUMP)))
            elif command in _CLINICIANS:
                room.say(_CLINICIANS[command][0], rest)
            elif command == ".who":
                console.print(
                    "Patient: Rowan. Clinician: Dr Vale; colleague: Dr Oak. "
                    f"It is {room.now.astimezone(zone):%A %d %B %Y, %H:%M}."
                )
            elif command.startswith("."):
                console.print(f"There is no {command}.\n{_HELP}", markup=False)
            else:
                room.say("patient", line)
        except ValueError:
            console.print("Say it like .at 21:15 or .days 3", markup=False)
