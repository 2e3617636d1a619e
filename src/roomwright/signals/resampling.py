"""Changing the sampling rate, and delaying by parts of a sample."""

from __future__ import annotations

import numpy as np
import soxr  # type: ignore[import-untyped]  # as of 1.1 it ships no types
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from roomwright._checks import finite, positive

#: Room left around a delayed signal for the ringing of its band limit, samples.
_RINGING = 256


def resample(signal: ArrayLike, ratio: float) -> NDArray[np.float64]:
    """A signal at `ratio` times its sampling rate, its first sample kept at time 0.

    Band-limited interpolation (libsoxr at its highest quality), for 2:1 as well as for clock
    errors of parts in a million.

    Parameters
    ----------
    signal
        Samples, shape (..., n).
    ratio
        New sampling rate over the old one.

    Returns
    -------
    Shape (..., about n x ratio).

    Raises
    ------
    InputError
        If `ratio` is not above 0.
    """
    positive(ratio, "the ratio of sampling rates")
    samples = np.asarray(signal, dtype=np.float64)
    columns = np.ascontiguousarray(samples.reshape(-1, samples.shape[-1]).T)
    changed = soxr.resample(columns, 1.0, ratio, quality="VHQ")
    return np.ascontiguousarray(changed.T).reshape(*samples.shape[:-1], -1)


def fractional_delay(signal: ArrayLike, delay_samples: ArrayLike) -> NDArray[np.float64]:
    """A signal delayed by any number of samples, by turning the phase of its spectrum.

    Parameters
    ----------
    signal
        Samples, shape (..., n), zero before and after.
    delay_samples
        Samples, whole or not, negative for an advance; its shape broadcasts against the
        leading axes of `signal`.

    Returns
    -------
    Broadcast shape (..., n): what moves out at either end is lost.

    Raises
    ------
    InputError
        If a delay is not finite.
    """
    samples = np.asarray(signal, dtype=np.float64)
    delay = finite(delay_samples, "the delay").astype(np.float64)
    n = samples.shape[-1]
    room = int(np.ceil(np.abs(delay).max(initial=0.0))) + _RINGING
    padded = fft.next_fast_len(n + room, real=True)
    turn = np.exp(-2j * np.pi * fft.rfftfreq(padded) * delay[..., None])
    delayed: NDArray[np.float64] = fft.irfft(
        fft.rfft(samples, padded, workers=-1) * turn, padded, workers=-1
    )
    return delayed[..., :n]
