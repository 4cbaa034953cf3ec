"""What was done and how much of it: families of wordings, each beside lines that use the same words for something else."""

from __future__ import annotations

from typing import Any

import pytest

from bot.program.terms import Asked
from bot.reader import read, to_contract


def _read(text: str) -> dict[str, Any]:
    return to_contract(read(text, Asked.EVENING))


def _activities(text: str) -> dict[str, dict[str, Any]]:
    return {
        each.pop("activity"): {k: v for k, v in each.items() if v is not None} for each in _read(text)["activities"]
    }


def _exercises(text: str) -> list[tuple[Any, ...]]:
    return [(each["exercise"], each["sets"], each["reps"] or each["seconds"]) for each in _read(text)["exercises"]]


@pytest.mark.parametrize(
    ("text", "exercises", "worst"),
    [
        # goes counted one by one
        ("raises in three goes 14 12 and 9. 3", [("heel_raise", 1, 35)], 3),
        ("3 sets 14, 14, 10. 3", [("heel_raise", 1, 38)], 3),
        ("2 sets of the raises, 14 and 10. 3", [("heel_raise", 1, 24)], 3),
        ("two sets 14, 4", [("heel_raise", 2, 14)], 4),
        ("3x14, 8", [("heel_raise", 3, 14)], 8),
        ("first set 14, second 12, third 9. 3", [("heel_raise", 1, 35)], 3),
        ("raises 14 and then a last 6. 3", [("heel_raise", 1, 20)], 3),
        ("25 raises and a 3 at worst", [("heel_raise", 1, 25)], 3),
        # so many each time
        ("raises twice, 9 each time. 3", [("heel_raise", 2, 9)], 3),
        ("raises morning noon and night, 9 a time. 3", [("heel_raise", 3, 9)], 3),
        ("raises in batches of 9, four of them. 3", [("heel_raise", 4, 9)], 3),
        ("45 raises, 15 at a time. 3", [("heel_raise", 3, 15)], 3),
        ("10 raises on waking, 10 at lunch. 3", [("heel_raise", 2, 10)], 3),
        ("raises by the bins, nine and nine and nine. 3", [("heel_raise", 3, 9)], 3),
        ("45 calf raises over three coffee breaks, 15 at a time. 3", [("heel_raise", 3, 15)], 3),
        ("heel raises: 4 sets, each set 11. 3", [("heel_raise", 4, 11)], 3),
        ("14 a pop, three lots. 3", [("heel_raise", 3, 14)], 3),
        ("raises 2 sets, each of 14. 3", [("heel_raise", 2, 14)], 3),
        ("heel raises 2 sets each side, 5", [("heel_raise", 2, None)], 5),
        ("11 raises, then 9, then a wobbly 7. 3", [("heel_raise", 1, 27)], 3),
        ("14 raises, then a 4", [("heel_raise", 1, 14)], 4),
        ("planted 60 bulbs in one go. 3", [], 3),
        ("28 heel lifts in two goes. 3", [("heel_raise", 2, 14)], 3),
        # holds
        ("toe holds 4 x 20. 3", [("toe_hold", 4, 20)], 3),
        ("toe stretch half a minute x 3. 3", [("toe_hold", 3, 30)], 3),
        ("stood with my toes bent up on the step 4 x 20 secs. 3", [("toe_hold", 4, 20)], 3),
        ("raises for six minutes. 3", [("heel_raise", None, None)], 3),
        # where, and how a range behind is no number of raises
        ("calf raises in the back garden, 14, slowly. 3", [("heel_raise", 1, 14)], 3),
        ("20 min, 2x14, 0-1", [("heel_raise", 2, 14)], 1),
        ("3x14, no hang on it was 3x12 raises. 4", [("heel_raise", 3, 12)], 4),
        ("will do my 3x14 later. 3", [], 3),
        ("raises at the sink, ten after dinner and ten after tea. 3", [("heel_raise", 2, 10)], 3),
        ("They said ten raises. I did eight. Pain two.", [("heel_raise", 1, 8)], 2),
        ("25 ankle pumps this morning, 25 raises tonight, 1", [("ankle_pump", 1, 25), ("heel_raise", 1, 25)], 1),
        ("raises 14/12/9. pain 2", [("heel_raise", 1, 35)], 2),
        ("got through 3 of my 4 sets of 14. 3", [("heel_raise", 3, 14)], 3),
        ("raises fine, 3 at lunch, 3 at tea", [("heel_raise", None, None)], 3),
        # a rest between, each side, each set, a part of them
        ("calf raises, eleven, then sat a bit and did another eleven. 3", [("heel_raise", 2, 11)], 3),
        ("raises 14, 11, 8, feeble. pain 3", [("heel_raise", 1, 33)], 3),
        ("Is it fine to do raises barefoot? Did 22 that way, pain 2", [("heel_raise", 1, 22)], 2),
        ("raises 14 per foot x 2. 3", [("heel_raise", 2, 14)], 3),
        ("14 raises a set, three sets. 3", [("heel_raise", 3, 14)], 3),
        ("half of my 28 raises. 3", [("heel_raise", 1, 14)], 3),
        ("toe hold 25 s x 4. 3", [("toe_hold", 4, 25)], 3),
        ("towel stretches four at twenty seconds. 3", [("toe_hold", 4, 20)], 3),
        ("18 foot pumps in bed. 3", [("ankle_pump", 1, 18)], 3),
        # none of them
        ("Peaked at 3. Raises nil.", [], 3),
        ("nee raises the day. 3", [], 3),
        ("raises I no do, 3", [], 3),
        ("raises 3x11, 0", [("heel_raise", 3, 11)], 0),
        # somebody else's
        ("wife did her 3x14. 3", [], 3),
        ("my flatmate did 4x20, I did 2x14. 3", [("heel_raise", 2, 14)], 3),
    ],
)
def test_goes_of_an_exercise(text: str, exercises: list[tuple[Any, ...]], worst: int) -> None:
    assert (_exercises(text), _read(text)["worst_pain"], _read(text)["red_flags"]) == (exercises, worst, [])


