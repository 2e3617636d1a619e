"""What people heard on one day, kept beside the job so that a break does not forget it."""

from __future__ import annotations

from datetime import date

from roomwright.model._base import Document, NonNegative


class DayExposure(Document):
    """The noise dose of one day at a job's microphone.

    `dose_percent` is by the NIOSH criterion, 100 is the limit of a day; `duration_s` is how long
    was listened to, and `highest_dba` the loudest of it, None for nothing.
    """

    day: date
    dose_percent: NonNegative = 0.0
    duration_s: NonNegative = 0.0
    highest_dba: float | None = None
