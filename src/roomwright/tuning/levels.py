"""The level of a response in a band, absolute and against the target."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roomwright.model import Target
from roomwright.signals import from_power_db, power_db, target_db

F = NDArray[np.float64]

#: Where the levels of main channels are compared: the band of customary level-setting noise.
LEVEL_BAND_HZ = (500.0, 2000.0)


def pink_level_db(power: F, frequencies_hz: F, band_hz: tuple[float, float]) -> float:
    """Level of pink noise in a band through a response, re its level at the response's input.

    Parameters
    ----------
    power
        Squared magnitude, shape (bins,).
    frequencies_hz
        Evenly spaced, shape (bins,), reaching into the band.
    band_hz
        Lower and upper limit in hertz.
    """
    within = (frequencies_hz >= band_hz[0]) & (frequencies_hz <= band_hz[1])
    share = 1.0 / frequencies_hz[within]
    return float(power_db(share @ power[within] / share.sum()))


def over_target_db(
    power: F, frequencies_hz: F, weights: F, target: Target, band_hz: tuple[float, float]
) -> float:
    """How far a response averaged over stations lies above the target curve in a band.

    Parameters
    ----------
    power
        Squared magnitudes, shape (P, bins).
    frequencies_hz
        Evenly spaced, shape (bins,), above 0 Hz in the band.
    weights
        Weight of each station, shape (P,).
    target
        The target curve.
    band_hz
        Lower and upper limit in hertz.
    """
    average = (weights @ power) / weights.sum()
    wanted = from_power_db(target_db(target, np.maximum(frequencies_hz, 1.0)))
    return pink_level_db(average / wanted, frequencies_hz, band_hz)
