"""Noise rating (NR) of ISO/R 1996:1971: L = a + b NR in each octave.

The constants were transcribed from three public copies that agree; the document was not opened.
Some public codes shift the table by one octave; here the level at 1 kHz equals the rating itself.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright.standards.noise_rating import NoiseRating, known_octaves

#: Nominal octaves of the table, hertz.
NR_OCTAVES_HZ = (31.5, 63.0, 125.0, 250.0, 500.0, 1000.0, 2000.0, 4000.0, 8000.0)

_A = np.array([55.4, 35.5, 22.0, 12.0, 4.8, 0.0, -3.5, -6.1, -8.0])
_B = np.array([0.681, 0.790, 0.870, 0.930, 0.974, 1.000, 1.015, 1.025, 1.030])


def noise_rating_levels_db(rating: float) -> NDArray[np.float64]:
    """Octave levels (9,) of one NR curve at `NR_OCTAVES_HZ`, in dB re 20 uPa."""
    return _A + _B * rating


def noise_rating(levels_db: ArrayLike, octave_hz: ArrayLike = NR_OCTAVES_HZ) -> NoiseRating:
    """NR rating of a background noise, and the octave that governs it.

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
    levels, places = known_octaves(levels_db, octave_hz, NR_OCTAVES_HZ)
    ratings = (levels - _A[places]) / _B[places]
    governing = int(ratings.argmax())
    return NoiseRating(float(ratings[governing]), NR_OCTAVES_HZ[places[governing]])
