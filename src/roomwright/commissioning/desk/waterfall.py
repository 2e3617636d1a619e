"""A decay as a waterfall: the levels that are left at moments after the direct sound."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.commissioning.desk.decay_map import DecayMap

F = NDArray[np.float64]

#: Moments that are drawn, milliseconds: closer together at first, where more is lost.
MOMENTS_MS = (0.0, 20.0, 40.0, 80.0, 120.0, 200.0, 300.0, 400.0)


@dataclass(frozen=True, slots=True, eq=False)
class Slice:
    """What is left from a moment on: level (f,) over frequency (f,), dB re the highest of all."""

    time_ms: float
    frequency_hz: F
    level_db: F


def waterfall(shown: DecayMap) -> tuple[Slice, ...]:
    """The slices of a decay (cumulative spectral decay) at the moments that are drawn."""
    places = [int(np.argmin(np.abs(shown.time_ms - moment))) for moment in MOMENTS_MS]
    return tuple(
        Slice(float(shown.time_ms[row]), shown.frequency_hz, shown.level_db[row]) for row in places
    )
