"""Harmonic distortion over frequency, from separated harmonic responses."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from roomwright._checks import positive
from roomwright._errors import InputError
from roomwright.signals import amplitude_db, power_db


def distortion_db(
    fundamental: ArrayLike,
    harmonics: Mapping[int, ArrayLike],
    sampling_rate_hz: float,
    at_hz: ArrayLike,
) -> dict[int, NDArray[np.float64]]:
    """Level of each harmonic re the fundamental, over the fundamental's frequency.

    An exponential sweep's response of order N holds at N f what the fundamental f produced
    (Farina, AES 108th Convention, 2000, from memory).

    Parameters
    ----------
    fundamental
        Impulse response, shape (..., n).
    harmonics
        Impulse response of each order from 2 on, shape (..., n') each.
    sampling_rate_hz
        Sampling rate, hertz.
    at_hz
        Frequencies of the fundamental, hertz, shape (f,).

    Returns
    -------
    For each order dB re the fundamental, shape (..., f); NaN where the harmonic lies at or
    above half the sampling rate.

    Raises
    ------
    InputError
        If an order is below 2.
    """
    rate = positive(sampling_rate_hz, "the sampling rate")
    frequencies = np.asarray(at_hz, dtype=np.float64)
    if any(order < 2 for order in harmonics):
        raise InputError("harmonics have the orders 2 and up")
    base = _magnitude(np.asarray(fundamental, np.float64), rate, frequencies)
    levels = {}
    for order, response in harmonics.items():
        given = np.asarray(response, np.float64)
        level = amplitude_db(_magnitude(given, rate, order * frequencies) / base)
        levels[order] = np.where(order * frequencies < rate / 2, level, np.nan)
    return levels


def total_distortion_db(levels_db: Mapping[int, ArrayLike]) -> NDArray[np.float64]:
    """Power sum of the orders' levels, dB re the fundamental; orders out of reach count nothing."""
    powers = [10.0 ** (np.asarray(level, np.float64) / 10.0) for level in levels_db.values()]
    return power_db(np.nansum(powers, axis=0))


def _magnitude(
    samples: NDArray[np.float64], rate: float, at_hz: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Magnitude of the spectrum at given frequencies, on a grid fine enough to interpolate."""
    length = fft.next_fast_len(4 * samples.shape[-1], real=True)
    magnitude = np.abs(fft.rfft(samples, length, workers=-1))
    place = np.clip(at_hz * length / rate, 0, magnitude.shape[-1] - 1)
    index = np.minimum(place.astype(np.intp), magnitude.shape[-1] - 2)
    share = place - index
    between: NDArray[np.float64] = (
        magnitude[..., index] * (1 - share) + magnitude[..., index + 1] * share
    )
    return between
