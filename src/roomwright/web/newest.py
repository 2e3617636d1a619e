"""Answering only the newest of many questions, off the event loop."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import Generic, TypeVar

from roomwright._errors import InputError

Asked = TypeVar("Asked")
Found = TypeVar("Found")


class Newest(Generic[Asked, Found]):
    """Computes in a worker thread; of the questions that come meanwhile only the last is kept.

    Parameters
    ----------
    compute
        Answers a question; runs in another thread.
    show
        Shows an answer; runs on the event loop.
    refuse
        Shows why there is no answer.
    """

    def __init__(
        self,
        compute: Callable[[Asked], Found],
        show: Callable[[Found], None],
        refuse: Callable[[str], None],
    ) -> None:
        self._compute, self._show, self._refuse = compute, show, refuse
        self._waiting: list[Asked] = []
        self._busy = False

    async def ask(self, question: Asked) -> None:
        """Ask; returns when nothing is left to answer, at once if answers are under way."""
        self._waiting = [question]
        if self._busy:
            return
        self._busy = True
        try:
            while self._waiting:
                asked = self._waiting.pop()
                try:
                    found = await asyncio.to_thread(self._compute, asked)
                except InputError as error:
                    self._refuse(str(error))
                else:
                    self._show(found)
        finally:
            self._busy = False
