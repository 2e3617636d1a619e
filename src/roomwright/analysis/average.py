"""Averages over stations, and how far stations differ."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._errors import InputError


@dataclass(frozen=True, slots=True)
class LevelSpread:
    """Spread of levels over stations at each frequency, shape (..., f).

    `mean_db` is the mean of the levels in dB, `deviation_db` their standard deviation
    (population), `range_db` the highest less the lowest.
    """

    mean_db: NDArray[np.float64]
    deviation_db: NDArray[np.float64]
    range_db: NDArray[np.float64]


def power_average(response: ArrayLike, weights: ArrayLike | None = None) -> NDArray[np.float64]:
    """Mean power over stations.

    Parameters
    ----------
    response
        Real or complex responses, shape (..., stations, f).
    weights
        One weight per station, shape (stations,), not negative; None weighs all alike.

    Returns
    -------
    Mean of the squared magnitude, shape (..., f).

    Raises
    ------
    InputError
        If the weights do not fit the stations, or add up to nothing.
    """
    given = np.asarray(response)
    if given.ndim < 2 or given.shape[-2] < 1:
        raise InputError(
            f"an average over stations needs (stations, frequencies) last; the shape is "
            f"{given.shape}"
        )
    stations = given.shape[-2]
    share = np.ones(stations) if weights is None else np.asarray(weights, dtype=np.float64)
    if share.shape != (stations,) or share.min() < 0 or share.sum() <= 0:
        raise InputError(
            f"weights of shape {share.shape} do not fit {stations} stations; "
            "each station needs one, none negative and not all zero"
        )
    mean: NDArray[np.float64] = np.einsum(
        "p,...pf->...f", share / share.sum(), np.abs(given) ** 2, dtype=np.float64
    )
    return mean


def level_spread(level_db: ArrayLike) -> LevelSpread:
    """How levels differ over stations, at each frequency.

    Parameters
    ----------
    level_db
        Shape (..., stations, f).
    """
    level = np.asarray(level_db, dtype=np.float64)
    return LevelSpread(level.mean(axis=-2), level.std(axis=-2), np.ptp(level, axis=-2))


def mean_spatial_variance_db2(level_db: ArrayLike) -> NDArray[np.float64]:
    """Mean over frequency of the variance of the level over stations, dB squared.

    Population variance, so that one station has none (Welti & Devantier, JAES 54(5), 2006,
    definition from memory).

    Parameters
    ----------
    level_db
        Shape (..., stations, f), best on frequencies in equal steps of log frequency.

    Returns
    -------
    Shape (...).
    """
    variance = np.asarray(level_db, dtype=np.float64).var(axis=-2)
    mean: NDArray[np.float64] = variance.mean(axis=-1)
    return mean


def mean_output_level_db(level_db: ArrayLike) -> NDArray[np.float64]:
    """Mean over stations and frequency of the level, dB, shape (...) (Welti & Devantier 2006)."""
    mean: NDArray[np.float64] = np.asarray(level_db, dtype=np.float64).mean(axis=(-2, -1))
    return mean
