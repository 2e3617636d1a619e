"""Peaking biquads fitted to a wanted correction: greedy start, then joint least squares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.model import Biquad
from roomwright.tuning.peaking import peaking_levels_db
from roomwright.tuning.refinement import Problem, refine
from roomwright.tuning.wanted import FitLimits, Wanted

F = NDArray[np.float64]

#: Starting Qs tried for each centre frequency.
_TRIAL_QS = 7

#: A filter is dropped if the others do nearly as well: this much worse, and as bad again as
#: leaving the least gain worth a filter at this many points.
_NO_WORSE = 0.02
_POINTS_LEFT = 5.0

#: Only these are tried for it: filters with a shape that another has too, or of little gain.
_ALIKE = 0.9
_LITTLE_DB = 1.0


def fit_biquads(
    wanted: Wanted,
    limits: FitLimits,
    count: int,
    sampling_rate_hz: float,
    *,
    least_gain_db: float = 0.3,
    effort: float = 0.0,
) -> tuple[Biquad, ...]:
    """At most `count` peaking filters whose summed level comes closest to the wanted one.

    Each filter is started where one more filter explains most of what is left (a matching
    pursuit over centre frequency and Q), then all are refitted together by a bounded
    Levenberg-Marquardt iteration in (ln f, dB, ln Q) with the exact derivatives. It stops early
    when the best further filter has less than `least_gain_db`. The result is sorted by frequency.

    Parameters
    ----------
    wanted
        The correction on its grid.
    limits
        What each filter may be.
    count
        The largest number of filters.
    sampling_rate_hz
        The rate at which the filters will run, in hertz.
    least_gain_db
        Smallest gain worth a filter, in decibels.
    effort
        What each decibel of a filter's gain costs, in squared decibels of misfit at one point.
        Above 0, filters that work against each other are avoided; the fit is no longer exact.

    Returns
    -------
    tuple of Biquad
        The filters, each within `limits`; their sum respects ceiling and floor only softly
        (`hold_within` makes it strict).

    Notes
    -----
    Filters after R. Bristow-Johnson, Audio EQ Cookbook (W3C Note 2021); Levenberg-Marquardt from
    memory; the greedy start is what makes the exact solution reachable (common practice).
    """
    omega = 2 * np.pi * wanted.frequency_hz / sampling_rate_hz
    trials = _trials(wanted, limits, omega, sampling_rate_hz)
    problem = Problem(wanted, omega, sampling_rate_hz, limits.maximum_boost_db, effort)
    parameters = np.empty((0, 3))
    lower, upper = np.empty((0, 3)), np.empty((0, 3))
    for _ in range(count):
        levels = peaking_levels_db(parameters, omega, sampling_rate_hz)
        room_db = np.maximum(limits.maximum_boost_db - np.maximum(levels, 0.0).sum(axis=0), 0.0)
        start = trials.best(wanted.level_db - levels.sum(axis=0), wanted.weight, room_db)
        if abs(start[1]) < least_gain_db:
            break
        low, high = _bounds(start, limits)
        parameters = np.vstack([parameters, np.clip(start, low, high)])
        lower, upper = np.vstack([lower, low]), np.vstack([upper, high])
        parameters = refine(problem, parameters, lower, upper, rounds=8)
    parameters = refine(problem, parameters, lower, upper, rounds=200)
    parameters = _without_idle(problem, parameters, lower, upper, _POINTS_LEFT * least_gain_db**2)
    return tuple(
        Biquad(kind="peaking", frequency_hz=f, gain_db=g, q=q)
        for f, g, q in sorted(
            (float(np.exp(p[0])), float(p[1]), float(np.exp(p[2]))) for p in parameters
        )
        if g != 0
    )


@dataclass(frozen=True, slots=True)
class _Trials:
    """Starting filters (T), where on the grid they stand, and what one decibel gives (T, F)."""

    parameters: F
    at: NDArray[np.intp]
    shapes: F
    largest_boost_db: F
    largest_cut_db: float

    def best(self, left_db: F, weight: F, room_db: F) -> F:
        """The (ln f, dB, ln Q) of the trial that removes most of the weighted square.

        It boosts by no more than the boosts there are leave room for at its centre.
        """
        along = self.shapes @ (weight * left_db)
        energy = self.shapes**2 @ weight + 1e-12
        boost = np.minimum(self.largest_boost_db, room_db[self.at])
        gain = np.clip(along / energy, -self.largest_cut_db, boost)
        index = int(np.argmax(gain * (2 * along - gain * energy)))
        return np.array([self.parameters[index, 0], gain[index], self.parameters[index, 2]])


def _trials(wanted: Wanted, limits: FitLimits, omega: F, sampling_rate_hz: float) -> _Trials:
    f = wanted.frequency_hz
    centres = f[(f >= limits.lowest_hz) & (f <= limits.highest_hz)]
    if not centres.size:
        centres = np.array([np.sqrt(limits.lowest_hz * limits.highest_hz)])
    highest = max(limits.maximum_q, limits.maximum_q_above, limits.minimum_q)
    qs = np.geomspace(limits.minimum_q, highest, _TRIAL_QS)
    frequency, q = (grid.ravel() for grid in np.meshgrid(centres, qs, indexing="ij"))
    allowed = q <= limits.highest_q(frequency, boost=False) * (1 + 1e-9)
    frequency, q = frequency[allowed], q[allowed]
    # 3 dB: between the shapes of small and of large gains.
    parameters = np.column_stack([np.log(frequency), np.full(q.size, 3.0), np.log(q)])
    may_boost = q <= limits.highest_q(frequency, boost=True) * (1 + 1e-9)
    return _Trials(
        parameters,
        np.searchsorted(f, frequency).clip(0, f.size - 1),
        peaking_levels_db(parameters, omega, sampling_rate_hz) / 3.0,
        np.where(may_boost, limits.maximum_boost_db, 0.0),
        limits.maximum_cut_db,
    )


def _bounds(start: F, limits: FitLimits) -> tuple[F, F]:
    """Bounds of one filter: it keeps its sign and its side of the transition."""
    frequency, boost = np.exp(start[0]), start[1] > 0
    below = frequency <= limits.transition_hz
    low_hz = limits.lowest_hz if below else max(limits.lowest_hz, limits.transition_hz)
    high_hz = min(limits.highest_hz, limits.transition_hz) if below else limits.highest_hz
    q = float(limits.highest_q(np.array(frequency), boost=bool(boost)))
    gains = (0.0, limits.maximum_boost_db) if boost else (-limits.maximum_cut_db, 0.0)
    return (
        np.array([np.log(low_hz), gains[0], np.log(limits.minimum_q)]),
        np.array([np.log(high_hz), gains[1], np.log(q)]),
    )


def _without_idle(problem: Problem, parameters: F, lower: F, upper: F, spare: float) -> F:
    """The filters less those that the others, refitted, can do without."""
    row = 0
    while row < len(parameters):
        cost, _ = problem.cost(parameters)
        if not _may_be_idle(parameters, problem)[row]:
            row += 1
            continue
        rest, low, high = (np.delete(of, row, axis=0) for of in (parameters, lower, upper))
        rest = refine(problem, rest, low, high, rounds=30)
        if problem.cost(rest)[0] <= (1 + _NO_WORSE) * cost + spare:
            parameters, lower, upper, row = rest, low, high, 0
        else:
            row += 1
    return parameters


def _may_be_idle(parameters: F, problem: Problem) -> NDArray[np.bool_]:
    """Filters (n,) of little gain, or whose shape another one nearly has."""
    shapes = peaking_levels_db(parameters, problem.omega, problem.sampling_rate_hz)
    shapes /= np.linalg.norm(shapes, axis=1, keepdims=True) + 1e-12
    alike = np.abs(shapes @ shapes.T) - np.eye(len(shapes))
    return np.asarray((alike.max(axis=1) > _ALIKE) | (np.abs(parameters[:, 1]) < _LITTLE_DB))
