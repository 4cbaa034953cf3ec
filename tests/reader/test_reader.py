"""The reader against its contract, and on text of any kind."""

from __future__ import annotations

import json
import time
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from bot.commands.read import Tally
from bot.program.terms import Activity, Asked, Exercise, RedFlag
from bot.reader import read, to_contract

CORPUS = Path(__file__).parent / "corpus"
FLAG_LINES = [json.loads(line) for line in (Path(__file__).parent / "flag_lines.jsonl").read_text().splitlines()]


def _read(asked: str, text: str) -> dict[str, Any]:
    return to_contract(read(text, Asked(asked)))


@pytest.mark.parametrize(
    ("asked", "text", "field", "value"),
    [
        # "a range or a half goes to its higher whole value"
        ("morning", "3 or 4", "first_step_pain", 4),
        ("morning", "3.5", "first_step_pain", 4),
        # "more than 10 is 10"
        ("morning", "12/10", "first_step_pain", 10),
        # "zero, nothing, no pain in answer to a pain question is 0"
        ("morning", "zero", "first_step_pain", 0),
        ("evening", "nothing", "worst_pain", 0),
        ("evening", "no pain", "worst_pain", 0),
        # "of two feet the worse counts"
        ("morning", "left 3, right 5", "first_step_pain", 5),
        # "a correction inside the reply wins"
        ("morning", "4, no wait, 5", "first_step_pain", 5),
        # "down from 6 to 4 is 4"
        ("morning", "down from 6 to 4", "first_step_pain", 4),
        # "same as yesterday is no number"
        ("morning", "same as yesterday", "first_step_pain", None),
        # "asked ... decides what a bare number means"
        ("morning", "4", "first_step_pain", 4),
        ("evening", "4", "worst_pain", 4),
        ("any", "4", "first_step_pain", None),
        ("any", "4", "worst_pain", None),
        # Rest pattern
        ("morning", "5, no pain lying down", "rest_pattern", "none"),
        ("morning", "5, comes and goes", "rest_pattern", "intermittent"),
        ("morning", "5, on and off", "rest_pattern", "intermittent"),
        ("morning", "5, only when I'm on it", "rest_pattern", "intermittent"),
        ("morning", "5, there all the time", "rest_pattern", "constant"),
        ("morning", "5, not constant", "rest_pattern", "intermittent"),
        # plan_done "only from words about the whole"
        ("evening", "did everything, 2", "plan_done", "all"),
        ("evening", "only half of it, 2", "plan_done", "some"),
        ("evening", "nothing today, rested. 1", "plan_done", "none"),
        ("evening", "skipped the toe holds, 2", "plan_done", None),
        # about
        ("evening", "yesterday I walked 10 min, worst 3", "about", "yesterday"),
        ("morning", "6 today, walked an hour yesterday", "about", "today"),
    ],
)
def test_what_the_contract_says_of_scores_and_words(asked: str, text: str, field: str, value: object) -> None:
    assert _read(asked, text)[field] == value


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("walked a minute and a half", {"minutes": 1.5}),
        ("walked between 10 and 15 mins", {"minutes": 15}),
        ("walked 10-15 min", {"minutes": 15}),
        ("walked twice for ten minutes", {"minutes": 20}),
        ("walked a mile", {"km": 1.609344}),
        ("walked 1h20", {"minutes": 80}),
        ("walked an hour and a half", {"minutes": 90}),
        ("walked three quarters of an hour", {"minutes": 45}),
        ("walked half an hour", {"minutes": 30}),
        ("walked 2.5 km", {"km": 2.5}),
        ("walked 8,200 steps", {"steps": 8200}),
        ("14k steps", {"steps": 14000}),
        ("walked 800 m", {"km": 0.8}),
        ("went for a walk", {}),
    ],
)
def test_amounts_of_walking(text: str, amount: dict[str, float]) -> None:
    (entry,) = _read("evening", text)["activities"]
    assert {key: value for key, value in entry.items() if value is not None} == {"activity": "walking", **amount}


