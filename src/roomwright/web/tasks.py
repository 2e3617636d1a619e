"""Long work on a job: in a worker thread, one at a time, with progress and a way to stop it."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, TypeVar

from roomwright._errors import Cancelled, InputError
from roomwright._progress import Progress

T = TypeVar("T")

#: No remaining time is said before this much is done and this long has passed: it would jump.
_SETTLED_FRACTION = 0.03
_SETTLED_S = 1.0


@dataclass(slots=True)
class Task:
    """One piece of long work: how far it is, and whether it shall stop.

    The worker thread writes it, the windows read it; each field is replaced as a whole.
    """

    title: str
    yields: bool
    fraction: float = 0.0
    doing: str = ""
    cancelled: bool = False
    started_s: float = field(default_factory=time.monotonic)

    def progress(self, fraction: float, doing: str) -> None:
        """Take a report from the operation; stop it if someone asked for that."""
        if self.cancelled:
            raise Cancelled(f"{self.title} was stopped")
        self.fraction, self.doing = min(max(fraction, 0.0), 1.0), doing

    def cancel(self) -> None:
        """Ask the operation to stop at its next report."""
        self.cancelled = True

    def remaining_s(self) -> float | None:
        """Seconds still to go at the pace so far, or None while that is a guess."""
        elapsed = time.monotonic() - self.started_s
        if self.fraction < _SETTLED_FRACTION or elapsed < _SETTLED_S:
            return None
        return elapsed * (1.0 - self.fraction) / self.fraction


class Work:
    """Runs one long operation at a time; `changed` is called when one starts or ends."""

    def __init__(self, changed: Callable[[], None]) -> None:
        self.task: Task | None = None
        self._changed = changed
        self._running: asyncio.Task[Any] | None = None

    @property
    def holds(self) -> str | None:
        """The title of the operation that may be writing the job, if one is running."""
        return None if self.task is None or self.task.yields else self.task.title

    async def run(
        self, title: str, operation: Callable[[Progress], T], *, yields: bool = False
    ) -> T:
        """Run `operation` in a worker thread; it goes on though its caller's window closes.

        Parameters
        ----------
        title
            What the windows show, such as "Rehearsal".
        operation
            Given a progress callback, which raises `Cancelled` when it shall stop.
        yields
            It only computes: edits go on meanwhile, and it stops when other work starts.

        Raises
        ------
        InputError
            If other work that does not yield is running.
        Cancelled
            If it was stopped.
        """
        while self.task is not None and self._running is not None:
            if not self.task.yields:
                raise InputError(f"{self.task.title} is running; wait for it or stop it first")
            self.task.cancel()
            await asyncio.wait([self._running])
        task = Task(title, yields)
        self.task = task
        self._running = asyncio.create_task(self._do(task, operation))
        self._running.add_done_callback(_retrieve)
        self._changed()
        result: T = await asyncio.shield(self._running)
        return result

    async def stop(self) -> None:
        """Stop what is running, and wait until it has."""
        if self.task is not None and self._running is not None:
            self.task.cancel()
            await asyncio.wait([self._running])

    async def _do(self, task: Task, operation: Callable[[Progress], T]) -> T:
        try:
            return await asyncio.to_thread(operation, task.progress)
        finally:
            self.task = self._running = None
            self._changed()


def _retrieve(running: asyncio.Task[Any]) -> None:
    """Take the outcome, so that work whose window was closed leaves no complaint behind."""
    if not running.cancelled():
        running.exception()
