"""Phase of a response, split into its minimum and its excess part."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from roomwright._checks import positive
from roomwright.signals import (
    frequencies_hz,
    group_delay_s,
    minimum_phase,
    phase,
    smooth_complex,
    smooth_power,
)


@dataclass(frozen=True, slots=True)
class PhaseParts:
    """Phase and group delay of responses, shape (..., f), over `frequency_hz` (f,).

    Phases are unwrapped radians; the excess parts are what lies beyond the minimum phase, bulk
    delay included.
    """

    frequency_hz: NDArray[np.float64]
    phase_rad: NDArray[np.float64]
    minimum_phase_rad: NDArray[np.float64]
    excess_phase_rad: NDArray[np.float64]
    group_delay_s: NDArray[np.float64]
    excess_group_delay_s: NDArray[np.float64]


def phase_parts(samples: ArrayLike, sampling_rate_hz: float, oversampling: int = 4) -> PhaseParts:
    """Minimum and excess phase and group delay of impulse responses.

    Parameters
    ----------
    samples
        Impulse responses, shape (..., n), not silent.
    sampling_rate_hz
        Sampling rate, hertz.
    oversampling
        Silence is appended up to this many times n, so that the cepstrum does not fold.

    Returns
    -------
    On the rfft grid of oversampling n samples.

    Raises
    ------
    InputError
        If a response is silent or not finite.
    """
    rate = positive(sampling_rate_hz, "the sampling rate")
    given = np.asarray(samples, dtype=np.float64)
    length = fft.next_fast_len(oversampling * given.shape[-1], real=True)
    length += length % 2
    padded = np.zeros((*given.shape[:-1], length))
    padded[..., : given.shape[-1]] = given
    spectrum = fft.rfft(padded, workers=-1)
    minimum = minimum_phase(np.abs(spectrum), oversampling=1)
    delay = group_delay_s(padded, rate)
    minimum_delay = group_delay_s(fft.irfft(minimum, length, workers=-1), rate)
    return PhaseParts(
        frequency_hz=frequencies_hz(length, rate),
        phase_rad=phase(spectrum),
        minimum_phase_rad=phase(minimum),
        excess_phase_rad=phase(spectrum * minimum.conj()),
        group_delay_s=delay,
        excess_group_delay_s=delay - minimum_delay,
    )


def smoothed_group_delay_s(
    samples: ArrayLike, sampling_rate_hz: float, fraction: int, at_hz: ArrayLike
) -> NDArray[np.float64]:
    """Group delay of one response averaged over parts of an octave, weighted by power.

    From the spectrum of t h(t), so that dips, where nothing sounds, do not stand out.

    Parameters
    ----------
    samples
        Impulse response, shape (n,).
    sampling_rate_hz
        Sampling rate, hertz.
    fraction
        Averaged over 1/`fraction` octave.
    at_hz
        Hertz, shape (m,).

    Returns
    -------
    Seconds after the first sample, shape (m,); NaN where the response is 0.
    """
    rate = positive(sampling_rate_hz, "the sampling rate")
    response, at = (np.asarray(given, dtype=np.float64) for given in (samples, at_hz))
    spectrum = fft.rfft(response, workers=-1)
    moment = fft.rfft(response * np.arange(response.size) / rate, workers=-1)
    frequencies = frequencies_hz(response.size, rate)
    product = smooth_complex(moment * spectrum.conj(), frequencies, fraction, at).real
    power = smooth_power(np.abs(spectrum) ** 2, frequencies, fraction, at)
    delay = np.full(at.shape, np.nan)
    np.divide(product, power, out=delay, where=power > 0)
    return delay
