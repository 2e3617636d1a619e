"""Resonances of a rigid box, their number, and where they give way to statistics."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import positive
from roomwright.acoustics._box import box_size
from roomwright.model import Point

_KINDS = np.array(["uniform", "axial", "tangential", "oblique"])


@dataclass(frozen=True, slots=True)
class Modes:
    """Modes in rising order of frequency.

    `frequency_hz` is (n,), `index` (n, 3) the number of half waves along x, y and z, `kind`
    (n,) one of 'axial', 'tangential', 'oblique'.
    """

    frequency_hz: NDArray[np.float64]
    index: NDArray[np.int64]
    kind: NDArray[np.str_]


def box_modes(size_m: Point, max_hz: float, c: float = 343.0) -> Modes:
    """Modes of a rigid box up to a frequency, without the uniform (0, 0, 0).

    Parameters
    ----------
    size_m
        (Lx, Ly, Lz), metres.
    max_hz
        Highest frequency, included.
    c
        Speed of sound, m/s.

    Raises
    ------
    InputError
        If a size, `max_hz` or `c` is not positive.

    References
    ----------
    Kuttruff, Room Acoustics, chapter 3: f = (c/2) sqrt((i/Lx)^2 + (j/Ly)^2 + (k/Lz)^2).
    """
    size = box_size(size_m)
    limit = positive(max_hz, "max_hz")
    step_hz = positive(c, "c") / (2.0 * size)
    counts = [int(limit / step) + 1 for step in step_hz]
    index = np.indices(counts).reshape(3, -1).T.astype(np.int64)
    frequency = np.sqrt(np.sum((index * step_hz) ** 2, axis=-1))
    wanted = np.flatnonzero((frequency > 0) & (frequency <= limit))
    wanted = wanted[np.argsort(frequency[wanted], kind="stable")]
    kind = _KINDS[np.count_nonzero(index[wanted], axis=-1)]
    return Modes(frequency[wanted], index[wanted], kind)


def mode_count(size_m: Point, frequency_hz: ArrayLike, c: float = 343.0) -> NDArray[np.float64]:
    """Expected number of modes of a rigid box below each frequency.

    Parameters
    ----------
    size_m
        (Lx, Ly, Lz), metres.
    frequency_hz
        Frequencies, any shape.
    c
        Speed of sound, m/s.

    Returns
    -------
    ndarray
        Same shape as `frequency_hz`; a smooth estimate, not a whole number.

    Raises
    ------
    InputError
        If a size or `c` is not positive.

    References
    ----------
    Kuttruff, Room Acoustics, chapter 3; Bolt and Maa:
    4 pi V f^3 / (3 c^3) + pi S f^2 / (4 c^2) + L f / (8 c), L the length of all edges.
    """
    size = box_size(size_m)
    per_metre = np.asarray(frequency_hz, dtype=np.float64) / positive(c, "c")
    volume = np.prod(size)
    surface = 2.0 * (size[0] * size[1] + size[1] * size[2] + size[2] * size[0])
    edges = 4.0 * np.sum(size)
    return np.asarray(
        4.0 * np.pi / 3.0 * volume * per_metre**3
        + np.pi / 4.0 * surface * per_metre**2
        + edges / 8.0 * per_metre
    )


def schroeder_frequency_hz(reverberation_time_s: float, volume_m3: float) -> float:
    """Frequency above which modes overlap at least threefold, 2000 sqrt(T / V).

    Raises
    ------
    InputError
        If the time or the volume is not positive.

    References
    ----------
    Schroeder, JASA 99(5), 1996 (from memory).
    """
    time_s = positive(reverberation_time_s, "reverberation_time_s")
    return float(2000.0 * np.sqrt(time_s / positive(volume_m3, "volume_m3")))
