"""Settings of many sets at once, improved together by damped Gauss-Newton steps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from roomwright.tuning.bass_design.judging import level_db

F = NDArray[np.float64]
#: Complex, in single precision for a search, in double otherwise.
C = NDArray[Any]

_DB_PER_NEPER = 20.0 / np.log(10.0)

#: Damping to start with, and beyond which a set is given up.
_FIRST_DAMPING, _STIFFEST = 1e-2, 1e6


class Chain(Protocol):
    """What each source's signal passes, by parameters (B, N, K) of B sets of N sources."""

    @property
    def lower(self) -> F:
        """Least parameters, (K,)."""

    @property
    def upper(self) -> F:
        """Greatest parameters, (K,)."""

    def gains(self, parameters: F) -> C:
        """Complex gains (B, N, F)."""

    def slopes(self, parameters: F) -> C:
        """Derivatives of the logarithm of the gains by the parameters, (B, N, K, F)."""


@dataclass(frozen=True, slots=True)
class Reached:
    """Parameters (B, N, K) and their cost (B,): spread less the weighted level per drive."""

    parameters: F
    cost: F


def descend(response: C, chain: Chain, start: F, level_weight: float, rounds: int) -> Reached:
    """Parameters with less spread over points, and not less level, than those to start with.

    Parameters
    ----------
    response
        (B, N, P, F), the fields of B sets of N sources.
    chain
        What each source's signal passes; its bounds are kept.
    start
        (B, N, K), parameters within the bounds.
    level_weight
        Squared decibels of spread that a decibel of the mean level is worth.
    rounds
        Steps at most.

    Returns
    -------
    Reached
        Never worse than the start.
    """
    parameters = np.clip(start, chain.lower, chain.upper)
    cost = costs(response, chain.gains(parameters), level_weight)
    damping: F = np.full(cost.shape, _FIRST_DAMPING)
    for _ in range(rounds):
        gradient, matrix = _normal(response, chain, parameters, level_weight)
        step = _damped_step(gradient, matrix, damping, _leaning(chain, parameters, gradient))
        trial = np.clip(parameters + step.reshape(parameters.shape), chain.lower, chain.upper)
        there = costs(response, chain.gains(trial), level_weight)
        better = there < cost
        parameters = np.where(better[:, None, None], trial, parameters)
        cost = np.where(better, there, cost)
        damping = np.where(better, np.maximum(damping / 5, 1e-9), damping * 4)
        if np.all(damping > _STIFFEST):
            break
    return Reached(parameters, cost)


def costs(response: C, gains: C, level_weight: float) -> F:
    """Spread less the weighted level per drive, (B,): the score of `Weights`."""
    drive = _DB_PER_NEPER * np.log(np.abs(gains)).max(axis=1).mean(axis=-1)
    cost: F = cost_of(level_db(summed(response, gains)), level_weight) + level_weight * drive
    return cost


def summed(response: C, gains: C) -> C:
    """Pressure (B, P, F) of sources (B, N, P, F) with gains (B, N, F)."""
    gains = gains.astype(response.dtype)
    total: C = response[:, 0] * gains[:, 0, None]
    for source in range(1, response.shape[1]):
        total += response[:, source] * gains[:, source, None]
    return total


def cost_of(level: F, level_weight: float) -> F:
    """Spread less the weighted mean level of levels (B, P, F), (B,)."""
    mean = level.mean(axis=1)
    spread = np.einsum("bpf,bpf->b", level, level) / level[0].size - np.mean(mean**2, axis=-1)
    return np.asarray(spread - level_weight * mean.mean(axis=-1), dtype=np.float64)


def _normal(response: C, chain: Chain, parameters: F, level_weight: float) -> tuple[F, F]:
    """Half the gradient (B, NK) and the Gauss-Newton matrix (B, NK, NK) of the cost."""
    gains = chain.gains(parameters)
    slopes = chain.slopes(parameters).astype(response.dtype)
    pressure = summed(response, gains)
    level = level_db(pressure)
    inverse = pressure.conj() / (pressure.real**2 + pressure.imag**2 + np.float32(1e-30))
    shares = response * gains.astype(response.dtype)[:, :, None] * inverse[:, None]
    # d level / d parameter, (B, N, K, P, F).
    steps: NDArray[Any] = (shares[:, :, None] * slopes[:, :, :, None]).real * np.float32(
        _DB_PER_NEPER
    )
    upward = steps.mean(axis=(-2, -1), dtype=np.float64).reshape(len(parameters), -1)
    steps -= steps.mean(axis=-2, keepdims=True)
    flat = steps.reshape(len(parameters), upward.shape[1], -1)
    off = (level - level.mean(axis=1, keepdims=True)).reshape(len(parameters), -1, 1)
    points = off.shape[1]
    gradient = (flat @ off.astype(flat.dtype))[..., 0].astype(np.float64) / points
    matrix = (flat @ flat.swapaxes(1, 2)).astype(np.float64) / points
    # The level is per drive of the source that is driven hardest, at each frequency.
    hardest = np.argmax(np.abs(gains), axis=1)[:, None] == np.arange(gains.shape[1])[:, None]
    driven = np.mean(slopes.real * hardest[:, :, None], axis=-1).reshape(upward.shape)
    upward = upward - _DB_PER_NEPER * driven
    return gradient - 0.5 * level_weight * upward, matrix


def _leaning(chain: Chain, parameters: F, gradient: F) -> NDArray[np.bool_]:
    """Parameters (B, NK) that lean on a bound and are pushed out: they stay there."""
    push = gradient.reshape(parameters.shape)
    held = ((parameters <= chain.lower) & (push > 0)) | ((parameters >= chain.upper) & (push < 0))
    return np.asarray(held.reshape(gradient.shape))


def _damped_step(gradient: F, matrix: F, damping: F, held: NDArray[np.bool_]) -> F:
    """Step (B, NK) of a problem whose held parameters do not move."""
    diagonal = np.einsum("bii->bi", matrix)
    ridge = damping[:, None] * (diagonal + 1e-3 * diagonal.mean(axis=1, keepdims=True) + 1e-9)
    free = ~held
    damped = matrix * (free[:, :, None] & free[:, None, :])
    damped[:, range(held.shape[1]), range(held.shape[1])] += np.where(held, 1.0, ridge)
    return np.asarray(np.linalg.solve(damped, -(gradient * free)[..., None])[..., 0])
