"""Noises that come and go in a room, as sound pressure at the microphone."""

from __future__ import annotations

from typing import Literal

import numpy as np
import scipy
from numpy.typing import NDArray

from roomwright.signals import REFERENCE_PRESSURE_PA, from_amplitude_db

_F = NDArray[np.float64]

NoiseKind = Literal["door", "voice", "aircraft", "fan"]

#: Level of the loudest part where a fault does not say, dB SPL.
_LEVEL_DB = {"door": 72.0, "voice": 58.0, "aircraft": 60.0, "fan": 62.0}
#: The loudest part is this long.
_LOUDEST_S = 0.125
#: Events fall within this part of a recording.
_WITHIN = (0.2, 0.75)


def noise(
    kind: NoiseKind, level_db: float, n: int, sampling_rate_hz: float, rng: np.random.Generator
) -> _F:
    """One noise somewhere in a recording.

    Parameters
    ----------
    kind
        A door that slams, somebody who speaks, an aircraft that passes, a fan that runs all along.
    level_db
        Level over the loudest eighth of a second, dB SPL; 0 for the usual one.
    n, sampling_rate_hz
        Of the recording.
    rng
        Source of everything random in it.

    Returns
    -------
    ndarray
        (n,) pascal. Models chosen here, no source.
    """
    make = {"door": _door, "voice": _voice, "aircraft": _aircraft, "fan": _fan}[kind]
    time = np.arange(n) / sampling_rate_hz
    at_s = rng.uniform(*_WITHIN) * n / sampling_rate_hz
    sound = make(time - at_s, sampling_rate_hz, rng)
    block = max(1, round(_LOUDEST_S * sampling_rate_hz))
    power = scipy.signal.fftconvolve(sound**2, np.full(block, 1.0 / block), "same")
    loudest = np.sqrt(max(float(power.max()), 1e-30))
    wanted = REFERENCE_PRESSURE_PA * float(from_amplitude_db(level_db or _LEVEL_DB[kind]))
    return np.asarray(sound * (wanted / loudest))


def _door(time: _F, rate: float, rng: np.random.Generator) -> _F:
    """A thump with a few low resonances and a short crack."""
    after = np.maximum(time, 0.0)
    going = time >= 0.0
    thump = np.zeros_like(time)
    for _ in range(4):
        frequency, decay_s = rng.uniform(35.0, 160.0), rng.uniform(0.05, 0.15)
        phase = rng.uniform(0.0, 2.0 * np.pi)
        thump += np.exp(-after / decay_s) * np.sin(2.0 * np.pi * frequency * after + phase)
    corner = rng.uniform(500.0, 1500.0)
    low = scipy.signal.butter(1, corner, "lowpass", fs=rate, output="sos")
    crack = scipy.signal.sosfilt(low, rng.standard_normal(time.size))
    crack *= np.exp(-after / rng.uniform(0.02, 0.06)) * 0.5 / np.std(crack)
    return going * (thump + crack)


def _voice(time: _F, rate: float, rng: np.random.Generator) -> _F:
    """Syllables of a falling voice: harmonics under a formant-like envelope, and some hiss."""
    lasts_s = rng.uniform(0.5, 1.2)
    inside = (time >= 0.0) & (time < lasts_s)
    pitch = rng.uniform(95.0, 210.0) * (1.0 - 0.1 * np.clip(time / lasts_s, 0.0, 1.0))
    turns = 2.0 * np.pi * np.cumsum(pitch) / rate
    formants = rng.uniform((350.0, 1000.0, 2200.0), (750.0, 1800.0, 3000.0))
    sound = np.zeros_like(time)
    for order in range(1, 31):
        frequency = order * float(pitch.mean())
        gain = sum(
            1.0 / (1.0 + ((frequency - formant) / (0.25 * formant)) ** 2) / (1 + rank)
            for rank, formant in enumerate(formants)
        )
        sound += gain * np.sin(order * turns + rng.uniform(0.0, 2.0 * np.pi))
    band = scipy.signal.butter(2, (2500.0, 7000.0), "bandpass", fs=rate, output="sos")
    sound += scipy.signal.sosfilt(band, rng.standard_normal(time.size)) * 0.5
    syllables = np.sin(np.pi * rng.uniform(3.0, 5.0) * time) ** 2
    return np.asarray(inside * sound * syllables)


def _aircraft(time: _F, rate: float, rng: np.random.Generator) -> _F:
    """Low noise that swells and fades within a few seconds."""
    band = scipy.signal.butter(
        1, (40.0, rng.uniform(250.0, 500.0)), "bandpass", fs=rate, output="sos"
    )
    sound = scipy.signal.sosfilt(band, rng.standard_normal(time.size))
    return np.asarray(sound * np.exp(-0.5 * (time / rng.uniform(0.4, 1.0)) ** 2))


def _fan(time: _F, rate: float, rng: np.random.Generator) -> _F:
    """Steady noise that falls with frequency."""
    band = scipy.signal.butter(
        1, (30.0, rng.uniform(200.0, 500.0)), "bandpass", fs=rate, output="sos"
    )
    return np.asarray(scipy.signal.sosfilt(band, rng.standard_normal(time.size)))
