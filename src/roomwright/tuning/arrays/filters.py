"""The general design: one filter for each subwoofer, all of them together, for the whole wave."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.tuning.arrays.band import ControlBand
from roomwright.tuning.arrays.by_bin import solved_within
from roomwright.tuning.arrays.grid import Grid
from roomwright.tuning.arrays.in_time import TimeTask, solved_in_time_within
from roomwright.tuning.arrays.robustness import Normal, Uncertainty, normal_equations
from roomwright.tuning.arrays.time_terms import TimeTerms, time_weights

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Outside the band the effort is at least this share of its greatest, or filters would grow there.
_LEAST_EFFORT = 0.03
#: Finite filters are held this much below the limits, for what lies between the bins.
_LIMIT_MARGIN = 10.0 ** (-0.1 / 20.0)
#: And errors count a little even where the band has faded, so that filters fade with it.
_LEAST_SHARE = 1e-3


@dataclass(frozen=True, slots=True)
class FilterProblem:
    """What filters for S emitters are asked for at P points.

    `field` (S, P, bins); `wanted` (P, bins) with its delay; `travel_s` (P,) of the wave to each
    point and `delay_s` of the design before it; `weights` (P,), above 0; `limit` (bins, S) are the
    greatest drives.
    """

    grid: Grid
    band: ControlBand
    field: C
    wanted: C
    travel_s: F
    delay_s: float
    weights: F
    limit: F


def least_effort(normal: Normal, limit: F, effort_db: float) -> F:
    """Effort (bins, S) re the mean power of the emitters, over the square of their limits.

    The limits count re the greatest, so that an effort of -25 dB means just that for the emitter
    that can give most; one that can give half as much is charged four times.
    """
    power = np.trace(normal.gram, axis1=1, axis2=2).real / normal.gram.shape[-1]
    charged = np.maximum(power, _LEAST_EFFORT * power.max())
    effort = 10.0 ** (effort_db / 10.0) * charged[:, None] * (limit.max() / limit) ** 2
    return np.asarray(effort)


def expected_normal(problem: FilterProblem, uncertainty: Uncertainty) -> Normal:
    """Normal equations of the tracking term, bins weighted by how much the band is in control."""
    root = np.sqrt(_share(problem))
    return normal_equations(
        problem.field * root,
        problem.wanted * root,
        problem.weights / problem.weights.sum(),
        uncertainty,
        problem.grid,
        problem.travel_s,
    )


def filters_by_bin(problem: FilterProblem, uncertainty: Uncertainty, effort_db: float) -> C:
    """Drives (bins, S) with tracking, effort, expected errors and hard limits; endless in time."""
    normal = expected_normal(problem, uncertainty)
    effort = least_effort(normal, problem.limit, effort_db)
    return solved_within(normal, effort, problem.limit)


def filters_in_time(
    problem: FilterProblem, uncertainty: Uncertainty, effort_db: float, terms: TimeTerms
) -> tuple[F, int]:
    """Filters (S, taps) at the design's rate with every term, and the steps it took."""
    normal = expected_normal(problem, uncertainty)
    effort = least_effort(normal, problem.limit, effort_db)
    counts = np.sqrt(problem.weights / problem.weights.sum())[:, None]
    columns = np.moveaxis(problem.field * counts, -1, 0).swapaxes(1, 2)
    arrival = problem.delay_s + problem.travel_s
    task = TimeTask(
        grid=problem.grid,
        normal=normal,
        effort=effort,
        effort_outside=effort.max(axis=0),
        field=np.ascontiguousarray(columns),
        wanted=problem.wanted * counts,
        weights=time_weights(arrival, problem.grid, terms),
    )
    return solved_in_time_within(task, _LIMIT_MARGIN * problem.limit)


def _share(problem: FilterProblem) -> F:
    return np.maximum(problem.band.share(problem.grid.frequencies_hz), _LEAST_SHARE)
