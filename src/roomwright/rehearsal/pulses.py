"""Band-limited pulses at any delay, in several bands at once."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

#: Length of one pulse in samples; flat within 0.1 dB up to 0.92 of half the sampling rate.
PULSE_SAMPLES = 64
_KAISER_BETA = 8.0
#: Delays are rounded to this part of a sample: 0.3 mrad at 20 kHz and 48 kHz sampling.
_PHASES = 4096


def accumulate(
    delay_samples: NDArray[np.float64], gain: NDArray[np.float64], length: int
) -> NDArray[np.float32]:
    """Sum of pulses, each with its delay and its gain in every band.

    Parameters
    ----------
    delay_samples
        (n,) delays, samples, at least half of `PULSE_SAMPLES` from either end of the result.
    gain
        (n, B) amplitude of each pulse in each band.
    length
        Samples of the result.

    Returns
    -------
    ndarray
        (B, length).

    Notes
    -----
    Each pulse is a sinc under a Kaiser window, from a table of 4096 positions within a sample.
    Pulses and samples form a sparse matrix with one row a pulse; its product with the gains is
    the sum.
    """
    steps = np.rint(delay_samples * _PHASES).astype(np.int64)
    first = steps // _PHASES - PULSE_SAMPLES // 2 + 1
    columns = first[:, None] + np.arange(PULSE_SAMPLES)
    rows = np.arange(delay_samples.size + 1) * PULSE_SAMPLES
    values = _table()[steps % _PHASES]
    pulses = csr_array((values.ravel(), columns.ravel(), rows), shape=(delay_samples.size, length))
    return np.ascontiguousarray((pulses.T @ gain.astype(np.float32)).T)


@cache
def _table() -> NDArray[np.float32]:
    """(_PHASES, PULSE_SAMPLES) windowed sinc, rows by the fractional part of the delay."""
    fraction = np.arange(_PHASES)[:, None] / _PHASES
    place = np.arange(PULSE_SAMPLES) - (PULSE_SAMPLES // 2 - 1) - fraction
    inside = np.clip(1.0 - (2.0 * place / PULSE_SAMPLES) ** 2, 0.0, None)
    window = np.i0(_KAISER_BETA * np.sqrt(inside)) / np.i0(_KAISER_BETA)
    return np.asarray(np.sinc(place) * window, dtype=np.float32)
