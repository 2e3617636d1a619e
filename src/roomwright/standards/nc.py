"""Noise criterion (NC) curves and rating of ANSI/ASA S12.2-2019.

The table was transcribed from a public library's copy of Table 1; the standard was not opened.
Other editions differ by 1 dB in several cells: state `EDITION` with every rating.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright.standards.noise_rating import NoiseRating, known_octaves

EDITION = "ANSI/ASA S12.2-2019"

#: Nominal octaves of the table, hertz.
NC_OCTAVES_HZ = (16.0, 31.5, 63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)

_RATINGS = np.arange(15.0, 71.0, 5.0)
_LEVELS_DB = np.array(
    [
        [78, 61, 47, 36, 28, 22, 18, 14, 12, 11],
        [79, 63, 50, 40, 33, 26, 22, 20, 17, 16],
        [80, 65, 54, 44, 37, 31, 27, 24, 22, 22],
        [81, 68, 57, 48, 41, 35, 32, 29, 28, 27],
        [82, 71, 60, 52, 45, 40, 36, 34, 33, 32],
        [84, 74, 64, 56, 50, 44, 41, 39, 38, 37],
        [85, 76, 67, 60, 54, 49, 46, 44, 43, 42],
        [87, 79, 71, 64, 58, 54, 51, 49, 48, 47],
        [89, 82, 74, 67, 62, 58, 56, 54, 53, 52],
        [90, 85, 77, 71, 66, 63, 60, 59, 58, 57],
        [90, 88, 80, 75, 71, 68, 65, 64, 63, 62],
        [90, 90, 84, 79, 75, 72, 71, 70, 68, 68],
    ],
    dtype=np.float64,
)
_SPEECH = slice(5, 9)


def _through(x: float, xs: NDArray[np.float64], ys: NDArray[np.float64]) -> float:
    """Straight lines through the points, the first and last going on beyond the ends."""
    place = int(np.clip(np.searchsorted(xs, x) - 1, 0, len(xs) - 2))
    slope = (ys[place + 1] - ys[place]) / (xs[place + 1] - xs[place])
    return float(ys[place] + slope * (x - xs[place]))


def noise_criterion_levels_db(rating: float) -> NDArray[np.float64]:
    """Octave levels (10,) of one NC curve at `NC_OCTAVES_HZ`, in dB re 20 uPa.

    Between the curves of the table and beyond its ends (NC-15, NC-70) straight lines through the
    neighbouring curves: our own extension, the standard prints multiples of 5 only.
    """
    return np.array([_through(rating, _RATINGS, column) for column in _LEVELS_DB.T])


def _touching(level_db: float, octave: int) -> float:
    """Lowest rating whose curve reaches a level in one octave of the table."""
    levels, first = np.unique(_LEVELS_DB[:, octave], return_index=True)
    return _through(level_db, levels, _RATINGS[first])


def noise_criterion(levels_db: ArrayLike, octave_hz: ArrayLike = NC_OCTAVES_HZ) -> NoiseRating:
    """NC rating of a background noise, and the octave that governs it.

    The mean of the 500 Hz to 4 kHz octaves (speech interference level) selects a curve; if no
    octave exceeds it the rating is that mean, else it is that of the highest curve touched,
    interpolated. If one of those four octaves is unknown the rating is by touching alone.

    Parameters
    ----------
    levels_db
        Octave-band levels (b,), dB re 20 uPa; NaN where unknown.
    octave_hz
        Midbands (b,) in hertz, exact or nominal; others than the table's are left out.

    Raises
    ------
    InputError
        If there is not one level for each octave, or no usable one.
    """
    levels, places = known_octaves(levels_db, octave_hz, NC_OCTAVES_HZ)
    touching = np.array(
        [_touching(level, place) for level, place in zip(levels, places, strict=True)]
    )
    governing = int(touching.argmax())
    by_touching = NoiseRating(float(touching[governing]), NC_OCTAVES_HZ[places[governing]])
    speech = np.isin(places, np.arange(10)[_SPEECH])
    if speech.sum() < 4:
        return by_touching
    mean_db = float(levels[speech].mean())
    exceeds = levels > noise_criterion_levels_db(mean_db)[places] + 1e-9
    return by_touching if exceeds.any() else NoiseRating(mean_db, None)
