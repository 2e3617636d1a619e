"""The level a target curve asks for at any frequency."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright.model import RollOff, Target

F = NDArray[np.float64]


def target_db(target: Target, frequency_hz: ArrayLike) -> F:
    """Level of the target curve, straight lines over log frequency, its ends held, rolled off.

    Parameters
    ----------
    target
        The corners of the curve, and its roll-offs.
    frequency_hz
        Where to read it, any shape, above 0 Hz.

    Returns
    -------
    NDArray
        Level in decibels, of the shape of `frequency_hz`.
    """
    f = np.asarray(frequency_hz, np.float64)
    corners = np.log([point.frequency_hz for point in target.points])
    levels = [point.level_db for point in target.points]
    level = np.interp(np.log(f), corners, levels)
    for roll_off in target.roll_offs:
        level = level + roll_off_db(roll_off, f)
    return np.asarray(level)


def roll_off_db(roll_off: RollOff, frequency_hz: F) -> F:
    """Level of a Butterworth roll-off at frequencies above 0 Hz: -3 dB at its own."""
    ratio = roll_off.frequency_hz / frequency_hz
    if roll_off.side == "high":
        ratio = 1 / ratio
    return np.asarray(-10 * np.log10(1 + ratio ** (2 * roll_off.order)))
