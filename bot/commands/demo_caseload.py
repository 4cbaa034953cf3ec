"""An invented caseload: five patients over twelve weeks, played through the real conversation on a database in memory.

Nobody in it exists. Each patient is a row of first-step scores, a digit a day and a dot for no answer, with the
evenings, rest patterns and clinician's words that are out of the ordinary beside it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from bot.conversation.days import PatientDays
from bot.conversation.prompting import schedule_next
from bot.conversation.service import Conversation
from bot.conversation.values import Incoming
from scheduler.times import day_start
from storage import people
from storage.database import Database, open_database

ZONE = ZoneInfo("Europe/Lisbon")
START = date(2026, 1, 5)
"""Day 1 of all five, a Monday."""
WEEKS = 12
LAST_DAY = START + timedelta(days=7 * WEEKS - 1)
CLINICIAN = "Dr Vale"
_CHANNEL = "demo"
_DESK = "demo-clinician"
_CONSTANT = "constant, also when I lie down"
_COMES_AND_GOES = "comes and goes"
_NO_REST_PAIN = "no pain at rest"


@dataclass(frozen=True, kw_only=True, slots=True)
class Story:
    """One invented patient. Days are numbered from 1."""

    alias: str
    foot: str
    active_before: str
    enrolled: tuple[int, str]
    walk: int
    mornings: str
    constant: range = range(0)
    """Days on which pain at rest is constant."""
    no_rest_pain_from: int = 10_000
    silent: range = range(0)
    """Evenings of these days are not answered."""
    worst: int = 1
    """Worst pain of an ordinary evening, over that day's first steps."""
    evenings: dict[int, str] = field(default_factory=dict)
    later: dict[int, str] = field(default_factory=dict)
    """What is said at 21:00."""
    clinician: dict[int, str] = field(default_factory=dict)
    """What the clinician writes at noon."""


STORIES: tuple[Story, ...] = (
    Story(
        alias="Wren",
        foot="right",
        active_before="moderately",
        enrolled=(7, "intermittent"),
        walk=5,
        mornings="7767677 6766656 6565556 5545545 4544544 4434343 3433333 3323323 232222. 2222122 2121121 1121111",
        no_rest_pain_from=30,
        worst=1,
        evenings={40: "walked 15 minutes, raises done, worst pain 4"},
        clinician={33: "/target Wren 40"},
    ),
    Story(
        alias="Ilex",
        foot="left",
        active_before="a little",
        enrolled=(8, "constant"),
        walk=4,
        mornings="8887766 6655655 5545545 4544444 4434343 4343343 3343333 3333333 3323332 2333323 3323367 7776776",
        constant=range(76, 85),
        worst=1,
        evenings={75: "all done, and carried boxes up the stairs for 60 minutes, worst pain 7"},
        clinician={79: "/note Ilex phoned, sees me on Monday"},
    ),
    Story(
        alias="Sorrel",
        foot="both",
        active_before="very",
        enrolled=(6, "intermittent"),
        walk=6,
        mornings="6656565 5655565 5545554 8765544 5444544 4444434 4343443 4434343 3433433 3343333 6544333 3433643",
        worst=1,
        evenings={
            21: "gardening 120 minutes, walked 10 minutes, worst pain 6",
            70: "walked 40 minutes, stood 240 minutes at a market, worst pain 6",
            81: "walked 45 minutes, worst pain 6",
        },
        clinician={50: "/interval Sorrel 7", 71: "/pause Sorrel until 2026-03-22"},
    ),
    Story(
        alias="Moss",
        foot="right",
        active_before="moderately",
        enrolled=(5, "intermittent"),
        walk=5,
        mornings="5.45545 4544.44 4443444 4343343 ....... ..54443 4343343 3.33433 3332333 33.2332 2332233 223....",
        silent=range(29, 38),
        no_rest_pain_from=60,
        worst=0,
        later={28: "holiday 2026-02-02 2026-02-10"},
        evenings={81: "", 82: "", 83: "", 84: ""},
    ),
    Story(
        alias="Tarn",
        foot="left",
        active_before="a little",
        enrolled=(6, "intermittent"),
        walk=5,
        mornings="6766676 6676667 6677666 6666766 6676666 6566666 6665666 6656665 6566566 6665656 6566656 6656677",
        worst=0,
        evenings={45: "walked 4 minutes, worst pain 6", 46: "all done, worst 7"},
        later={17: "the pain woke me up at night", 82: "felt a pop in my heel on the stairs"},
        clinician={18: "/clear Tarn seen today, slept on a hard floor", 60: "/dose Tarn walk 8"},
    ),
)


def _day(number: int) -> date:
    return START + timedelta(days=number - 1)


