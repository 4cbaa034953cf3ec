"""Enrolment in the chat: one question after the other, each answer checked, nothing lost.

consent ─► signs ─► foot ─► zone ─► times ─► first ─► rest ─► active ─► done
   no ─► left └ yes ─► explain ─┘ the clinician is told, and there are no doses until they have looked

A warning sign in any answer counts (rule 10): its flag opens, the clinician is told, and the questions go on.
One that is only hinted at is asked about first, but in answer to the list of signs it counts as a yes.
"""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from sqlmodel import Session

from bot.conversation.alerting import is_told_again, open_signs, raise_alert
from bot.conversation.intents import has_words_of, is_bare_no, levels_of_activity, plain, words_of, yes_or_no
from bot.conversation.prompting import PAIN_BUTTONS, REST_BUTTONS, YES_NO, clinician_name, schedule_next
from bot.conversation.replies import Replies
from bot.conversation.values import LONGEST_PASSED_ON
from bot.conversation.wording import asking, clinic
from bot.conversation.wording import enrolment as words
from bot.conversation.wording import flags as flag_words
from bot.program.ladder import LOWEST
from bot.program.protocol import DEFAULT
from bot.program.terms import Asked, PriorActivity, RedFlag
from bot.reader import read
from bot.reader.reading import FlagFinding
from scheduler.times import local_day
from storage import messages, people
from storage.tables import IncomingMessage, Patient

_STEPS = ("consent", "signs", "foot", "zone", "times", "first", "rest", "active")
_ASKED = {"first": Asked.MORNING, "rest": Asked.MORNING}
"""What a bare number means in the answer to a question; to all others it means nothing."""
_TAKEN_WITH_A_SIGN = frozenset({"foot", "first", "rest"})
"""Questions whose answer is still taken where a warning sign stands in it."""
_OK = "ok"
_TIME = re.compile(r"\b([01]?\d|2[0-3])(?:[:.h]([0-5]\d))?\s*(am|pm)?\b")


