"""How each frequency dies away after the direct sound: a spectrogram of one response."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright.analysis import arrival_s
from roomwright.measurement import ResponseSet
from roomwright.signals import frequencies_hz, log_frequencies, power_db, smooth_power

F = NDArray[np.float64]

#: Points an octave, and the part of an octave the power is averaged over.
_PER_OCTAVE, _SMOOTHING = 24, 12

#: Steps of time, and how far it goes, seconds.
STEP_S, _SHOWN_S = 0.005, 0.5

#: A slice sets in over this time before its moment, seconds: no sharper at low frequencies than
#: its inverse, 20 Hz.
RISE_S = 0.05

#: Levels this far below the highest are the darkest.
RANGE_DB = 50.0


@dataclass(frozen=True, slots=True, eq=False)
class DecayMap:
    """Level of what is still to come, (times, f), dB re the highest of all.

    `frequency_hz` (f,); `time_ms` (times,) after the direct sound.
    """

    frequency_hz: F
    time_ms: F
    level_db: F


def decay_map(responses: ResponseSet, source: str, station: str) -> DecayMap:
    """The level over frequency of what arrives after a moment, for moments 5 ms apart.

    Each slice is the spectrum of the response from its moment on, faded in over the 50 ms before
    it by half a Hann window, smoothed over 1/12 octave (cumulative decay, common practice, no
    source).

    Raises
    ------
    InputError
        If the pair was not measured.
    """
    rate = responses.sampling_rate_hz
    samples = responses.samples[responses.index(source, station)].astype(np.float64)
    arrival = float(np.nan_to_num(arrival_s(samples, rate)))
    at = log_frequencies(20.0, min(20_000.0, 0.49 * rate), _PER_OCTAVE)
    frequencies = frequencies_hz(samples.size, rate)
    moments = np.arange(0.0, _SHOWN_S + STEP_S / 2, STEP_S)
    after = np.arange(samples.size) / rate - arrival
    levels = np.empty((moments.size, at.size))
    for row, moment in enumerate(moments):
        place = np.clip((after - moment) / RISE_S + 1.0, 0.0, 1.0)
        spectrum = fft.rfft(samples * np.sin(np.pi / 2 * place) ** 2, workers=-1)
        levels[row] = power_db(smooth_power(np.abs(spectrum) ** 2, frequencies, _SMOOTHING, at))
    return DecayMap(at, 1000.0 * moments, levels - levels.max())
