"""Harmonic distortion over frequency, read from one take of the survey."""

from __future__ import annotations

from math import floor
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright._errors import InputError
from roomwright.commissioning.curves import Line
from roomwright.commissioning.microphone import Calibration
from roomwright.commissioning.responses import RESPONSE_LENGTH_S, Stage, takes_of
from roomwright.measurement import (
    CalibrationCurve,
    align,
    correction,
    deconvolve,
    full_level_band_hz,
    harmonic_responses,
    inverse_spectrum,
    transform_length,
)
from roomwright.model import Sweep
from roomwright.signals import frequencies_hz, log_frequencies, power_db, smooth_power, timeline
from roomwright.store import JobFolder

F = NDArray[np.float64]

#: Harmonics that are looked at.
ORDERS: Final = (2, 3, 4, 5)

#: Points an octave, and the part of an octave the powers are averaged over.
_PER_OCTAVE: Final = 24
_SMOOTHING: Final = 6

#: The fundamental's response is taken from this long before its time zero: a band-limited pulse
#: has two sides.
_LEAD_S: Final = 0.01

#: The harmonics set in with a step where the sweep does; that is over this far above its start.
_ABOVE_START: Final = 2.0


def distortion_lines(
    folder: JobFolder, source: str, station: str, stage: Stage = "survey"
) -> dict[int, Line]:
    """Level of each harmonic re the fundamental, dB, over the fundamental's frequency.

    Powers are averaged over 1/6 octave at N f and at f: the room's response at both is in it, and
    so is the noise of the recording.

    Raises
    ------
    InputError
        If there is no such take, it is no recorded sweep, or it cannot be used.
    """
    job = folder.job
    takes = [take for take in takes_of(job, stage) if take.source == source]
    take = next((take for take in takes if take.station == station), None)
    if take is None:
        raise InputError(f"{source} was not measured at {station}")
    if take.sweep is None:
        raise InputError(
            f"{take.file} is an impulse response; distortion needs the recording of a sweep"
        )
    samples, rate = folder.read_take(take.file, take.sha256)
    microphone = samples[take.wav_channel - 1]
    channel = take.reference_channel
    reference = None if channel is None else samples[channel - 1]
    start = align(microphone, reference, take.sweep, rate, take.file).start
    return sweep_distortion(
        microphone[floor(start) :], take.sweep, rate, Calibration(folder, job).of(take)
    )


def sweep_distortion(
    recorded: NDArray[np.floating], sweep: Sweep, rate: int, curve: CalibrationCurve | None = None
) -> dict[int, Line]:
    """Harmonics of a recording that begins with the sweep, shape (n,), as `distortion_lines`.

    Orders of which less than an octave lies within the sweep are left out.
    """
    places = timeline(sweep, rate)
    length = transform_length(sweep, rate)
    segment = np.asarray(recorded[: places.pilot_2 - places.sweep_start], np.float32)
    circle = deconvolve(segment - segment.mean(), inverse_spectrum(sweep, rate, length))
    harmonics = harmonic_responses(circle, sweep, rate, ORDERS)
    low, high = full_level_band_hz(sweep)
    fundamental = np.roll(circle, round(_LEAD_S * rate))[: round(RESPONSE_LENGTH_S * rate)]
    lines = {}
    for order in ORDERS:
        lowest, highest = _ABOVE_START * low, high / order
        if highest < 2.0 * lowest:
            continue
        at = log_frequencies(lowest, highest, _PER_OCTAVE)
        level_db = _level_db(harmonics[order], rate, order * at, curve)
        lines[order] = Line(at, level_db - _level_db(fundamental, rate, at, curve))
    return lines


def _level_db(samples: NDArray[np.floating], rate: int, at: F, curve: CalibrationCurve | None) -> F:
    frequencies = frequencies_hz(samples.size, rate)
    spectrum = fft.rfft(samples.astype(np.float64))
    if curve is not None:
        spectrum = spectrum * correction(curve, frequencies)
    return power_db(smooth_power(np.abs(spectrum) ** 2, frequencies, _SMOOTHING, at))
