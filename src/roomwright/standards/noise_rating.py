"""What every noise rating shares: octave levels at nominal bands, and the result."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._errors import InputError


class NoiseRating(NamedTuple):
    """A rating, and the octave (nominal hertz) that decides it.

    `governing_hz` is None where the mean of several octaves decides.
    """

    value: float
    governing_hz: float | None


def known_octaves(
    levels_db: ArrayLike, octave_hz: ArrayLike, table_hz: tuple[float, ...]
) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Levels that are known and lie in a rating's table, and their places in the table.

    Exact midbands are taken as the nominal ones (63.096 as 63); levels that are NaN and octaves
    that the table does not have are left out.

    Raises
    ------
    InputError
        If levels and octaves differ in number, or nothing is left.
    """
    levels = np.asarray(levels_db, dtype=np.float64)
    octaves = np.asarray(octave_hz, dtype=np.float64)
    if levels.shape != octaves.shape or levels.ndim != 1:
        raise InputError(
            f"a noise rating needs one level for each octave; got {levels.size} levels "
            f"for {octaves.size} octaves"
        )
    distance = np.abs(np.log2(octaves[:, None] / np.asarray(table_hz)))
    usable = np.isfinite(levels) & (distance.min(axis=1) < 0.1)
    if not usable.any():
        raise InputError("a noise rating needs the level of at least one octave of its table")
    return levels[usable], distance.argmin(axis=1)[usable]
