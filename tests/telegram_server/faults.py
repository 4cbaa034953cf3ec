"""Faults that a test orders, each for the next requests that fit."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(kw_only=True)
class Fault:
    """What happens to the next `times` requests of `method` (None: of any kind that sends to a chat) to `chat_id`."""

    action: str
    """answer: with `status`, nothing is done; drop_before, drop_after: the connection closes without an answer,
    before or after the request was carried out; delay: it is answered `seconds` late, after it was carried out."""
    method: str | None = None
    chat_id: int | None = None
    times: int = 1
    status: int = 500
    retry_after: int | None = None
    html: bool = False
    """The answer is a page of a proxy, not JSON."""
    seconds: float = 0.0

    def fits(self, method: str, chat_id: int | None) -> bool:
        """Whether this request is one of those meant. Methods are in small letters."""
        if self.times <= 0 or (self.chat_id is not None and self.chat_id != chat_id):
            return False
        return chat_id is not None if self.method is None else self.method.lower() == method


class Faults:
    """The queue. The first that fits is used."""

    def __init__(self) -> None:
        self._waiting: list[Fault] = []

    def order(self, fault: Fault) -> None:
        """Put one at the end."""
        self._waiting.append(fault)

    def take(self, method: str, chat_id: int | None) -> Fault | None:
        """The fault for this request, if there is one."""
        for fault in self._waiting:
            if fault.fits(method, chat_id):
                fault.times -= 1
                if not fault.times:
                    self._waiting.remove(fault)
                return fault
        return None

    def clear(self) -> None:
        """Everything works again."""
        self._waiting.clear()

    def left(self) -> int:
        """How many requests are still to meet one."""
        return sum(fault.times for fault in self._waiting)
