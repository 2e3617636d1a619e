"""The noise in an impulse response: how strong, against what, and in which band it matters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from roomwright.measurement.fades import fade_window
from roomwright.measurement.octaves import OCTAVES_HZ
from roomwright.signals import band_powers, log_frequencies, power_db, smooth_power

F = NDArray[np.float64]

#: A response is trusted where it stands this far above the noise.
TRUSTED_DB = 10.0

#: Response and noise are compared over a third of an octave, at this many points an octave; a
#: band counts if it is at least a third of an octave wide.
_FRACTION, _PER_OCTAVE, _NARROWEST = 3, 12, 4


@dataclass(frozen=True, slots=True)
class NoiseFloor:
    """Noise of an impulse response.

    Attributes
    ----------
    rms
        Unit of the response.
    frequency_hz
        Grid of `density`, uniform from 0 to half the sampling rate, shape (k,).
    density
        Expected power of the noise in one bin of a transform, for each sample in it: n samples of
        noise have the expected squared magnitude n x density. Shape (k,).
    """

    rms: float
    frequency_hz: F
    density: F


def noise_floor(noise: NDArray[np.floating], sampling_rate_hz: int) -> NoiseFloor:
    """Noise floor from a stretch that holds nothing but noise.

    Parameters
    ----------
    noise
        Shape (m,).
    sampling_rate_hz
        Hertz.
    """
    samples = np.asarray(noise, dtype=np.float64)
    length = scipy.fft.next_fast_len(samples.size, real=True)
    fade = samples.size // 4
    window = fade_window(samples.size, fade, fade)
    power = np.abs(scipy.fft.rfft(samples * window, length)) ** 2 / np.sum(window**2)
    return NoiseFloor(
        rms=float(np.sqrt(np.mean(samples**2))),
        frequency_hz=scipy.fft.rfftfreq(length, 1.0 / sampling_rate_hz),
        density=power,
    )


def signal_to_noise_db(
    response: NDArray[np.floating], floor: NoiseFloor, sampling_rate_hz: int
) -> F:
    """Energy of a response over that of the noise in it, per octave of `OCTAVES_HZ`.

    The noise expected in the response is subtracted first. A transfer function read from the
    response errs by that much: 20 dB mean some 10 %.

    Parameters
    ----------
    response
        Shape (n,).
    floor
        Of that response.
    sampling_rate_hz
        Hertz.

    Returns
    -------
    Decibels, shape (10,); minus infinity where nothing but noise is left.
    """
    frequencies = scipy.fft.rfftfreq(response.size, 1.0 / sampling_rate_hz)
    power = np.abs(scipy.fft.rfft(np.asarray(response, dtype=np.float64))) ** 2
    limits = (float(OCTAVES_HZ[0]), float(OCTAVES_HZ[-1]))
    # Sums over bins: bring the two grids to the same width of bin.
    _, total = band_powers(power * frequencies[1], frequencies, 1, *limits)
    _, noise = band_powers(
        floor.density * response.size * floor.frequency_hz[1], floor.frequency_hz, 1, *limits
    )
    smallest = np.finfo(np.float64).tiny
    return power_db(np.maximum(total - noise, 0.0) / np.maximum(noise, smallest))


def trusted_band(
    response: NDArray[np.floating],
    floor: NoiseFloor,
    sampling_rate_hz: int,
    limits_hz: tuple[float, float],
) -> tuple[float, float]:
    """The widest band in which a response stands at least 10 dB above its noise.

    Both are averaged over a third of an octave first.

    Parameters
    ----------
    response, floor, sampling_rate_hz
        As for `signal_to_noise_db`.
    limits_hz
        Band of the excitation, to which the result is cut.

    Returns
    -------
    Low and high frequency, hertz; (0, 0) if there is none.
    """
    frequencies = scipy.fft.rfftfreq(response.size, 1.0 / sampling_rate_hz)
    low, high = max(limits_hz[0], frequencies[1]), min(limits_hz[1], frequencies[-1])
    at = log_frequencies(low, high, _PER_OCTAVE)
    power = np.abs(scipy.fft.rfft(np.asarray(response, dtype=np.float64))) ** 2
    total = smooth_power(power, frequencies, _FRACTION, at)
    noise = smooth_power(floor.density, floor.frequency_hz, _FRACTION, at) * response.size
    clear = np.concatenate(([False], total >= 10.0 ** (TRUSTED_DB / 10.0) * noise, [False]))
    edges = np.flatnonzero(np.diff(clear.astype(np.int8)))
    starts, stops = edges[::2], edges[1::2]
    widths = stops - starts
    if widths.size == 0 or widths.max() < _NARROWEST:
        return (0.0, 0.0)
    widest = int(np.argmax(widths))
    first, last = starts[widest], stops[widest] - 1
    # The grid need not end on the upper limit.
    return float(at[first]), high if last == at.size - 1 else float(at[last])
