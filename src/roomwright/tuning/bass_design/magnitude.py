"""Free complex gains for one level at every point, whatever the phase: magnitude least squares."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roomwright._checks import positive

F = NDArray[np.float64]
C = NDArray[np.complex128]


def magnitude_gains(
    response: C, regularisation: float = 1e-2, rounds: int = 30, magnitude: F | None = None
) -> C:
    """Gains, free at every frequency, whose pressure has the wanted magnitude at the points.

    The bound that simpler processing is compared with. The phase of the target is exchanged for
    that of the pressure reached and the least squares solved anew, from several starts: the
    pressure of all sources together and of each one alone.

    Parameters
    ----------
    response
        (B, N, P, F), the fields of B sets.
    regularisation
        What a unit of squared gain costs, as a share of the mean energy of the set's sources.
    rounds
        Exchanges from each start.
    magnitude
        (P, F), 1 by default.

    Returns
    -------
    ndarray
        (B, N, F), at each frequency the best found.

    Raises
    ------
    InputError
        If the regularisation is not above 0.

    References
    ----------
    Variable exchange: Kassakian, Convex Approximation and Optimization with Applications in
    Magnitude Filter Design and Radiation Pattern Synthesis, thesis, Berkeley 2006 (from memory).
    The cost never rises; the minimum found need not be the least.
    """
    share = positive(regularisation, "the regularisation")
    field = np.moveaxis(response, 3, 1).swapaxes(2, 3)  # (B, F, P, N)
    adjoint = field.conj().swapaxes(2, 3)
    gram = adjoint @ field
    sources = gram.shape[-1]
    ridge = share * np.einsum("bfnn->bf", gram).real / sources
    inverse = np.linalg.solve(gram + ridge[..., None, None] * np.eye(sources), adjoint)
    size = np.ones(response.shape[2:]) if magnitude is None else magnitude
    goal = size.T[..., None]

    starts = np.concatenate([field.sum(axis=-1, keepdims=True), field], axis=-1)
    best = np.zeros((*field.shape[:2], sources), dtype=np.complex128)
    least = np.full(field.shape[:2], np.inf)
    for start in range(sources + 1):
        wanted = goal * _phase(starts[..., start : start + 1])
        for _ in range(rounds):
            gains = inverse @ wanted
            wanted = goal * _phase(field @ gains)
        gains = inverse @ wanted
        cost = _cost(field @ gains - wanted, gains, ridge)
        better = cost < least
        best[better], least[better] = gains[better][..., 0], cost[better]
    return best.swapaxes(1, 2)


def _phase(pressure: C) -> C:
    size = np.abs(pressure)
    phase: C = np.where(size > 0, pressure / np.where(size > 0, size, 1.0), 1.0)
    return phase


def _cost(error: C, gains: C, ridge: F) -> F:
    """Squared misfit and effort of gains (B, F, N, 1), (B, F)."""
    squared = np.sum(np.abs(error) ** 2, axis=(2, 3))
    return np.asarray(squared + ridge * np.sum(np.abs(gains) ** 2, axis=(2, 3)))
