"""A clinic that writes all the time, and the count in the end: what was said, recorded, queued and sent."""

from __future__ import annotations

import random
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from time import time
from typing import Any
from zoneinfo import ZoneInfo

from bot.conversation.prompting import schedule_next
from storage import people
from storage.database import open_database
from tests.channels.running import Rows
from tests.crash.zygote import FastClock
from tests.telegram_server import Pressed, Said, SentMessage
from tests.telegram_server.control import Control

ZONE = ZoneInfo("Europe/Lisbon")
DAY = datetime(2026, 3, 4, tzinfo=ZONE)
TALKERS = range(1000, 1010)
"""Patients who check in all the time."""
QUIET = range(2000, 2010)
"""Patients who say no more than thanks, so that their morning stays open and their prompt is due."""
CLINICIAN = 1
TALK = ("first steps {}, comes and goes", "walked {} min, all done, worst 3", "plan", "thanks", "worst pain {}", "help")
_SENT_BEFORE_KILL = 4.0
"""True seconds that a message may be on its way: it was sent so long before the kill at most if it comes twice."""


def begin(rate: float) -> FastClock:
    """A clock that shows 06:59 of the third day now."""
    return FastClock(start=(DAY + timedelta(hours=6, minutes=59)).astimezone(UTC), at=time(), rate=rate)


def furnish(url: str, server: Control, clock: FastClock, minutes: int) -> None:
    """A clinician, and patients whose morning prompts are due over the next `minutes`."""
    database = open_database(url)
    before = (DAY - timedelta(days=2)).astimezone(UTC)
    with database.session() as session:
        clinician = people.add_clinician(
            session, name="Dr Vale", channel="telegram", address=str(CLINICIAN), timezone=ZONE.key, now=before
        )
        session.flush()
        for number, chat in enumerate((*TALKERS, *QUIET)):
            patient = people.add_patient(
                session,
                alias=f"P{chat}",
                clinician_id=clinician.id,
                channel="telegram",
                address=str(chat),
                timezone=ZONE.key,
                morning_time=f"{7 + (number % minutes) // 60:02d}:{number % minutes % 60:02d}",
                start=(DAY - timedelta(days=2)).date(),
                status="active",
                prior_activity="moderately",
                enrolled_first_step_pain=4,
                enrolled_rest_pattern="intermittent",
                start_walk=5,
                start_step="seated both",
                start_sets=2,
                start_reps=8,
                created_at=before,
            )
            session.flush()
            schedule_next(patient, clock())
    database.close()
    for chat in (CLINICIAN, *TALKERS, *QUIET):
        server.user(chat)


@dataclass
class Crowd:
    """People who write at random, in an order that the seed decides."""

    server: Control
    chance: random.Random
    said: list[Said | Pressed] = field(default_factory=list)

    def all_start(self) -> None:
        """Everybody opens the chat: before that the bot may not write."""
        for chat in (CLINICIAN, *TALKERS, *QUIET):
            self.said.append(self.server.user(chat).says("/start"))

    def act(self) -> None:
        """Somebody does something."""
        draw = self.chance.random()
        if draw < 0.1:
            self.said.append(self.server.user(CLINICIAN).says(self.chance.choice(("/caseload", "/help", "/log P1003"))))
        elif draw < 0.2:
            self.said.append(self.server.user(self.chance.choice(QUIET)).says("thanks"))
        elif draw < 0.3 and self.said:
            self.server.redeliver(self.chance.choice(self.said))
        elif draw < 0.45:
            user = self.server.user(self.chance.choice(TALKERS))
            keyboards = [each for each in user.received() if each.buttons]
            if keyboards:
                message = keyboards[-1]
                press = user.presses(message, self.chance.choice([label for row in message.buttons for label in row]))
                self.said.append(press)
        else:
            text = self.chance.choice(TALK).format(self.chance.randint(2, 7))
            self.said.append(self.server.user(self.chance.choice(TALKERS)).says(text))


@dataclass(frozen=True, kw_only=True)
class Count:
    """What there was in the end."""

    accepted: int
    recorded: int
    queued: int
    prompts: int
    sent: int
    twice: int
    kills: int
    most_twice_a_kill: int

    def __str__(self) -> str:
        return (
            f"{self.kills} kills: {self.accepted} messages accepted, {self.recorded} recorded; {self.queued} replies and "
            f"prompts queued ({self.prompts} prompts), {self.sent} sent, {self.twice} of them twice "
            f"(at most {self.most_twice_a_kill} by one kill)"
        )


