"""Modes of a room, found by fitting decaying tones to measured responses."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from roomwright._checks import finite, positive
from roomwright._errors import InputError
from roomwright.analysis.arrival import onset_index

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: The responses are fitted at this many times the highest frequency.
_OVERSAMPLING = 3.0

#: Samples of the decay used, at the low rate.
_MOST_SAMPLES = 500

#: Tones that take less than this to decay are not modes but the ends of the band, and no room's
#: modes ring longer than the other.
_SHORTEST_S, _LONGEST_S = 0.03, 10.0

_SIXTY_DB = 3.0 * np.log(10.0)


@dataclass(frozen=True, slots=True)
class FittedModes:
    """Modes by rising frequency: `frequency_hz` and `decay_time_s` (60 dB), (m,).

    `level_db` (P, m) is what each contributes at its own frequency to the frequency response of
    each seat, in dB of the units of the responses. `misfit_db` is the energy that the modes leave
    unexplained, dB re the whole: above about -10 they are not to be trusted.
    """

    frequency_hz: F
    decay_time_s: F
    level_db: F
    misfit_db: float


def fit_modes(
    samples: ArrayLike,
    sampling_rate_hz: float,
    highest_hz: float = 150.0,
    *,
    skip_s: float = 0.01,
    noise: float = 1e-3,
    most: int = 60,
) -> FittedModes:
    """Frequency, decay and level of modes, common to all seats, level apart.

    The responses are band-limited and decimated; decaying tones common to all are found from the
    space that their delayed copies span (ESPRIT, a form of the matrix pencil), then the tones'
    amplitudes at each seat by least squares. No filter comes in between, so decays shorter than
    a band filter's own are read; what limits it is noise and modes closer together than about
    1 / length.

    Parameters
    ----------
    samples
        Impulse responses of one source at P seats, shape (P, n) or (n,), time zero in common.
    sampling_rate_hz
        Sampling rate, hertz.
    highest_hz
        Modes are sought up to here.
    skip_s
        Left out after the last arrival: direct sound and early reflections are no modes.
    noise
        Singular values below this share of the largest are taken for noise: the amplitude of
        the noise re that of the strongest mode.
    most
        Modes at most.

    Raises
    ------
    InputError
        If a sample is not a number, the band does not fit the rate, or too little decay is left.

    References
    ----------
    Roy & Kailath, IEEE Trans. ASSP 37(7), 1989; Hua & Sarkar, ibid. 38(5), 1990 (from memory).
    """
    rate = positive(sampling_rate_hz, "the sampling rate")
    response = np.atleast_2d(finite(samples, "the impulse response").astype(np.float64))
    if not 0 < highest_hz * _OVERSAMPLING <= rate:
        raise InputError(
            f"modes up to {highest_hz:g} Hz need a sampling rate of "
            f"{highest_hz * _OVERSAMPLING:g} Hz at least; it is {rate:g} Hz"
        )
    start_s = float(np.max(onset_index(response))) / rate + skip_s
    decay, low_rate = _decimated(response, rate, highest_hz)
    first = round(start_s * low_rate)
    decay = decay[:, first : first + _MOST_SAMPLES]
    if decay.shape[1] < 32:
        raise InputError(
            f"only {decay.shape[1] / low_rate:.2f} s of decay are left to find modes in; "
            "longer responses are needed"
        )
    poles = _poles(decay, noise, 2 * most)
    logarithm = np.log(poles) * low_rate
    frequency = logarithm.imag / (2 * np.pi)
    decay_time = _SIXTY_DB / np.maximum(-logarithm.real, 1e-6)
    powers = poles ** np.arange(decay.shape[1])[:, None]
    amplitude = np.linalg.lstsq(powers, decay.T, rcond=None)[0].T
    left = decay - (amplitude @ powers.T).real
    # Back from the first sample used to time zero of the decay, where the level is defined.
    amplitude = amplitude * poles ** -(first - (start_s - skip_s) * low_rate)
    level = np.abs(amplitude) * rate / np.maximum(-logarithm.real, 1e-6)
    kept = (
        (frequency > 0)
        & (frequency <= highest_hz)
        & (decay_time >= _SHORTEST_S)
        & (decay_time <= _LONGEST_S)
    )
    order = np.flatnonzero(kept)[np.argsort(frequency[kept])]
    return FittedModes(
        frequency_hz=frequency[order],
        decay_time_s=decay_time[order],
        level_db=20.0 * np.log10(np.maximum(level[:, order], 1e-300)),
        misfit_db=float(10.0 * np.log10(np.sum(left**2) / np.sum(decay**2) + 1e-30)),
    )


def _decimated(response: F, rate: float, highest_hz: float) -> tuple[F, float]:
    """Responses (P, m) below the highest frequency at a low rate, and that rate."""
    length = response.shape[-1]
    size = fft.next_fast_len(2 * length, real=True)
    spectrum = fft.rfft(response, size)
    frequency = np.arange(spectrum.shape[1]) * rate / size
    kept = int(np.searchsorted(frequency, 0.5 * _OVERSAMPLING * highest_hz))
    # Falls from the highest frequency to half the low rate.
    fall = np.clip((frequency[:kept] / highest_hz - 1.0) / (0.5 * _OVERSAMPLING - 1.0), 0.0, 1.0)
    weight = np.cos(0.5 * np.pi * fall) ** 2
    samples = 2 * (kept - 1)
    low_rate = samples * rate / size
    decimated = fft.irfft(spectrum[:, :kept] * weight, samples) * (samples / size)
    return decimated[:, : int(length / rate * low_rate)], low_rate


def _poles(decay: F, noise: float, most: int) -> C:
    """Poles of the tones common to all rows of `decay` (P, m)."""
    rows = decay.shape[1] // 3
    windows = np.lib.stride_tricks.sliding_window_view(decay, rows, axis=1)
    stacked = windows.reshape(-1, rows)
    energy, vectors = np.linalg.eigh(stacked.T @ stacked)
    count = int(np.sum(energy > noise**2 * energy[-1]))
    space = vectors[:, ::-1][:, : min(count, most, rows - 1)]
    turned = np.linalg.lstsq(space[:-1], space[1:], rcond=None)[0]
    poles: C = np.linalg.eigvals(turned).astype(np.complex128)
    return poles[np.abs(poles) > 1e-3]
