"""Warning signs, echoes, questions, and the clinician's texts: all there, and saying what the rules ask."""

from __future__ import annotations

from datetime import date

import pytest

from bot.conversation.wording import asking, clinician, days, enrolment, flags, prompts
from bot.conversation.wording.understood import ACTIVITY, EXERCISE, PLAN_DONE, REST, understood
from bot.program.flags import URGENCY_OF
from bot.program.reasons import Notice, Reason
from bot.program.terms import About, Activity, Decision, Exercise, Phase, PlanDone, RedFlag, RestPattern, Urgency
from bot.reader.reading import ActivityDone, ExerciseDone, FlagFinding, Reading
from tests.wording.catalogue import a_decision

WHO = "Dr Vale"


def test_every_value_has_wording() -> None:
    assert set(ACTIVITY) == set(Activity)
    assert set(EXERCISE) == set(Exercise)
    assert set(REST) == set(RestPattern)
    assert set(PLAN_DONE) == set(PlanDone)
    assert set(asking.FLAG_QUESTION) == set(flags.SIGN) == set(RedFlag)
    assert set(flags.URGENCY) == set(Urgency)
    assert set(clinician.NOTICE) == set(Notice)
    assert set(clinician.PHASE) == set(clinician.PHASE_TOLD) == set(Phase)
    assert set(clinician.DECISION) == set(Decision)
    for texts in (asking.FLAG_QUESTION, flags.SIGN, clinician.NOTICE, ACTIVITY, EXERCISE):
        assert len(set(texts.values())) == len(texts), "each its own"


@pytest.mark.parametrize("code", RedFlag)
def test_a_flags_reply_does_what_its_urgency_asks(code: RedFlag) -> None:
    """The table of rule 10."""
    asked = {
        Urgency.EMERGENCY: ("Stop.", "call your local emergency number now", "not an emergency service"),
        Urgency.SAME_DAY: ("stop all exercises", "Contact Dr Vale or urgent care today"),
        Urgency.SOON: ("pause the exercises", "Contact Dr Vale before the next session"),
    }
    text = flags.flag_reply((code,), clinician=WHO)
    for words in (*asked[URGENCY_OF[code]], flags.SIGN[code]):
        assert words in text
    assert ("crisis line" in text) == (code is RedFlag.SELF_HARM)
    assert "walk" not in text.casefold()


def test_the_most_urgent_sign_decides_the_reply_and_all_are_named() -> None:
    text = flags.flag_reply((RedFlag.NERVE_SIGNS, RedFlag.CLOT_SIGNS, RedFlag.CHEST_OR_BREATHING), clinician=WHO)
    assert text.startswith("Stop. Please call your local emergency number now.")
    assert text.index("Chest pain") < text.index("Numbness")
    assert "A calf or leg" in text
    assert "before the next session" not in text


def test_nobody_is_said_to_be_told_where_no_clinician_is_known() -> None:
    assert "I pass this on" not in flags.flag_reply((RedFlag.NERVE_SIGNS,), clinician=flags.NOBODY)
    assert "I pass this on to Dr Vale" in flags.flag_reply((RedFlag.NERVE_SIGNS,), clinician=WHO)


@pytest.mark.parametrize("code", RedFlag)
def test_an_open_flag_comes_with_no_exercise_and_waits_for_the_clinician(code: RedFlag) -> None:
    text = flags.still_open((code,), WHO)
    assert text.startswith("No exercises for now.")
    assert flags.SIGN[code] in text
    assert "Dr Vale decides when you can go on" in text
    assert ("emergency number now" in text) == (URGENCY_OF[code] is Urgency.EMERGENCY)
    assert "walk" not in text.casefold()


def test_without_a_code_there_is_no_reply_to_a_flag() -> None:
    with pytest.raises(ValueError, match="at least one code"):
        flags.flag_reply((), clinician=WHO)
    with pytest.raises(ValueError, match="at least one code"):
        flags.still_open((), WHO)


def test_the_clinician_is_told_the_words_and_what_was_said() -> None:
    text = flags.clinician_alert("Rowan", (RedFlag.CLOT_SIGNS,), "my calf is swollen", "TOLD")
    for words in ("Rowan", "clot_signs", "same day", '"my calf is swollen"', "TOLD", "/clear Rowan"):
        assert words in text


@pytest.mark.parametrize("code", RedFlag)
def test_a_flags_question_is_one_plain_yes_or_no_question(code: RedFlag) -> None:
    text = asking.ask_flag(code)
    assert text.count("?") == 1
    assert "yes or no" in text


def test_enrolment_lists_a_line_for_each_warning_sign() -> None:
    lines = [line for line in enrolment.ask_warning_signs().splitlines() if line.startswith("- ")]
    assert len(lines) == len(RedFlag)


