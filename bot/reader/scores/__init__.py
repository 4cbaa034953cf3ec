"""Which numbers are pain scores and of what, how pain is at rest, and how much of the plan was done."""

from __future__ import annotations

from bot.reader.scores.choosing import first_and_worst
from bot.reader.scores.finding import find_scores
from bot.reader.scores.plan import plan_done
from bot.reader.scores.rest import rest_pattern

__all__ = ["find_scores", "first_and_worst", "plan_done", "rest_pattern"]
