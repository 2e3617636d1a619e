"""How the two halves of a room's response, and the octaves of each, are blended over frequency."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_F = NDArray[np.float64]


def low_weight(frequency_hz: _F, centre_hz: float) -> _F:
    """Weight of the exact low-frequency field: 1 below, 0 above an octave round the centre.

    Parameters
    ----------
    frequency_hz
        (F,) hertz.
    centre_hz
        Where the weight is 1/2.

    Returns
    -------
    ndarray
        (F,) real, so without phase. The image sources have what remains to 1: both halves know
        the direct sound and its early reflections, so their amplitudes add up.
    """
    octaves = np.log2(np.maximum(frequency_hz, 1e-3) / centre_hz)
    weight: _F = 0.5 - 0.5 * np.sin(np.pi * np.clip(octaves, -0.5, 0.5))
    return weight


def octave_weights(frequency_hz: _F, mids_hz: _F) -> _F:
    """Weight of each octave at each frequency; at every frequency they add up to 1.

    Parameters
    ----------
    frequency_hz
        (F,) hertz.
    mids_hz
        (B,) rising midbands, evenly spaced over log frequency.

    Returns
    -------
    ndarray
        (B, F): raised cosines over log frequency, 1 at the own midband and 0 at its neighbours';
        the first and the last band are held to the ends.
    """
    step = np.log(mids_hz[1] / mids_hz[0])
    place = np.log(np.maximum(frequency_hz, 1e-3) / mids_hz[0]) / step
    place = np.clip(place, 0.0, mids_hz.size - 1.0)
    away = np.clip(np.abs(place - np.arange(mids_hz.size)[:, None]), 0.0, 1.0)
    return np.asarray(0.5 + 0.5 * np.cos(np.pi * away))