def at_rest(server: Control, rows: Rows) -> bool:
    """Whether everything said is taken in and everything queued is sent."""
    return not server.unconfirmed() and not rows.one(
        "SELECT count(*) FROM outgoing_messages WHERE sent_at IS NULL AND refused_at IS NULL"
    )


def count(server: Control, rows: Rows, said: list[Said | Pressed], kills: list[float]) -> Count:
    """Compare what was said, recorded, queued and sent. `kills`: monotonic seconds. Raises AssertionError."""
    recorded = Counter(int(each) for (each,) in rows.all("SELECT update_id FROM incoming_messages"))
    accepted = {each.update_id for each in said}
    assert set(recorded) == accepted, "every accepted message is recorded, and none besides"
    assert set(recorded.values()) <= {1}, "exactly once"
    assert rows.one("SELECT count(*) FROM incoming_messages WHERE role IS NULL OR kind = 'failed'") == 0
    unanswered = rows.all(
        "SELECT id, text FROM incoming_messages i WHERE kind = 'text' AND NOT EXISTS"
        " (SELECT 1 FROM outgoing_messages o WHERE o.in_reply_to = i.id)"
    )
    assert unanswered == [], "every message has a reply"

    queued = rows.all("SELECT id, address, text, kind, priority, source_id, refused_at, key FROM outgoing_messages")
    assert all(refused is None for *_, refused, _ in queued), "nothing was given up"
    prompts = {key for *_, key in queued if key.startswith("prompt:")}
    quiet = rows.all(f"SELECT id FROM patients WHERE CAST(address AS INTEGER) >= {QUIET[0]}")
    expected = {f"prompt:{number}:{DAY.date()}:morning" for (number,) in quiet}
    assert expected <= prompts, "every prompt that was due was queued"

    sent = {each.message_id: each for each in server.sent()}
    noted = {int(source): (number, address, text) for number, address, text, _, _, source, _, _ in queued}
    assert len(noted) == len(queued), "each is noted with a message of its own"
    for source, (_, address, text) in noted.items():
        assert (str(sent[source].chat_id), sent[source].text) == (address, text)
    _in_order(queued, sent)
    twice = [each for number, each in sent.items() if number not in noted]
    by_kill = _explained(twice, noted, sent, kills)
    assert server.refusals() == []
    return Count(
        accepted=len(accepted),
        recorded=len(recorded),
        queued=len(queued),
        prompts=len(prompts),
        sent=len(sent),
        twice=len(twice),
        kills=len(kills),
        most_twice_a_kill=max(by_kill.values(), default=0),
    )


def _in_order(queued: list[tuple[Any, ...]], sent: dict[int, SentMessage]) -> None:
    """Replies of a chat went out in the order in which they were queued, and so did its prompts."""
    chats: dict[tuple[str, int], list[tuple[int, float]]] = defaultdict(list)
    for number, address, _, _, priority, source, _, _ in queued:
        chats[address, priority].append((number, sent[int(source)].at))
    for found in chats.values():
        moments = [at for _, at in sorted(found)]
        assert moments == sorted(moments), "the order in a chat is kept"


def _explained(
    twice: list[SentMessage],
    noted: dict[int, tuple[int, str, str]],
    sent: dict[int, SentMessage],
    kills: list[float],
) -> Counter[int]:
    """Each copy too many has a kill right after it, and one more copy after that. Returns how many each kill made."""
    by_kill: Counter[int] = Counter()
    later: dict[tuple[int, str], list[float]] = defaultdict(list)
    for source in noted:
        later[sent[source].chat_id, sent[source].text].append(sent[source].at)
    copies: Counter[tuple[int, int, str]] = Counter()
    for each in twice:
        assert any(at > each.at for at in later[each.chat_id, each.text]), "the copy that counts came after it"
        kill = next((index for index, at in enumerate(kills) if 0 <= at - each.at <= _SENT_BEFORE_KILL), None)
        assert kill is not None, (
            f"a message came twice without a kill between sending and noting it: {each.text[:40]!r}"
        )
        by_kill[kill] += 1
        copies[kill, each.chat_id, each.text] += 1
    # One at a time is on its way in a chat, so a kill makes one copy too many of a message at most.
    assert all(number == 1 for number in copies.values())
    return by_kill
