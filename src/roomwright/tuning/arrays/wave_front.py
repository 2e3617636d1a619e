"""The wave's front in a box whose opposite walls absorb unlike: it leans, and so must the array."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import finite, positive
from roomwright._errors import InputError
from roomwright.tuning.arrays.emitters import Emitters

F = NDArray[np.float64]


def front_delays_s(array: Emitters, admittance: ArrayLike, c: float = 343.0) -> F:
    """How much later the wave passes each emitter than the earliest one of its wall, (S,).

    Between walls of small admittances b1 at 0 and b2 at W the plane wave becomes
    1 + j k (b1 x - (b1 + b2) x^2 / 2W): as loud everywhere, and later nearer to the wall that
    absorbs more, by the same time at every frequency. Emitters that are late likewise launch and
    absorb that wave and drive no other; emitters in step drive the first mode across by some
    k W (b1 - b2) / 4, which a room with a long decay then shows.

    Parameters
    ----------
    array
        The subwoofers.
    admittance
        (6,) real specific admittances in the order of `Room.box_surfaces`, 0 to 1.
    c
        Speed of sound, m/s.

    Raises
    ------
    InputError
        If there are not six, or one is outside 0 to 1.

    Notes
    -----
    First order in the admittances, from X'' = -j k (b1 + b2) X / W with X' = j k b1 X at 0 and
    -j k b2 X at W (Morse and Ingard, Theoretical Acoustics, chapter 9, from memory, for locally
    reacting walls of ducts).
    """
    beta = six_walls(admittance)
    ahead_m = np.zeros(len(array.names))
    for axis in array.across:
        near, far = beta[2 * axis : 2 * axis + 2]
        place = array.position_m[:, axis]
        ahead_m += near * place - (near + far) * place**2 / (2.0 * array.size_m[axis])
    return np.asarray((ahead_m.max() - ahead_m) / positive(c, "c"))


def six_walls(admittance: ArrayLike) -> F:
    """Admittances (6,), checked; `InputError` if there are not six, or one is outside 0 to 1."""
    beta = finite(np.asarray(admittance, dtype=np.float64), "admittance")
    if beta.shape != (6,) or beta.min() < 0 or beta.max() > 1:
        raise InputError(f"admittance must hold six numbers from 0 to 1; got {beta.tolist()}")
    return beta