class EnrolmentDialogue:
    """Handles one answer of a patient who is enrolling."""

    def __init__(
        self,
        session: Session,
        patient: Patient,
        replies: Replies,
        now: datetime,
        message: IncomingMessage | None = None,
    ) -> None:
        self.message_id = None if message is None else message.id
        self.session = session
        self.patient = patient
        self.replies = replies
        self.now = now
        self.memory: dict[str, Any] = dict(patient.dialogue or {})
        self.moved_on = False
        """Whether the answer was taken, so that its question is over."""

    def begin(self) -> None:
        """Say what the bot is and is not, and ask for consent."""
        self._ask("consent")

    def handle(self, text: str) -> None:
        """Take in the answer to the open question, and ask the next."""
        step = self.memory.get("enrolling", "consent")
        if step == "explain":
            self._explained(text)
            return
        if step != "signs" and self._signs_answered(step, text):
            return
        problem = getattr(self, f"_take_{step}")(text)
        if problem is not None:
            if problem:
                self._say(problem, self._question(step)[1])
            return
        self._go_on(step)

    def _go_on(self, step: str) -> None:
        self.moved_on = True
        following = _STEPS.index(step) + 1
        if step == "signs" and self.patient.start is not None:
            self._come_back()
        elif following < len(_STEPS):
            self._ask(_STEPS[following])
        else:
            self._finish()

    def _say(self, text: str, buttons: tuple[tuple[str, ...], ...] = (), *, menu: bool = False) -> None:
        attachment = {"what": messages.MENU, "role": "patient"} if menu else None
        self.replies.say(text, patient=self.patient, buttons=buttons, attachment=attachment)

    def _ask(self, step: str) -> None:
        self.memory["enrolling"] = step
        self._remember()
        self._say(*self._question(step))

    def _remember(self) -> None:
        self.patient.dialogue = dict(self.memory)

    def _question(self, step: str) -> tuple[str, tuple[tuple[str, ...], ...]]:
        clinician = clinician_name(self.session, self.patient)
        questions: dict[str, tuple[str, tuple[tuple[str, ...], ...]]] = {
            "consent": (words.what_this_is(clinician) + "\n\n" + words.ask_consent(), YES_NO),
            "signs": (words.ask_warning_signs(), YES_NO),
            "foot": (words.ask_foot(), (("left", "right", "both"),)),
            "zone": (words.ask_time_zone(self.patient.timezone), YES_NO),
            "times": (words.ask_prompt_times(self.patient.morning_time, self.patient.evening_time), ((_OK,),)),
            "first": (words.ask_first_step_pain(), PAIN_BUTTONS),
            "rest": (words.ask_rest_pattern(), REST_BUTTONS),
            "active": (words.ask_prior_activity(), (tuple(PriorActivity),)),
        }
        return questions[step]

    def _take_consent(self, text: str) -> str | None:
        answer = yes_or_no(text)
        if answer is None:
            return words.please_yes_or_no()
        if not answer:
            self._say(words.no_consent())
            self._tell_clinician(clinic.refused_consent(self.patient.alias))
            # A new invitation opens the door again.
            self.patient.status, self.patient.address, self.patient.dialogue = "left", None, {}
            return ""
        return None

    # -- warning signs

    def _signs_answered(self, step: str, text: str) -> bool:
        """Act on the signs in an answer to another question. False if there are none."""
        waiting = [FlagFinding(code=RedFlag(code), words=said) for code, said in self.memory.pop("doubt", ())]
        answer = yes_or_no(text) if waiting else None
        found = list(read(text, _ASKED.get(step, Asked.ANY)).flags)
        sure = [each for each in found if each.certain]
        doubtful = [each for each in found if not each.certain]
        if answer is True:
            sure = [waiting.pop(0), *sure]
        elif answer is False and not sure:
            del waiting[0]
        doubtful = [*waiting, *doubtful]
        if sure:
            self._sign_named(sure, text)
        if doubtful:
            self._in_doubt(doubtful)
        elif answer is not None:
            self._ask(step)
        elif sure:
            taken = step in _TAKEN_WITH_A_SIGN and getattr(self, f"_take_{step}")(text) is None
            self._go_on(step) if taken else self._ask(step)
        return bool(sure or doubtful or answer is not None)

    def _in_doubt(self, found: list[FlagFinding]) -> None:
        """A sign that is only hinted at: one yes-or-no question; the open question waits."""
        self.memory["doubt"] = [(str(each.code), each.words) for each in found]
        self._remember()
        self._say(asking.ask_flag(found[0].code), YES_NO)

    def _take_signs(self, text: str) -> str | None:
        """The answer to the list. Whatever is not a plain no and hints at a sign, or at doubt, is a yes."""
        answer = yes_or_no(text)
        found = list(read(text, Asked.ANY).flags)
        if found:
            self._sign_named(found, text)
            return None
        hinted = has_words_of("sign_words", text) and answer is None
        if answer is not True and not hinted and not has_words_of("unsure", text):
            return None if answer is False else words.please_yes_or_no()
        self._stop()
        clinician = clinician_name(self.session, self.patient)
        self._say(words.signs_present(clinician))
        alert = words.signs_alert(self.patient.alias, text)
        raise_alert(self.session, self.patient, (), alert, self.replies, self.now, words=text)
        if hinted:
            return None
        self.moved_on = True
        self.memory["enrolling"] = "explain"
        self._remember()
        self._say(words.ask_which_sign(clinician))
        return ""

    def _explained(self, text: str) -> None:
        """Which sign it was: told to the clinician, and its flag opens. The questions go on all the same."""
        found = list(read(text, Asked.ANY).flags)
        if found:
            self._sign_named(found, text)
        elif yes_or_no(text) is None:
            self._tell_clinician(
                clinic.message_from_patient(self.patient.alias, self.patient.alias, text[:LONGEST_PASSED_ON])
            )
            self._say(words.questions_go_on(clinician_name(self.session, self.patient)))
        elif yes_or_no(text) is True:
            self._say(words.ask_which_sign(clinician_name(self.session, self.patient)))
            return
        self._go_on("signs")

    def _stop(self) -> None:
        # Whatever is answered next, nothing is loaded until the clinician has sent /allow.
        self.patient.loading_stopped = True

    def _sign_named(self, findings: list[FlagFinding], text: str) -> None:
        """Stop, open the flags, answer by their urgency, tell the clinician."""
        self._stop()
        codes = tuple(dict.fromkeys(each.code for each in findings))
        new = open_signs(self.session, self.patient, findings, self.message_id, self.now)
        clinician = clinician_name(self.session, self.patient)
        told = flag_words.flag_reply(codes, clinician=clinician)
        self._say(f"{told}\n{words.no_doses_yet(clinician)}")
        if new or is_told_again(self.session, self.patient, codes):
            alert = words.signs_alert(self.patient.alias, text, codes)
            raise_alert(self.session, self.patient, codes, alert, self.replies, self.now, words=text)

    # -- the answers

    def _take_foot(self, text: str) -> str | None:
        said = plain(text)
        named = [each for each in ("both", "left", "right") if re.search(rf"\b{each}\b", said)]
        if len(named) != 1:
            return words.unclear_foot()
        self.patient.foot = named[0]
        return None

    def _take_zone(self, text: str) -> str | None:
        if yes_or_no(text) is True:
            return None
        name = time_zone(text)
        if name is None:
            return words.unclear_time_zone()
        self.patient.timezone = name
        return None

    def _take_times(self, text: str) -> str | None:
        if plain(text) in words_of("times_fit"):
            return None
        found = prompt_times(text)
        if found is None:
            return words.unclear_prompt_times()
        self.patient.morning_time, self.patient.evening_time = found
        return None

    def _take_first(self, text: str) -> str | None:
        pain = read(text, Asked.MORNING).first_step_pain
        if pain is None or is_bare_no(text):
            return words.unclear_pain()
        self.patient.enrolled_first_step_pain = pain
        return None

    def _take_rest(self, text: str) -> str | None:
        pattern = read(text, Asked.MORNING).rest_pattern
        if pattern is None or is_bare_no(text):
            return words.unclear_rest_pattern()
        self.patient.enrolled_rest_pattern = str(pattern)
        return None

    def _take_active(self, text: str) -> str | None:
        """How active before. An answer with hints at two levels is asked back: the level sets how slowly doses go up."""
        levels = levels_of_activity(text)
        if len(levels) != 1:
            return words.unclear_prior_activity()
        self.patient.prior_activity = str(levels[0])
        return None

    def _tell_clinician(self, text: str) -> None:
        clinician = people.clinician_of(self.session, self.patient)
        self.replies.say(text, clinician=clinician, about=self.patient)

    def _joined(self, start: date, told: str) -> None:
        people.add_action(
            self.session,
            patient_id=self.patient.id or 0,
            clinician_id=None,
            kind="joined",
            details={"day 1": start.isoformat()},
            now=self.now,
        )
        self._tell_clinician(told)

    def _come_back(self) -> None:
        """Somebody who had left goes on with their own programme; a long gap lowers the doses (rule 5.6)."""
        patient = self.patient
        patient.status, patient.dialogue = "active", {}
        schedule_next(patient, self.now)
        stopped = clinician_name(self.session, patient) if patient.loading_stopped else None
        if patient.start is not None:
            self._joined(patient.start, clinic.back(patient.alias, stopped=patient.loading_stopped))
        self._say(
            words.back_again(morning=patient.morning_time, evening=patient.evening_time, stopped_by=stopped), menu=True
        )

    def _finish(self) -> None:
        patient = self.patient
        if patient.start_walk is None:
            patient.start_walk = DEFAULT.walk_start
        if patient.start_step is None:
            patient.start_step = str(LOWEST.step)
            patient.start_sets, patient.start_reps = LOWEST.sets, LOWEST.reps
        patient.status = "active"
        patient.start = local_day(self.now, ZoneInfo(patient.timezone)) + timedelta(days=1)
        patient.dialogue = {}
        schedule_next(patient, self.now)
        self._joined(patient.start, clinic.joined(patient.alias, patient.start, stopped=patient.loading_stopped))
        self._say(
            words.done(
                stopped_by=clinician_name(self.session, patient) if patient.loading_stopped else None,
                start=patient.start,
                walk=patient.start_walk,
                raises=f"{patient.start_step}, {patient.start_sets} sets of {patient.start_reps}",
                morning=patient.morning_time,
                evening=patient.evening_time,
            ),
            menu=True,
        )


def time_zone(text: str) -> str | None:
    """The time zone that a text names, by area and city or by the city alone, in any case; None if it is not one."""
    said = text.strip().strip(".").replace(" ", "_").casefold()
    known = {each.casefold(): each for each in sorted(available_timezones())}
    if said in known:
        return known[said]
    cities = {each.casefold() for each in known.values() if each.casefold().rpartition("/")[2] == said and "/" in each}
    return known[cities.pop()] if len(cities) == 1 else None


def prompt_times(text: str) -> tuple[str, str] | None:
    """The two times that a text gives, if they are a morning's and an evening's ("HH:MM"), or None."""
    found = [_clock(*each) for each in _TIME.findall(text.casefold())]
    if len(found) != 2 or not "05:00" <= found[0] <= "11:30" or not "15:00" <= found[1] <= "22:00":
        return None
    return found[0], found[1]


def _clock(hours: str, minutes: str, half: str) -> str:
    hour = int(hours)
    if half == "pm" and hour < 12:
        hour += 12
    return f"{hour:02d}:{minutes or '00'}"