@pytest.mark.parametrize(
    ("text", "sets", "reps"),
    [
        ("30 heel raises", 1, 30),
        ("30 raises in three goes", 3, 10),
        ("12 min, 3x12, 3", 3, 12),
        ("3 sets of 10 raises", 3, 10),
    ],
)
def test_sets_and_repetitions(text: str, sets: int, reps: int) -> None:
    (entry,) = _read("evening", text)["exercises"]
    assert (entry["exercise"], entry["sets"], entry["reps"]) == ("heel_raise", sets, reps)


def test_what_was_not_done_is_no_entry() -> None:
    assert _read("evening", "didn't walk, skipped the run. 2")["activities"] == []
    assert read("no walk today, 2", Asked.EVENING).not_done


@pytest.mark.parametrize("line", FLAG_LINES, ids=lambda line: line["text"][:40])
def test_warning_signs_and_their_traps(line: dict[str, Any]) -> None:
    assert _read(line["asked"], line["text"])["red_flags"] == line["red_flags"]


def _labelled(name: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in (CORPUS / name).read_text(encoding="utf-8").splitlines()]


def _tally(lines: list[dict[str, Any]]) -> tuple[Tally, list[str]]:
    tally = Tally()
    return tally, [f"{line['text']}: {misses}" for line in lines if (misses := tally.add(line))]


FLOORS: dict[str, float] = tomllib.loads(CORPUS.with_name("corpus_floors.toml").read_text(encoding="utf-8"))


def test_every_file_of_the_corpus_has_a_floor() -> None:
    assert set(FLOORS) == {path.stem for path in CORPUS.glob("*.jsonl")}


@pytest.mark.parametrize(("name", "whole"), FLOORS.items())
def test_what_was_reached_on_the_corpus_stays_reached(name: str, whole: float) -> None:
    lines = _labelled(f"{name}.jsonl")
    assert len(lines) >= 50
    tally, wrong = _tally(lines)
    assert (tally.share("whole line") or 0) >= whole, wrong
    for field in ("first_step_pain", "worst_pain", "rest_pattern", "settle_minutes", "plan_done", "about"):
        assert (tally.share(field) or 0) >= 0.95, (field, wrong)


def test_sets_by_the_time_of_day_behind_them_are_no_pain() -> None:
    found = _read("evening", "raises 10 after breakfast, 10 at dinner, 10 before bed")
    assert found["exercises"] == [{"exercise": "heel_raise", "sets": 3, "reps": 10, "seconds": None}]
    assert found["worst_pain"] is None
    assert found["red_flags"] == []


def test_minutes_stay_with_the_deed_at_a_place_and_are_no_walk_beside_other_verbs() -> None:
    (dancing,) = _read("evening", "line dancing at the church, 50 minutes. 4")["activities"]
    assert (dancing["activity"], dancing["minutes"]) == ("dancing", 50)
    assert _read("evening", "played piano for an hour. 2")["activities"] == []
    assert _read("evening", "worst 3, numb for two hours now")["activities"] == []
    assert _read("morning", "Not 10, say 7, but it is stiff")["first_step_pain"] == 7


def test_the_measures_see_what_is_wrong() -> None:
    right = {**_read("evening", "walked 10 min, worst 3")}
    wrong = {**right, "worst_pain": 4, "activities": [{**right["activities"][0], "minutes": 11}]}
    tally = Tally()
    assert tally.add({"asked": "evening", "text": "walked 10 min, worst 3", "gold": right}) == []
    assert len(tally.add({"asked": "evening", "text": "walked 10 min, worst 3", "gold": wrong})) == 2
    assert tally.share("worst_pain") == tally.share("amounts") == tally.share("whole line, evening") == 0.5
    assert tally.share("kinds (F1)") == 1
    assert tally.share("flags recalled") is None


