"""One request on its way: what it brought, whether its browser is still there, how it ends."""

from __future__ import annotations

import asyncio
from typing import Final

from starlette.requests import ClientDisconnect
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

#: What the framework says where nothing was answered, since nobody was left to answer.
_UNANSWERED: Final = "No response returned."


class Visit:
    """Passes one request to an application, and sees to its end.

    Parameters
    ----------
    scope, receive, send
        The request, as the server hands it over.
    maximum_body_bytes
        How much it may bring.
    """

    def __init__(
        self, scope: Scope, receive: Receive, send: Send, *, maximum_body_bytes: int
    ) -> None:
        self._scope, self._receive, self._send = scope, receive, send
        self._maximum = maximum_body_bytes
        self._got = 0
        self._task: asyncio.Task[None] | None = None
        self._gone = self._answered = self._ends = False

    async def pass_to(self, app: ASGIApp) -> None:
        """Let an application answer, or say in its place why there is no answer.

        A browser that left before its answer came is no failure. Anything else that goes wrong
        is raised, whether the browser is still there or not.
        """
        self._task = asyncio.current_task()
        try:
            await app(self._scope, self._receiving, self._sending)
        except asyncio.CancelledError:
            if not self._ends:
                raise
        except (RuntimeError, ClientDisconnect) as error:
            if not (self._gone or self._too_long) or not _says_unanswered(error):
                raise
        if self._answered or self._scope["type"] != "http":
            return
        if self._too_long:
            await self._say(413, f"At most {self._maximum // 2**20} MB can be sent at once.")
        elif self._ends:
            await self._say(503, "The server has just been stopped.")

    def end(self) -> None:
        """Stop waiting for an answer, as the server ends; one that has begun is finished."""
        self._ends = not self._answered
        if self._ends and self._task is not None:
            self._task.cancel()

    @property
    def _too_long(self) -> bool:
        return self._got > self._maximum

    async def _say(self, status: int, text: str) -> None:
        await PlainTextResponse(text, status)(self._scope, self._receive, self._send)

    async def _receiving(self) -> Message:
        message = await self._receive()
        if message["type"] == "http.disconnect":
            self._gone = True
        elif message["type"] == "http.request":
            # Counted as it comes: the announced length may be missing.
            self._got += len(message.get("body", b""))
            if self._too_long:
                return {"type": "http.disconnect"}
        return message

    async def _sending(self, message: Message) -> None:
        if self._too_long and not self._answered:
            return  # it is answered here, once the application has ended
        self._answered = self._answered or message["type"] == "http.response.start"
        await self._send(message)


def _says_unanswered(error: Exception) -> bool:
    return isinstance(error, ClientDisconnect) or str(error) == _UNANSWERED
