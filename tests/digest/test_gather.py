"""Reading: the same as the house's own queries for one patient, in statements that don't grow."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import event

from bot.digest.gather import gather
from bot.program.advance import advance
from bot.program.decide import decide
from bot.program.ladder import RaiseDose
from bot.program.protocol import DEFAULT
from bot.program.terms import Activity, Decision, Exercise, PlanDone, PriorActivity, RestPattern, Step
from bot.program.values import ActivityAmount, Doses, Enrolment, Evening, Morning, RaisesReported, Today, start
from storage import decisions, flags, messages, people, records
from storage.database import Database
from tests.digest.conftest import Demo

START = date(2026, 3, 2)
NOW = datetime(2026, 3, 30, 8, tzinfo=UTC)


@contextmanager
def counted(database: Database) -> Iterator[list[str]]:
    """The statements that are sent."""
    found: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_: object) -> None:
        found.append(statement)

    event.listen(database.engine, "before_cursor_execute", note)
    try:
        yield found
    finally:
        event.remove(database.engine, "before_cursor_execute", note)


def fill(database: Database, patients: int, days: int) -> list[int]:
    """So many patients with as many days, two messages a day."""
    ids: list[int] = []
    with database.session() as session:
        clinician = people.add_clinician(
            session, name="Dr Vale", channel="test", address="desk", timezone="UTC", now=NOW
        )
        session.flush()
        for number in range(patients):
            doses = Doses(walk=5, raises=RaiseDose(step=Step.SEATED_BOTH, sets=2, reps=8))
            patient = people.add_patient(
                session,
                alias=f"P{number}",
                clinician_id=clinician.id,
                channel="test",
                address=f"p{number}",
                timezone="UTC",
                start=START,
                status="active",
                prior_activity="moderately",
                enrolled_first_step_pain=5,
                enrolled_rest_pattern="intermittent",
                start_walk=5,
                start_step="seated both",
                start_sets=2,
                start_reps=8,
                created_at=NOW,
            )
            session.flush()
            key = patient.id or 0
            ids.append(key)
            state = start(
                Enrolment(
                    first_step_pain=5,
                    rest_pattern=RestPattern.INTERMITTENT,
                    prior_activity=PriorActivity.MODERATELY,
                    doses=doses,
                ),
                walk_floor=3,
            )
            for offset in range(days):
                day = START + timedelta(days=offset)
                morning = Morning(first_step_pain=4 + offset % 2, rest_pattern=RestPattern.INTERMITTENT)
                evening = Evening(
                    worst_pain=3,
                    plan_done=PlanDone.ALL,
                    activities=(ActivityAmount(activity=Activity.WALKING, minutes=5),),
                    raises=RaisesReported(sets=2, reps=8),
                )
                records.add_morning(session, patient_id=key, day=day, morning=morning, message_id=None, now=NOW)
                records.add_evening(
                    session,
                    patient_id=key,
                    day=day,
                    evening=evening,
                    exercises=((Exercise.HEEL_RAISE, 2, 8, None),),
                    message_id=None,
                    now=NOW,
                )
                decision = decide(state, Today(day=state.day, morning=morning), DEFAULT)
                decisions.add_decision(
                    session, patient_id=key, day=day, decision=decision, protocol=DEFAULT, decided_at=NOW
                )
                state = advance(state, decision, evening, DEFAULT)
            decisions.put_state(session, key, START + timedelta(days=days), state)
            flags.open_flag(
                session, patient_id=key, code="night_pain", score=None, words="woke me", message_id=None, now=NOW
            )
    return ids


def test_the_number_of_statements_does_not_grow_with_patients_or_days(database: Database) -> None:
    ids = fill(database, 40, 10)
    until = START + timedelta(days=9)
    counts = []
    for some in (ids[:1], ids[:10], ids):
        with database.session() as session, counted(database) as sent:
            found = gather(session, some, until=until, now=NOW)
        assert len(found.histories) == len(some)
        assert all(len(each.days) == 10 for each in found.histories)
        counts.append(sum(each.lstrip().upper().startswith("SELECT") for each in sent))
    assert counts[0] == counts[1] == counts[2]
    assert counts[0] <= 12
    with database.session() as session, counted(database) as sent:
        gather(session, ids, until=START + timedelta(days=2), now=NOW)
    assert sum(each.lstrip().upper().startswith("SELECT") for each in sent) == counts[0], "nor with days"


def test_what_is_read_is_what_the_house_reads_for_one_patient(demo: Demo) -> None:
    with demo.database.session() as session:
        for history in demo.histories.values():
            first = history.start
            assert first is not None
            mornings = records.mornings(session, history.patient_id, first, demo.until)
            evenings = records.evenings(session, history.patient_id, first, demo.until)
            decided = decisions.decisions(session, history.patient_id, first, demo.until)
            assert {day.date for day in history.days} >= set(decided)
            for day in history.days:
                assert day.decision == decided.get(day.date)
                assert day.given_pain == mornings.get(day.date, Morning()).first_step_pain
                assert day.worst_pain == evenings.get(day.date, Evening()).worst_pain
                assert day.reported == evenings.get(day.date, Evening()).reported
            opened = flags.open_flags(session, history.patient_id)
            assert [str(each.code) for each in history.open_flags] == [row.code for row in opened]
            assert history.next_state == decisions.get_state(
                session, history.patient_id, demo.until + timedelta(days=1)
            )


def test_the_next_state_is_carried_on_where_the_last_day_is_not_closed(database: Database) -> None:
    """Sunday is decided, Monday has not begun for the rules: the state comes from Sunday's evening all the same."""
    (key,) = fill(database, 1, 10)
    until = START + timedelta(days=9)
    with database.session() as session:
        closed = gather(session, [key], until=until, now=NOW).histories[0].next_state
    with database.session() as session:
        before = gather(session, [key], until=until + timedelta(days=1), now=NOW).histories[0]
    assert closed is not None
    assert closed.day == 11
    assert before.next_state is None, "a day that nobody decided has no next one"
    assert before.days[-1].decision is None