def test_every_activity_and_exercise_has_words_that_are_found() -> None:
    said = {
        Activity.WALKING: "a stroll", Activity.RUNNING: "a jog", Activity.STANDING: "stood", Activity.STAIRS: "3 flights",
        Activity.HILLS: "up the hill", Activity.CARRYING: "carried boxes", Activity.GARDENING: "weeding",
        Activity.HOUSEWORK: "hoovered",
        Activity.DANCING: "danced", Activity.SPORT: "tennis", Activity.JUMPING: "trampolining", Activity.CYCLING: "cycled",
        Activity.SWIMMING: "swam", Activity.DRIVING: "drove", Activity.OTHER: "yoga",
    }  # fmt: skip
    assert said.keys() == set(Activity)
    for activity, text in said.items():
        assert [each.activity for each in read(text, Asked.EVENING).activities] == [activity]
    for exercise, text in (
        (Exercise.HEEL_RAISE, "calf raises"),
        (Exercise.TOE_HOLD, "toe holds"),
        (Exercise.ANKLE_PUMP, "ankle pumps"),
    ):
        assert [each.exercise for each in read(text, Asked.EVENING).exercises] == [exercise]


@pytest.mark.parametrize(
    ("asked", "text"),
    [
        # Numbers of other things are no scores, and no amounts.
        ("morning", "I'm 78"),
        ("morning", "took the number 9 bus"),
        ("morning", "up at 7 for work"),
        ("morning", "2 paracetamol at 6am"),
        ("morning", "alarm at half past 5"),
        ("morning", "it was 4 degrees out"),
        ("evening", "bought 3 bags of compost for £8"),
        ("evening", "room 4, 3rd floor"),
        ("evening", "my grandson is 7 today"),
        ("evening", "week 6 of 12"),
        ("evening", "we lost 3-1"),
        ("evening", "lost 5 kg since May"),
        ("evening", "should I do 3 sets tomorrow?"),
    ],
)
def test_numbers_of_other_things_are_left_alone(asked: str, text: str) -> None:
    record = _read(asked, text)
    assert (record["first_step_pain"], record["worst_pain"], record["activities"], record["exercises"]) == (
        None,
        None,
        [],
        [],
    )


