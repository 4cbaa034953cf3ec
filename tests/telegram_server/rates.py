"""How fast messages come, and what Telegram would say to that.

https://core.telegram.org/bots/faq#my-bot-is-hitting-limits-how-do-i-avoid-this: not more than one message a second in
one chat, short bursts apart, and not more than 30 a second over all. How long a burst may be is not published.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class RateLimits:
    """What is allowed. `enforce` answers what is over it with 429; without, it is only noted."""

    overall: int = 30
    """Messages in any one second, over all chats."""
    per_chat: float = 1.0
    """Messages a second in one chat, kept up for long."""
    burst: int = 5
    """Messages that one chat may get at once. Common practice, no source."""
    enforce: bool = False
    retry_after: int = 1
    """Whole seconds that a 429 asks for."""


@dataclass(frozen=True, kw_only=True)
class Violation:
    """A message that came too early. `at` is in seconds of the server's monotonic clock."""

    kind: str
    """overall, chat, or early: before the `retry_after` of that chat was over."""
    chat_id: int
    at: float
    count: float
    """overall: messages within this second; chat: the level of the burst; early: seconds too soon."""


class RateWatch:
    """Sees every attempt to send and keeps what was too much."""

    _SLACK = 0.25
    """Of a message: what a pause measured on another clock may be short of."""

    def __init__(self, limits: RateLimits) -> None:
        self.limits = limits
        self.violations: list[Violation] = []
        self.most_in_a_second = 0
        self._second: deque[float] = deque()
        self._chats: dict[int, tuple[float, float]] = {}
        self._not_before: dict[int, float] = {}

    def attempt(self, chat_id: int, at: float) -> int | None:
        """Note an attempt. Returns the seconds to ask for with a 429, or None: it may pass."""
        found: list[Violation] = []
        not_before = self._not_before.get(chat_id, 0.0)
        if at < not_before:
            found.append(Violation(kind="early", chat_id=chat_id, at=at, count=not_before - at))
        level = self._level(chat_id, at) + 1
        if level > self.limits.burst + self._SLACK:
            found.append(Violation(kind="chat", chat_id=chat_id, at=at, count=level))
        while self._second and self._second[0] <= at - 1 + 1e-6:
            self._second.popleft()
        if len(self._second) + 1 > self.limits.overall:
            found.append(Violation(kind="overall", chat_id=chat_id, at=at, count=len(self._second) + 1))
        self.violations.extend(found)
        if found and self.limits.enforce:
            self.asked_to_wait(chat_id, at, self.limits.retry_after)
            return self.limits.retry_after
        self._second.append(at)
        self._chats[chat_id] = (level, at)
        self.most_in_a_second = max(self.most_in_a_second, len(self._second))
        return None

    def asked_to_wait(self, chat_id: int, at: float, retry_after: float) -> None:
        """A 429 was answered: what comes to this chat before the time is over is too early."""
        self._not_before[chat_id] = max(self._not_before.get(chat_id, 0.0), at + retry_after)

    def _level(self, chat_id: int, at: float) -> float:
        level, since = self._chats.get(chat_id, (0.0, at))
        return max(0.0, level - (at - since) * self.limits.per_chat)
