"""Frequency weightings A, C and Z of IEC 61672-1:2013."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from roomwright.signals.levels import amplitude_db, from_amplitude_db

WeightingKind = Literal["A", "C", "Z"]

#: Pole frequencies and normalising constants of Annex E.
_F1_HZ, _F2_HZ, _F3_HZ, _F4_HZ = 20.60, 107.7, 737.9, 12194.0
_C_1000_DB, _A_1000_DB = -0.062, -2.000


def weighting_db(frequency_hz: ArrayLike, kind: WeightingKind) -> NDArray[np.float64]:
    """Frequency weighting in dB, 0 at 1 kHz; -inf at 0 Hz but for Z.

    Parameters
    ----------
    frequency_hz
        Any shape, hertz, not negative.
    kind
        'A', 'C' or 'Z' (none).

    Returns
    -------
    Same shape.

    References
    ----------
    IEC 61672-1:2013, Annex E (equations E.1 and E.6).
    """
    squared = np.square(np.asarray(frequency_hz, dtype=np.float64))
    if kind == "Z":
        return np.zeros_like(squared)
    c = _F4_HZ**2 * squared / ((squared + _F1_HZ**2) * (squared + _F4_HZ**2))
    if kind == "C":
        return amplitude_db(c) - _C_1000_DB
    a = c * squared / np.sqrt((squared + _F2_HZ**2) * (squared + _F3_HZ**2))
    return amplitude_db(a) - _A_1000_DB


def weight(signal: ArrayLike, sampling_rate_hz: float, kind: WeightingKind) -> NDArray[np.float64]:
    """A signal with a frequency weighting applied to its spectrum.

    The magnitude is exact up to half the sampling rate and no phase is added: right for levels
    of whole recordings, not for the time course of a meter. The signal is taken as one period.

    Parameters
    ----------
    signal
        Samples, shape (..., n).
    sampling_rate_hz
        Sampling rate, hertz.
    kind
        'A', 'C' or 'Z'.

    Returns
    -------
    Shape (..., n).
    """
    samples = np.asarray(signal, dtype=np.float64)
    n = samples.shape[-1]
    gain = from_amplitude_db(weighting_db(fft.rfftfreq(n, 1.0 / sampling_rate_hz), kind))
    weighted: NDArray[np.float64] = fft.irfft(fft.rfft(samples, workers=-1) * gain, n, workers=-1)
    return weighted
