"""An array up to a frequency and something else above it, faded into each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roomwright.tuning.arrays import ControlBand
from roomwright.tuning.bass_ways.case import LowCase
from roomwright.tuning.bass_ways.way import ends

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: What is faded in may start this much before or after the wave, in such steps.
_LOOK_S, _STEP_S = 0.012, 0.00025


def joined(case: LowCase, below: C, band: ControlBand, above: C, latency_s: float) -> C:
    """Drives (S, bins) of a wave that fades out above its band, and of what takes over there.

    The latter is brought to the level of the wave and to the delay and polarity at which the two
    add up best over the octave of the fade, at the stations that designs may use.

    Parameters
    ----------
    case
        The subwoofers at the stations.
    below
        (S, bins), faded out above `band` as `ControlBand.share` says.
    band
        Of the wave.
    above
        (S, bins), not faded.
    latency_s
        Of the wave.
    """
    frequency = case.grid.frequencies_hz
    used = case.field[:, ~case.held]
    share = np.where(frequency > band.high_hz, band.share(frequency), 1.0)
    wave = np.einsum("sb,spb->pb", below, used)
    other = np.einsum("sb,spb->pb", above, used)
    control = band.inside(frequency)
    fade = (frequency > band.high_hz) & (frequency < band.fades_out_hz)
    level = _level(wave[:, control]) / _level(other[:, fade])
    # The wave has a phase of its own near the top of its band, so delay and sign are looked for.
    crossed = np.sum(wave[:, fade] * other[:, fade].conj(), axis=0) * (1.0 - share[fade])
    latest = 0.9 * case.grid.taps / case.grid.rate_hz
    looked = latency_s + np.arange(-_LOOK_S, _LOOK_S + _STEP_S / 2, _STEP_S)
    looked = looked[(looked >= 0.0) & (looked <= latest)]
    sums = (np.exp(2j * np.pi * np.outer(looked, frequency[fade])) @ crossed).real
    best = int(np.argmax(np.abs(sums)))
    turn = np.sign(sums[best]) * np.exp(-2j * np.pi * frequency * looked[best])
    drive = below + level * (1.0 - share) * turn * above
    return np.asarray(drive * ends(case.grid))


def _level(pressure: C) -> float:
    return float(np.sqrt(np.mean(np.abs(pressure) ** 2)))
