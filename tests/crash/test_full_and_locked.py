"""A full disk and a locked database are lived through, told in the log, and nothing is lost."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from storage.database import open_database
from tests.channels.running import Rows
from tests.crash.counting import QUIET, TALKERS, at_rest, begin, furnish
from tests.crash.killing import settings_for
from tests.crash.zygote import Zygote
from tests.telegram_server import Said, ServerProcess


@dataclass(frozen=True)
class Clinic:
    """A service on an SQLite file, and what can be done to both."""

    server: ServerProcess
    zygote: Zygote
    pid: int
    rows: Rows
    path: Path

    def all_say(self, text: str) -> list[Said]:
        """Every patient writes."""
        return [self.server.user(chat).says(text.format(3 + chat % 5)) for chat in (*TALKERS, *QUIET)]

    def log_has(self, words: str) -> bool:
        """Whether the log tells of something."""
        return any(words in line for line in self.zygote.log)

    def rest(self) -> None:
        """Everything is taken in and sent."""
        self.server.wait_for(lambda: at_rest(self.server, self.rows), 40)

    def all_recorded_once_and_answered(self, said: list[Said]) -> None:
        """Nothing was lost, and nothing was taken in twice."""
        recorded = [int(each) for (each,) in self.rows.all("SELECT update_id FROM incoming_messages")]
        assert sorted(recorded) == sorted(each.update_id for each in said)
        assert self.rows.one("SELECT count(*) FROM incoming_messages WHERE kind = 'failed'") == 0
        for chat in (*TALKERS, *QUIET):
            queued = self.rows.one(f"SELECT count(*) FROM outgoing_messages WHERE address = '{chat}'")
            assert queued <= self.server.count_sent(chat) <= queued + 1, "what was on its way just then may come twice"
        assert not self.log_has("Traceback")
        assert self.zygote.stop(self.pid) == 0


@contextmanager
def a_clinic(zygote: Zygote, folder: Path) -> Iterator[Clinic]:
    """The clinic, with its first messages exchanged."""
    path = folder / "full.sqlite3"
    url = f"sqlite:///{path}"
    open_database(url).close()
    with ServerProcess() as server:
        clock = begin(15.0)
        furnish(url, server, clock, minutes=50)
        pid = zygote.start(settings_for(server, url), clock, busy_milliseconds=1000)
        rows = Rows(url)
        yield Clinic(server=server, zygote=zygote, pid=pid, rows=rows, path=path)
        rows.close()


def test_a_full_disk_is_lived_through(zygote: Zygote, tmp_path: Path) -> None:
    with a_clinic(zygote, tmp_path) as clinic:
        said = clinic.all_say("/start")
        clinic.rest()
        # A file that may not grow stands for the disk that is full: SQLite meets the same refusal of a write.
        clinic.zygote.limit_files(clinic.pid, 512)
        said += clinic.all_say("first steps {}, comes and goes")
        clinic.server.wait_for(lambda: clinic.log_has("The database does not take a message"))
        assert clinic.server.unconfirmed(), "Telegram keeps what was not stored"
        clinic.zygote.limit_files(clinic.pid, None)
        clinic.rest()
        clinic.all_recorded_once_and_answered(said)


def test_a_locked_database_is_lived_through(zygote: Zygote, tmp_path: Path) -> None:
    with a_clinic(zygote, tmp_path) as clinic:
        said = clinic.all_say("/start")
        clinic.rest()
        with sqlite3.connect(clinic.path, isolation_level=None) as other:
            other.execute("BEGIN EXCLUSIVE")
            said += clinic.all_say("first steps {}, comes and goes")
            clinic.server.wait_for(lambda: clinic.log_has("The database does not take a message"))
            assert clinic.server.unconfirmed()
            other.execute("COMMIT")
        clinic.rest()
        clinic.all_recorded_once_and_answered(said)


def test_a_disk_that_is_full_at_the_start_is_told(zygote: Zygote, tmp_path: Path) -> None:
    with ServerProcess() as server:
        url = f"sqlite:///{tmp_path / 'new.sqlite3'}"
        pid = zygote.start(settings_for(server, url), begin(1.0), busy_milliseconds=300, longest_file=512)
        assert zygote.wait(pid) == 1
        server.wait_for(lambda: any("database cannot be" in line for line in zygote.log))
        assert not any("Traceback" in line for line in zygote.log)
