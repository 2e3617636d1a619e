"""What a spectrum says beyond its magnitude: phase, minimum phase, group delay."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from roomwright._errors import InputError

#: Nulls are filled up to this before the logarithm is taken: -120 dB re the maximum.
_FLOOR = 1e-6

#: Share of a minimum-phase FIR over which its tail fades; common practice, no source.
_TAIL_FADE = 0.25


def frequencies_hz(n: int, sampling_rate_hz: float) -> NDArray[np.float64]:
    """Frequencies of the one-sided spectrum of `n` samples, hertz, shape (n // 2 + 1,)."""
    grid: NDArray[np.float64] = fft.rfftfreq(n, 1.0 / sampling_rate_hz)
    return grid


def minimum_phase(magnitude: ArrayLike, oversampling: int = 2) -> NDArray[np.complex128]:
    """The minimum-phase response of a given magnitude.

    The phase is minus the Hilbert transform of the log magnitude, by folding the real cepstrum
    (Oppenheim & Schafer, Discrete-Time Signal Processing, chapter on the Hilbert transform).
    Nulls deeper than -120 dB re the maximum are filled up to there first.

    Parameters
    ----------
    magnitude
        Linear magnitude, shape (..., bins), on a uniform grid from 0 to half the sampling rate.
    oversampling
        The cepstrum is taken on a grid this many times finer, its log magnitude interpolated
        by straight lines. 2 keeps the long cepstrum of steep slopes towards 0 Hz from folding
        back: for a 30 Hz fourth-order high-pass on 5.9 Hz bins it takes the phase error at 20 Hz
        from 0.4 to 0.02 rad. More gains nothing; 1 is exact for smooth responses on fine grids.

    Returns
    -------
    Complex response of that magnitude on the same grid, shape (..., bins).

    Raises
    ------
    InputError
        If there are fewer than two bins, or a response is zero or not finite.
    """
    given = np.asarray(magnitude, dtype=np.float64)
    bins = given.shape[-1]
    if bins < 2 or oversampling < 1:
        raise InputError(
            f"a minimum phase was asked for from {bins} bins with oversampling {oversampling}; "
            "it needs at least 2 bins and oversampling 1"
        )
    largest = given.max(axis=-1, keepdims=True)
    if not np.isfinite(given).all() or (largest <= 0).any():
        raise InputError("a magnitude is zero everywhere or not finite; it has no minimum phase")
    log_magnitude = np.log(np.maximum(given, _FLOOR * largest))
    cepstrum = fft.irfft(_refined(log_magnitude, oversampling), workers=-1)
    half = cepstrum.shape[-1] // 2
    cepstrum[..., 1:half] *= 2
    cepstrum[..., half + 1 :] = 0
    response: NDArray[np.complex128] = np.exp(fft.rfft(cepstrum, workers=-1)[..., ::oversampling])
    return response


def minimum_phase_fir(magnitude: ArrayLike, taps: int) -> NDArray[np.float64]:
    """A minimum-phase FIR of `taps` taps with the given magnitude; its last quarter fades out.

    Parameters
    ----------
    magnitude
        Linear magnitude, shape (..., bins), on a uniform grid from 0 to half the sampling rate;
        2 (bins - 1) must be at least `taps`, and is best several times that.
    taps
        Length.

    Returns
    -------
    Shape (..., taps).

    Raises
    ------
    InputError
        If the grid is too coarse for that many taps, or as `minimum_phase` does.
    """
    response = minimum_phase(magnitude)
    longest = 2 * (response.shape[-1] - 1)
    if not 1 <= taps <= longest:
        raise InputError(
            f"{taps} taps were asked for; a magnitude on {response.shape[-1]} bins "
            f"allows 1 to {longest}"
        )
    fir: NDArray[np.float64] = fft.irfft(response, workers=-1)[..., :taps].copy()
    fading = int(taps * _TAIL_FADE)
    fir[..., taps - fading :] *= np.cos(np.pi / 2 * (np.arange(fading) + 0.5) / max(fading, 1)) ** 2
    return fir


def group_delay_s(impulse_response: ArrayLike, sampling_rate_hz: float) -> NDArray[np.float64]:
    """Group delay over the rfft grid, from the spectrum of n h(n) over that of h(n).

    No phase is unwrapped, so deep dips do not disturb their neighbours.

    Parameters
    ----------
    impulse_response
        Samples, shape (..., n).
    sampling_rate_hz
        Sampling rate, hertz.

    Returns
    -------
    Seconds after the first sample, shape (..., n // 2 + 1); NaN where the response is 0.
    """
    h = np.asarray(impulse_response, dtype=np.float64)
    spectrum = fft.rfft(h, workers=-1)
    moment = fft.rfft(h * np.arange(h.shape[-1]), workers=-1)
    power = np.abs(spectrum) ** 2
    delay = np.full(power.shape, np.nan)
    np.divide((moment * spectrum.conj()).real, power, out=delay, where=power > 0)
    return delay / sampling_rate_hz


def phase(response: ArrayLike) -> NDArray[np.float64]:
    """Unwrapped phase of a complex response along its last axis, radians."""
    return np.unwrap(np.angle(np.asarray(response)), axis=-1)


def excess_phase(response: ArrayLike) -> NDArray[np.float64]:
    """Phase beyond the minimum phase, unwrapped, radians; the bulk delay stays in it.

    Parameters
    ----------
    response
        Complex response, shape (..., bins), on a uniform grid from 0 to half the sampling rate.

    Returns
    -------
    Shape (..., bins).

    Raises
    ------
    InputError
        As `minimum_phase` does.
    """
    given = np.asarray(response)
    return phase(given * minimum_phase(np.abs(given)).conj())


def _refined(values: NDArray[np.float64], factor: int) -> NDArray[np.float64]:
    """Values on a uniform grid `factor` times finer, by straight lines along the last axis."""
    if factor == 1:
        return values
    share = np.arange(factor) / factor
    between = values[..., :-1, None] + np.diff(values, axis=-1)[..., None] * share
    steps = between.reshape(*values.shape[:-1], -1)
    return np.concatenate((steps, values[..., -1:]), axis=-1)
