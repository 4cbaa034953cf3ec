"""What is not understood: asked again with its buttons, or passed on to the clinician. It is never a dead end."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from bot.conversation import own_words, signs_asked, worries
from bot.conversation.intents import has_words_of, intent_of, plain, says_worried, tells_more, wants_a_person, yes_or_no
from bot.conversation.prompting import DONE_BUTTONS, PAIN_BUTTONS, REST_BUTTONS, YES_NO
from bot.conversation.values import LONGEST_PASSED_ON
from bot.conversation.wording import asking
from bot.conversation.wording import flags as flag_words
from bot.conversation.wording import service as service_words
from bot.program.terms import Asked
from bot.reader import read
from bot.reader.reading import FlagFinding, Reading
from storage import records

if TYPE_CHECKING:
    from bot.conversation.patient_turn import PatientTurn

_OFFER_WITHIN = timedelta(hours=3)
"""How long "shall I pass it on?" waits for its yes."""
_QUESTION = re.compile(r"[^.!?\n]+\?")


def not_understood(turn: PatientTurn, text: str) -> None:
    """Never only "I did not get that": what may be a question, or distress, can be passed on to the clinician."""
    answer = yes_or_no(text)
    bare = (answer is not None and not tells_more(text)) or len(plain(text)) < 2
    codes = turn.days.open_codes()
    if codes:
        told = flag_words.still_open(codes, turn.clinician())
        if not bare:
            own_words.pass_on(turn, text)
            told += "\n" + asking.passed_on_beside_a_sign(turn.clinician())
        turn.say(told)
    elif turn.memory.get("waiting") == "candidates" and not wants_a_person(text):
        _answer_candidates(turn, answer)
    elif says_worried(text) or (answer is True and _may_be_a_worry(turn)):
        if tells_more(text):
            turn.take_in(Reading(), worry="told")
        else:
            worries.ask(turn)
    elif not bare and (turn.unread or wants_a_person(text)):
        texts = [*turn.unread, text]
        turn.memory["unread"] = texts[-5:]
        turn.memory["offer"] = {"text": "\n".join(texts)[-LONGEST_PASSED_ON:], "at": turn.now.isoformat()}
        turn.say(asking.offer_to_pass_on(turn.clinician()), YES_NO)
    else:
        turn.memory["unread"] = turn.unread if bare else [*turn.unread, text]
        ask_again(turn)


def offer_question(turn: PatientTurn, text: str) -> None:
    """A question beside a check-in, if nothing else is asked now: "4, on and off. Can I take ibuprofen?"."""
    asked = [each.strip() for each in _QUESTION.findall(text)]
    left = [each for each in asked if tells_more(each) and not has_words_of("of_the_plan", each)]
    busy = any(turn.memory.get(name) for name in (signs_asked.KEPT_UNDER, "worry", "waiting"))
    if left and not busy and not turn.days.open_codes():
        turn.memory["offer"] = {"text": text[-LONGEST_PASSED_ON:], "at": turn.now.isoformat()}
        turn.say(asking.offer_to_pass_on(turn.clinician()), YES_NO)


def _may_be_a_worry(turn: PatientTurn) -> bool:
    """Whether a bare yes may answer "is anything new or worrying?", which every unclear reply asks too."""
    asked_back = turn.memory.get("waiting") in {"rest", "first", "worst", "done", "minutes"}
    return not asked_back and (bool(turn.unread) or turn.slot() is not Asked.EVENING)


def _answer_candidates(turn: PatientTurn, answer: bool | None) -> None:
    """What else was different yesterday, in words that are no activity: other shoes, a worse bed."""
    if answer is True:
        turn.say(asking.which_candidate())
        return
    del turn.memory["waiting"]
    turn.say(asking.thanks() if answer is False else asking.kept_for_later())


def answer_offer(turn: PatientTurn, text: str) -> bool:
    """A yes or no to "shall I pass it on?". False: it was neither, or more than that, and is still to be read."""
    offer = turn.memory.pop("offer")
    answer = yes_or_no(text)
    if answer is None or turn.now - datetime.fromisoformat(offer["at"]) > _OFFER_WITHIN:
        turn.unread = turn.unread or [offer["text"]]
        return False
    turn.settled = True
    more = tells_more(text)
    if answer:
        own_words.pass_on(turn, "\n".join([offer["text"], *([text] if more else [])]))
        turn.say(service_words.message_passed_on(turn.clinician()))
        if more:
            turn.take_in_signs(text)
        return True
    turn.unread = []
    if more or (not read(text, turn.slot()).says_nothing and intent_of(text) != "no"):
        return False
    turn.say(asking.not_passed_on(turn.clinician()))
    return True


def beside_a_question(turn: PatientTurn, text: str, found: FlagFinding) -> None:
    """Words that answer nothing: kept for the clinician; the second time, or a cry for help, they go there at once."""
    said = [*turn.memory.get("said", []), text][-5:]
    lead = ""
    if len(said) > 1 or wants_a_person(text):
        own_words.pass_on(turn, "\n".join(said)[-LONGEST_PASSED_ON:])
        lead = asking.passed_on_beside_a_sign(turn.clinician()) + "\n"
        said = []
    turn.memory["said"] = said
    turn.say(lead + asking.ask_flag(found.code), YES_NO)


def ask_again(turn: PatientTurn) -> None:
    """Ask again what is open, with its buttons."""
    asked_for = turn.memory.get("waiting")
    slot = turn.slot()
    if slot is Asked.MORNING and asked_for is None:
        known = records.morning_of(turn.session, turn.days.id, turn.today).first_step_pain
        asked_for = "rest" if known is not None else None
    if asked_for == "rest":
        turn.say(asking.unclear_rest(), REST_BUTTONS)
    elif asked_for in {"first", "worst"}:
        question = asking.ask_first_step_pain() if asked_for == "first" else asking.ask_worst_pain()
        turn.say(f"{asking.unclear_score()}\n{question}", PAIN_BUTTONS)
    elif asked_for == "minutes":
        turn.say(asking.ask_minutes())
    else:
        buttons = {Asked.MORNING: PAIN_BUTTONS, Asked.EVENING: DONE_BUTTONS}.get(slot, ())
        turn.say(asking.unclear(str(slot)), buttons)
