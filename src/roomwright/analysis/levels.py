"""Levels of responses over frequency, and as noise would read them."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from roomwright._checks import positive
from roomwright.signals import band_powers, frequencies_hz, power_db, smooth_power


def smoothed_level_db(
    samples: ArrayLike, sampling_rate_hz: float, at_hz: ArrayLike, fraction: float
) -> NDArray[np.float64]:
    """Level of impulse responses, power-averaged over 1/`fraction` octave, dB.

    Parameters
    ----------
    samples
        Impulse responses, shape (..., n).
    sampling_rate_hz
        Sampling rate, hertz.
    at_hz
        Frequencies, hertz, shape (f,), up to half the sampling rate.
    fraction
        3 averages over a third of an octave.

    Returns
    -------
    dB re 1, shape (..., f).

    Raises
    ------
    InputError
        As `signals.smooth_power` does.
    """
    power, frequencies = _power_spectrum(samples, sampling_rate_hz)
    return power_db(smooth_power(power, frequencies, fraction, at_hz))


def noise_band_levels_db(
    samples: ArrayLike, sampling_rate_hz: float, fraction: int, low_hz: float, high_hz: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Level at which pink noise would read in each fractional-octave band, dB.

    Parameters
    ----------
    samples
        Impulse responses, shape (..., n).
    sampling_rate_hz
        Sampling rate, hertz.
    fraction
        Bands in an octave.
    low_hz, high_hz
        Limits of the midbands, hertz.

    Returns
    -------
    mid_hz
        Exact midbands, shape (bands,).
    level_db
        dB re the level of the same noise through a response of 1, shape (..., bands).

    Raises
    ------
    InputError
        As `signals.band_powers` does.
    """
    power, frequencies = _power_spectrum(samples, sampling_rate_hz)
    pink = _pink(frequencies)
    mid, through = band_powers(power * pink, frequencies, fraction, low_hz, high_hz)
    _, alone = band_powers(pink, frequencies, fraction, low_hz, high_hz)
    return mid, power_db(through / alone)


def band_level_db(
    samples: ArrayLike, sampling_rate_hz: float, low_hz: float, high_hz: float
) -> NDArray[np.float64]:
    """Level at which pink noise from `low_hz` to `high_hz` would read, dB re a response of 1.

    Parameters
    ----------
    samples
        Impulse responses, shape (..., n).
    sampling_rate_hz
        Sampling rate, hertz.
    low_hz, high_hz
        The noise's limits, hertz.

    Returns
    -------
    Shape (...).
    """
    power, frequencies = _power_spectrum(samples, sampling_rate_hz)
    inside = (frequencies >= low_hz) & (frequencies <= high_hz)
    pink = _pink(frequencies)[inside]
    return power_db(power[..., inside] @ pink / pink.sum())


def _pink(frequencies: NDArray[np.float64]) -> NDArray[np.float64]:
    """Power of pink noise at each frequency; none at 0 Hz."""
    return np.divide(1.0, frequencies, out=np.zeros_like(frequencies), where=frequencies > 0)


def _power_spectrum(
    samples: ArrayLike, sampling_rate_hz: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rate = positive(sampling_rate_hz, "the sampling rate")
    given = np.asarray(samples, dtype=np.float64)
    spectrum = fft.rfft(given, workers=-1)
    return np.abs(spectrum) ** 2, frequencies_hz(given.shape[-1], rate)
