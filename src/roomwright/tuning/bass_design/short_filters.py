"""FIR filters for every subwoofer that make the level even over the points, at a low rate.

Magnitude least squares as in `magnitude`, but the gains at all frequencies come from one short
filter a source, so they vary with frequency only as fast as its length allows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import cho_factor, cho_solve

from roomwright._checks import positive
from roomwright._errors import InputError

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: The low rate is this many times the highest frequency.
_OVERSAMPLING = 3.0

#: The filters' main tap stands at this share of their length, at this delay at most: what comes
#: before it must stay within backward masking (Zwicker & Fastl, from memory).
_MAIN_TAP, _LONGEST_WAIT_S = 0.25, 0.02

#: What a unit of squared gain, and of squared taps away from the main one, costs as a share of
#: the mean energy of the sources.
_GAIN_COST, _TAP_COST = 1e-2, 1e-2

_EXCHANGES = 40


@dataclass(frozen=True, slots=True)
class ShortFilters:
    """Taps (N, T) at `sampling_rate_hz`, a low rate, delayed by `delay_s` as a whole."""

    taps: F
    sampling_rate_hz: float
    delay_s: float

    def gains(self, frequencies_hz: F) -> C:
        """Complex gains (N, F), the common delay included."""
        turn = np.outer(np.arange(self.taps.shape[1]), frequencies_hz) / self.sampling_rate_hz
        gains: C = self.taps @ np.exp(-2j * np.pi * turn)
        return gains


def short_filters(response: C, frequencies_hz: F, length_s: float) -> ShortFilters:
    """Filters of N sources with the least relative misfit to an even level.

    The level aimed for at each frequency is the mean over the points of the sources all alike:
    the filters move level from loud points to quiet ones and leave the rest to a common
    correction.

    Parameters
    ----------
    response
        (N, P, F), the field of the sources.
    frequencies_hz
        (F,), close enough together for the length: a filter of T seconds has detail of 1 / T Hz.
    length_s
        Length of the filters, seconds.

    Returns
    -------
    ShortFilters
        Scaled so that no gain exceeds 1 at the frequencies given.

    Raises
    ------
    InputError
        If the filters are too short to hold four taps at the low rate.
    """
    rate = _OVERSAMPLING * float(frequencies_hz[-1])
    count = int(positive(length_s, "the length of the filters") * rate)
    if count < 4:
        raise InputError(
            f"filters of {1e3 * length_s:.1f} ms are too short to even out the bass; "
            f"{4e3 / rate:.1f} ms are needed at least"
        )
    wait = int(min(_MAIN_TAP * count, _LONGEST_WAIT_S * rate))
    size = np.sqrt(np.mean(np.abs(response.sum(axis=0)) ** 2, axis=0))
    field = response / np.maximum(size, 1e-6 * size.max())
    omega = 2 * np.pi * frequencies_hz / rate
    factor = cho_factor(_normal(field, omega, count, wait))
    turns = np.exp(-1j * np.outer(np.arange(count), omega))
    pressure = field.sum(axis=0) * np.exp(-1j * omega * wait)
    taps = np.zeros((response.shape[0], count))
    for _ in range(_EXCHANGES):
        wanted = pressure / np.maximum(np.abs(pressure), 1e-12)
        along = np.einsum("npf,pf->nf", field.conj(), wanted)
        taps = cho_solve(factor, (along @ turns.conj().T).real.ravel()).reshape(taps.shape)
        pressure = np.einsum("nf,npf->pf", taps @ turns, field)
    return ShortFilters(taps / np.abs(taps @ turns).max(), rate, wait / rate)


def _normal(field: C, omega: F, count: int, wait: int) -> F:
    """Normal matrix (N T, N T): block Toeplitz from the cross-spectra, and what effort costs."""
    sources = field.shape[0]
    cross = np.einsum("npf,mpf->nmf", field.conj(), field)
    mean = float(np.einsum("nnf->f", cross).real.mean()) / sources
    cross += _GAIN_COST * mean * np.eye(sources)[..., None]
    lags = np.arange(1 - count, count)
    # Row a, column b of a block: sum over frequency of Re(cross exp(j omega (a - b))).
    series = (cross @ np.exp(1j * np.outer(omega, lags))).real
    index = np.arange(count)[:, None] - np.arange(count) + count - 1
    matrix = series[:, :, index].swapaxes(1, 2).reshape(sources * count, sources * count)
    away = (np.arange(count) - wait) / count
    cost = _TAP_COST * mean * omega.size * (1e-2 + away**2)
    matrix[np.diag_indices_from(matrix)] += np.tile(cost, sources)
    return np.asarray(matrix)
