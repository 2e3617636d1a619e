"""What is wanted of the bass, and what settings give: spread over points and level per drive."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright._checks import within
from roomwright.analysis import level_spread, mean_output_level_db, mean_spatial_variance_db2

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Added to squared pressures as a share of their mean: -120 dB, so that no sum is silent.
_FLOOR = 1e-12


@dataclass(frozen=True, slots=True)
class Weights:
    """What a decibel of level is worth, in squared decibels of spread.

    The score of settings is their spread in dB squared less `level` times their level per drive
    in dB; the least is the best. 0.3: three decibels more of output are worth a spread of one
    squared decibel (a choice of ours, no source).
    """

    level: float = 0.3

    def __post_init__(self) -> None:
        """Check that more level is not punished."""
        within(self.level, 0.0, 100.0, "the weight of the level")

    def score(self, spread_db2: F, level_db: F) -> F:
        """Score of settings, any shape."""
        return np.asarray(spread_db2 - self.level * level_db)


@dataclass(frozen=True, slots=True)
class Judged:
    """What settings give, each (...,).

    `spread_db2` is the mean over frequency of the variance of the level over points, `range_db`
    the mean of the highest less the lowest, `level_db` the mean level with the hardest driven
    source at gain 1 at every frequency, `level_per_drive_db` that less 20 lg of the number of
    sources: what each of them contributes.
    """

    spread_db2: F
    range_db: F
    level_db: F
    level_per_drive_db: F


def level_db(pressure: C) -> F:
    """Level of a pressure in dB, with a floor 120 dB under the mean so that none is infinite."""
    power = pressure.real**2 + pressure.imag**2
    mean = power.mean(axis=(-2, -1), keepdims=True)
    power += power.dtype.type(_FLOOR) * mean
    level: F = np.log10(power, out=power)
    level *= 10.0
    return level


def judged(response: C, gains: C) -> Judged:
    """What complex gains give at every point.

    Parameters
    ----------
    response
        (..., N, P, F), the field of the sources of a set.
    gains
        (..., N, F), the gain of each source.

    Notes
    -----
    Spread and level as Welti & Devantier, JAES 54(5), 2006 (from memory); the level is per drive,
    so that cancellation and unequal drive are paid for.
    """
    level = level_db(np.sum(gains[..., None, :] * response, axis=-3))
    drive = 20.0 * np.log10(np.abs(gains).max(axis=-2))
    mean = mean_output_level_db(level) - drive.mean(axis=-1)
    return Judged(
        spread_db2=mean_spatial_variance_db2(level),
        range_db=level_spread(level).range_db.mean(axis=-1),
        level_db=mean,
        level_per_drive_db=mean - 20.0 * np.log10(response.shape[-3]),
    )
