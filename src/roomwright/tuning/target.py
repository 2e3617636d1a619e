"""The level a target curve asks for at any frequency."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright.model import Target


def target_db(target: Target, frequency_hz: ArrayLike) -> NDArray[np.float64]:
    """Level of the target curve, straight lines over log frequency, its ends held.

    Parameters
    ----------
    target
        The corners of the curve.
    frequency_hz
        Where to read it, any shape, above 0 Hz.

    Returns
    -------
    NDArray
        Level in decibels, of the shape of `frequency_hz`.
    """
    corners = np.log([point.frequency_hz for point in target.points])
    levels = [point.level_db for point in target.points]
    return np.asarray(np.interp(np.log(np.asarray(frequency_hz, np.float64)), corners, levels))
