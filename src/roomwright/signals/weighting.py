"""Frequency weightings A, C and Z of IEC 61672-1:2013."""

from __future__ import annotations

from typing import Literal

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from roomwright._errors import InputError
from roomwright.signals.biquads import response
from roomwright.signals.levels import amplitude_db, from_amplitude_db

WeightingKind = Literal["A", "C", "Z"]

#: Pole frequencies and normalising constants of Annex E.
_F1_HZ, _F2_HZ, _F3_HZ, _F4_HZ = 20.60, 107.7, 737.9, 12194.0
_C_1000_DB, _A_1000_DB = -0.062, -2.000

_LOWEST_RATE_HZ = 40000.0


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


def weighting_sos(kind: WeightingKind, sampling_rate_hz: float) -> NDArray[np.float64]:
    """Second-order sections of a causal frequency weighting, for a meter that follows time.

    The low corners are bilinear. The two poles at 12.2 kHz lie too near half the sampling rate
    for that: their section has its poles in the right place, and its magnitude is exact at 0 Hz,
    at the poles and at half the rate, so that at 48 kHz the whole stays within 0.1 dB up to
    12.5 kHz and 1 dB at 20 kHz: class 1 by far.

    Parameters
    ----------
    kind
        'A', 'C' or 'Z'.
    sampling_rate_hz
        Sampling rate, hertz; above 40 kHz.

    Returns
    -------
    Shape (sections, 6), as scipy.signal.sosfilt takes them; 0 dB at 1 kHz.

    Raises
    ------
    InputError
        If the sampling rate is too low for the audible band.

    References
    ----------
    IEC 61672-1:2013, Annex E; Vicanek, Matched Second Order Digital Filters, 2016.
    """
    if sampling_rate_hz <= _LOWEST_RATE_HZ:
        raise InputError(
            f"a weighting filter needs a sampling rate above {_LOWEST_RATE_HZ:g} Hz; "
            f"got {sampling_rate_hz:g} Hz"
        )
    if kind == "Z":
        return np.array([[1.0, 0.0, 0.0, 1.0, 0.0, 0.0]])
    sections = [_high_pass_pair(_F1_HZ, _F1_HZ, sampling_rate_hz), _low_pass(sampling_rate_hz)]
    if kind == "A":
        sections.append(_high_pass_pair(_F2_HZ, _F3_HZ, sampling_rate_hz))
    sos = np.array(sections)
    sos[0, :3] /= np.abs(response(sos, [1000.0], sampling_rate_hz)[0])
    return sos


def weight(samples: ArrayLike, sampling_rate_hz: float, kind: WeightingKind) -> NDArray[np.float64]:
    """A signal with a frequency weighting applied to its spectrum.

    The magnitude is exact up to half the sampling rate and no phase is added: right for levels
    of whole recordings, not for the time course of a meter. The signal is taken as one period.

    Parameters
    ----------
    samples
        Shape (..., n).
    sampling_rate_hz
        Sampling rate, hertz.
    kind
        'A', 'C' or 'Z'.

    Returns
    -------
    Shape (..., n).
    """
    given = np.asarray(samples, dtype=np.float64)
    n = given.shape[-1]
    gain = from_amplitude_db(weighting_db(fft.rfftfreq(n, 1.0 / sampling_rate_hz), kind))
    weighted: NDArray[np.float64] = fft.irfft(fft.rfft(given, workers=-1) * gain, n, workers=-1)
    return weighted


def _high_pass_pair(one_hz: float, other_hz: float, sampling_rate_hz: float) -> NDArray[np.float64]:
    (b, a), (d, c) = (
        scipy.signal.butter(1, corner, "highpass", fs=sampling_rate_hz)
        for corner in (one_hz, other_hz)
    )
    return np.concatenate((np.convolve(b, d), np.convolve(a, c)))


def _low_pass(sampling_rate_hz: float) -> NDArray[np.float64]:
    """The two poles at f4, its magnitude exact at three frequencies."""
    pole = np.exp(-2 * np.pi * _F4_HZ / sampling_rate_hz)
    a1, a2 = -2 * pole, pole**2
    half = sampling_rate_hz / 2
    at_zero, at_half = (1 + a1 + a2) ** 2, (1 - a1 + a2) ** 2 / (1 + (half / _F4_HZ) ** 2) ** 2
    up = np.sin(np.pi * _F4_HZ / sampling_rate_hz) ** 2
    down, both = 1 - up, 4 * up * (1 - up)
    wanted = (down * (1 + a1 + a2) ** 2 + up * (1 - a1 + a2) ** 2 - both * 4 * a2) / 4
    rest = (wanted - down * at_zero - up * at_half) / both
    mean = (np.sqrt(at_zero) + np.sqrt(at_half)) / 2
    b0 = (mean + np.sqrt(mean**2 + rest)) / 2
    b1 = (np.sqrt(at_zero) - np.sqrt(at_half)) / 2
    return np.array([b0, b1, -rest / (4 * b0), 1.0, a1, a2])
