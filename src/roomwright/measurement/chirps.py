"""Finding the chirps that stand before and after each sweep, in a recording of a room."""

from __future__ import annotations

import numpy as np
import scipy
import scipy.fft
from numpy.typing import NDArray

from roomwright.measurement.clock import LARGEST_PPM
from roomwright.measurement.deconvolution import regularised_inverse
from roomwright.model import Sweep
from roomwright.signals import pilot_samples, timeline

F = NDArray[np.float64]

#: Regularisation of the chirp's inverse re its strongest bin: 30 dB of its pink spectrum count.
_REGULARISATION = 1e-3

#: The first sound of a pulse is its first peak within this of the highest; a reflection may be
#: louder than the direct sound by some 10 dB where a loudspeaker is aimed elsewhere.
_FIRST_RE_HIGHEST = 0.25

#: The direct sound comes at most this much before the highest peak, seconds.
_EARLIEST_S = 0.03

#: A pulse stands out where it exceeds the rms around it by this factor: 8 sigma is out of reach
#: of noise, and reverberation after the pulse itself does not lower it.
_CLEAR = 8.0

#: Samples around a peak that are interpolated, and how finely.
_AROUND, _FINER = 32, 16


def chirp_pulses(
    recording: NDArray[np.floating],
    sweep: Sweep,
    sampling_rate_hz: int,
    *,
    regularisation: float = _REGULARISATION,
) -> F:
    """A recording with the chirp divided out: each chirp becomes a pulse where it begins.

    Parameters
    ----------
    recording
        Shape (n,).
    sweep, sampling_rate_hz
        Whose chirps, at the recording's nominal rate.
    regularisation
        Of the division, re the chirp's strongest bin. From 1 on the division turns into the
        matched filter, in whose pulses every octave counts alike, also a subwoofer's two.

    Returns
    -------
    Shape (n,): the band-limited response to each chirp, at the place of its first sample.
    """
    pilot = pilot_samples(sweep, sampling_rate_hz).astype(np.float64)
    # Blocks of a few chirps: the memory of long recordings stays small.
    n = scipy.fft.next_fast_len(16 * pilot.size, real=True)
    step = n - 2 * pilot.size
    spectrum = scipy.fft.rfft(pilot, n)
    beta = regularisation * float(np.max(np.abs(spectrum) ** 2))
    inverse = regularised_inverse(spectrum, beta)
    pulses = np.empty(recording.size)
    padded = np.concatenate((np.zeros(pilot.size), recording, np.zeros(n)))
    for start in range(0, recording.size, step):
        block = scipy.fft.irfft(scipy.fft.rfft(padded[start : start + n]) * inverse, n)
        kept = block[pilot.size : pilot.size + step]
        pulses[start : start + step] = kept[: recording.size - start]
    return pulses


def chirp_pair(pulses: F, sweep: Sweep, sampling_rate_hz: int) -> int | None:
    """Index near the first of the two chirps that stand around the sweep; None if there is none.

    Parameters
    ----------
    pulses
        From `chirp_pulses`.
    sweep, sampling_rate_hz
        As for it; they say how far apart the two are, to within the largest clock error.
    """
    places = timeline(sweep, sampling_rate_hz)
    distance = places.pilot_2 - places.pilot_1
    if pulses.size <= distance:
        return None
    slack = int(np.ceil(distance * LARGEST_PPM * 1e-6))
    magnitude = np.abs(pulses)
    second = scipy.ndimage.maximum_filter1d(magnitude, 2 * slack + 1)[distance:]
    both = np.minimum(magnitude[: second.size], second)
    at = int(np.argmax(both))
    clear = _CLEAR * local_rms(pulses, sampling_rate_hz)
    partner = min(at + distance, pulses.size - 1)
    return at if both[at] > max(clear[at], clear[partner]) else None


def local_rms(pulses: F, sampling_rate_hz: int) -> F:
    """What a pulse must stand out of: the median of the rms of stretches around it, shape (n,).

    Stretches of 20 ms, a second of them: the pulse's own reverberation fills a few at most.
    """
    stretch = max(round(0.02 * sampling_rate_hz), 1)
    count = -(-pulses.size // stretch)
    padded = np.zeros(count * stretch)
    padded[: pulses.size] = pulses**2
    rms = np.sqrt(padded.reshape(count, stretch).mean(axis=1))
    quiet = scipy.ndimage.median_filter(rms, size=51, mode="nearest")
    floor = 1e-4 * float(np.max(np.abs(pulses), initial=0.0))
    result: F = np.repeat(np.maximum(quiet, floor), stretch)[: pulses.size]
    return result


def first_sound(pulses: F, near: int, sampling_rate_hz: int) -> float:
    """Index, with its fraction, of the direct sound of the pulse whose highest peak is at `near`.

    The first peak within 12 dB of the highest, interpolated. The same loudspeaker, room and place
    give the same index re the chirp's beginning to within the noise.

    Parameters
    ----------
    pulses
        From `chirp_pulses`, shape (n,).
    near
        From `chirp_pair`.
    sampling_rate_hz
        Hertz.
    """
    start = max(near - round(_EARLIEST_S * sampling_rate_hz), 0)
    magnitude = np.abs(pulses[start : near + _AROUND])
    peaks, _ = scipy.signal.find_peaks(
        np.concatenate((magnitude, [0.0])), height=_FIRST_RE_HIGHEST * float(magnitude.max())
    )
    peak = start + int(peaks[0]) if peaks.size else near
    low, high = max(peak - _AROUND, 0), min(peak + _AROUND, pulses.size)
    around = pulses[low:high]
    fine = scipy.signal.resample(around * np.sign(pulses[peak]), around.size * _FINER)
    middle = (peak - low) * _FINER
    window = fine[max(middle - _FINER, 1) : middle + _FINER + 1]
    at = max(middle - _FINER, 1) + int(np.argmax(window))
    before, top, after = fine[at - 1 : at + 2]
    curve = before - 2 * top + after
    bend = 0.5 * (before - after) / curve if curve < 0 else 0.0
    return low + (at + float(bend)) / _FINER
