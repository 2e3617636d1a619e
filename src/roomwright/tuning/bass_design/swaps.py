"""Sets that differ by one source from a designed one, judged with the settings of the others kept.

The source that comes in gets the best of some delays and both polarities, so the sound of all
points is on the table, and a few thousand sums tell which neighbours are worth designing.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from roomwright.tuning.bass_design.descent import cost_of
from roomwright.tuning.bass_design.gain_delay import GainDelayLimits, Settings
from roomwright.tuning.bass_design.judging import level_db

F = NDArray[np.float64]
C = NDArray[np.complex128]
Index = NDArray[np.intp]

#: Delays tried of the source that comes in.
_DELAYS = 25


def swaps(
    response: C,
    frequencies_hz: F,
    own: Index,
    settings: Settings,
    limits: GainDelayLimits,
    level_weight: float,
) -> tuple[Index, Settings, F]:
    """Every set that differs from a designed one by one source.

    Parameters
    ----------
    response
        (S, P, F), the field of all sources.
    frequencies_hz
        (F,).
    own
        (N,), the sources of the designed set.
    settings
        (N,), what they are set to.
    limits
        What may be set.
    level_weight
        Squared decibels of spread that a decibel of level is worth.

    Returns
    -------
    tuple
        The sets (n, N), each rising; settings (n, N) to start a design from; and what these cost
        already, (n,).
    """
    others = np.setdiff1d(np.arange(response.shape[0]), own)
    delay, sign = (
        grid.ravel()
        for grid in np.meshgrid(np.linspace(0.0, limits.longest_delay_s, _DELAYS), [1.0, -1.0])
    )
    tried = (sign[:, None] * np.exp(-2j * np.pi * np.outer(delay, frequencies_hz))).astype(
        np.complex64
    )
    field = response.astype(np.complex64)
    playing = field[own] * settings.gains(frequencies_hz).astype(np.complex64)[:, None]
    total = playing.sum(axis=0)
    sets, gains, delays, inverted, costs = [], [], [], [], []
    for place in range(own.size):
        rest = total - playing[place]
        for other in others:
            cost = cost_of(level_db(tried[:, None] * field[other] + rest), level_weight)
            best = int(np.argmin(cost))
            order = np.argsort(_with(own, place, other))
            sets.append(_with(own, place, other)[order])
            gains.append(_with(settings.gain_db, place, 0.0)[order])
            delays.append(_with(settings.delay_s, place, delay[best])[order])
            inverted.append(_with(settings.inverted, place, sign[best] < 0)[order])
            costs.append(cost[best])
    start = Settings(np.array(gains), np.array(delays), np.array(inverted))
    return np.array(sets, dtype=np.intp), start, np.array(costs)


def _with(values: NDArray[Any], place: int, value: object) -> NDArray[Any]:
    changed = values.copy()
    changed[place] = value
    return changed