def test_flags_are_those_of_the_moment_for_last_week_and_of_then_for_long_ago(database: Database) -> None:
    (key,) = fill(database, 1, 10)
    with database.session() as session:
        late = gather(session, [key], until=date(2026, 3, 29), now=NOW + timedelta(hours=1)).histories[0]
        early = gather(session, [key], until=date(2026, 3, 11), now=NOW + timedelta(hours=1)).histories[0]
    assert [str(each.code) for each in late.open_flags] == ["night_pain"]
    assert early.open_flags == ()


def test_check_ins_count_once_they_were_sent(database: Database) -> None:
    (key,) = fill(database, 1, 10)
    day = START + timedelta(days=9)
    with database.session() as session:
        for slot in ("morning", "evening"):
            messages.queue(
                session,
                key=f"prompt:{key}:{day}:{slot}",
                channel="test",
                address="p0",
                text="?",
                kind="prompt",
                due_at=NOW,
                patient_id=key,
                day=day,
            )
        first = messages.undelivered(session, NOW, 10)[0]
        messages.mark_sent(session, first.id or 0, NOW)
    with database.session() as session:
        found = gather(session, [key], until=day, now=NOW).histories[0]
    assert found.sent == {(day, "morning")}


def test_patients_come_in_the_order_asked_for_and_unknown_ids_are_left_out(demo: Demo) -> None:
    wanted = [demo.ids[3], 999_999, demo.ids[0], demo.ids[3]]
    with demo.database.session() as session:
        found = gather(session, wanted, until=demo.until, now=demo.now)
    assert [each.patient_id for each in found.histories] == [demo.ids[3], demo.ids[0]]


def test_a_patient_before_day_1_has_no_days(demo: Demo) -> None:
    with demo.database.session() as session:
        (found,) = gather(session, demo.ids[:1], until=date(2026, 1, 4), now=demo.now).histories
    assert found.days == ()
    assert found.next_state is None


@pytest.mark.parametrize("alias", ["Wren", "Ilex", "Sorrel", "Moss", "Tarn"])
def test_the_demo_has_something_to_show(demo: Demo, alias: str) -> None:
    history = demo.histories[alias]
    assert len(history.days) == 84
    seen = {day.decision.decision for day in history.days if day.decision is not None}
    wanted = {
        "Wren": Decision.PROGRESS,
        "Ilex": Decision.UNLOAD,
        "Sorrel": Decision.REST,
        "Moss": Decision.RESUME,
        "Tarn": Decision.STOP,
    }
    assert wanted[alias] in seen


def test_today_is_known_to_be_going_on(demo: Demo) -> None:
    """On Monday at 8 the Sunday is over and the Monday is not, on the patient's own clock."""
    with demo.database.session() as session:
        (found,) = gather(session, demo.ids[:1], until=demo.until + timedelta(days=1), now=demo.now).histories
    assert [day.going_on for day in found.days[-2:]] == [False, True]
