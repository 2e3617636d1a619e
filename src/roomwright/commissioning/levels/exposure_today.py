"""What the people in the room have heard today, by meter and surveys, kept in the job folder."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import date, datetime
from typing import Final

from roomwright.measurement.exposure import Exposure
from roomwright.model import DayExposure
from roomwright.store import JobFolder

#: Not written more often than after so much more was heard, seconds.
_WRITTEN_EVERY_S: Final = 10.0


def _today() -> date:
    return datetime.now().astimezone().date()


class ExposureToday:
    """The day's exposure at a job's microphone; it starts anew at midnight.

    Parameters
    ----------
    folder
        A job folder open for writing.
    today
        Which day it is.
    """

    def __init__(self, folder: JobFolder, today: Callable[[], date] = _today) -> None:
        self._folder, self._today = folder, today
        self._day = today()
        self._total = _kept(folder, self._day)
        self._unwritten_s = 0.0

    @property
    def total(self) -> Exposure:
        """Of the day so far."""
        return self._total

    def add(self, more: Exposure) -> None:
        """Add what was heard just now; it is written to the folder now and then.

        Raises
        ------
        InputError
            If the disk refuses.
        """
        if self._today() != self._day:
            self._day, self._total = self._today(), Exposure()
        self._total += more
        self._unwritten_s += more.duration_s
        if self._unwritten_s >= _WRITTEN_EVERY_S:
            self.keep()

    def keep(self) -> None:
        """Write it now.

        Raises
        ------
        InputError
            If the disk refuses.
        """
        if not self._unwritten_s:
            return
        total = self._total
        loudest = total.highest_dba if math.isfinite(total.highest_dba) else None
        self._folder.keep_exposure(
            DayExposure(
                day=self._day,
                dose_percent=total.dose_percent,
                duration_s=total.duration_s,
                highest_dba=loudest,
            )
        )
        self._unwritten_s = 0.0


def _kept(folder: JobFolder, day: date) -> Exposure:
    kept = folder.kept_exposure()
    if kept is None or kept.day != day:
        return Exposure()
    loudest = float("-inf") if kept.highest_dba is None else kept.highest_dba
    return Exposure(kept.dose_percent, kept.duration_s, loudest)