def _at(number: int, clock: time) -> datetime:
    return datetime.combine(_day(number), clock, tzinfo=ZONE).astimezone(UTC)


class _Caseload:
    """The database that is being filled."""

    def __init__(self, url: str) -> None:
        self.database = open_database(url)
        self.conversation = Conversation(self.database)
        self.updates = 0

    def enrol(self, story: Story, clinician_id: int | None) -> int:
        begun = day_start(START, ZONE)
        with self.database.session() as session:
            patient = people.add_patient(
                session,
                alias=story.alias,
                clinician_id=clinician_id,
                channel=_CHANNEL,
                address=f"demo-{story.alias}",
                foot=story.foot,
                timezone=ZONE.key,
                start=START,
                status="active",
                prior_activity=story.active_before,
                enrolled_first_step_pain=story.enrolled[0],
                enrolled_rest_pattern=story.enrolled[1],
                start_walk=story.walk,
                start_step="seated both",
                start_sets=2,
                start_reps=8,
                created_at=begun - timedelta(hours=12),
            )
            session.flush()
            schedule_next(patient, begun - timedelta(seconds=1))
            if patient.id is None:
                raise ValueError("a stored patient has an id")
            return patient.id

    def say(self, address: str, text: str, now: datetime) -> None:
        self.updates += 1
        self.conversation.handle(
            Incoming(channel=_CHANNEL, update_id=str(self.updates), address=address, text=text, sent_at=now), now
        )
        self.deliver(now)

    def prompt(self, now: datetime) -> None:
        self.conversation.tick(now)
        self.deliver(now)

    def deliver(self, now: datetime) -> None:
        for each in self.conversation.deliverable(now, 1000):
            self.conversation.delivered(each.id, now)


def _morning(story: Story, number: int) -> str | None:
    score = story.mornings.replace(" ", "")[number - 1]
    if score == ".":
        return None
    if number in story.constant:
        return f"{score}, {_CONSTANT}"
    return f"{score}, {_NO_REST_PAIN if number >= story.no_rest_pain_from else _COMES_AND_GOES}"


def _evening(story: Story, number: int) -> str | None:
    if number in story.evenings:
        return story.evenings[number] or None
    if number in story.silent:
        return None
    if number in story.constant:
        return (
            f"nothing done today, worst pain {min(8, int(story.mornings.replace(' ', '')[number - 1]) + story.worst)}"
        )
    score = story.mornings.replace(" ", "")[number - 1]
    worst = 3 if score == "." else min(8, int(score) + story.worst)
    # An ordinary day: the plan done, and the worst pain of the day within what is tolerated.
    return f"all done, worst pain {min(worst, 5)}"


def demo_caseload(
    url: str = "sqlite://", *, weeks: int = WEEKS, progress: Callable[[int], None] | None = None
) -> tuple[Database, list[int]]:
    """The database with the invented caseload after `weeks` (at most 12), and the patients' ids.

    `progress` is called with the number of each week that is over.
    """
    caseload = _Caseload(url)
    with caseload.database.session() as session:
        clinician = people.add_clinician(
            session, name=CLINICIAN, channel=_CHANNEL, address=_DESK, timezone=ZONE.key, now=day_start(START, ZONE)
        )
        session.flush()
        clinician_id = clinician.id
    ids = [caseload.enrol(story, clinician_id) for story in STORIES]
    for number in range(1, 7 * weeks + 1):
        caseload.prompt(_at(number, time(7, 0)))
        for story in STORIES:
            if text := _morning(story, number):
                caseload.say(f"demo-{story.alias}", text, _at(number, time(7, 20)))
        for story in STORIES:
            if text := story.clinician.get(number):
                caseload.say(_DESK, text, _at(number, time(12, 0)))
        caseload.prompt(_at(number, time(9, 0)))
        caseload.prompt(_at(number, time(19, 30)))
        for story in STORIES:
            if text := _evening(story, number):
                caseload.say(f"demo-{story.alias}", text, _at(number, time(20, 0)))
            if text := story.later.get(number):
                caseload.say(f"demo-{story.alias}", text, _at(number, time(21, 0)))
        caseload.prompt(_at(number, time(21, 30)))
        if progress is not None and number % 7 == 0:
            progress(number // 7)
    close_days(caseload.database, ids, 7 * weeks)
    return caseload.database, ids


def close_days(database: Database, ids: list[int], last: int) -> None:
    """Decide the days up to number `last` that nobody answered, as the next morning's prompt would."""
    for patient_id in ids:
        with database.session() as session:
            patient = people.patient_by_id(session, patient_id)
            following = _day(last + 1)
            PatientDays(session, patient, day_start(following, ZONE)).close_until(following)
