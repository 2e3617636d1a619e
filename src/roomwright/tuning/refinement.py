"""The joint least-squares refinement of peaking filters within bounds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.tuning.peaking import peaking_derivatives, peaking_levels_db
from roomwright.tuning.wanted import Wanted

F = NDArray[np.float64]

#: How heavily a squared decibel above the ceiling or below the floor counts against one of misfit.
_LIMIT_WEIGHT = 16.0

#: Below this gain the effort bends from the gain itself to its square, so that it has a slope at 0.
_BEND_DB = 0.1

#: The iteration ends when a step gains less than this share, unless the misfit is nearly 0, or
#: when this much damping does not help.
_SMALLEST_GAIN = 1e-7
_SOLVED = 1e-18
_STIFFEST = 1e8


@dataclass(frozen=True, slots=True)
class Problem:
    """The least-squares problem in the parameters (n, 3) of the filters.

    Its cost is the weighted squared misfit, the squared excess over ceiling and floor and of the
    boosts alone over the largest boost, and the effort: proportional to the gains themselves,
    since their squares would reward splitting one filter into several.
    """

    wanted: Wanted
    omega: F
    sampling_rate_hz: float
    largest_boost_db: float
    effort: float

    def cost(self, parameters: F) -> tuple[float, F]:
        """The cost, and the level (n, F) of each filter."""
        levels = peaking_levels_db(parameters, self.omega, self.sampling_rate_hz)
        misfit, outside, stacked = self._errors(levels)
        cost = (
            self.wanted.weight @ misfit**2
            + _LIMIT_WEIGHT * (outside @ outside + stacked @ stacked)
            + self.effort * _size_db(parameters[:, 1]).sum()
        )
        return float(cost), levels

    def normal(self, parameters: F, levels: F) -> tuple[F, F]:
        """Half the cost's gradient (3n,) and its Gauss-Newton matrix (3n, 3n)."""
        weight = self.wanted.weight
        slope = peaking_derivatives(parameters, self.omega, self.sampling_rate_hz)
        slope = slope.reshape(parameters.size, -1)
        boosts = slope * np.repeat(parameters[:, 1] > 0, 3)[:, None]
        misfit, outside, stacked = self._errors(levels)
        gradient = slope @ (weight * misfit + _LIMIT_WEIGHT * outside)
        gradient += boosts @ (_LIMIT_WEIGHT * stacked)
        matrix = (slope * (weight + _LIMIT_WEIGHT * (outside != 0))) @ slope.T
        matrix += (boosts * (_LIMIT_WEIGHT * (stacked != 0))) @ boosts.T
        gains, size = np.arange(len(parameters)) * 3 + 1, _size_db(parameters[:, 1])
        gradient[gains] += self.effort * parameters[:, 1] / (2 * size)
        matrix[gains, gains] += self.effort * parameters[:, 1] ** 2 / (4 * size**3)
        return gradient, matrix

    def _errors(self, levels: F) -> tuple[F, F, F]:
        """Misfit, excess over ceiling or floor, and excess of the boosts alone, each (F,)."""
        wanted, total = self.wanted, levels.sum(axis=0)
        outside = total - np.clip(total, wanted.floor_db, wanted.ceiling_db)
        stacked = np.maximum(np.maximum(levels, 0.0).sum(axis=0) - self.largest_boost_db, 0.0)
        return total - wanted.level_db, outside, stacked


def _size_db(gain_db: F) -> F:
    """Size of gains, rounded off at 0 where it would have no slope."""
    return np.asarray(np.sqrt(gain_db**2 + _BEND_DB**2))


def refine(problem: Problem, parameters: F, lower: F, upper: F, *, rounds: int) -> F:
    """Levenberg-Marquardt steps, each clipped to the bounds, until they no longer help."""
    if not parameters.size:
        return parameters
    (cost, levels), damping = problem.cost(parameters), 1e-3
    for _ in range(rounds):
        gradient, matrix = problem.normal(parameters, levels)
        free = _free(parameters, lower, upper, gradient)
        if not free.any():
            break
        while True:
            step = np.zeros(parameters.size)
            step[free] = _damped_step(matrix[np.ix_(free, free)], gradient[free], damping)
            trial = np.clip(parameters + step.reshape(parameters.shape), lower, upper)
            cost_there, levels_there = problem.cost(trial)
            if cost_there < cost or damping > _STIFFEST:
                break
            damping *= 8
        if cost_there >= cost:
            break
        gained = (cost - cost_there) / cost
        parameters, levels, cost = trial, levels_there, cost_there
        damping = max(damping / 12, 1e-12)
        if gained < _SMALLEST_GAIN and cost > _SOLVED:
            break
    return parameters


def _free(parameters: F, lower: F, upper: F, gradient: F) -> NDArray[np.bool_]:
    """Parameters that may move: those that lean on a bound and are pushed out stay there."""
    flat = parameters.ravel()
    leaving = ((flat <= lower.ravel()) & (gradient > 0)) | (
        (flat >= upper.ravel()) & (gradient < 0)
    )
    return ~leaving


def _damped_step(normal: F, gradient: F, damping: float) -> F:
    damped = normal + np.diag(damping * (np.diagonal(normal) + 1e-9))
    return np.asarray(np.linalg.solve(damped, -gradient))
