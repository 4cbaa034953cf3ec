"""What the Bot API says when it refuses.

The envelope (`ok`, `error_code`, `description`, `parameters`) is https://core.telegram.org/bots/api#making-requests.
The sentences are those of the published server, https://github.com/tdlib/telegram-bot-api (Client.cpp,
ClientManager.cpp, WebhookActor.cpp) and https://github.com/tdlib/td (MessageEntity.cpp), where nothing else is said.
"""

from __future__ import annotations

from http import HTTPStatus
from typing import Any


class ApiError(Exception):
    """A request that is answered with `"ok": false`."""

    def __init__(self, code: int, description: str, *, retry_after: int | None = None) -> None:
        super().__init__(description)
        self.code = code
        self.description = description
        self.retry_after = retry_after

    def body(self) -> dict[str, Any]:
        """The JSON of the answer."""
        answer: dict[str, Any] = {"ok": False, "error_code": self.code, "description": self.description}
        if self.retry_after is not None:
            answer["parameters"] = {"retry_after": self.retry_after}
        return answer


def bad_request(what: str) -> ApiError:
    """400, with the words that every such description begins with."""
    return ApiError(400, f"Bad Request: {what}")


def forbidden(what: str) -> ApiError:
    """403: the chat does not take messages of this bot."""
    return ApiError(403, f"Forbidden: {what}")


def conflict(what: str) -> ApiError:
    """409: two ways of getting updates at the same time."""
    return ApiError(409, f"Conflict: {what}")


def too_many_requests(retry_after: int) -> ApiError:
    """429. `retry_after` is in whole seconds (https://core.telegram.org/bots/api#responseparameters)."""
    return ApiError(429, f"Too Many Requests: retry after {retry_after}", retry_after=retry_after)


def fault(status: int, retry_after: int | None) -> ApiError:
    """The answer of a fault that a test ordered."""
    if status == 429:
        return too_many_requests(retry_after or 1)
    return ApiError(status, HTTPStatus(status).phrase, retry_after=retry_after)
