"""The recorder's side: the microphone's response, and the noise of room and converter."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roomwright.measurement import CalibrationCurve
from roomwright.model import Job
from roomwright.rehearsal.streams import stream
from roomwright.signals import (
    REFERENCE_PRESSURE_PA,
    amplitude_db,
    frequencies_hz,
    from_amplitude_db,
    log_frequencies,
    octave_shaped_noise_spectrum,
)
from roomwright.standards import nc

_F = NDArray[np.float64]

#: Pascal at digital full scale where the job does not know its microphone's sensitivity.
_UNKNOWN_SENSITIVITY_PA = 20.0
_CURVE_RANGE_HZ = (10.0, 24000.0)
_RIPPLES = 4
_RIPPLE_DB = 0.4
_RISE_FROM_HZ = 8000.0
_RISE_DB_PER_OCTAVE = 1.2
#: How far the noise stays below its NC curve at 16 and 31.5 Hz: a rating is rarely reached
#: there, and would otherwise drown every loudspeaker (chosen here, no source).
_BELOW_CURVE_DB = (12.0, 6.0)
#: The noise is cut off below this, as by the coupling of an input; NC curves say nothing there.
_LOWEST_NOISE_HZ = 8.0


def microphone_curve(job: Job) -> CalibrationCurve:
    """Level response of the rehearsal room's microphone: what its calibration file says.

    A few slow ripples, within about 1 dB, and a rise above 8 kHz; 0 dB at 1 kHz. Seeded by the
    rehearsal's seed. A plausible curve chosen here, no source.
    """
    rng = stream(job.rehearsal.seed, "microphone")
    frequency = log_frequencies(*_CURVE_RANGE_HZ, 12)
    octave = np.log2(frequency / 1000.0)
    ripple = np.zeros_like(octave)
    for _ in range(_RIPPLES):
        period, phase = rng.uniform(3.0, 8.0), rng.uniform(0.0, 2.0 * np.pi)
        ripple += rng.uniform(-1.0, 1.0) * np.sin(2.0 * np.pi * octave / period + phase)
    ripple -= np.interp(0.0, octave, ripple)
    ripple *= _RIPPLE_DB / np.sqrt(np.mean(ripple**2))
    rise = _RISE_DB_PER_OCTAVE * np.maximum(np.log2(frequency / _RISE_FROM_HZ), 0.0)
    return CalibrationCurve(
        frequency_hz=frequency,
        level_db=np.round(np.clip(ripple, -1.0, 1.0) + rise, 2),
        note="simulated microphone of the rehearsal room",
    )


def sensitivity_pa(job: Job) -> float:
    """Pascal (peak) at digital full scale of the microphone's input."""
    return job.microphone.sensitivity_pa or _UNKNOWN_SENSITIVITY_PA


def noise_spectrum(job: Job, microphone: _F, n: int, sampling_rate_hz: float) -> _F:
    """Amplitude of the noise at the microphone's input, room and converter together.

    Parameters
    ----------
    job
        Its room has the NC rating, whose curve is met from 63 Hz to 8 kHz; its rehearsal the
        converter's noise, white over the whole band, dB of its rms re digital full scale 1.
    microphone
        (n // 2 + 1,) magnitude of the microphone's response, digital full scale for a pascal.
    n, sampling_rate_hz
        Length and rate of the recording.

    Returns
    -------
    ndarray
        (n // 2 + 1,) rms amplitude of each bin, as `signals.shaped_noise` takes it.
    """
    levels_db = nc.noise_criterion_levels_db(job.room.noise_criterion)
    levels_db[: len(_BELOW_CURVE_DB)] -= _BELOW_CURVE_DB
    reference_db = float(amplitude_db(REFERENCE_PRESSURE_PA))
    pressure = octave_shaped_noise_spectrum(
        levels_db + reference_db, nc.NC_OCTAVES_HZ, n, sampling_rate_hz
    )
    below = (frequencies_hz(n, sampling_rate_hz) / _LOWEST_NOISE_HZ) ** 4
    pressure *= below / np.hypot(1.0, below)
    return np.sqrt((pressure * microphone) ** 2 + converter_rms(job) ** 2 * 2.0 / n)


def converter_rms(job: Job) -> float:
    """Rms of the converter's white noise re digital full scale."""
    return float(from_amplitude_db(job.rehearsal.converter_noise_dbfs))
