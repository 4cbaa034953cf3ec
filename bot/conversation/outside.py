"""A patient who has no programme that goes on: it has ended, or enrolment is not finished.

Warning signs count here too. There is no plan, and no check-in is taken.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlmodel import Session

from bot.conversation import own_words, signs_asked
from bot.conversation.alerting import open_signs, raise_alert
from bot.conversation.intents import yes_or_no
from bot.conversation.prompting import YES_NO, clinician_name
from bot.conversation.replies import Replies
from bot.conversation.wording import asking, clinic
from bot.conversation.wording import flags as flag_words
from bot.conversation.wording import service as words
from bot.program.terms import Asked
from bot.reader import read
from bot.reader.reading import FlagFinding
from storage import alerts, people
from storage.tables import IncomingMessage, Patient


class OutsideTurn:
    """Handles one message within one transaction."""

    def __init__(
        self, session: Session, patient: Patient, replies: Replies, message: IncomingMessage, now: datetime
    ) -> None:
        self.session = session
        self.patient = patient
        self.replies = replies
        self.message = message
        self.now = now
        self.memory: dict[str, Any] = dict(patient.dialogue or {})
        self.settled = False
        self.erases = False

    def say(self, text: str, buttons: tuple[tuple[str, ...], ...] = ()) -> None:
        """Answer the patient."""
        self.replies.say(text, patient=self.patient, buttons=buttons)

    def answer_anyway(self, text: str) -> bool:
        """Own data, leaving, erasing. False if it is none of these."""
        done = own_words.answer_anyway(self, text)
        self.patient.dialogue = dict(self.memory)
        return done

    def handle(self, text: str) -> None:
        """Answer somebody whose programme has ended."""
        if self.answer_anyway(text):
            return
        self._answer(text)
        self.patient.dialogue = dict(self.memory)

    def _answer(self, text: str) -> None:
        name = clinician_name(self.session, self.patient)
        said = own_words.message_in(text)
        if said:
            own_words.pass_on(self, said)
        found = read(text, Asked.ANY).flags
        sure = [each for each in found if each.certain]
        waiting = signs_asked.kept_in(self.memory)
        self.memory.pop(signs_asked.KEPT_UNDER, None)
        answer = yes_or_no(text) if waiting else None
        if answer is True:
            sure = [*waiting, *sure]
        self.settled = answer is not None
        if sure:
            self._open(sure, text)
        elif found or (waiting and answer is None):
            asked = signs_asked.keep(self.memory, waiting or found)
            self.say(asking.ask_flag(asked[0].code), YES_NO)
        elif said:
            self.say(words.message_passed_on(name))
        else:
            self.say(words.programme_over(name))

    def _open(self, findings: list[FlagFinding], text: str) -> None:
        new = open_signs(self.session, self.patient, findings, self.message.id, self.now)
        codes = tuple(dict.fromkeys(each.code for each in findings))
        name = clinician_name(self.session, self.patient)
        told = f"{flag_words.flag_reply(codes, clinician=name)}\n{words.over_beside_a_sign()}"
        self.say(told)
        # Nobody looks at this chat any more: said again after the alert was seen, it is told again.
        if (new or not alerts.unseen(self.session, [self.patient.id or 0])) and people.clinician_of(
            self.session, self.patient
        ) is not None:
            alert = flag_words.clinician_alert(self.patient.alias, codes, text, told)
            alert = f"{clinic.alert_after_end(self.patient.alias)}\n{alert}"
            raise_alert(self.session, self.patient, codes, alert, self.replies, self.now, words=text)