@pytest.mark.parametrize(
    ("text", "activities"),
    [
        # amounts that multiply or add up
        ("walked to the bus 2 times, each time 12 minutes. 3", {"walking": {"minutes": 24}}),
        ("four laps of the lake, one lap is six minutes. 3", {"walking": {"minutes": 24}}),
        ("two walks, one walk was 20 minutes, the other 15. 3", {"walking": {"minutes": 35}}),
        ("three walks of 12, 15 and 20 minutes. 3", {"walking": {"minutes": 47}}),
        ("three walks of 12 min, 15 raises. 3", {"walking": {"minutes": 36}}),
        ("7 flights with the shopping in my arms, twice. 6", {"stairs": {"count": 14}, "carrying": {}}),
        ("walked 25 minutes, had to stop twice. 4", {"walking": {"minutes": 25}}),
        ("walked 25 min, 3 times had to stop. 4", {"walking": {"minutes": 25}}),
        ("5 flights up, 5 down. 3", {"stairs": {"count": 10}}),
        ("drove 3 hours, drove 4 back. 3", {"driving": {"minutes": 420}}),
        ("2 hr drive each way. 3", {"driving": {"minutes": 240}}),
        ("20 min bike, 15 on the rower. 3", {"cycling": {"minutes": 20}, "other": {"minutes": 15}}),
        ("walked the pram 15 min then another 10 because he woke. 3", {"walking": {"minutes": 25}}),
        ("walked an hour and 3/4, 3", {"walking": {"minutes": 105}}),
        ("walked an hour and 3/10", {"walking": {"minutes": 60}}),
        ("stood 9 to 5. 4", {"standing": {"minutes": 480}}),
        ("on my feet 7am-3pm. 4", {"standing": {"minutes": 480}}),
        ("stairs 7 time. 3", {"stairs": {"count": 7}}),
        # what is no deed of the patient's, or only its place
        ("20 min on my grandson's trampoline. 3", {"jumping": {"minutes": 20}}),
        ("toe stretch 3 x 40 sec with the dog asleep beside me. 1", {}),
        ("20 min out with the dog. 1", {"walking": {"minutes": 20}}),
        ("milk round on my bike, 40 min. 2", {"cycling": {"minutes": 40}}),
        ("skipping rope at boxing 8 mins. 3", {"jumping": {"minutes": 8}}),
        ("drove the kids to football, 15 min each way. 2", {"driving": {"minutes": 30}}),
        ("nodded off at the wheel. 3", {}),
        ("6 hours at the wheel. 3", {"driving": {"minutes": 360}}),
        ("two customers walked out. 3", {}),
        ("refereed the under tens, 50 minutes. 3", {}),
        ("finished the plan, 20 min, 3", {"walking": {"minutes": 20}}),
        ("face painting at the fair, stood all day. 3", {"standing": {}}),
        ("cleared the drive of snow. 3", {}),
        ("walked straight into a lamp post. 3", {}),
        ("broke it skiing in '97, fine since. 12 min walk. 2", {"walking": {"minutes": 12}}),
        ("Does weeding count? An hour of it. 3", {"gardening": {"minutes": 60}}),
        ("Can I walk 20 minutes? 3", {}),
        ("raises in the garden 2x12. 3", {}),
        (
            "walked to the allotment, 10 mins each way, hoed half an hour. 3",
            {"walking": {"minutes": 20}, "gardening": {"minutes": 30}},
        ),
        ("walked up the hill 40 min. 3", {"walking": {"minutes": 40}, "hills": {}}),
        ("my pedometer says 7,312. 3", {"walking": {"steps": 7312}}),
        ("cooked for eleven. 3", {"housework": {}}),
        ("stood by the fire two hours. 3", {"standing": {"minutes": 120}}),
        ("stood by for two hours. 3", {}),
        ("walked the prom for 50. worst 4", {"walking": {"minutes": 50}}),
        ("walked to the shop for 20 stamps. 3", {"walking": {}}),
        ("walked for an hour, the last 10 min hurt, 5", {"walking": {"minutes": 60}}),
        ("planned half an hour, turned back after 12. 5", {"walking": {"minutes": 12}}),
        # what was not done
        ("the pool was shut so walked 20. 3", {"walking": {"minutes": 20}}),
        ("I ran a half marathon in May. 3", {}),
        ("gave tennis a swerve. 3", {}),
        ("the walk went out the window. 3", {}),
        ("left the lawn for another day. 3", {}),
        ("thought about a swim, had cake. 3", {}),
        ("thought of you all on my 20 min walk. 3", {"walking": {"minutes": 20}}),
        ("stayed off the stairs all day. 3", {}),
        ("walking no, cycling yes, 25 min. 3", {"cycling": {"minutes": 25}}),
        ("walk no, stairs no, pain 3", {}),
        ("walk x raises 2x12 pain 2", {}),
        ("ran the photocopier all afternoon. 3", {}),
        ("ran my usual loop, 22 min. 3", {"running": {"minutes": 22}}),
        ("the sermon ran for 50 minutes. 3", {}),
        ("ran a mile. 3", {"running": {"km": 1.609344}}),
        ("butterflies about the ballet exam, else fine. 3", {}),
        ("out and about walking 35 min. 3", {"walking": {"minutes": 35}}),
        ("I wash windows 35 minutes. 3", {"housework": {"minutes": 35}}),
        ("up and stood up all nine hours. 3", {"standing": {"minutes": 540}}),
        ("stood up and it hurt. 3", {}),
        ("two hours riding. 3", {"cycling": {"minutes": 120}}),
        ("two hours riding my mare. 3", {"other": {"minutes": 120}}),
        ("coached hockey with the Year 8s for 55 min. 3", {"sport": {"minutes": 55}}),
        ("the loop takes 14 min walking, did it twice. 3", {"walking": {"minutes": 28}}),
        ("walk is 14 min and I should do it twice. 3", {"walking": {"minutes": 14}}),
        ("walked 14 min, sat, then 14 min again. 3", {"walking": {"minutes": 28}}),
        ("swept the yard. The toes went numb, maybe one hour. 3", {"gardening": {}}),
        ("thirteen hours in the window seat. 3", {}),
        ("25 on the treadmill. 3", {"walking": {"minutes": 25}}),
        ("no lift so stairs, 5 floors. 3", {"stairs": {"count": 5}}),
        ("mopped two floors and the stairs. 3", {"housework": {}}),
        ("hedge got clipped by the lad next door. 3", {}),
        ("walked by the river 22 min. 3", {"walking": {"minutes": 22}}),
        ("the mutt walked himself. 3", {}),
        ("paid a student to mow the lawn. 3", {}),
        ("my walk went clean out of my head. 3", {}),
        ("neither swam nor did the walk. 3", {}),
        ("stood on the train 55 min. 3", {"standing": {"minutes": 55}}),
        ("chuffed and happy about the walk, 22 min. 3", {"walking": {"minutes": 22}}),
        ("insoles kept riding up. 3", {}),
        (
            "Dusted 25 min, mopped 15, up and down the stairs 5 times. 3",
            {"housework": {"minutes": 40}, "stairs": {"count": 5}},
        ),
        ("bailed on tennis after 12 min. 6", {"sport": {"minutes": 12}}),
        # twice, and more of the same
        ("swam 25 minutes both times. 3", {"swimming": {"minutes": 50}}),
        ("walked the dog before lunch and again after, 12 minutes each time. 3", {"walking": {"minutes": 24}}),
        ("stiff before lunch and after, walked 12 min. 3", {"walking": {"minutes": 12}}),
        (
            "carried the chairs out 25 minutes, and carried them back again, another 25. 3",
            {"carrying": {"minutes": 50}},
        ),
        ("five climbs of the tower stair. 3", {"stairs": {"count": 5}}),
        # a hill on a timed walk
        ("walked 90 minutes over Skiddaw. 3", {"walking": {"minutes": 90}, "hills": {}}),
        ("walked 15 min, then 5 min up the hill. 3", {"walking": {"minutes": 15}, "hills": {"minutes": 5}}),
        ("Ben came round, walked 15 min. 3", {"walking": {"minutes": 15}}),
        ("lives near Skiddaw. walked 15 min. 3", {"walking": {"minutes": 15}}),
        # a cause is no plan; one thing forgotten, the other not
        ("Due to the rota I was standing in the shop 9 hours. 3", {"standing": {"minutes": 540}}),
        ("due to walk 5k tomorrow. 3", {}),
        ("Forgot the raises but not the walk, 25 minutes. 3", {"walking": {"minutes": 25}}),
        ("Did the raises but not the walk. 3", {}),
        ("trampolining was on so I sat it out. 3", {}),
        ("treadmill, walking and not running, 2.5 km. 3", {"walking": {"km": 2.5}}),
        ("wrecked after that run of lates. 3", {}),
        ("walked 12 min with a pole in each hand. 3", {"walking": {"minutes": 12}}),
        ("four flights with a toddler on each hip. 3", {"stairs": {"count": 4}, "carrying": {}}),
        ("half an hour of mixed doubles. 3", {"sport": {"minutes": 30}}),
    ],
)
def test_activities_and_how_much(text: str, activities: dict[str, dict[str, Any]]) -> None:
    assert _activities(text) == activities
