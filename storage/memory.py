"""What one transaction knows of patients' days already: nothing is asked twice, and much can be asked and written at once.

A turn asks the database when it first needs something, and writes at once. A tick fills the memory for a batch of
patients (`storage.batch`), and what it writes waits until the batch is done. The functions of records, decisions, flags
and messages keep to it, so that those who call them need not know which of the two it is.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlmodel import Session

from bot.program.values import DayDecision, Evening, Morning, State
from storage.tables import Clinician, ProgramState, RedFlagRow

_KEY = "storage.memory"
Day = tuple[int, date]
"""A patient's id and a day."""


@dataclass(kw_only=True, slots=True)
class Waiting:
    """What a batch writes in the end."""

    outgoing: list[dict[str, Any]] = field(default_factory=list)
    old_states: dict[int, date] = field(default_factory=dict)
    """Patients, and the day before which their states are let go."""


@dataclass(kw_only=True, slots=True)
class Memory:
    """What is known. A day that is not in here was not asked for; `None` in here is "there is none"."""

    latest_states: dict[int, date | None] = field(default_factory=dict)
    state_texts: dict[Day, str] = field(default_factory=dict)
    """States as they are stored: JSON, read when it is needed."""
    states: dict[Day, State | None] = field(default_factory=dict)
    state_rows: dict[Day, ProgramState] = field(default_factory=dict)
    """Rows that this transaction wrote."""
    decisions: dict[Day, DayDecision | None] = field(default_factory=dict)
    mornings: dict[Day, Morning] = field(default_factory=dict)
    evenings: dict[Day, Evening] = field(default_factory=dict)
    flags: dict[int, list[RedFlagRow]] = field(default_factory=dict)
    prompts: dict[int, dict[date, set[str]]] = field(default_factory=dict)
    clinicians: dict[int, Clinician | None] = field(default_factory=dict)
    waiting: Waiting | None = None

    def forget_days(self, patient_id: int) -> None:
        """What patients said was changed: ask again."""
        for known in (self.mornings, self.evenings):
            for key in [each for each in known if each[0] == patient_id]:
                del known[key]


def memory_of(session: Session) -> Memory:
    """The memory of the session's transaction; the next transaction begins without any."""
    transaction = session.get_transaction()
    kept: tuple[object, Memory] | None = session.info.get(_KEY)
    if kept is None or kept[0] is not transaction:
        kept = (transaction, Memory())
        session.info[_KEY] = kept
    return kept[1]
