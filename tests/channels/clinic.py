"""Fourteen days of a small clinic on a fast clock, through the real service and a Bot API server on this machine.

`python -m tests.channels.clinic` prints who wrote and who got what. One clinician and five patients, and a colleague
for the days away; on the way everything happens once that a clinic sees in months.
"""

from __future__ import annotations

import dataclasses
import io
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pypdf import PdfReader

from tests.channels.running import ZONE, Person, Running, enrol, free_port, invite_clinician, running, token_in
from tests.telegram_server import TelegramServer

DAYS = 14
_WIDTH = 110


@dataclass
class Transcript:
    """Who wrote, and who got what, in the order of the clock."""

    service: Running
    names: dict[int, str] = field(default_factory=dict)
    lines: list[str] = field(default_factory=list)
    _seen: int = 0
    _heard: int = 0

    def look(self) -> None:
        """Write down what is new."""
        world = self.service.server
        assert isinstance(world, TelegramServer)
        when = f"{self.service.clock.local(ZONE):%a %d %b %H:%M}"
        with world.world.lock:
            updates = [world.world.updates[number] for number in sorted(world.world.updates) if number > self._heard]
        for update in updates:
            self._heard = max(self._heard, update.update_id)
            who = self.names.get(update.chat_id, f"chat {update.chat_id}")
            self._line(when, f"{who} >", _of_update(update.kind, update.payload))
        for each in self.service.server.sent(after=self._seen):
            self._seen = max(self._seen, each.message_id)
            text = each.text if each.kind == "text" else f"[{each.kind} {each.file_name or ''}] {each.text}"
            buttons = "  " + " ".join(f"[{label}]" for row in each.buttons for label in row) if each.buttons else ""
            self._line(when, f"   > {self.names.get(each.chat_id, each.chat_id)}", text + buttons)

    def note(self, text: str) -> None:
        """What is done to the service itself."""
        self.lines.append(f"{'':17}--- {text}")

    def _line(self, when: str, who: str, text: str) -> None:
        flat = " / ".join(line.strip() for line in text.split("\n") if line.strip())
        self.lines.append(f"{when}  {who:<12} {flat if len(flat) <= _WIDTH else flat[: _WIDTH - 1] + chr(0x2026)}")


def _of_update(kind: str, payload: dict[str, Any]) -> str:
    if kind == "callback_query":
        return f"[{_label(payload)}]"
    if kind == "my_chat_member":
        return "(blocks or unblocks the bot)"
    said = str(payload.get("text") or payload.get("caption") or "")
    if said.startswith("/start ") and len(said) > 20:
        said = "/start (invitation)"
    other = next((f"({name}) " for name in ("voice", "photo", "sticker", "document") if name in payload), "")
    edited = "(edits) " if kind == "edited_message" else ""
    forwarded = "(forwards) " if "forward_origin" in payload else ""
    return edited + forwarded + other + said


def _label(payload: dict[str, Any]) -> str:
    """What stood on the button that was pressed."""
    rows = payload["message"].get("reply_markup", {}).get("inline_keyboard", ())
    found = (each["text"] for row in rows for each in row if each.get("callback_data") == payload["data"])
    return next(found, "an old button")


MORNINGS = {
    "Rowan": (4, 4, 3, 3, 3, 3, 3, 2, 3, 3, 7, 6, 4, 3),
    "Briar": (5, 5, 5, 4, 4, 4, 4, 4, 4, 3, 3, 3, 3, 3),
    "Hazel": (6, 5, 5, 5, 5, 5, 4, 4, 4, 4, 4, 4, 4, 4),
    "Linden": (2, 2, 2, 3, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2),
    "Sorrel": (5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 5, 4, 4),
}
"""First-step pain, day by day."""


