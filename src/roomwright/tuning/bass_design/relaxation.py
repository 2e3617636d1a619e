"""A bound on how well any N of the sources can do, from sources switched on by fractions.

The least cost of a set with free gains and ridge mu is t^H (1 + sum_s z_s a_s a_s^H / mu)^-1 t
with z_s = 1 for its sources and 0 for the others. That is convex in z, so its minimum over
0 <= z_s <= 1, sum z_s = N bounds every set from below, and so does any tangent on the way there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

F = NDArray[np.float64]
C = NDArray[np.complex128]


def least_cost_bound(response: C, target: C, mu: F, count: int, rounds: int = 60) -> float:
    """Bound from below on `best_gain_costs` over all sets of `count` sources.

    Parameters
    ----------
    response
        (S, P, F), the field of all sources.
    target
        (P, F), the pressure aimed for.
    mu
        (F,), the ridge.
    count
        Sources in a set.
    rounds
        Steps of the minimisation; each gives a valid bound, the best is returned.

    References
    ----------
    The convex form of sparse ridge regression: Bertsimas & Van Parys, Annals of Statistics 48,
    2020 (from memory); Frank-Wolfe steps.
    """
    field = np.moveaxis(response, 2, 0) / np.sqrt(mu)[:, None, None]
    aim = (target / np.linalg.norm(target, axis=0)).T
    share = np.full(response.shape[0], count / response.shape[0])
    bound = 0.0
    for step in range(rounds):
        cost, slope = _tangent(field, aim, share)
        corner = np.zeros_like(share)
        corner[np.argsort(slope)[:count]] = 1.0
        bound = max(bound, cost + float(slope @ (corner - share)))
        share += (corner - share) * 2.0 / (step + 3.0)
    return bound


def _tangent(field: C, aim: C, share: F) -> tuple[float, F]:
    """The cost at fractions (S,), the mean over frequency, and its slope (S,)."""
    matrix = np.eye(aim.shape[1]) + (field * share[:, None]).swapaxes(1, 2) @ field.conj()
    solved = np.linalg.solve(matrix, aim[..., None])[..., 0]
    cost = float(np.mean(np.sum(aim.conj() * solved, axis=1).real))
    along = np.einsum("fsp,fp->fs", field.conj(), solved)
    return cost, -np.mean(np.abs(along) ** 2, axis=0)
