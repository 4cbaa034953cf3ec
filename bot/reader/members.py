"""Members of the enumerations under plain names: looking one up on its class takes six times as long, and every step asks."""

from __future__ import annotations

from typing import Final

from bot.program.terms import About, Activity, Asked, RestPattern

MORNING: Final = Asked.MORNING
EVENING: Final = Asked.EVENING
ANY: Final = Asked.ANY
TODAY: Final = About.TODAY
YESTERDAY: Final = About.YESTERDAY
CONSTANT: Final = RestPattern.CONSTANT
INTERMITTENT: Final = RestPattern.INTERMITTENT
NO_PAIN: Final = RestPattern.NONE
STAIRS: Final = Activity.STAIRS
WALKING: Final = Activity.WALKING
STANDING: Final = Activity.STANDING
