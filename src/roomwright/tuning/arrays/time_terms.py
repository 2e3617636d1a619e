"""What may sound before the wave arrives and long after it, as weights over time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.tuning.arrays.grid import Grid

F = NDArray[np.float64]

#: What is allowed ahead of the arrival, ms and dB. Sound masks what precedes it by no more than
#: 5 to 20 ms (Zwicker and Fastl, Psychoacoustics, from memory); the envelope is our choice.
_AHEAD_MS = (0.0, 10.0, 30.0)
_ALLOWED_DB = (0.0, -20.0, -40.0)
_LATE_RAMP_S = 0.02


@dataclass(frozen=True, slots=True)
class TimeTerms:
    """How much an error counts ahead of the wave's arrival and after it, re its energy alone.

    `ahead` multiplies the inverse of the allowed envelope (20 dB more at 10 ms, 40 dB more at
    30 ms and beyond); `late` counts from `late_after_s` after the arrival on.
    """

    ahead: float = 0.1
    late: float = 1.0
    late_after_s: float = 0.05


def time_weights(arrival_s: F, grid: Grid, terms: TimeTerms) -> F:
    """What the square of an error counts, at points (P,) over a period: (P, period).

    `arrival_s` (P,) is when the wave arrives, the design's delay included.
    """
    after = np.arange(grid.period) / grid.rate_hz - arrival_s[:, None]
    allowed_db = np.interp(-1e3 * after, _AHEAD_MS, _ALLOWED_DB)
    ahead = np.where(after < 0, terms.ahead * 10.0 ** (-allowed_db / 10.0), 0.0)
    late = terms.late * np.clip((after - terms.late_after_s) / _LATE_RAMP_S, 0.0, 1.0)
    return np.asarray(ahead + late)
