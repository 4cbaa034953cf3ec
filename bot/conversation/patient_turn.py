"""One message of an enrolled patient: read it, record it, decide, answer.

What is not understood is asked back once. No loading advice is given while a possible warning sign is unclear.

    message ─ undo / plan / help / thanks ──────────────► answer
        │
        ├─ an open yes-or-no question ─ yes ─► flag opens ─► its reply
        │                             ─ no ──► the next possible sign, or back to the day
        ├─ "what is new or worrying?" ─ words ► passed on, back to the day
        ▼
      read ─ nothing ──────────► asked again; a question or distress: shall it be passed on?
        │  ─ sure warning sign ─► flag opens ─► its reply
        │  ─ unsure ───────────► one yes-or-no question
        │  ─ something worries ─► what is it?
        ▼
      record ─► decide (anew) ─► guidance, or what is missing, once
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from sqlmodel import Session

from bot.conversation import holidays, own_words, signs_asked, unread, worries
from bot.conversation.alerting import is_told_again, raise_alert
from bot.conversation.days import PatientDays
from bot.conversation.intents import (
    has_words_of,
    intent_of,
    is_bare_no,
    last_yes_or_no,
    plain,
    says_worried,
    wants_a_person,
    yes_or_no,
)
from bot.conversation.periods import without_dates
from bot.conversation.prompting import (
    DONE_BUTTONS,
    PAIN_BUTTONS,
    REST_BUTTONS,
    YES_NO,
    clinician_name,
    evening_open,
    morning_open,
    tell_notices,
)
from bot.conversation.replies import Replies
from bot.conversation.wording import asking, understood
from bot.conversation.wording import days as day_words
from bot.conversation.wording import flags as flag_words
from bot.conversation.wording import prompts as prompt_words
from bot.conversation.wording import service as service_words
from bot.program.flags import URGENCY_OF, opens
from bot.program.load import evening_facts, minutes_said
from bot.program.terms import About, Activity, Asked, Decision, Exercise, RedFlag, Urgency
from bot.program.values import ActivityAmount, DayDecision, Evening, Morning, RaisesReported
from bot.reader import read, to_contract
from bot.reader.limits import of_one_day
from bot.reader.reading import FlagFinding, Reading
from scheduler.times import local_day
from storage import flags, messages, people, records
from storage.tables import IncomingMessage, Patient

_ONE_DAY = timedelta(days=1)

_Buttons = tuple[tuple[str, ...], ...]


def _yes_or_no_somewhere(text: str) -> bool | None:
    """The yes or no that a message is, or ends with."""
    answer = yes_or_no(text)
    return last_yes_or_no(text) if answer is None else answer


class PatientTurn:
    """Handles one message within one transaction."""

    def __init__(
        self, session: Session, patient: Patient, replies: Replies, message: IncomingMessage, now: datetime
    ) -> None:
        self.session = session
        self.patient = patient
        self.replies = replies
        self.message = message
        self.now = now
        self.days = PatientDays(session, patient, now)
        self.today = local_day(now, ZoneInfo(patient.timezone))
        self.memory: dict[str, Any] = dict(patient.dialogue or {})
        self.settled = False
        """Whether something was taken in, so that the buttons of earlier questions are over."""
        self.erases = False
        """Whether the patient asked to have everything deleted, and was sure of it."""
        self.begun = True
        """Whether day 1 has come."""
        self.asked_for: str | None = self.memory.get("waiting")
        """What was asked back before this message."""
        self.unread: list[str] = []
        """The messages just before this one that were not understood."""

    def say(self, text: str, buttons: tuple[tuple[str, ...], ...] = ()) -> None:
        """Answer the patient."""
        self.replies.say(text, patient=self.patient, buttons=buttons)

    def handle(self, text: str, *, signs_only: bool = False) -> None:
        """Answer `text`. `signs_only`: they may be somebody else's words, so only warning signs in them count."""
        self._open_day()
        self.unread = self.memory.pop("unread", [])
        reading: Reading | None = None
        if signs_only:
            self.take_in_signs(text)
        elif own_words.answer_anyway(self, text):
            pass
        elif self.memory.get(signs_asked.KEPT_UNDER):
            if said := own_words.message_in(text):
                own_words.pass_on(self, said)
                self.say(service_words.message_passed_on(self.clinician()))
            reading = self._answer_flag_question(text)
        elif self.memory.get("offer") and unread.answer_offer(self, text):
            pass
        elif own_words.answer(self, text):
            if own_words.message_in(text):
                self.memory.pop("worry", None)
        elif self.memory.get("worry"):
            reading = worries.answer(self, text)
        elif not self.answer_intent(text):
            reading = self._check_in(text)
        self._close_turn(reading)

    def _check_in(self, text: str) -> Reading:
        # "No" answers no question about a number: pressed or typed twice, it must not become a pain of 0.
        denies_only = is_bare_no(text) and self.memory.get("waiting") != "done"
        reading = Reading() if denies_only else self.read(text)
        if not self.begun:
            # The first full day has not come: warning signs count, and nothing is taken for its morning.
            if not self.take_in_signs(text):
                unread.not_understood(self, text) if wants_a_person(text) or says_worried(text) else self._not_begun()
        elif not reading.says_nothing:
            self.take_in(reading, worry=worries.worry_in(self, text, reading))
            unread.offer_question(self, text)
        elif reading.bare_number is not None:
            self.say(asking.ask_bare_number(reading.bare_number))
        else:
            unread.not_understood(self, text)
        return reading

    def _not_begun(self) -> None:
        self.say(asking.not_begun(prompt_words.day_text(self.days.first)))

    def correct(self, text: str, earlier: int, touched: list[tuple[str, date]]) -> None:
        """An edited message: what it said before (of the check-ins `touched`) is taken back, and it is read anew."""
        self._open_day()
        asked = Asked.MORNING if any(slot == "morning" for slot, _ in touched) else Asked.EVENING
        reading = read(text, asked)
        if all(day < self.today for _, day in touched):
            reading = replace(reading, about=About.YESTERDAY)
        self.memory["slot"] = str(asked)
        if not self.begun:
            if not self.take_in_signs(text):
                self._not_begun()
        elif not reading.says_nothing:
            records.withdraw(self.session, earlier, self.now)
            self.take_in(reading, waiting=self._waiting(), touched=touched)
        else:
            self.say(asking.unclear(str(asked)))
        self._close_turn(reading)

    def _open_day(self) -> None:
        self.begun = self.today >= self.days.first
        self.today = max(self.today, self.days.first)
        for closed in self.days.close_until(self.today):
            tell_notices(self.session, self.days, closed.notices, self.replies, self.days.day_numbered(closed.day))
        if self.memory.get("day") != str(self.today):
            kept = {
                name: self.memory[name] for name in (signs_asked.KEPT_UNDER, "said", "worry") if self.memory.get(name)
            }
            self.memory = {"day": str(self.today), "asked": [], "last_slot": self.memory.get("last_slot"), **kept}

    def _close_turn(self, reading: Reading | None) -> None:
        messages.mark_understood(
            self.session,
            self.message,
            patient_id=self.days.id,
            role="patient",
            reading=None if reading is None else to_contract(reading),
        )
        self.patient.dialogue = dict(self.memory)

    def take_in_signs(self, text: str) -> bool:
        """Warning signs in words that were said for another purpose count all the same. True if there were any."""
        signs = read(text, Asked.ANY).flags
        self.take_in_found(signs)
        return bool(signs)

    def take_in_found(self, signs: tuple[FlagFinding, ...]) -> None:
        """The same for signs that were read already."""
        if signs:
            self.take_in(Reading(flags=signs), waiting=self._waiting())

    # -- what is said to the bot itself

    def answer_intent(self, text: str) -> bool:
        intent = intent_of(text)
        if holidays.asks_for_quiet(text, self.today):
            holidays.answer(self, text)
            # Read without the dates, which would put the sign beside them into the past.
            self.take_in_signs(without_dates(text))
            return True
        if (
            intent in {"no", "nothing_new"}
            and not self.memory.get("waiting")
            and self.slot() is Asked.ANY
            and not self.days.open_codes()
        ):
            # The morning's last question was whether anything is new.
            self.say(asking.nothing_new())
            return True
        if intent in {"yes", "no", "nothing_done", "nothing_new", None}:
            return False
        if intent == "stop":
            self.say(asking.ask_stop(), ((asking.STOP_MESSAGES,), (asking.STOP_TODAY,)))
        elif intent == "stop_today":
            if self.slot() is Asked.EVENING:
                return False
            self.say(asking.stopped_today())
        elif intent == "undo":
            self._undo()
        elif intent == "plan":
            self._plan()
        elif intent == "thanks":
            self.say(asking.thanks())
        elif intent == "small_talk":
            self.say(asking.small_talk())
        else:
            self.say(asking.help_text())
        return True

    def _plan(self) -> None:
        codes = self.days.open_codes()
        if codes:
            self.say(flag_words.still_open(codes, self.clinician()))
            return
        if not self.begun:
            self._not_begun()
            return
        shown = self.days.decided_or_provisional(self.today)
        if shown.only_question and not shown.answered:
            self.say(prompt_words.only_question(self.patient.alias))
            return
        text = day_words.plan_lines(shown.plan, shown, self.days.protocol, foot=self.patient.foot)
        if self.days.decision(self.today) is None:
            text += "\n\n" + asking.ask_first_step_pain()
        self.say(text)

    def _undo(self) -> None:
        last = records.last_recorded_message(self.session, self.days.id)
        yesterday = self.today - _ONE_DAY
        if last is None or last.id is None:
            self.say(asking.nothing_to_undo())
            return
        touched = records.days_of_message(self.session, last.id)
        if any(day < yesterday for _, day in touched) or not touched:
            self.say(asking.nothing_to_undo())
            return
        records.withdraw(self.session, last.id, self.now)
        self._decide_after(touched)
        self.say(asking.undone(", ".join(sorted({slot for slot, _ in touched}))))

    # -- warning signs

    def _answer_flag_question(self, text: str) -> Reading | None:
        """A yes opens the sign asked about, a no leaves it; what else is said is recorded, other signs are asked next."""
        found = self._waiting()
        # "5, comes and goes, no" answers both.
        answer = _yes_or_no_somewhere(text)
        whole = intent_of(text) in {"yes", "no"}
        reading = Reading() if whole else self.read(text)
        if answer is False and reading.flags:
            answer = None  # "no, it is numb": the sign in it counts, not the "no"
        self.settled = answer is not None
        if answer is True:
            del self.memory[signs_asked.KEPT_UNDER]
            this = replace(found[0], certain=True)
            self.take_in(replace(reading, flags=(this, *reading.flags)), waiting=found[1:])
        elif answer is False:
            del self.memory[signs_asked.KEPT_UNDER]
            if found[0].code is RedFlag.SELF_HARM:
                # Whoever sounded so low is not answered with a plan alone, and their clinician reads it.
                own_words.pass_on(self, f"{found[0].words} ({asking.ASKED_ABOUT_SELF_HARM}: {text})")
                self.say(asking.heavy_time(self.clinician()))
            self.take_in(reading, waiting=found[1:], denied=True)
        elif reading.says_nothing:
            unread.beside_a_question(self, text, found[0])
        else:
            self.take_in(reading, waiting=found)
        return None if whole else reading

    def _waiting(self) -> list[FlagFinding]:
        """The possible warning signs whose yes-or-no question is open."""
        return signs_asked.kept_in(self.memory)

    def ask_flag(self, findings: list[FlagFinding]) -> None:
        self.say(asking.ask_flag(signs_asked.keep(self.memory, findings)[0].code), YES_NO)

    def clinician(self) -> str:
        return clinician_name(self.session, self.patient)

    def _open(self, findings: Sequence[FlagFinding], echo: str = "") -> bool:
        """Open the flags found; True if any opened or stood open already.

        `echo`: what else was understood, said in the same message, so that a number that was misread is seen.
        """
        rows = {row.code: row for row in flags.open_flags(self.session, self.days.id)}
        was_clear = not rows and not self.patient.loading_stopped
        opened: list[RedFlag] = []
        known: list[RedFlag] = []
        for finding in findings:
            row = rows.get(str(finding.code))
            if row is not None:
                flags.add_to_flag(row, score=finding.score, words=finding.words)
                known.append(finding.code)
                continue
            cleared = flags.last_cleared(self.session, self.days.id, finding.code)
            if not opens(
                finding.code,
                score=finding.score,
                days_since_cleared=None
                if cleared is None or cleared.cleared_day is None
                else (self.today - cleared.cleared_day).days,
                cleared_score=None if cleared is None else cleared.score,
                protocol=self.days.protocol,
            ):
                continue
            rows[str(finding.code)] = flags.open_flag(
                self.session,
                patient_id=self.days.id,
                code=finding.code,
                score=finding.score,
                words=finding.words,
                message_id=self.message.id,
                now=self.now,
            )
            opened.append(finding.code)
        if opened:
            self.session.flush()
            self.days.decide(self.today, just_stopped=was_clear)
            told = flag_words.flag_reply(tuple(opened), clinician=self.clinician())
            self.say("\n\n".join(filter(None, [told, echo])))
            if people.clinician_of(self.session, self.patient) is not None:
                self._alert(tuple(opened), findings, told)
        elif known:
            told = flag_words.still_open(tuple(known), self.clinician())
            self.say("\n\n".join(filter(None, [told, echo])))
            self._urgent_again(findings, tuple(known))
        return bool(opened or known)

    def _urgent_again(self, findings: Sequence[FlagFinding], known: tuple[RedFlag, ...]) -> None:
        """What cannot wait and is told again after its alert was seen is a new alert: it may have come back."""
        if not is_told_again(self.session, self.patient, known):
            return
        urgent = tuple(code for code in known if URGENCY_OF[code] is not Urgency.SOON)
        self._alert(urgent, findings, flag_words.still_open(known, self.clinician()))

    def _alert(self, codes: tuple[RedFlag, ...], findings: Sequence[FlagFinding], told: str) -> None:
        """The clinician is alerted: which signs, in which words, and what the patient was told."""
        said = self._own_words(findings)
        alert = flag_words.clinician_alert(self.patient.alias, codes, said, told)
        raise_alert(self.session, self.patient, codes, alert, self.replies, self.now, words=said)

    def _own_words(self, findings: Sequence[FlagFinding]) -> str:
        """The message; where it only answers a question about an earlier one, the earlier words with it."""
        now = self.message.text.casefold()
        answers = yes_or_no(self.message.text) is True or last_yes_or_no(self.message.text) is True
        earlier = [each.words for each in findings if answers and each.words and each.words.casefold() not in now]
        # What was said meanwhile, and nobody could read, goes with it.
        earlier += self.memory.pop("said", [])
        if earlier:
            return f"{'; '.join(dict.fromkeys(earlier))} (asked back, answered: {self.message.text})"
        return self.message.text

    # -- a check-in

    def slot(self) -> Asked:
        sent = messages.prompts_sent(self.session, self.days.id, self.today)
        asked_for = self.memory.get("waiting")
        if asked_for in {"rest", "first"} and ("evening" not in sent or self.memory.get("asked_in_evening")):
            return Asked.MORNING
        if asked_for in {"worst", "done", "minutes"}:
            return Asked.EVENING
        if "evening" in sent:
            return Asked.EVENING if evening_open(self.session, self.days, self.today) else Asked.ANY
        if morning_open(self.days, self.today):
            return Asked.MORNING
        return Asked.ANY

    def read(self, text: str) -> Reading:
        slot = self.slot()
        reading = read(self._answer_in_full(text), slot)
        last = self.memory.get("last_slot")
        corrects = reading.correction or (reading.bare_number is not None and has_words_of("correcting", text))
        if corrects and slot is Asked.ANY and last:
            # Nothing is open, so "sorry, I meant 3" and "actually it was 7" speak of the check-in answered last.
            reading = read(text, Asked(last))
        elif slot is Asked.ANY and reading.bare_number is not None and reading.rest_pattern is not None:
            # "5, comes and goes" after the morning was answered: a second morning answer, whatever is open.
            reading = read(text, Asked.MORNING)
        self.memory["slot"] = str(slot)
        return reading

    def _answer_in_full(self, text: str) -> str:
        """A short answer to what was asked back, as a sentence that stands alone."""
        waiting = self.memory.get("waiting")
        if waiting == "minutes" and plain(text).replace(".", "", 1).isdigit():
            return f"walked {plain(text)} minutes"
        if waiting == "done" and intent_of(text) in {"no", "nothing_done"}:
            return "nothing today"
        return text

    def take_in(
        self,
        reading: Reading,
        waiting: list[FlagFinding] | None = None,
        touched: list[tuple[str, date]] | None = None,
        *,
        denied: bool = False,
        worry: str | None = None,
    ) -> None:
        """Record, decide and answer.

        `touched`: check-ins that lost what they said, to be decided anew as well. `waiting`: possible signs that are
        still to be asked about; `denied`: one of them was just denied. `worry`: see `_worry_in`.
        """
        told_before = None
        if reading.about is About.TODAY and reading.first_step_pain is not None:
            told_before = records.morning_of(self.session, self.days.id, self.today).first_step_pain
        reading = of_one_day(reading)
        recorded = self._record(reading)
        self.settled = self.settled or bool(recorded)
        if decided_by := [*(touched or []), *recorded]:
            self._decide_after(decided_by)
        echo = understood.understood(reading, day_word=str(reading.about), instead_of=told_before)
        sure = [each for each in reading.flags if each.certain]
        unsure = [each for each in reading.flags if not each.certain]
        opened = bool(sure) and self._open(sure, echo)
        open_codes = set(self.days.open_codes())
        doubtful = [each for each in [*(waiting or []), *unsure] if each.code not in open_codes]
        if opened:
            for name in (signs_asked.KEPT_UNDER, "worry", "offer", "waiting"):
                self.memory.pop(name, None)
            if doubtful:
                self.ask_flag(doubtful)
            return
        if worry == "told":
            own_words.pass_on(self, self.message.text)
        if doubtful:
            if echo:
                self.say(echo)
            self.ask_flag(doubtful)
        elif worry == "ask":
            worries.ask(self, echo)
        elif worry == "told":
            self.after_recording(reading, denied=True, lead=asking.worry_passed_on(self.clinician()), echo=echo)
        else:
            self.memory.pop("said", None)
            self.after_recording(reading, denied=denied, echo=echo)

    def _record(self, reading: Reading) -> list[tuple[str, date]]:
        """Store what the reading says under the days it speaks of. Returns the check-ins that it touched."""
        yesterday = self.today - _ONE_DAY
        touched: list[tuple[str, date]] = []
        whole = yesterday if reading.about is About.YESTERDAY else self.today

        def day_of(about: About) -> date:
            return yesterday if About.YESTERDAY in (about, reading.about) else self.today

        # An answer to "was there more than usual yesterday?" speaks of yesterday.
        self.asked_for = self.memory.pop("waiting", None)
        about_yesterday = self.asked_for == "candidates"
        if whole >= self.days.first and (reading.first_step_pain is not None or reading.rest_pattern is not None):
            morning = Morning(
                first_step_pain=reading.first_step_pain,
                rest_pattern=reading.rest_pattern,
                settle_minutes=reading.settle_minutes,
            )
            records.add_morning(
                self.session,
                patient_id=self.days.id,
                day=whole,
                morning=morning,
                message_id=self.message.id,
                now=self.now,
            )
            touched.append(("morning", whole))
        for day in (yesterday, self.today):
            if day < self.days.first:
                continue
            activities = tuple(
                ActivityAmount(
                    activity=each.activity, minutes=each.minutes, count=each.count, steps=each.steps, km=each.km
                )
                for each in reading.activities
                if (yesterday if about_yesterday else day_of(each.about)) == day
            )
            exercises = [each for each in reading.exercises if day_of(each.about) == day]
            raise_entry = next((each for each in exercises if each.exercise is Exercise.HEEL_RAISE), None)
            evening = Evening(
                worst_pain=reading.worst_pain if day_of(reading.worst_pain_about) == day else None,
                plan_done=reading.plan_done if day_of(reading.plan_about) == day else None,
                activities=activities,
                raises=None if raise_entry is None else RaisesReported(sets=raise_entry.sets, reps=raise_entry.reps),
                says_what_was_done=bool(
                    whole == day and any(isinstance(each, Activity | Exercise) for each in reading.not_done)
                ),
            )
            if evening == Evening() and not exercises:
                continue
            records.add_evening(
                self.session,
                patient_id=self.days.id,
                day=day,
                evening=evening,
                exercises=tuple((each.exercise, each.sets, each.reps, each.seconds) for each in exercises),
                message_id=self.message.id,
                now=self.now,
            )
            touched.append(("evening", day))
        if touched:
            self.session.flush()
            self.memory["last_slot"] = touched[-1][0]
        return touched

    def _decide_after(self, touched: list[tuple[str, date]]) -> None:
        yesterday = self.today - _ONE_DAY
        if any(day == yesterday for _, day in touched):
            if ("morning", yesterday) in touched:
                self.days.decide(yesterday)
            self.days.carry_on(yesterday)
        decided_before = self.days.decision(self.today)
        # A morning that was taken back does not undo a stop: only an answered morning decides such a day anew.
        may_decide_anew = decided_before is not None and decided_before.decision is not Decision.STOP
        if ("morning", self.today) in touched and (self.days.is_answered(self.today) or may_decide_anew):
            decided = self.days.decide(self.today)
            tell_notices(self.session, self.days, decided.notices, self.replies, self.today)

    # -- what is said after it

    def after_recording(self, reading: Reading, *, denied: bool = False, lead: str = "", echo: str = "") -> None:
        """The guidance, or what is missing. `denied`: a question that held it back is over. `lead`: said first."""
        codes = self.days.open_codes()
        if codes:
            self.say("\n".join(filter(None, [lead, echo, flag_words.still_open(codes, self.clinician())])))
            return
        if not self.begun:
            if lead:
                self.say(lead)
            self._not_begun()
            return
        parts = list(filter(None, [lead, echo]))
        slot = self.slot() if denied else Asked(self.memory.get("slot", Asked.ANY))
        spoke_of_morning = reading.first_step_pain is not None or reading.rest_pattern is not None
        ask: tuple[str, str, _Buttons] | None = None
        if (spoke_of_morning and reading.about is About.TODAY) or denied:
            if self.days.is_answered(self.today):
                parts.append(self._guidance_or_change(again=denied))
            elif spoke_of_morning or slot is Asked.MORNING:
                ask = self._missing_of_morning(again=denied)
        if ask is None and slot is Asked.EVENING and reading.about is About.TODAY:
            ask = self._missing_of_evening(again=denied)
        over = self._overdone_today(reading)
        if over:
            parts.append(asking.overdone())
        evening_over = slot is Asked.EVENING and reading.about is About.TODAY and not spoke_of_morning
        if ask is None and evening_over and not over and not evening_open(self.session, self.days, self.today):
            parts.append(asking.evening_done())
        if ask is None and slot is Asked.MORNING and not spoke_of_morning and morning_open(self.days, self.today):
            ask = self._missing_of_morning()
        if ask is not None:
            item, question, buttons = ask
            self.memory["waiting"] = item
            sent = messages.prompts_sent(self.session, self.days.id, self.today)
            self.memory["asked_in_evening"] = "evening" in sent
            self.say("\n".join([*parts, question]), buttons)
        elif parts:
            self.say("\n\n".join(parts))
        else:
            self.say(asking.kept_for_later())

    def _guidance_or_change(self, *, again: bool) -> str:
        """The day's guidance; once it was shown and has not changed, only that it stays."""
        decision = self.days.decision(self.today) or self.days.decide(self.today)
        if decision.flare is not None and not decision.flare.candidates:
            self.memory["waiting"] = "candidates"
        shown = f"{decision.decision} {decision.phase} {decision.plan} {decision.flare}"
        if self.memory.get("shown") == shown and not again:
            return asking.plan_stays(day_words.plan_in_short(decision))
        self.memory["shown"] = shown
        return self._guidance(decision)

    def _overdone_today(self, reading: Reading) -> bool:
        """Whether this message is the first to tell that today's walk was over the plan (2.3)."""
        if not any(each.about is About.TODAY for each in reading.activities) or reading.about is not About.TODAY:
            return False
        decision = self.days.decided_or_provisional(self.today)
        evening = records.evening_of(self.session, self.days.id, self.today)
        facts = evening_facts(evening, decision.plan, decision.shown, self.days.protocol)
        return facts.overdone and self.once("overdone")

    def once(self, item: str) -> bool:
        asked = self.memory.setdefault("asked", [])
        if item in asked:
            return False
        self.memory["asked"] = [*asked, item]
        return True

    def _missing_of_morning(self, *, again: bool = False) -> tuple[str, str, _Buttons] | None:
        """What the morning lacks: asked once, and `again` after another question had come in between."""
        morning = records.morning_of(self.session, self.days.id, self.today)
        if morning.first_step_pain is None and (self.once("first") or again):
            return "first", asking.ask_first_step_pain(), PAIN_BUTTONS
        if morning.first_step_pain is not None and morning.rest_pattern is None and (self.once("rest") or again):
            return "rest", asking.ask_rest_pattern(), REST_BUTTONS
        return None

    def _missing_of_evening(self, *, again: bool = False) -> tuple[str, str, _Buttons] | None:
        evening = records.evening_of(self.session, self.days.id, self.today)
        if not evening.reported and ((evening.worst_pain is not None and self.once("done")) or again):
            return "done", asking.ask_what_was_done(), DONE_BUTTONS
        shown = self.days.decided_or_provisional(self.today)
        walk = next((each for each in evening.activities if each.activity is Activity.WALKING), None)
        if (
            walk is not None
            and minutes_said(walk, self.days.protocol) is None
            and evening.plan_done is None
            and shown.plan.walk > 0
            and self.once("minutes")
        ):
            # Without an amount the walk counts as not done (2.3): worth one question.
            return "minutes", asking.ask_minutes(), ()
        if evening.reported and evening.worst_pain is None and self.once("worst"):
            return "worst", asking.ask_worst_pain(), PAIN_BUTTONS
        return None

    def _guidance(self, decision: DayDecision) -> str:
        yesterday = self.today - _ONE_DAY
        evening = records.evening_of(self.session, self.days.id, yesterday)
        before = self.days.decision(yesterday) if yesterday >= self.days.first else None
        return day_words.guidance(
            decision,
            before=before,
            yesterday_worst=evening.worst_pain,
            week=self.days.week(self.today),
            foot=self.patient.foot,
            protocol=self.days.protocol,
            clinician=self.clinician(),
        )