@pytest.mark.parametrize(
    ("asked", "text", "field", "value"),
    [
        # other scales, other readings, times asked for, days in brackets
        ("morning", "At home we use 1 to 5, so a 2 there. On yours a 4", "first_step_pain", 4),
        ("morning", "On my old clinic's scale a 3, on yours a 6", "first_step_pain", 6),
        ("morning", "On a scale of 0-10 I would say 4", "first_step_pain", 4),
        ("morning", "Did my bloods, fasting 5.6. Heel a 4 first thing", "first_step_pain", 4),
        ("morning", "Sugars were 8 today, heel 3", "first_step_pain", 3),
        ("morning", "I have sugar in my tea, 2", "first_step_pain", 2),
        ("morning", "Can you message me at 7 rather than 6? 4 today", "first_step_pain", 4),
        ("morning", "Please change the time from 7 to 8. 3", "first_step_pain", 3),
        ("morning", "3 rather than the usual 5", "first_step_pain", 3),
        ("morning", "Today 5 (4 yesterday). Nothing at rest", "first_step_pain", 5),
        ("morning", "4 this morning (yesterday it was 6)", "first_step_pain", 4),
        ("morning", "3 against yesterday's 5", "first_step_pain", 3),
        # "one" that counts nothing
        ("morning", "6 leh, sit also pain one", "first_step_pain", 6),
        ("morning", "My knee is fine, it is the heel that is the sore one. Three", "first_step_pain", 3),
        ("evening", "walked 20 min, pain was one", "worst_pain", 1),
        # words that patients end a score with
        ("morning", "like a 5 ngl", "first_step_pain", 5),
        ("evening", "heel never above a 4 praise be", "worst_pain", 4),
        ("evening", "had a 3 course dinner. heel 4", "worst_pain", 4),
        ("evening", "walk 20 min. before 1, during 3, after 5", "worst_pain", 5),
        ("evening", "Run 5k. During 4, after 2", "worst_pain", 4),
        ("evening", "Was 3 until the stairs took it to 5", "worst_pain", 5),
        ("evening", "At 3 in the morning I woke", "worst_pain", None),
        ("evening", "it was at 4 in the afternoon and 6 at night", "worst_pain", 6),
        # nothing felt on getting up
        ("morning", "not sore at all when I got up", "first_step_pain", 0),
        ("morning", "no pain sitting but getting up is a 5", "first_step_pain", 5),
        ("morning", "hardly any pain getting up", "first_step_pain", None),
        # rest
        ("morning", "3. Naff all pain sitting", "rest_pattern", "none"),
        ("morning", "6. Bugger all sleep in bed", "rest_pattern", None),
        ("morning", "6. never stops, not sitting, not whatever I try", "rest_pattern", "constant"),
        ("morning", "7. aches whether I sit or lie", "rest_pattern", "constant"),
        ("morning", "it will come then it will go, 5", "rest_pattern", "intermittent"),
        ("morning", "Visitors come, visitors go. 3", "rest_pattern", None),
        ("morning", "6. sore in the armchair and sore in bed", "rest_pattern", "constant"),
        ("morning", "5, same ache lying as standing", "rest_pattern", "constant"),
        ("morning", "pain 4. sitting or lying nothing", "rest_pattern", "none"),
        ("morning", "4 pain when standing after lying", "rest_pattern", None),
        ("morning", "there isn't a way to lay it that doesn't hurt, 7", "rest_pattern", "constant"),
        ("morning", "6, there is no minute I am without it", "rest_pattern", "constant"),
        ("morning", "4, not a minute to myself", "rest_pattern", None),
        ("morning", "Gran says 5 as she stood up and it never leaves her, lying or sat", "rest_pattern", "constant"),
        ("morning", "incessant, 6", "rest_pattern", "constant"),
        ("morning", "it throbs without ever letting up, 6", "rest_pattern", "constant"),
        ("morning", "4, it left me alone an hour then it came back again", "rest_pattern", "intermittent"),
        ("morning", "6 sliding off the top bunk", "first_step_pain", 6),
        ("morning", "4, incessant noise from next door", "rest_pattern", None),
        ("morning", "4, no escape from the in-laws", "rest_pattern", None),
        ("morning", "5, it ebbs and flows on the sofa", "rest_pattern", "intermittent"),
        ("morning", "5, shows up on the couch then buggers off", "rest_pattern", "intermittent"),
        ("morning", "4, comes on first thing then clears in ten minutes", "rest_pattern", None),
        ("morning", "4, seldom when I sit", "rest_pattern", "intermittent"),
        ("evening", "Lifted sacks on and off the trailer. 4", "rest_pattern", None),
        ("morning", "3. disna hurt sittin doon", "rest_pattern", "none"),
        ("morning", "3, good as gold sat down", "rest_pattern", "none"),
        # the plan
        ("evening", "Exercises? every single one. 3", "plan_done", "all"),
        ("evening", "every last bit of the house hoovered. 3", "plan_done", None),
        ("evening", "plan? nope. 3", "plan_done", "none"),
        ("evening", "began the exercises but gave up. 5", "plan_done", "some"),
        ("evening", "Performed all of my exercises. 1", "plan_done", "all"),
        ("evening", "Banged out the whole routine. 2", "plan_done", "all"),
        ("evening", "Got through the list of jobs the wife left. 4", "plan_done", None),
        ("evening", "completed the tax forms in full. 2", "plan_done", None),
        ("evening", "Of the exercises I managed most. 3", "plan_done", "some"),
        ("evening", "did half the shopping list. 3", "plan_done", None),
        ("evening", "off the sheet: zero. Heel 2", "plan_done", "none"),
        ("evening", "Not done a blessed thing off that sheet. 4", "plan_done", "none"),
        ("evening", "not one thing went right. 3", "plan_done", None),
        ("evening", "Should I use the new insole you sent? Haven't tried it. 2", "plan_done", None),
        ("evening", "The exercises? Haven't touched them. 3", "plan_done", "none"),
        ("evening", "Kids had a bug, sickness, fever, aches the lot. heel 3", "plan_done", None),
        # how long it took to ease
        ("evening", "6 after, 15 min with my feet in the bath till it stopped", "settle_minutes", 15),
        ("evening", "heel 5 after the walk, 20 min on the couch and it shut up", "settle_minutes", 20),
        ("evening", "5 getting out the van, wore off in about 10", "settle_minutes", 10),
        ("morning", "7, six minutes tops", "settle_minutes", 6),
        ("morning", "5, feet like wood for twenty minutes after getting up", "settle_minutes", 20),
        ("evening", "It got to 5 and went down after 6 minutes", "settle_minutes", 6),
        ("morning", "4. shoulder takes an hour to loosen", "settle_minutes", None),
        ("morning", "4. train took 25 minutes", "settle_minutes", None),
        # counts, days and likenesses that are no scores
        ("morning", "5. weeks since the last flare: 7", "worst_pain", None),
        ("morning", "6. no, that's Sunday's. 4", "first_step_pain", 4),
        ("morning", "I was expecting worse than this 2", "first_step_pain", 2),
        ("evening", "Worst 4 in the ice cream queue", "worst_pain", 4),
        ("evening", "toe puffed up like a bun and soft as one", "worst_pain", None),
        ("evening", "Dog barked half an hour till it shut up. 3", "settle_minutes", None),
        ("evening", "half an hour with the kids till it got dark. 3", "settle_minutes", None),
        ("evening", "an hour in the recovery room with mum. heel 2", "settle_minutes", None),
        # who says a score, and where it was
        ("evening", "9,100 steps says the phone, 5 says the heel", "worst_pain", 5),
        ("evening", "5 said the nurse", "worst_pain", None),
        ("evening", "foot got up to a 6 near the bridge", "worst_pain", 6),
        ("evening", "foot was shouting 7 o", "worst_pain", 7),
        ("evening", "we were 8 at the table. 2", "worst_pain", 2),
        ("morning", "bed to bathroom 2, then the stairs were a 5", "worst_pain", 5),
        ("morning", "4 crawling out of the bunk", "first_step_pain", 4),
        ("morning", "you are the only one I told", "first_step_pain", None),
        ("morning", "score is five new line nothing lying down", "first_step_pain", 5),
        ("morning", "It is paining, then it is stopping, then again", "rest_pattern", "intermittent"),
        ("evening", "up to a 6, but 15 minutes later nobody would have known", "settle_minutes", 15),
        ("evening", "Heel 6, sit down fifteen minutes then okay", "settle_minutes", 15),
        ("evening", "still sore an hour on. walked 12 min. 3", "settle_minutes", None),
        # how much of the plan
        ("morning", "Clean forgot the whole routine yesterday. 4 today", "plan_done", "none"),
        ("evening", "Instructions carried out in full. 2", "plan_done", "all"),
        ("evening", "not a crumb done, wedding. 2", "plan_done", "none"),
        ("evening", "Of di programme mi do most. 2", "plan_done", "some"),
        ("evening", "Exercise dem mi do all. 2", "plan_done", "all"),
        ("evening", "Everything, except the ankle pumps. 2", "plan_done", "some"),
        ("evening", "Everything hurts, except the toes. 2", "plan_done", None),
        ("evening", "All 4 done. 2", "worst_pain", 2),
        ("evening", "A clean sweep. 2", "plan_done", "all"),
        # whose day it is
        ("morning", "Never answered you yesterday, sorry. Yesterday it was a 4 first thing", "about", "yesterday"),
        ("morning", "Never answered you yesterday, sorry. 4 this morning", "about", "today"),
        (
            "morning",
            "Missed last night's one. Yesterday 20 min walk, worst 4. Haven't got up yet",
            "about",
            "yesterday",
        ),
        ("morning", "Still in bed. Yesterday's: 2x10, worst 4", "about", "yesterday"),
        ("morning", "I owe you yesterday's, 5 and none", "about", "yesterday"),
        ("morning", "forgot yesterday's, sorry. 4 this morning", "about", "today"),
        ("morning", "walked loads yesterday and now it's 6", "about", "today"),
    ],
)
def test_whole_families_of_wordings_and_what_only_looks_like_them(
    asked: str, text: str, field: str, value: object
) -> None:
    assert _read(asked, text)[field] == value


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("wlaked 20 mintues", "walked 20 minutes"),
        ("heel rasies 3x12", "heel raises 3x12"),
        ("gardning 30 mins", "gardening 30 mins"),
        ("calfraises 20", "calf raises 20"),
        ("walked2 miles", "walked 2 miles"),
        ("walked fourty minutes", "walked forty minutes"),
    ],
)
def test_slips_of_spelling_change_nothing(typed: str, meant: str) -> None:
    assert _read("evening", typed) == _read("evening", meant)
    assert _read("evening", meant)["activities"] or _read("evening", meant)["exercises"]


