"""A Bot API server on this machine for tests: real HTTP, Telegram's own refusals, and a hand on every fault.

It speaks the public Bot API (https://core.telegram.org/bots/api) as far as the service needs it. In a test::

    with TelegramServer() as server:          # in a thread; ServerProcess is the same in a process of its own
        user = server.user(1001)
        user.starts("invitation")             # what a link with a payload sends
        server.wait_for(lambda: server.sent_to(1001))
        question = server.last_to(1001)
        user.presses(question, "3")

`server.url` is what the service is given as the base URL of the Bot API, `server.token` the one token it accepts.
"""

from tests.telegram_server.control import Button, Call, Pressed, Refusal, Said, SentMessage, User
from tests.telegram_server.rates import RateLimits, Violation
from tests.telegram_server.server import ServerProcess, TelegramServer

__all__ = [
    "Button",
    "Call",
    "Pressed",
    "RateLimits",
    "Refusal",
    "Said",
    "SentMessage",
    "ServerProcess",
    "TelegramServer",
    "User",
    "Violation",
]