@pytest.mark.parametrize(
    ("reading", "expected"),
    [
        (Reading(), ""),
        (Reading(flags=(FlagFinding(code=RedFlag.NIGHT_PAIN),)), ""),
        (Reading(first_step_pain=0), "Noted: first steps 0."),
        (
            Reading(
                first_step_pain=5,
                rest_pattern=RestPattern.INTERMITTENT,
                activities=(ActivityDone(activity=Activity.WALKING, minutes=12.0),),
            ),
            "Noted: first steps 5, pain comes and goes. Walked 12 min.",
        ),
        (
            Reading(
                exercises=(ExerciseDone(exercise=Exercise.HEEL_RAISE, sets=3, reps=10),),
                plan_done=PlanDone.SOME,
                worst_pain=3,
            ),
            "Noted: heel raises 3x10, part of the plan done, worst pain 3.",
        ),
        (
            Reading(activities=(ActivityDone(activity=Activity.STAIRS, count=4.0, about=About.YESTERDAY),)),
            "Noted: yesterday stairs 4 times.",
        ),
        (Reading(worst_pain=2, about=About.YESTERDAY), "Noted for yesterday: worst pain 2."),
        (Reading(not_done=(Activity.WALKING, Exercise.HEEL_RAISE)), "Noted: did no walking, did no heel raises."),
        (Reading(activities=(ActivityDone(activity=Activity.RUNNING, km=1.609344),)), "Noted: ran 1.6 km."),
    ],
)
def test_the_echo_says_back_what_was_understood(reading: Reading, expected: str) -> None:
    assert understood(reading, day_word=str(reading.about)) == expected


def test_the_echo_of_a_correction_says_what_it_was_before() -> None:
    reading = Reading(first_step_pain=5)
    assert understood(reading, day_word="today", instead_of=4) == "Noted: first steps 5 instead of 4."
    assert understood(reading, day_word="today", instead_of=5) == "Noted: first steps 5."


def test_pain_over_5_is_said_of_the_exercises_not_of_the_first_steps() -> None:
    for kind in (Decision.RESUME, Decision.PROGRESS, Decision.HOLD):
        assert "while you walk" in days.WATCH[kind]


def test_there_are_milestones_at_weeks_4_8_12_and_24_only() -> None:
    assert [week for week in range(1, 60) if prompts.milestone(week)] == [4, 8, 12, 24]


def test_a_morning_prompt_without_a_plan_shows_none() -> None:
    assert "plan" not in prompts.morning_prompt("Rowan", None, 3)
    assert "Walk 5 minutes." in prompts.morning_prompt("Rowan", "Walk 5 minutes.", 3)
    assert "plan" not in prompts.only_question("Rowan")


def test_a_pause_is_told_to_both_with_its_end_and_to_the_clinician_what_it_does_not_do() -> None:
    """Rule 5.1: blocks only increases, keeps the doses; which command stops all loading."""
    text = clinician.paused("Rowan", date(2026, 3, 10))
    for words in ("2026-03-10", "only increases", "doses in force are kept", "/stop Rowan", "/resume Rowan"):
        assert words in text
    told = clinician.tell_paused(WHO, date(2026, 3, 10))
    assert "Dr Vale" in told
    assert "10 March 2026" in told


def test_what_the_patient_is_told_names_who() -> None:
    for text in (
        clinician.tell_resumed(WHO),
        clinician.tell_loading_stopped(WHO),
        clinician.tell_loading_allowed(WHO),
        clinician.tell_dose(WHO, "walking", "12 min"),
        *(clinician.tell_phase(WHO, phase) for phase in Phase),
        flags.flag_cleared(WHO),
    ):
        assert WHO in text
    assert clinician.tell_resumed("your clinician").startswith("Your clinician")


def test_help_names_every_command() -> None:
    for command in [
        "caseload",
        "patient",
        "pause",
        "resume",
        "stop",
        "allow",
        "dose",
        "phase",
        "clear",
        "note",
        "target",
        "interval",
    ]:
        assert f"/{command}" in clinician.help_text()


def test_mistakes_say_what_was_given_and_that_nothing_changed() -> None:
    for text in (
        clinician.unknown_name("Zed", ("Rowan", "Ash")),
        clinician.ambiguous_name("Ro", ("Rowan", "Robin")),
        clinician.bad_date("tomorrw"),
        clinician.bad_dose("walk lots"),
        clinician.bad_phase("better"),
        clinician.bad_number("target", "from 3 to 120"),
    ):
        assert "othing was changed" in text
    assert "Rowan, Ash" in clinician.unknown_name("Zed", ("Rowan", "Ash"))
    assert "tomorrw" in clinician.bad_date("tomorrw")


def test_the_caseload_shows_open_flags_and_who_has_not_started() -> None:
    line = clinician.caseload_line("Rowan", 3, Phase.REPARATIVE, Decision.STOP, (RedFlag.NIGHT_PAIN,))
    assert line == "Rowan: week 3, reparative, stop; RED FLAG: night_pain"
    assert clinician.caseload_line("Ash", None, None, None, ()) == "Ash: not started"


def test_a_patients_summary_gives_reasons_with_their_rules() -> None:
    text = clinician.patient_summary(
        "LINE",
        a_decision(reasons=(Reason.CHANGED_LATELY,)),
        paused_until=date(2026, 3, 10),
        loading_stopped=False,
    )
    for words in ("LINE", "walking 5 min", "seated both 2x8", "changed lately (rule 6)", "2026-03-10"):
        assert words in text
    assert "stopped by you" not in text
