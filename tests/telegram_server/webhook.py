"""Updates pushed to the bot: one at a time for a chat, chats beside each other, again until it answers 2xx.

As WebhookActor.cpp of https://github.com/tdlib/telegram-bot-api does it, which waits one second after the first
failure and doubles the pause from then on; here the first pause is given, so that tests need not wait.
"""

from __future__ import annotations

import asyncio
from typing import Any

import httpx

from tests.telegram_server.world import Update, World

_LONGEST_PAUSE = 60.0


class WebhookPusher:
    """Carries what is pending to the webhook that is set. Runs in the server's event loop."""

    def __init__(self, world: World, first_pause: float) -> None:
        self._world = world
        self._first_pause = first_pause
        self._busy: set[int] = set()
        self._tasks: set[asyncio.Task[None]] = set()
        self._client: httpx.AsyncClient | None = None

    async def close(self) -> None:
        """Stop pushing."""
        for task in self._tasks:
            task.cancel()
        if self._client is not None:
            await self._client.aclose()

    def pump(self) -> None:
        """Start pushing to every chat that has something pending and nothing under way."""
        with self._world.lock:
            if not self._world.webhook.get("url"):
                return
            most = self._world.webhook["max_connections"]
            for position, update in self._world.pending.items():
                if len(self._busy) >= most:
                    return
                if update.chat_id not in self._busy:
                    self._busy.add(update.chat_id)
                    task = asyncio.get_running_loop().create_task(self._push(position, update))
                    self._tasks.add(task)
                    task.add_done_callback(self._tasks.discard)

    async def _push(self, position: int, update: Update) -> None:
        pause = self._first_pause
        try:
            while self._world.webhook.get("url") and position in self._world.pending:
                failure = await self._post(self._world.webhook, update)
                if failure is None:
                    self._world.confirm(position)
                    return
                with self._world.lock:
                    if self._world.webhook:
                        self._world.webhook["last_error_date"] = int(self._world.now())
                        self._world.webhook["last_error_message"] = failure
                await asyncio.sleep(pause)
                pause = min(pause * 2, _LONGEST_PAUSE)
        finally:
            self._busy.discard(update.chat_id)
            self.pump()

    async def _post(self, webhook: dict[str, Any], update: Update) -> str | None:
        """What went wrong, in the words of getWebhookInfo; None: it was taken."""
        if self._client is None:
            # A certificate that the bot signed itself is usual on one's own server.
            self._client = httpx.AsyncClient(timeout=60, trust_env=False, verify=False)
        headers = {"Content-Type": "application/json"}
        if webhook["secret_token"]:
            headers["X-Telegram-Bot-Api-Secret-Token"] = webhook["secret_token"]
        try:
            response = await self._client.post(webhook["url"], json=update.as_json(), headers=headers)
        except httpx.ConnectError:
            return "Connection refused"
        except httpx.HTTPError as error:
            return f"Connection failed: {type(error).__name__}"
        if response.is_success:
            return None
        return f"Wrong response from the webhook: {response.status_code} {response.reason_phrase}"
