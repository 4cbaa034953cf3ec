"""Members of the enumerations under plain names: looking one up on its class takes six times as long, and every step asks."""

from __future__ import annotations

from typing import Final

from bot.program.terms import About, Activity, Asked, Exercise, PlanDone, RedFlag, RestPattern

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
CYCLING: Final = Activity.CYCLING
DRIVING: Final = Activity.DRIVING
HILLS: Final = Activity.HILLS
GARDENING: Final = Activity.GARDENING
HOUSEWORK: Final = Activity.HOUSEWORK
RUNNING: Final = Activity.RUNNING
SPORT: Final = Activity.SPORT
SWIMMING: Final = Activity.SWIMMING
DANCING: Final = Activity.DANCING
JUMPING: Final = Activity.JUMPING
HEEL_RAISE: Final = Exercise.HEEL_RAISE
TOE_HOLD: Final = Exercise.TOE_HOLD
ALL_OF_IT: Final = PlanDone.ALL
NONE_OF_IT: Final = PlanDone.NONE
SOME_OF_IT: Final = PlanDone.SOME
SADDLE: Final = RedFlag.BLADDER_BOWEL_SADDLE
NERVES: Final = RedFlag.NERVE_SIGNS
SELF_HARM: Final = RedFlag.SELF_HARM
SEVERE_PAIN: Final = RedFlag.SEVERE_PAIN
NEW_INJURY: Final = RedFlag.NEW_INJURY
NIGHT_PAIN: Final = RedFlag.NIGHT_PAIN
