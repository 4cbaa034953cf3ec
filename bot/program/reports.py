"""How several replies of one day become one morning and one evening (rules 2.2 and 2.3)."""

from __future__ import annotations

from bot.program.values import Evening, Morning


def merged_morning(earlier: Morning, later: Morning) -> Morning:
    """A later answer replaces what it speaks of, and nothing else."""
    return Morning(
        first_step_pain=earlier.first_step_pain if later.first_step_pain is None else later.first_step_pain,
        rest_pattern=earlier.rest_pattern if later.rest_pattern is None else later.rest_pattern,
        settle_minutes=earlier.settle_minutes if later.settle_minutes is None else later.settle_minutes,
    )


def merged_evening(earlier: Evening, later: Evening) -> Evening:
    """The later reply replaces the same kind of activity and adds new kinds; its scores replace the earlier ones.

    One kind named twice in one reply counts once, as it was said last, so that every rule sees the same amount.
    """
    kinds = {each.activity: each for each in (*earlier.activities, *later.activities)}
    return Evening(
        worst_pain=earlier.worst_pain if later.worst_pain is None else later.worst_pain,
        plan_done=later.plan_done or earlier.plan_done,
        activities=tuple(kinds.values()),
        raises=later.raises or earlier.raises,
        says_what_was_done=earlier.says_what_was_done or later.says_what_was_done,
    )