class Clinic:
    """The people, and what happens to them."""

    def __init__(self, service: Running) -> None:
        self.service = service
        self.server = service.server
        self.transcript = Transcript(service)
        service.at_rest.append(self.transcript.look)
        self.patients: dict[str, Person] = {}
        self.pdfs: list[bytes] = []
        self.seen: dict[str, str] = {}
        """What was heard at each happening, for the test to look at."""
        self.prompts_queued = 0
        self.waiting = 0

    def named(self, chat_id: int, name: str) -> Person:
        """A person with a name in the transcript."""
        self.transcript.names[chat_id] = name
        return Person(self.service, chat_id)

    def run(self) -> None:
        """All fourteen days."""
        self.first_day()
        happenings = {
            1: self.faults_of_a_network,
            2: self.corrections,
            3: self.a_warning_sign,
            4: self.cleared,
            5: self.a_patient_blocks_the_bot,
            6: self.other_things_than_words,
            7: self.the_digest,
            8: self.back_and_late,
            9: self.a_holiday_of_the_clinician,
            10: self.orders,
            11: self.own_words,
            12: self.a_patient_goes,
            13: self.nothing_new,
        }
        for day in range(1, DAYS):
            self.morning(day)
            happenings[day](day)
            self.evening(day)
        self.service.go_to(self.service.at(14, "08:05"))
        self.keep_digest()
        self.waiting = self.service.waiting()
        self.prompts_queued += self._prompts("WHERE")

    # ---- the days' course ----

    def awake(self) -> dict[str, Person]:
        """Those who answer on these days."""
        return {name: each for name, each in self.patients.items() if name not in self.silent}

    silent: frozenset[str] = frozenset()

    def morning(self, day: int) -> None:
        """The prompts come, everybody answers: some by a button, some in words."""
        self.service.go_to(self.service.at(day, "07:35"))
        for number, (name, person) in enumerate(self.awake().items()):
            pain = MORNINGS[name][day]
            if number % 2:
                person.user.says(f"{pain}, comes and goes")
            else:
                keyboard = person.question()
                if str(pain) in {label for row in keyboard.buttons for label in row}:
                    person.user.presses(keyboard, str(pain))
                else:
                    person.user.says(f"first steps {pain}, comes and goes")
        self.service.settle()
        for person in self.awake().values():
            last = person.last()
            if ("comes and goes",) in last.buttons:
                person.user.presses(last, "comes and goes")
        self.service.settle()

    def evening(self, day: int) -> None:
        """The same at night."""
        self.service.go_to(self.service.at(day, "19:45"))
        for name, person in self.awake().items():
            walked = 45 if (name, day) == ("Rowan", 9) else 6
            person.user.says(f"walked {walked} min, all done, worst {min(5, MORNINGS[name][day] + 1)}")
        self.service.settle()

    # ---- what happens ----

    def first_day(self) -> None:
        """The clinician and a colleague join; patients are invited; strangers learn one sentence."""
        self.vale, self.ash = self.named(1, "Dr Vale"), self.named(2, "Dr Ash")
        self.vale.opens(invite_clinician(self.service, "Dr Vale"))
        self.ash.opens(invite_clinician(self.service, "Dr Ash"))
        for chat, name in ((11, "Rowan"), (12, "Hazel"), (13, "Linden")):
            self.transcript.names[chat] = name
            self.patients[name] = enrol(self.service, self.vale, chat, name)
        token = token_in(self.vale.says("/invite Briar walk 6 target 30"))
        self.late = token_in(self.vale.says("/invite Sorrel"))
        briar = self.patients["Briar"] = self.named(14, "Briar")
        briar.opens(token)
        briar.says("yes")
        briar.says("no")
        self.transcript.note("the service is stopped and started in the middle of a dialogue")
        self.service.restart()
        for text in ("right", "yes", "7:15 and 19:30", "5", "it comes and goes", "a little"):
            briar.says(text)
        stranger = self.named(99, "a stranger")
        self.seen["used"] = stranger.opens(token)
        self.seen["guessed"] = stranger.opens("A" * 22)
        self.seen["hello"] = stranger.says("hello, who is in here?")
        self.seen["enrolled"] = self.vale.says("/caseload")

    def faults_of_a_network(self, day: int) -> None:
        """An update comes again; Telegram asks to wait, fails, and drops a connection."""
        rowan, hazel = self.patients["Rowan"], self.patients["Hazel"]
        rowan.says("thanks")
        assert rowan.said is not None
        self.server.redeliver(rowan.said)
        self.service.settle()
        self.seen["redelivered"] = rowan.text()
        self.server.fail_next("sendMessage", status=429, retry_after=3, chat_id=hazel.chat_id)
        self.seen["429"] = hazel.says("thanks")
        self.server.fail_next("sendMessage", status=502, html=True, chat_id=hazel.chat_id)
        self.seen["502"] = hazel.says("thanks")
        self.server.drop_after_accepting("sendMessage", chat_id=hazel.chat_id)
        self.seen["dropped"] = hazel.says("thanks")

    def corrections(self, day: int) -> None:
        """An answer is edited; a keyboard is pressed that is over."""
        briar = self.patients["Briar"]
        self.service.go_on(minutes=5)
        self.seen["again"] = briar.says("8, comes and goes")
        self.seen["edited"] = briar.edits("5, comes and goes")
        hazel = self.patients["Hazel"]
        keyboard = next(each for each in hazel.user.received() if "10" in {b for row in each.buttons for b in row})
        hazel.presses("9", keyboard)
        self.seen["old button"] = hazel.notice()

    def a_warning_sign(self, day: int) -> None:
        """A calf swells: the patient is told whom to call, the clinician is told until they have seen it."""
        self.service.go_to(self.service.at(day, "12:00"))
        hazel = self.patients["Hazel"]
        self.vale.new()
        self.seen["told"] = hazel.says("my calf is swollen and hot since last night")
        self.seen["alert"] = self.vale.text()
        self.service.go_on(hours=1, minutes=5)
        self.seen["repeated"] = self.vale.text()
        self.seen["acknowledged"] = self.vale.presses("Seen")
        self.service.go_on(hours=2)
        self.seen["after seen"] = self.vale.text()

    def cleared(self, day: int) -> None:
        """The clinician has looked, and clears the sign with a note."""
        self.seen["cleared"] = self.vale.says("/clear Hazel scanned today, no clot")

    def a_patient_blocks_the_bot(self, day: int) -> None:
        """The chat takes nothing any more: the clinician is told, and nothing is tried."""
        self.vale.new()
        self.patients["Linden"].user.blocks()
        self.service.settle()
        self.silent = frozenset({"Linden"})
        self.seen["blocked"] = self.vale.text()

    def other_things_than_words(self, day: int) -> None:
        """A voice note, a picture with words, a sticker, a forwarded message, a very long one, a group."""
        rowan = self.patients["Rowan"]
        rowan.new()
        rowan.user.sends_voice()
        rowan.user.sends_photo("this is my shoe")
        rowan.user.sends_sticker()
        rowan.user.forwards("first steps 8, all the time")
        rowan.user.says(("It was a quiet day and nothing hurt much. " * 100)[:4096])
        self.service.settle()
        self.seen["other kinds"] = rowan.text()

    def the_digest(self, day: int) -> None:
        """Monday at eight."""
        self.service.go_to(self.service.at(day, "08:05"))
        self.keep_digest()

    def keep_digest(self) -> None:
        """The PDF that came last."""
        self.pdfs.append(
            next(each.data or b"" for each in reversed(self.vale.user.received()) if each.kind == "document")
        )

    def back_and_late(self, day: int) -> None:
        """Linden writes again. Sorrel's invitation is over, so there is a new one. The service moves to a webhook."""
        self.service.go_to(self.service.at(day, "10:30"))
        self.vale.new()
        self.patients["Linden"].user.unblocks()
        self.patients["Linden"].says("hello, I am back. first steps 2, comes and goes")
        self.silent = frozenset()
        self.seen["back"] = self.vale.text()
        sorrel = self.named(15, "Sorrel")
        self.seen["expired"] = sorrel.opens(self.late)
        self.patients["Sorrel"] = enrol(self.service, self.vale, 15, "Sorrel")
        self.transcript.note("the service is stopped and started by webhook")
        self.service.stop()
        port = free_port()
        self.service.options = dataclasses.replace(
            self.service.options,
            webhook_url=f"http://127.0.0.1:{port}/hook",
            webhook_port=port,
            webhook_secret="a-secret-of-the-clinic",
        )
        self.service.start()

    def a_holiday_of_the_clinician(self, day: int) -> None:
        """A colleague covers, gets an alert as well, and sees no more when it is over."""
        self.seen["before cover"] = self.ash.says("/caseload")
        self.vale.says("/cover Dr Ash until 2026-03-12")
        self.ash.new()
        self.patients["Linden"].says("I stepped on a nail and there is an open wound on my foot")
        self.seen["covered"] = self.ash.text()
        self.ash.presses("Seen")
        self.ash.says("/clear Linden looked at it, small scratch")
        self.vale.new()

    def orders(self, day: int) -> None:
        """The clinician pauses, sets a dose, takes it back, and reads who did what. Rowan's heel flares."""
        rowan = self.patients["Rowan"]
        self.seen["flare"] = "\n".join(each.text for each in rowan.user.received()[-3:])
        rowan.new()
        self.vale.says("/pause Briar for 3 days")
        self.vale.says("/dose Briar walk 8")
        self.seen["undone"] = self.vale.says("/undo Briar")
        self.seen["log"] = self.vale.says("/log Briar")
        self.seen["told of orders"] = self.patients["Briar"].text()

    def own_words(self, day: int) -> None:
        """A message each way, other times, a holiday, a chart, and a copy of one's data."""
        briar, hazel = self.patients["Briar"], self.patients["Hazel"]
        self.vale.new()
        briar.says("message may I swim?")
        self.seen["from patient"] = self.vale.text()
        self.vale.says("/message Briar yes, gently")
        self.seen["from clinician"] = briar.text()
        hazel.says("times 07:20 20:00")
        hazel.says("progress")
        hazel.says("my data")
        self.seen["files"] = " ".join(each.file_name or each.kind for each in hazel.user.received() if each.data)

    def a_patient_goes(self, day: int) -> None:
        """Briar has everything erased."""
        briar = self.patients["Briar"]
        self.prompts_queued += self._prompts(f"WHERE address = '{briar.chat_id}' AND")
        briar.says("erase")
        self.seen["erased"] = briar.presses("yes")
        del self.patients["Briar"]
        self.seen["goodbye"] = self.vale.text()
        self.seen["caseload after"] = self.vale.says("/caseload")

    def _prompts(self, where: str) -> int:
        return int(
            self.service.rows.one(f"SELECT count(*) FROM outgoing_messages {where} kind = 'prompt' AND sent_at > ''")
        )

    def nothing_new(self, day: int) -> None:
        """A quiet day."""


def fourteen_days(server: TelegramServer, url: str) -> Clinic:
    """Run them on a fresh database."""
    with running(server, url) as service:
        clinic = Clinic(service)
        clinic.run()
        return clinic


def main() -> None:
    """Print the transcript."""
    with tempfile.TemporaryDirectory() as folder, TelegramServer() as server:
        clinic = fourteen_days(server, f"sqlite:///{Path(folder) / 'clinic.sqlite3'}")
        for line in clinic.transcript.lines:
            print(line)
        pages = [len(PdfReader(io.BytesIO(each)).pages) for each in clinic.pdfs]
        print(f"{server.count_sent()} messages sent, digests of {pages} pages, {len(server.refusals())} refused")


if __name__ == "__main__":
    sys.exit(main())
