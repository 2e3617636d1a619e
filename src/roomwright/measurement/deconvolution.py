"""From recorded sweeps to impulse responses: regularised division of spectra.

The recording from the start of the sweep until its tail has died away holds the whole response,
so the division may be circular: no zeros are appended and the transforms are half as long as
for a linear deconvolution, with the same result.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import scipy.fft
from numpy.typing import ArrayLike, DTypeLike, NDArray

from roomwright._errors import InputError
from roomwright.measurement.fades import fade_window
from roomwright.model import Sweep
from roomwright.signals import (
    continued_sweep,
    harmonic_advance_s,
    instantaneous_frequency_hz,
    sweep_samples,
)

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Regularisation re the sweep's power at the nearer band edge: where the sweep is at full level,
#: and beyond its band. The first errs by 1e-9 of the response, the second lets nothing through.
_INSIDE, _OUTSIDE = 1e-9, 1.0

#: The response is let go over this ratio of frequencies, below the band and above it.
_LOW_TRANSITION, _HIGH_TRANSITION = 2.0, 1.015

#: A sweep that goes on beyond its band covers what anything plays: from here, to this share of
#: the sampling rate.
_LOWEST_HZ, _HIGHEST_SHARE = 4.0, 0.49

#: Share of a harmonic's window that fades, at each end; common practice, no source.
_FADE = 0.1


def regularised_inverse(spectrum: ArrayLike, regularisation: ArrayLike) -> C:
    """The inverse conj(H) / (|H|^2 + beta) of a spectrum; its gain never exceeds 1/(2 sqrt(beta)).

    Parameters
    ----------
    spectrum
        H, any shape.
    regularisation
        beta, in the unit of |H|^2; a number, or one for each bin. Above 0.

    Returns
    -------
    The shape of `spectrum`.

    Raises
    ------
    InputError
        If a regularisation is not above 0.

    References
    ----------
    Kirkeby & Nelson, J. Audio Eng. Soc. 47(7/8), 1999.
    """
    response = np.asarray(spectrum, dtype=np.complex128)
    beta = np.asarray(regularisation, dtype=np.float64)
    if not (beta > 0).all():
        raise InputError("the regularisation of an inverse must be above 0 at every frequency")
    inverse: C = response.conj() / (np.abs(response) ** 2 + beta)
    return inverse


def transform_length(sweep: Sweep, sampling_rate_hz: int) -> int:
    """Samples of the circular transform: sweep and tail, rounded up to a fast even length."""
    needed = round(sweep.duration_s * sampling_rate_hz) + round(sweep.tail_s * sampling_rate_hz)
    half: int = scipy.fft.next_fast_len((needed + 1) // 2, real=True)
    return 2 * half


def full_level_band_hz(sweep: Sweep) -> tuple[float, float]:
    """Frequencies between which the sweep plays at full level: between its fades."""
    times_s = np.array([sweep.fade_in_s, sweep.duration_s - sweep.fade_out_s])
    low, high = instantaneous_frequency_hz(sweep, times_s)
    return float(low), float(high)


@lru_cache(maxsize=8)
def inverse_spectrum(
    sweep: Sweep, sampling_rate_hz: int, length: int, dtype: DTypeLike = np.complex64
) -> NDArray[np.complexfloating]:
    """The regularised inverse of a sweep that starts at sample 0 of a circle; kept for reuse.

    Parameters
    ----------
    sweep
        The sweep played.
    sampling_rate_hz
        Hertz.
    length
        Samples of the circle, even; see `transform_length`.
    dtype
        complex64 or complex128.

    Returns
    -------
    Shape (length // 2 + 1,), read-only. Times the spectrum of a recording it gives the response
    per digital full scale, with zero phase, limited to the band of the sweep.

    Raises
    ------
    InputError
        If the length is odd or shorter than the sweep, or the sweep reaches half the rate.
    """
    samples = _checked(sweep, sampling_rate_hz, length)
    spectrum = scipy.fft.rfft(samples.astype(np.float64), length)
    frequencies = scipy.fft.rfftfreq(length, 1.0 / sampling_rate_hz)
    beta = _regularisation(np.abs(spectrum) ** 2, frequencies, *full_level_band_hz(sweep))
    inverse = regularised_inverse(spectrum, beta).astype(dtype)
    inverse.flags.writeable = False
    return inverse


def shared_inverse(
    sweep: Sweep, sampling_rate_hz: int, length: int, highest_hz: float = 0.0
) -> NDArray[np.complexfloating]:
    """As `inverse_spectrum`, for a recording in which others play other parts of one sweep.

    Within the band it is the same. Beyond it, it is the inverse of the sweep as it would go on,
    so that whoever plays there shows as a response of its own time and nowhere else; it is let go
    over an octave on either side. Harmonics above the band show up to `highest_hz`.

    Raises
    ------
    InputError
        As `inverse_spectrum`.
    """
    own = scipy.fft.rfft(_checked(sweep, sampling_rate_hz, length).astype(np.float64), length)
    lowest_hz = min(_LOWEST_HZ, sweep.start_hz / _LOW_TRANSITION**2)
    top_hz = _HIGHEST_SHARE * sampling_rate_hz
    samples, before = continued_sweep(sweep, sampling_rate_hz, lowest_hz, top_hz)
    circle = np.zeros(length)
    np.add.at(circle, (np.arange(samples.size) - before) % length, samples)
    goes_on = scipy.fft.rfft(circle)
    power = np.abs(goes_on) ** 2
    frequencies = scipy.fft.rfftfreq(length, 1.0 / sampling_rate_hz)
    beta = _regularisation(power, frequencies, 2.0 * lowest_hz, top_hz / 1.05)
    out, octaves_out = _outside(sweep, frequencies)
    if highest_hz > sweep.stop_hz:
        wanted = (frequencies > sweep.stop_hz) * np.log2(highest_hz / sweep.stop_hz)
        octaves_out = np.maximum(octaves_out - wanted, 0.0)
    gone = _smooth_step(out)
    # Half way the sweep's own inverse is gone, before its regularisation shows.
    own_beta = power * _INSIDE ** (1.0 - _smooth_step(out / 2.0))
    inverse = regularised_inverse(own, np.maximum(own_beta, _INSIDE * beta)) * (1.0 - gone)
    inverse += regularised_inverse(goes_on, beta) * gone * (1.0 - _smooth_step(octaves_out))
    result = inverse.astype(np.complex64)
    result.flags.writeable = False
    return result


def _checked(sweep: Sweep, sampling_rate_hz: int, length: int) -> NDArray[np.float32]:
    """The sweep's samples, if they fit the circle."""
    samples = sweep_samples(sweep, sampling_rate_hz)
    if length % 2 or length < samples.size:
        raise InputError(
            f"the deconvolution has {length} samples; it needs an even number of at least "
            f"{samples.size}, the length of the sweep"
        )
    return samples


def _outside(sweep: Sweep, frequencies: F) -> tuple[F, F]:
    """How far frequencies are out of the band at full level, 0 within it.

    Counted in what a sweep sounds beyond its band, by its fade or by the Fresnel width of a chirp,
    and in octaves.
    """
    low, high = full_level_band_hz(sweep)
    second_s = harmonic_advance_s(sweep, 2) / np.log(2.0)
    below_hz = max(1.0 / sweep.fade_in_s, np.sqrt(low / second_s))
    above_hz = max(1.0 / sweep.fade_out_s, np.sqrt(high / second_s))
    out = np.maximum((low - frequencies) / below_hz, (frequencies - high) / above_hz)
    nearest = np.clip(frequencies, low, high)
    return np.maximum(out, 0.0), np.abs(np.log2(np.maximum(frequencies, 1e-3) / nearest))


def deconvolve(
    recordings: NDArray[np.floating],
    inverse: NDArray[np.complexfloating],
    keep: int | None = None,
    *,
    workers: int = -1,
) -> NDArray[np.floating]:
    """Responses to recorded sweeps, by circular division of spectra.

    Parameters
    ----------
    recordings
        Shape (..., n), each from the start of the sweep on; n at most the length of the inverse.
        The precision is that of `inverse`: float32 recordings with complex64 stay in single.
    inverse
        From `inverse_spectrum`, times a microphone's correction if there is one.
    keep
        Samples to return; by default the whole circle.
    workers
        Threads for the transforms; -1 for one a core.

    Returns
    -------
    Shape (..., keep). In the whole circle, responses to harmonics end the row, each its advance
    before the end.

    Raises
    ------
    InputError
        If a recording is longer than the circle.
    """
    length = 2 * (inverse.shape[-1] - 1)
    if recordings.shape[-1] > length:
        raise InputError(
            f"the recordings have {recordings.shape[-1]} samples; this inverse takes at most "
            f"{length}"
        )
    spectra = scipy.fft.rfft(recordings, length, axis=-1, workers=workers)
    spectra *= inverse
    responses: NDArray[np.floating] = scipy.fft.irfft(
        spectra, length, axis=-1, overwrite_x=True, workers=workers
    )
    return responses[..., :keep]


def harmonic_responses(
    circle: NDArray[np.floating], sweep: Sweep, sampling_rate_hz: int, orders: tuple[int, ...]
) -> dict[int, NDArray[np.floating]]:
    """Windows of a whole circle that hold the responses to the harmonics.

    The response to order N begins L ln N before the fundamental's and is cut where that to
    order N - 1 begins. Each window starts a tenth of its length early and fades at both ends.

    Parameters
    ----------
    circle
        From `deconvolve`, shape (n,).
    sweep, sampling_rate_hz
        As for `inverse_spectrum`.
    orders
        Of the harmonics, 2 or more.

    Returns
    -------
    Order to samples; the magnitude of their spectrum at F is the level of the harmonic at F
    over that of the sweep at F / order.

    References
    ----------
    Farina, AES 108th Convention, 2000.
    """
    return {
        order: _harmonic_window(circle, sweep, sampling_rate_hz, order) for order in sorted(orders)
    }


def _harmonic_window(
    circle: NDArray[np.floating], sweep: Sweep, sampling_rate_hz: int, order: int
) -> NDArray[np.floating]:
    if order < 2:
        raise InputError(f"the order of a harmonic is {order}; it must be 2 or more")
    start = harmonic_advance_s(sweep, order) * sampling_rate_hz
    room = start - harmonic_advance_s(sweep, order - 1) * sampling_rate_hz
    fade = max(int(_FADE * room), 1)
    length = max(int(room) - fade, 2 * fade)
    indices = np.arange(length) - round(start) - fade
    return circle[indices % circle.size] * fade_window(length, fade, fade)


def _regularisation(power: F, frequencies: F, low_hz: float, high_hz: float) -> F:
    """Regularisation over frequency: next to none inside the band, rising steeply outside."""
    inside = (frequencies >= low_hz) & (frequencies <= high_hz)
    if not inside.any():
        raise InputError(
            f"the sweep's fades leave no band at full level between {low_hz:g} and {high_hz:g} Hz"
        )
    low_edge = power[inside & (frequencies <= 1.25 * low_hz)].mean()
    high_edge = power[inside & (frequencies >= high_hz / 1.25)].mean()
    octaves_out = np.log(low_hz / np.maximum(frequencies, low_hz / _LOW_TRANSITION**2))
    below = _smooth_step(octaves_out / np.log(_LOW_TRANSITION))
    above = _smooth_step(np.log(np.maximum(frequencies, 1e-9) / high_hz) / np.log(_HIGH_TRANSITION))
    ratio = _OUTSIDE / _INSIDE
    beta: F = _INSIDE * np.where(
        frequencies < low_hz, low_edge * ratio**below, high_edge * ratio**above
    )
    return beta


def _smooth_step(x: F) -> F:
    inside = np.clip(x, 0.0, 1.0)
    return inside * inside * (3.0 - 2.0 * inside)
