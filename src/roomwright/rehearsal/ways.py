"""Two-way loudspeakers whose ways are connected wrongly, and units that distort or stand elsewhere.

A healthy loudspeaker is described by its data sheet as a whole. Its parts matter only when they are
connected wrongly: a woofer that follows the data sheet upwards from its lower limit and rolls off
above the crossover, a tweeter that does the reverse, each behind its own crossover filter.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright.model import Point
from roomwright.rehearsal.faults import WaysFault

_F = NDArray[np.float64]
_C = NDArray[np.complex128]

#: Where a woofer rolls off by itself over the crossover, and a tweeter under it; 12 dB an octave.
_WOOFER_UP_TO, _TWEETER_FROM = 2.5, 0.4
#: How far a displaced unit stays from the walls, metres.
_FROM_WALL_M = 0.15
#: Part of the sampling rate up to which a damaged unit distorts, and how much finer it is computed:
#: harmonics then fold back from the 28th order on.
_DISTORTED_UP_TO, _OVERSAMPLING = 1.0 / 8.0, 4
#: Directions tried for a displaced unit.
_DIRECTIONS = 72


def ways_response(fault: WaysFault, crossover_hz: float, frequency_hz: _F) -> _C:
    """What wrongly connected ways make of a loudspeaker's response, (F,), to be multiplied with it.

    Parameters
    ----------
    fault
        Which way is missing, or that they are swapped.
    crossover_hz
        Of Linkwitz-Riley filters of the fourth order, whose sum is an all-pass.
    frequency_hz
        (F,) hertz.

    Notes
    -----
    With nothing wrong woofer and tweeter are taken to be flat through the crossover, so that this
    is the crossover's all-pass. A model chosen here, no source.
    """
    s = 1j * frequency_hz / crossover_hz
    butterworth = s**2 + np.sqrt(2.0) * s + 1.0
    to_woofer, to_tweeter = 1.0 / butterworth**2, s**4 / butterworth**2
    if fault == "no_tweeter":
        return np.asarray(to_woofer)
    if fault == "no_woofer":
        return np.asarray(to_tweeter)
    above, below = s / _WOOFER_UP_TO, s / _TWEETER_FROM
    woofer = 1.0 / (above**2 + np.sqrt(2.0) * above + 1.0)
    tweeter = below**2 / (below**2 + np.sqrt(2.0) * below + 1.0)
    return np.asarray(to_woofer * tweeter + to_tweeter * woofer)


def broken_distortion(drive: NDArray[np.float32], percent: float) -> NDArray[np.float32]:
    """What a damaged unit adds to its drive: a half-wave that is cut flat, (n,).

    The positive half-wave of a sine of the drive's peak loses `percent` of its amplitude at the
    crest, as of a coil that strikes; every order of harmonic is in it. What is cut shifts the mean:
    towards the highest frequency that is distorted it fades within an octave, so that the mean does
    not jump back with a thump. A model chosen here.
    """
    spectrum = fft.rfft(drive)
    kept = np.zeros_like(spectrum)
    last = round(drive.size * _DISTORTED_UP_TO)
    octave = np.log2(np.maximum(np.arange(last), 1) / last)
    taper = 0.5 - 0.5 * np.cos(np.pi * np.clip(-octave, 0.0, 1.0))
    kept[:last] = spectrum[:last] * taper.astype(np.float32)
    fine = fft.irfft(kept, _OVERSAMPLING * drive.size) * np.float32(_OVERSAMPLING)
    limit = np.float32(float(np.abs(fine).max()) * (1.0 - percent / 100.0))
    added = fft.rfft(np.minimum(fine, limit) - fine)[: spectrum.size] / np.float32(_OVERSAMPLING)
    return np.asarray(fft.irfft(added, drive.size), dtype=np.float32)


def elsewhere(
    position_m: Point, size_m: Point, distance_m: float, rng: np.random.Generator
) -> Point:
    """A place at `distance_m` from a position at the same height, well inside a box.

    Where no direction leaves that much room, the farthest that does is taken.
    """
    angles = rng.permutation(_DIRECTIONS) * (2.0 * np.pi / _DIRECTIONS)
    step = np.stack([np.cos(angles), np.sin(angles)], axis=1) * distance_m
    wanted = np.asarray(position_m[:2]) + step
    limits = np.asarray(size_m[:2]) - _FROM_WALL_M
    there = np.clip(wanted, _FROM_WALL_M, np.maximum(limits, _FROM_WALL_M))
    short = np.linalg.norm(there - wanted, axis=1)
    x, y = there[int(np.argmin(short))]
    return (float(x), float(y), position_m[2])
