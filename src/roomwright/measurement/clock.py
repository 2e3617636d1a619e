"""The recorder's clock against the player's, from the two pilots around the sweep."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, isnan

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from roomwright.measurement.fades import fade_window
from roomwright.model import Sweep
from roomwright.signals import resample, timeline

F = NDArray[np.float64]

#: The largest clock error looked for; consumer clocks stay within 200 ppm.
LARGEST_PPM = 500.0

#: Left uncorrected: over a sweep of 5 s its phase error at 20 kHz is below 1 degree.
_NEGLIGIBLE_PPM = 0.02

#: A bin counts where the pilot's power exceeds the noise by this factor, both smoothed over bins.
_CLEAR_OF_NOISE, _SMOOTHING_BINS = 4.0, 15

#: A window around a pilot holds at least so many of its lengths, for what follows of the room.
_SHORTEST_PILOTS = 1.5

#: Fade at the ends of a window around a pilot.
_TAPER_S = 0.01


@dataclass(frozen=True, slots=True)
class Delay:
    """How much later one signal comes than another, in samples, with its standard deviation.

    Both are NaN where the signals do not stand clear of the noise. `reversed` says that one is
    the other's negative.
    """

    samples: float
    deviation: float
    reversed: bool = False


def clock_error_ppm(
    recording: NDArray[np.floating], sweep: Sweep, sampling_rate_hz: int, *, lag: int = 0
) -> float:
    """How much faster the recorder's clock ran than the player's, in parts in a million.

    The two recorded pilots are compared with each other, so loudspeaker, room and microphone
    drop out: both went the same way. Every frequency counts by its signal-to-noise ratio.

    Parameters
    ----------
    recording
        Shape (n,), float.
    sweep, sampling_rate_hz
        What was played, and the recorder's nominal rate.
    lag
        By how many samples the recording starts before the signal does; within some 0.1 s.

    Returns
    -------
    NaN if a pilot is missing or not clear of the noise.
    """
    places = timeline(sweep, sampling_rate_hz)
    length = places.sweep_start - places.pilot_1
    distance = places.pilot_2 - places.pilot_1
    first = places.pilot_1 + lag
    # What was heard late, over a long way or from a reflection, may end with the recording.
    length = min(length, recording.size - (first + distance))
    if first < 0 or length < _SHORTEST_PILOTS * round(sweep.pilot_s * sampling_rate_hz):
        return float("nan")
    noise = noise_power(recording, first + distance, sampling_rate_hz, length)
    taper = _taper(length, sampling_rate_hz)
    limit = ceil(distance * LARGEST_PPM * 1e-6)
    pilot = recording[first : first + length] * taper
    shift = 0
    # The second pass puts the windows at the same place of both pilots.
    for _ in range(2):
        start = first + distance + shift
        again = np.zeros(length)
        found = recording[start : start + length]
        again[: found.size] = found
        again *= taper
        if not _stands_clear(again, noise):
            return float("nan")
        delay = relative_delay(pilot, again, noise, limit)
        if isnan(delay.samples) or delay.reversed:
            return float("nan")
        total = shift + delay.samples
        shift = round(total)
    return total / distance * 1e6


def corrected(recording: NDArray[np.floating], ppm: float) -> F:
    """A recording as a recorder with the player's clock would have made it.

    Parameters
    ----------
    recording
        Shape (..., n); sample 0 stays where it is.
    ppm
        From `clock_error_ppm`; NaN and errors below 0.02 ppm change nothing.

    Returns
    -------
    Shape (..., about n).
    """
    if isnan(ppm) or abs(ppm) < _NEGLIGIBLE_PPM:
        return np.asarray(recording, dtype=np.float64)
    return resample(recording, 1.0 / (1.0 + ppm * 1e-6))


def relative_delay(first: F, second: F, noise: F, limit: int) -> Delay:
    """Delay of `second` against `first` by a weighted fit of the phase between them.

    Parameters
    ----------
    first, second
        Windows of the same length, shape (n,), fading at both ends.
    noise
        Power of the noise in each bin of such a window, shape (n // 2 + 1,).
    limit
        The largest delay looked for, samples.
    """
    one, two = scipy.fft.rfft(first), scipy.fft.rfft(second)
    omega = 2 * np.pi * scipy.fft.rfftfreq(first.size)
    ratio = np.abs(one) * np.abs(two) / noise
    smooth = np.convolve(ratio, np.full(_SMOOTHING_BINS, 1.0 / _SMOOTHING_BINS), "same")
    weight = np.where(smooth > _CLEAR_OF_NOISE, ratio, 0.0)
    information = float(weight @ omega**2)
    if information <= 0:
        return Delay(float("nan"), float("nan"))
    turn = np.exp(1j * np.angle(one.conj() * two))
    correlation = scipy.fft.irfft(weight * turn, first.size)
    near = np.concatenate((correlation[-limit:], correlation[: limit + 1]))
    peak = int(np.argmax(np.abs(near)))
    delay, is_reversed = float(peak - limit), bool(near[peak] < 0)
    turn *= -1.0 if is_reversed else 1.0
    # Within half a sample of the peak the phase left over does not wrap where it counts.
    for _ in range(4):
        left = np.angle(turn * np.exp(1j * omega * delay))
        delay -= float((weight * omega) @ left) / information
    return Delay(delay, information**-0.5, is_reversed)


def _stands_clear(window: F, noise: F) -> bool:
    """Whether anything but noise is in a window: one loud pilot alone agrees with any noise."""
    ratio = np.abs(scipy.fft.rfft(window)) ** 2 / noise
    smooth = np.convolve(ratio, np.full(_SMOOTHING_BINS, 1.0 / _SMOOTHING_BINS), "same")
    return bool(np.any(smooth > _CLEAR_OF_NOISE))


def noise_power(recording: NDArray[np.floating], end: int, rate: int, length: int) -> F:
    """Power of the noise in each bin of a tapered window of `length`, from what comes before `end`.

    The noise is taken from at most `length` samples before, smoothed over bins.
    """
    end = min(end, recording.size)
    noise = np.asarray(recording[max(end - length, 0) : end], dtype=np.float64)
    noise = noise * _taper(noise.size, rate)
    scale = float(np.sum(_taper(length, rate) ** 2)) / float(np.sum(_taper(noise.size, rate) ** 2))
    power = np.abs(scipy.fft.rfft(noise, length)) ** 2 * scale
    smooth = np.convolve(power, np.full(_SMOOTHING_BINS, 1.0 / _SMOOTHING_BINS), "same")
    # Digital silence between the pilots leaves rounding only: -140 dB re full scale.
    floor = length * 1e-14
    result: F = smooth + floor
    return result


def _taper(length: int, rate: int) -> F:
    fade = min(round(_TAPER_S * rate), length // 2)
    return fade_window(length, fade, fade)
