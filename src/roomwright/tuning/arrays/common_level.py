"""The level that gains and delays alone give, and the equaliser they share."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roomwright.signals import minimum_phase, smooth_power
from roomwright.tuning.arrays.band import ControlBand
from roomwright.tuning.arrays.grid import Grid

F = NDArray[np.float64]
C = NDArray[np.complex128]

_FRACTION = 6.0
#: The phase of a level that goes on falling is found on an axis this many times as long.
_LONGER = 16
#: An even wave from even sources falls in proportion to frequency.
_WAVE_POWER = 1.0


def mean_level(field: C, drive: C, grid: Grid) -> F:
    """Root mean square over points of what drives (S, bins) give, sixth-octave smooth, (bins,)."""
    result = np.einsum("sb,spb->pb", drive, field)
    power = np.mean(np.abs(result) ** 2, axis=0)
    smooth = smooth_power(power, grid.frequencies_hz, _FRACTION, grid.frequencies_hz)
    return np.sqrt(smooth)


def common_equaliser(level: F, shape: C, band: ControlBand, grid: Grid) -> C:
    """What makes a level (bins,) into a shape (bins,), given that the level is of minimum phase.

    Beyond the band's fades the level is continued as an even wave's.
    """
    step_hz = grid.rate_hz / grid.period
    every = np.arange(_LONGER * (grid.period // 2) + 1) * step_hz
    frequency = grid.frequencies_hz
    used = (frequency >= band.low_hz / 2.0) & (frequency <= band.high_hz)
    low, high = np.flatnonzero(used)[[0, -1]]
    magnitude = np.interp(every, frequency[used], level[used])
    above = every > frequency[high]
    magnitude[above] *= (frequency[high] / every[above]) ** _WAVE_POWER
    below = every < frequency[low]
    magnitude[below] *= frequency[low] / np.maximum(every[below], step_hz)
    response = minimum_phase(magnitude)[1 : grid.bins + 1]
    return np.asarray(shape / response)