def test_common_words_are_not_bent_into_findings() -> None:
    for text in (
        "weeping with laughter",
        "the fright of my life",
        "a good warming soup",
        "steeped tea",
        "the gardener came",
        "a bit of grumbling",
    ):
        record = _read("evening", text)
        assert not record["activities"], text
        assert not record["exercises"], text


def test_every_field_shows_the_words_it_came_from() -> None:
    text = "Walked 20 mins yesterday, raises 3x10, did everything, worst 4 settled in 10 min, comes and goes"
    fields = {each.field: each.words for each in read(text, Asked.EVENING).evidence}
    assert {
        "worst_pain",
        "settle_minutes",
        "activities",
        "exercises",
        "plan_done",
        "rest_pattern",
        "about",
    } <= fields.keys()
    assert "4" in fields["worst_pain"]
    assert fields["rest_pattern"] == "comes and goes"


def test_every_warning_sign_has_lines_of_its_own() -> None:
    assert {code for line in FLAG_LINES for code in line["red_flags"]} == set(RedFlag)


def test_nine_is_severe_and_eight_is_not() -> None:
    assert _read("morning", "9")["red_flags"] == ["severe_pain"]
    assert _read("morning", "8")["red_flags"] == []


@settings(max_examples=300, deadline=None)
@example(text="½,0K", asked=Asked.MORNING)
@example(text="n't", asked=Asked.MORNING)
@example(text="N0", asked=Asked.MORNING)
@given(text=st.text(max_size=10_000), asked=st.sampled_from(list(Asked)))
def test_no_text_raises(text: str, asked: Asked) -> None:
    record = to_contract(read(text, asked))
    assert record["first_step_pain"] is None or 0 <= record["first_step_pain"] <= 10
    assert record["worst_pain"] is None or 0 <= record["worst_pain"] <= 10


