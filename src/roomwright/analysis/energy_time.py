"""An impulse response over time: energy-time curve and step response."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from roomwright.signals import amplitude_db


def energy_time_db(samples: ArrayLike) -> NDArray[np.float64]:
    """Energy-time curve: level of the analytic signal's envelope, dB re its highest value.

    Parameters
    ----------
    samples
        Impulse responses, shape (..., n).

    Returns
    -------
    Shape (..., n); -inf throughout for a silent response.
    """
    given = np.asarray(samples, dtype=np.float64)
    n = given.shape[-1]
    # Silence of the same length keeps the end's skirts from wrapping round onto the start.
    length = fft.next_fast_len(2 * n, real=True)
    spectrum = fft.rfft(given, length, workers=-1)
    spectrum[..., 1 : (length + 1) // 2] *= 2
    envelope = np.abs(fft.ifft(spectrum, length, workers=-1))[..., :n]
    peak = envelope.max(axis=-1, keepdims=True)
    return amplitude_db(np.divide(envelope, peak, out=np.zeros_like(envelope), where=peak > 0))


def step_response(samples: ArrayLike) -> NDArray[np.float64]:
    """Running sum of impulse responses along the last axis: the answer to a step of height 1."""
    steps: NDArray[np.float64] = np.cumsum(np.asarray(samples, dtype=np.float64), axis=-1)
    return steps
