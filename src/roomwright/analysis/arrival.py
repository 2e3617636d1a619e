"""When the direct sound arrives."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import fft

from roomwright._checks import positive
from roomwright._errors import InputError

#: The direct sound may be this much weaker than the strongest reflection (ISO 3382-1 puts the
#: start of a response where it first comes within 20 dB of its peak).
_BELOW_PEAK = 10.0 ** (-20.0 / 20.0)

#: An arrival stands this much above the rms of the noise's envelope; 100 000 samples of Gaussian
#: noise reach 10.6 dB.
_ABOVE_NOISE = 10.0 ** (12.0 / 20.0)

#: The crest of the direct sound follows its first rise within this time (broad bands).
_SHORTEST_RISE_S = 0.0005

#: ... and within this many inverse bandwidths in a narrow band, whose filter has lobes within
#: 20 dB of its peak up to 1.03 of them ahead.
_RISE_BANDWIDTHS = 1.25

#: Width of a band's skirts, octaves.
_SKIRT_OCTAVES = 1.0


def arrival_s(
    samples: ArrayLike,
    sampling_rate_hz: float,
    band_hz: tuple[float, float] | None = None,
) -> NDArray[np.float64]:
    """Arrival of the direct sound: the crest of the first rise of the envelope.

    The envelope is the magnitude of the analytic signal. Its first rise is where it comes
    within 20 dB of its peak and clear of the noise of the response's end; the crest is refined
    between samples by a parabola through the logarithm of the envelope (common practice, no
    source).

    Parameters
    ----------
    samples
        Impulse responses, shape (..., n), time zero at sample 0.
    sampling_rate_hz
        Sampling rate, hertz.
    band_hz
        Lower and upper limit of the band to look at; None for all. The filter has zero phase
        and skirts of an octave, so a band's arrival is that of its own group delay.

    Returns
    -------
    Seconds after sample 0, shape (...); NaN where nothing stands out of the noise.

    Raises
    ------
    InputError
        If the response has fewer than 16 samples, or the band is not positive and rising.
    """
    rate = positive(sampling_rate_hz, "the sampling rate")
    given = np.asarray(samples, dtype=np.float64)
    if given.ndim == 0 or given.shape[-1] < 16:
        raise InputError(
            f"an arrival needs 16 samples or more on the last axis; the shape is {given.shape}"
        )
    width = rate / 2 if band_hz is None else band_hz[1] - band_hz[0]
    rise_s = max(_SHORTEST_RISE_S, _RISE_BANDWIDTHS / positive(width, "the bandwidth"))
    rise = int(np.ceil(rise_s * rate)) + 1
    envelope = _envelope(given, rate, band_hz, padding=4 * rise)
    first, found = _first_rise(envelope[..., : given.shape[-1]])
    window = first[..., None] + np.arange(rise + 1)
    climb = np.take_along_axis(envelope, window, axis=-1)
    crest = first + np.argmax(climb, axis=-1)
    return np.where(found, (crest + _vertex(envelope, crest)) / rate, np.nan)


def onset_index(samples: ArrayLike) -> NDArray[np.intp]:
    """First sample within 20 dB of the largest one, shape (...): ISO 3382-1's start of a response.

    Parameters
    ----------
    samples
        Impulse responses, shape (..., n).
    """
    size = np.abs(np.asarray(samples, dtype=np.float64))
    return np.asarray(np.argmax(size >= _BELOW_PEAK * size.max(axis=-1, keepdims=True), axis=-1))


def _envelope(
    samples: NDArray[np.float64],
    rate: float,
    band_hz: tuple[float, float] | None,
    padding: int,
) -> NDArray[np.float64]:
    """Envelope with at least `padding` samples of silence after it, shape (..., length)."""
    length = fft.next_fast_len(samples.shape[-1] + padding, real=True)
    spectrum = fft.rfft(samples, length, workers=-1)
    if band_hz is not None:
        spectrum *= _band_weights(fft.rfftfreq(length, 1.0 / rate), band_hz)
    spectrum[..., 1 : (length + 1) // 2] *= 2
    return np.abs(fft.ifft(spectrum, length, workers=-1))


def _band_weights(
    frequencies: NDArray[np.float64], band_hz: tuple[float, float]
) -> NDArray[np.float64]:
    """1 within the band, falling by a raised cosine over log frequency outside it."""
    low, high = band_hz
    if not 0 < low < high:
        raise InputError(
            f"an arrival was asked for from {low:g} to {high:g} Hz; "
            "both limits must be above 0 and rising"
        )
    octaves = np.log2(np.maximum(frequencies, low * 1e-3))
    outside = np.maximum(np.maximum(np.log2(low) - octaves, octaves - np.log2(high)), 0.0)
    weights: NDArray[np.float64] = (
        np.cos(np.pi / 2 * np.minimum(outside / _SKIRT_OCTAVES, 1.0)) ** 2
    )
    return weights


def _first_rise(envelope: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """First index above the threshold, and whether there is one."""
    n = envelope.shape[-1]
    # The last twentieth may have been faded out and tells nothing of the noise.
    end = envelope[..., int(0.85 * n) : max(int(0.95 * n), int(0.85 * n) + 1)]
    noise = np.sqrt(np.mean(end**2, axis=-1))
    peak = envelope.max(axis=-1)
    threshold = np.maximum(_BELOW_PEAK * peak, _ABOVE_NOISE * noise)
    above = (envelope >= threshold[..., None]) & (peak > 0)[..., None]
    return np.argmax(above, axis=-1), above.any(axis=-1)


def _vertex(envelope: NDArray[np.float64], crest: NDArray[np.intp]) -> NDArray[np.float64]:
    """Offset of the crest from its sample, -0.5 to 0.5 samples."""
    around = np.take_along_axis(
        envelope, (crest[..., None] + np.array([-1, 0, 1])) % envelope.shape[-1], axis=-1
    )
    before, at, after = np.moveaxis(np.log(np.maximum(around, 1e-300)), -1, 0)
    bend = before - 2 * at + after
    offset = np.zeros_like(bend)
    np.divide(before - after, 2 * bend, out=offset, where=bend < 0)
    return np.asarray(np.clip(offset, -0.5, 0.5))