WORDS = sorted(
    {word for name in CORPUS.glob("*.jsonl") for line in _labelled(name.name) for word in line["text"].split()}
)


@settings(max_examples=400, deadline=None)
@given(words=st.lists(st.sampled_from(WORDS), max_size=30), asked=st.sampled_from(list(Asked)))
def test_patients_words_in_any_order_never_raise(words: list[str], asked: Asked) -> None:
    record = to_contract(read(" ".join(words), asked))
    assert all(each["activity"] in set(Activity) for each in record["activities"])
    assert len({each["activity"] for each in record["activities"]}) == len(record["activities"])


@pytest.mark.parametrize(
    "piece",
    [
        "a",
        "1",
        "1 ",
        "no ",
        "walk ",
        "calf ",
        "3x10 ",
        "4, no, ",
        "😀",
        "\u202e",
        "my foot is ",
        "no no not ",
        "half ",
        ", ",
        "the ",
        "good ",
        "a half ",
        "hundred ",
        "1 hour ",
        "yesterday walk ",
        "raises 12 ",
        "settled in 10 ",
        "at rest no pain ",
        "did i walk? ",
        "from 4 to ",
        "hold 30 sec ",
        "worst 3 ",
        "1/2 ",
        "10 min later no pain ",
        "oops 4 ",
        "10 min and the same again ",
        "should i walk 10 min? ",
        "raises lunchtime 10 tea 10 ",
        "most of it ",
        "in 3 goes, 4, 5 and 6 raises ",
        "he did 20 raises, i did 30 ",
        "20 and 10 more ",
        "yesterday 4, now 3 ",
        "on a scale of 1 to 10 ",
        "until i could walk 10 min ",
    ],
)
def test_the_cost_grows_with_the_length_and_no_faster(piece: str) -> None:
    def cost(length: int) -> float:
        text = (piece * (length // len(piece) + 1))[:length]
        # Time of this process only, so that others on the machine do not count.
        begun = time.process_time()
        read(text, Asked.EVENING)
        return time.process_time() - begun

    cost(100)
    short, long = min(cost(2_000) for _ in range(2)), min(cost(10_000) for _ in range(2))
    # Five times the length; a quadratic reader would need 25 times the time. The floor keeps noise out.
    assert long < max(0.5, 14 * short), (short, long)
