"""What was done: activities and exercises with their amounts, what was said not to be done, and how long pain took to ease."""

from __future__ import annotations

from bot.reader.deeds.assigning import assign_amounts
from bot.reader.deeds.done import activities_done, exercises_done
from bot.reader.deeds.mentions import Deeds
from bot.reader.deeds.naming import find_mentions
from bot.reader.deeds.questions import set_questions_aside
from bot.reader.deeds.wanted import set_wanted_aside
from bot.reader.reply import Reply


def find_deeds(reply: Reply) -> Deeds:
    """The deeds that the reply names, with the amounts that belong to each. Marks those amounts as used."""
    deeds = Deeds(reply)
    find_mentions(deeds)
    set_questions_aside(deeds)
    set_wanted_aside(deeds)
    assign_amounts(deeds)
    return deeds


__all__ = ["activities_done", "exercises_done", "find_deeds"]
