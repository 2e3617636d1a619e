"""A survey while it runs, shared by all windows of its job: what it asks, what it has found."""

from __future__ import annotations

import queue
import threading
from collections import deque
from collections.abc import Callable, Sequence
from typing import Final
from weakref import WeakKeyDictionary

from roomwright import commissioning
from roomwright._errors import Cancelled
from roomwright._progress import Progress
from roomwright.commissioning import Surveyed, SurveyState
from roomwright.commissioning.survey.facing import Facing
from roomwright.commissioning.survey.redo import Pair
from roomwright.commissioning.survey.rigs import InputWatch
from roomwright.commissioning.verdict import Verdict
from roomwright.model import Station, Take
from roomwright.web.live import live
from roomwright.web.session import JobSession

#: How often who waits for the microphone looks whether it was stopped, seconds.
_LOOK_S: Final = 0.1

_KEPT_VERDICTS: Final = 60

_MEASURING: WeakKeyDictionary[JobSession, Measuring] = WeakKeyDictionary()


class Measuring:
    """The survey of an open job.

    Attributes
    ----------
    state
        How far it is, None before the first.
    asks
        The station to which the microphone is to be carried; None if nothing is asked.
    verdicts
        On the latest takes, newest first.
    facing
        How a microphone of four capsules is turned, by the latest take of the centre.
    watch
        What the microphone hears meanwhile; None while nothing is measured, or nothing sounds.
    """

    def __init__(self, session: JobSession) -> None:
        self._session, self._live = session, live(session)
        self.state: SurveyState | None = None
        self.asks: Station | None = None
        self.verdicts: deque[Verdict] = deque(maxlen=_KEPT_VERDICTS)
        self.facing: Facing | None = None
        self.watch: InputWatch | None = None
        self._answers: queue.SimpleQueue[bool] = queue.SimpleQueue()
        self._stopped = threading.Event()

    def answer(self, *, stands: bool) -> None:
        """The microphone stands where it was asked for; or that station is skipped."""
        if self.asks is not None:
            self.asks = None
            self._answers.put(stands)

    def work(
        self, pairs: Sequence[Pair] | None, progress: Progress, on_take: Callable[[Take], None]
    ) -> Surveyed:
        """Measure, in a worker thread; the device must have been lent by `Live.lend`.

        Raises
        ------
        InputError, DeviceError, Cancelled
            As `commissioning.measure`.
        """
        session, kind = self._session, self._live.kind
        task = session.work.task
        self.verdicts.clear()
        self.facing = None
        self._stopped.clear()
        try:
            with commissioning.open_rig(session.folder.job, kind, self._ask) as rig:

                def stop() -> None:
                    self._stopped.set()
                    rig.stop()
                    if task is not None:
                        task.cancel()

                self._live.stops = stop
                self.watch = rig.watch()
                return commissioning.measure(
                    session.folder,
                    rig,
                    pairs,
                    progress,
                    on_take=on_take,
                    on_state=self._told,
                    on_verdict=self.verdicts.appendleft,
                    on_facing=self._turned,
                )
        finally:
            self.asks = self.watch = None
            self._live.give_back()

    def _told(self, state: SurveyState) -> None:
        self.state = state

    def _turned(self, facing: Facing) -> None:
        self.facing = facing

    def _ask(self, station: Station) -> bool:
        """Wait until the microphone stands at a station, or it is stopped from anywhere."""
        while not self._answers.empty():
            self._answers.get_nowait()
        self.asks = station
        while True:
            try:
                return self._answers.get(timeout=_LOOK_S)
            except queue.Empty:
                task = self._session.work.task
                if self._stopped.is_set() or (task is not None and task.cancelled):
                    raise Cancelled("stopped while the microphone was carried") from None


def measuring(session: JobSession) -> Measuring:
    """The survey of a job while it runs; made when first asked for."""
    if session not in _MEASURING:
        _MEASURING[session] = Measuring(session)
    return _MEASURING[session]
