"""A turn costs the same after months as in the first week, and asks its database nothing twice."""

from __future__ import annotations

from collections import Counter

from storage.database import Database
from tests.conversation.room import Room
from tests.load.counting import statements
from tests.load.crowd import live, say_only

SAID = (("07:20", "4, comes and goes"), ("20:00", "walked 10 minutes, raises 2x8, worst pain 4"))


def _turns(database: Database, room: Room, day: int) -> list[list[str]]:
    found: list[list[str]] = []
    for clock, said in SAID:
        room.tick_until(room.at(day, clock))
        with statements(database) as sent:
            say_only(room, day, clock, said)
        room.deliver(room.at(day, clock))
        found.append(sent)
    return found


def test_a_turns_statements_are_few_and_do_not_grow_with_the_history(database: Database) -> None:
    room = Room(database)
    live(room, range(1, 3))
    early = _turns(database, room, 3)
    live(room, range(4, 35))
    late = _turns(database, room, 35)
    assert early == late
    assert [len(each) for each in late] == [19, 16]
    for turn in late:
        twice = [each for each, times in Counter(turn).items() if times > 1 and each.startswith("SELECT")]
        assert twice == []
