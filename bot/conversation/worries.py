"""The morning's last question: what is new or worrying? No plan before it is told; what it is goes to the clinician."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from bot.conversation.holidays import asks_for_quiet
from bot.conversation.intents import intent_of, last_yes_or_no, plain, says_worried, tells_more, yes_or_no
from bot.conversation.wording import asking
from bot.program.terms import Asked
from bot.reader import read
from bot.reader.reading import Reading

if TYPE_CHECKING:
    from bot.conversation.patient_turn import PatientTurn

_YES_INSIDE = re.compile(r"(?:^|[\s,.;!])(?:yes|yeah|yep|yup)\b[\s,.;:!-]+(.+)$", re.DOTALL)


def worry_in(turn: PatientTurn, text: str, reading: Reading) -> str | None:
    """Whether a check-in says yes to "is anything new or worrying?": "told" where it says what, else "ask"."""
    spoke_of_morning = reading.first_step_pain is not None or reading.rest_pattern is not None
    said = plain(text)
    if (last_yes_or_no(text) is True and spoke_of_morning) or says_worried(text):
        return "told" if tells_more(text) else "ask"
    inside = _YES_INSIDE.search(said)
    if inside is None or not spoke_of_morning or turn.asked_for in {"rest", "first"}:
        return None
    clause = re.split(r"[,.;\n]", inside[1], maxsplit=1)[0]
    of_rest = read(clause, Asked.MORNING)
    if of_rest.rest_pattern is not None and of_rest.first_step_pain is None and not tells_more(clause):
        return None  # "yes, it comes and goes" answers the question about rest
    return "told" if tells_more(inside[1]) else "ask"


def ask(turn: PatientTurn, echo: str = "") -> None:
    """Ask what it is; no plan is shown until it is told."""
    turn.memory["worry"] = True
    turn.say("\n".join(filter(None, [echo, asking.ask_worry()])))


def answer(turn: PatientTurn, text: str) -> Reading | None:
    """What is new or worrying: passed on, unless it is a warning sign; then the day goes on."""
    intent = intent_of(text)
    if intent in {"help", "thanks", "small_talk", "undo", "stop"} or asks_for_quiet(text, turn.today):
        turn.answer_intent(text)
        return None
    more = tells_more(text)
    if yes_or_no(text) is False and not more and not read(text, Asked.ANY).flags:
        del turn.memory["worry"]
        turn.settled = True
        turn.after_recording(Reading(), denied=True, lead=asking.worry_over())
        return None
    if intent == "plan" or (yes_or_no(text) is True and not more):
        ask(turn)
        return None
    reading = turn.read(text)
    told = more or reading.says_nothing
    if told:
        del turn.memory["worry"]
    turn.take_in(reading, worry="told" if told else "ask")
    return reading
