"""Levels of the harmonics in a deconvolved sweep."""

from __future__ import annotations

from typing import Final

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from roomwright.measurement.deconvolution import full_level_band_hz, harmonic_responses
from roomwright.measurement.noise import NoiseFloor
from roomwright.model import Sweep
from roomwright.signals import log_frequencies, power_db, smooth_power

F = NDArray[np.float64]

#: Orders that are looked at.
ORDERS: Final = (2, 3, 4, 5)

#: The harmonics set in with a step where the sweep does; that is over this far above its start.
_ABOVE_START = 1.5

#: Averaging of the spectra, points an octave; a harmonic counts at frequencies where it has this
#: many times the noise's power, and is found if they make up an octave.
_FRACTION, _PER_OCTAVE, _CLEAR_OF_NOISE = 3, 12, 4.0

#: An octave above the highest harmonic is still below half the sampling rate.
_REACHED = 0.2


def harmonics_reach_hz(sweep: Sweep, sampling_rate_hz: int) -> float | None:
    """Up to where the harmonics of a narrow sweep lie, hertz; None if the rate cannot hold them.

    A subwoofer's sweep covers few octaves, and only half of them, or less, with their harmonics.
    """
    highest_hz = ORDERS[-1] * sweep.stop_hz
    return highest_hz if highest_hz < _REACHED * sampling_rate_hz else None


def distortion_db(
    circle: NDArray[np.floating],
    response: F,
    floor: NoiseFloor,
    sweep: Sweep,
    sampling_rate_hz: int,
    trusted_hz: tuple[float, float],
    *,
    covered_hz: float = 0.0,
) -> F:
    """Level of the harmonics of orders 2 to 5 re the fundamental, one figure an order.

    The power of the harmonic at N f over that of the fundamental at f, both averaged over log
    frequency for all f in the trusted band, from 1.5 times the start of the sweep on, whose
    harmonic the sweep covers, or the circle, and stands 6 dB clear of the noise. The room's
    response at N f and at f are both in it. Noise expected in the harmonic is subtracted.

    Parameters
    ----------
    circle
        Whole circle of the deconvolution, shape (m,).
    response
        The fundamental's response, shape (n,), same scale.
    floor
        Its noise.
    sweep, sampling_rate_hz
        What was played.
    trusted_hz
        Of the response.
    covered_hz
        Up to where the circle holds harmonics, where that is above the sweep: `harmonics_reach_hz`.

    Returns
    -------
    Decibels, shape (4,); NaN where less than an octave of f is left.
    """
    levels = np.full(len(ORDERS), np.nan)
    low, high = full_level_band_hz(sweep)
    high = max(high, covered_hz)
    windows = harmonic_responses(circle, sweep, sampling_rate_hz, ORDERS)
    # A circle of a single one gives the windows themselves.
    shapes = harmonic_responses(np.ones(1), sweep, sampling_rate_hz, ORDERS)
    fundamental = _power(response)
    for index, order in enumerate(ORDERS):
        lowest, highest = max(_ABOVE_START * low, trusted_hz[0]), min(trusted_hz[1], high / order)
        if highest <= lowest:
            continue
        at = log_frequencies(lowest, highest, _PER_OCTAVE)
        window = windows[order]
        frequencies = scipy.fft.rfftfreq(window.size, 1.0 / sampling_rate_hz)
        total = smooth_power(_power(window), frequencies, _FRACTION, order * at)
        noise = smooth_power(floor.density, floor.frequency_hz, _FRACTION, order * at)
        noise *= np.sum(shapes[order] ** 2)
        clear = total >= _CLEAR_OF_NOISE * noise
        if np.count_nonzero(clear) < _PER_OCTAVE:
            continue
        grid = scipy.fft.rfftfreq(response.size, 1.0 / sampling_rate_hz)
        played = smooth_power(fundamental, grid, _FRACTION, at)
        levels[index] = power_db(np.sum((total - noise)[clear]) / np.sum(played[clear]))
    return levels


def _power(samples: NDArray[np.floating]) -> F:
    power: F = np.abs(scipy.fft.rfft(samples)).astype(np.float64) ** 2
    return power
