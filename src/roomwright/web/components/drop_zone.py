"""A place to drop files or a whole folder on; each file is sent by itself."""

from __future__ import annotations

import secrets
from collections.abc import Awaitable, Callable, Sequence
from urllib.parse import unquote

from fastapi import Request
from fastapi.responses import JSONResponse
from nicegui import app
from nicegui.element import Element
from nicegui.events import GenericEventArguments

from roomwright._errors import InputError
from roomwright.web.uploads import SUFFIXES, Uploads

_MOST_SENTENCES = 50


class DropZone(Element, component="drop_zone.js"):
    """Sends what is dropped on it, or chosen by its buttons, to a batch of uploads.

    Parameters
    ----------
    uploads
        Gives the batch that takes the files; asked once for each drop.
    says
        What stands in it.
    on_done
        Called after a drop with what was refused, one sentence each.
    """

    def __init__(
        self,
        uploads: Callable[[], Uploads],
        says: str,
        on_done: Callable[[Sequence[str]], Awaitable[None]],
    ) -> None:
        super().__init__()
        self._uploads = uploads
        self._batch: tuple[str, Uploads] | None = None
        self._on_done = on_done
        self._url = f"/_upload/{secrets.token_urlsafe(16)}"
        self._props["url"] = self._url
        self._props["says"] = says
        self._props["suffixes"] = list(SUFFIXES)
        app.post(self._url, include_in_schema=False)(self._receive)
        self.on("done", self._done, ["refused"])

    async def _receive(self, request: Request) -> JSONResponse:
        drop = request.headers.get("x-drop", "")
        if self._batch is None or self._batch[0] != drop:
            self._batch = drop, self._uploads()
        name = unquote(request.headers.get("x-file-name", ""))
        try:
            await self._batch[1].receive(name, request.stream())
        except InputError as error:
            return JSONResponse({"refused": str(error)}, status_code=422)
        return JSONResponse({})

    async def _done(self, event: GenericEventArguments) -> None:
        refused = [str(sentence)[:300] for sentence in event.args["refused"][:_MOST_SENTENCES]]
        await self._on_done(refused)

    def _handle_delete(self) -> None:
        app.remove_route(self._url)
        super()._handle_delete()
