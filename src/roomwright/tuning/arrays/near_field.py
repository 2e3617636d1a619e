"""What points close to an array hear of its single emitters: waves that die away."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import positive
from roomwright.tuning.arrays.emitters import Emitters
from roomwright.tuning.arrays.transverse_modes import transverse_modes

F = NDArray[np.float64]

#: Up to this no seat suffers: seen in random rooms, where all arrays below it stay below 0.2 dB2
#: from 25 to 100 Hz (`docs/bass_rooms.md`).
NEAR_FIELD_HARMLESS = 0.15
#: Modes of a higher cut-off have died away within a hand's breadth.
_HIGHEST_HZ = 1000.0


def near_field(array: Emitters, points_m: ArrayLike, frequency_hz: float, c: float = 343.0) -> F:
    """Pressure, re the plane wave, of the modes across that an array drives below their cut-off.

    A mode of wavenumber q across falls by exp(-s y) from its wall, s = sqrt(q^2 - k^2), and
    starts k / s times as strong as the wave that the same emitters launch. Both groups are taken
    as driven alike and added by their sizes; walls are rigid. A level of 0.1 changes what is heard
    by up to 0.9 dB.

    Parameters
    ----------
    array
        The emitters.
    points_m
        (P, 3), metres.
    frequency_hz
        Below 500 Hz; modes that travel there are not counted.
    c
        Speed of sound, m/s.

    Returns
    -------
    ndarray
        (P,), 0 and up.

    Raises
    ------
    InputError
        If a frequency or speed is not above 0.

    References
    ----------
    Morse and Ingard, Theoretical Acoustics, chapter 9 (from memory): waves below cut-off in a
    rigid duct.
    """
    points = np.asarray(points_m, dtype=np.float64).reshape(-1, 3)
    wavenumber = 2.0 * np.pi * positive(frequency_hz, "frequency_hz") / positive(c, "c")
    sides = np.array([array.size_m[axis] for axis in array.across])
    total = np.zeros(len(points))
    for launching in (True, False):
        modes = transverse_modes(array, launching=launching, highest_hz=_HIGHEST_HZ, c=c)
        kept = modes.cutoff_hz > frequency_hz
        index = modes.index[kept]
        fall = np.sqrt((2.0 * np.pi * modes.cutoff_hz[kept] / c) ** 2 - wavenumber**2)
        weight = np.prod(np.where(index > 0, 2.0, 1.0), axis=-1) * wavenumber / fall
        group = array.along_m(array.position_m[array.launches == launching])
        along = array.along_m(points)
        if not launching:
            group, along = array.travel_m - group, array.travel_m - along
        # An emitter and its mirror image in the wall, re the wave that both launch.
        way = np.abs(along[:, None] - group)[..., None], (along[:, None] + group)[..., None]
        died = sum(np.exp(-fall * one) for one in way) / (2.0 * np.cos(wavenumber * group[:, None]))
        heard = np.cos(np.pi * points[:, None, array.across] / sides * index).prod(axis=-1)
        driven = np.mean(modes.shape[:, kept] * died, axis=1)
        total += np.abs(np.sum(driven * heard * weight, axis=-1))
    return total
