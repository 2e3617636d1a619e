"""Noise to set levels with: pink, in a band, as a loop without a seam, rising from silence."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright import _checks
from roomwright._errors import InputError
from roomwright.measurement.fades import fade_window
from roomwright.signals import amplitude_db, frequencies_hz, from_amplitude_db, pink_noise, rms

F = NDArray[np.float64]

#: Peaks are pressed towards this over the rms; after so many rounds hardly anything is gained.
_CREST_DB: Final = 9.5
_ROUNDS: Final = 40
#: Noise stops over this, seconds: too quick to disturb, too slow to click.
_END_S: Final = 0.05


def noise_loop(
    low_hz: float, high_hz: float, duration_s: float, sampling_rate_hz: int, seed: int = 1
) -> F:
    """One period of pink noise in a band, of the rms of a full-scale sine.

    Its spectrum is exactly pink, so that whole periods of it have no statistical spread: in the
    steady state its level through any room is always the same. Its phases are random, then
    turned until the peaks are low (clipping and restoring the spectrum by turns).

    Parameters
    ----------
    low_hz, high_hz
        Limits of the band, hertz.
    duration_s
        Length of the loop; a bin is its inverse wide, which must be narrow against the room's
        resonances.
    sampling_rate_hz
        Hertz.
    seed
        The same noise for the same seed.

    Returns
    -------
    Shape (n,), rms 1 / sqrt(2), peaks above 1: `level_noise` lowers it.

    Raises
    ------
    InputError
        If the duration is not positive, or the band holds no line of the loop.
    """
    n = round(_checks.positive(duration_s, "the length of the noise") * sampling_rate_hz)
    noise = pink_noise(n, sampling_rate_hz, np.random.default_rng(seed), low_hz, high_hz)
    grid = frequencies_hz(n, sampling_rate_hz)
    inside = (grid >= low_hz) & (grid <= high_hz) & (grid > 0)
    lines = np.zeros_like(grid)
    lines[inside] = grid[inside] ** -0.5
    for _ in range(_ROUNDS):
        limit = float(from_amplitude_db(_CREST_DB)) * float(rms(noise))
        phases = np.angle(fft.rfft(np.clip(noise, -limit, limit)))
        noise = fft.irfft(lines * np.exp(1j * phases), n)
    loop: F = noise / (math.sqrt(2.0) * rms(noise))
    return loop


def crest_db(loop: F) -> float:
    """Level of the highest peak of a loop re a full-scale sine's peak, if its level is 0 dBFS."""
    return float(amplitude_db(np.max(np.abs(loop))))


def level_noise(
    loop: F,
    level_dbfs: float,
    hold_s: float,
    sampling_rate_hz: int,
    *,
    ramp_s: float,
    ceiling_dbfs: float,
) -> NDArray[np.float32]:
    """The loop played round and round: rising from silence, held, and ended.

    Parameters
    ----------
    loop
        From `noise_loop`.
    level_dbfs
        Its rms re that of a full-scale sine.
    hold_s
        How long the level stays after the rise.
    sampling_rate_hz
        Hertz.
    ramp_s
        How long it rises, as a raised cosine.
    ceiling_dbfs
        What no sample passes, re full scale.

    Returns
    -------
    Shape (n,).

    Raises
    ------
    InputError
        If a peak would pass the ceiling.
    """
    peak_dbfs = level_dbfs + crest_db(loop)
    if peak_dbfs > ceiling_dbfs + 1e-9:
        raise InputError(
            f"noise at {level_dbfs:.1f} dBFS has peaks of {peak_dbfs:.1f} dBFS; the ceiling is "
            f"{ceiling_dbfs:g} dBFS"
        )
    rise, end = round(ramp_s * sampling_rate_hz), round(_END_S * sampling_rate_hz)
    n = rise + round(hold_s * sampling_rate_hz) + end
    held = np.resize(loop, n) * fade_window(n, rise, end)
    signal = (held * float(from_amplitude_db(level_dbfs))).astype(np.float32)
    # The rounding to float32 may lift a peak by half a bit.
    limit = np.float32(from_amplitude_db(ceiling_dbfs))
    return np.clip(signal, -limit, limit)
