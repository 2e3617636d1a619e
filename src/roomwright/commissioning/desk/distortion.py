"""Harmonic distortion over frequency, read from one take of the survey."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright._errors import InputError
from roomwright.commissioning.desk.curves import Line
from roomwright.commissioning.survey.responses import RESPONSE_LENGTH_S, Bench, Stage, takes_of
from roomwright.measurement import full_level_band_hz, harmonic_responses
from roomwright.model import Sweep
from roomwright.signals import frequencies_hz, log_frequencies, power_db, smooth_power
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
        If there is no such take, it is no recorded sweep, it cannot be used, or it holds several
        sweeps and the harmonics of others lie on its own.
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
    if take.overlap is not None and not take.overlap.harmonics_apart:
        raise InputError(
            f"{source} at {station} was swept together with others whose harmonics meet its own; "
            "measure it alone to see its distortion"
        )
    whole = Bench(folder, job).whole(take, folder.read_take(take.file, take.sha256)[0])
    rate, circle, length_s = whole.sampling_rate_hz, whole.circle, RESPONSE_LENGTH_S
    if take.overlap is not None:
        circle = np.roll(circle, -round(take.overlap.offset_s * rate))
        length_s = min(length_s, take.overlap.window_s)
    return harmonic_lines(circle, whole.sweep, rate, length_s)


def harmonic_lines(
    circle: NDArray[np.floating], sweep: Sweep, rate: int, length_s: float = RESPONSE_LENGTH_S
) -> dict[int, Line]:
    """Harmonics in a recording divided by its sweep, as `distortion_lines`.

    Orders of which less than an octave lies within the sweep are left out.

    Parameters
    ----------
    circle
        From `deconvolve`, shape (n,); the response to the fundamental begins it.
    sweep, rate
        What was played, and the sampling rate in hertz.
    length_s
        How long the fundamental's response is looked at, seconds.
    """
    harmonics = harmonic_responses(circle, sweep, rate, ORDERS)
    low, high = full_level_band_hz(sweep)
    fundamental = np.roll(circle, round(_LEAD_S * rate))[: round(length_s * rate)]
    lines = {}
    for order in ORDERS:
        lowest, highest = _ABOVE_START * low, high / order
        if highest < 2.0 * lowest:
            continue
        at = log_frequencies(lowest, highest, _PER_OCTAVE)
        level_db = _level_db(harmonics[order], rate, order * at)
        lines[order] = Line(at, level_db - _level_db(fundamental, rate, at))
    return lines


def _level_db(samples: NDArray[np.floating], rate: int, at: F) -> F:
    frequencies = frequencies_hz(samples.size, rate)
    power = np.abs(fft.rfft(samples.astype(np.float64))) ** 2
    return power_db(smooth_power(power, frequencies, _SMOOTHING, at))
