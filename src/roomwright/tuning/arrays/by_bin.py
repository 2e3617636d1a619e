"""Array filters one bin at a time: tracking, effort and expected errors, within hard limits."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roomwright.tuning.arrays.robustness import Normal

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Step of the splitting re the mean curvature, and its over-relaxation (Boyd et al. 2011, 3.4).
_STEP = 0.1
_RELAXATION = 1.6
_MOST_STEPS = 3000
_CLOSE = 1e-7


def solved(normal: Normal, effort: F) -> C:
    """Drives (bins, S) that minimise w^H (gram + diag effort) w - 2 Re right^H w at every bin.

    `effort` is (bins, S), above 0.
    """
    drive = np.linalg.solve(with_effort(normal.gram, effort), normal.right[..., None])
    return np.asarray(drive[..., 0])


def with_effort(gram: C, effort: F) -> C:
    """Gram matrices (bins, S, S) with the effort on their diagonals."""
    total = gram.copy()
    every = np.arange(gram.shape[-1])
    total[:, every, every] += effort
    return total


def limited(drive: C, limit: F) -> C:
    """Drives brought within their limits, phases kept."""
    magnitude = np.abs(drive)
    return np.asarray(drive * np.minimum(1.0, limit / np.maximum(magnitude, 1e-300)))


def solved_within(normal: Normal, effort: F, limit: F) -> C:
    """As `solved`, with no |w| above `limit` (bins, S).

    Alternating directions (ADMM) in units of the limits, only at the bins that exceed them; what
    is returned keeps the limits exactly.

    References
    ----------
    Boyd, Parikh, Chu, Peleato, Eckstein, Foundations and Trends in Machine Learning 3(1), 2011.
    """
    drive = solved(normal, effort)
    over = np.flatnonzero(np.any(np.abs(drive) > limit, axis=1))
    if not over.size:
        return drive
    scale = limit[over]
    gram = with_effort(normal.gram[over], effort[over]) * scale[:, :, None] * scale[:, None, :]
    right = normal.right[over] * scale
    drive[over] = scale * _within_one(gram, right, limited(drive[over], scale) / scale)
    return drive


def _within_one(gram: C, right: C, start: C) -> C:
    """Minimise over |v| <= 1, bins independent of each other."""
    count = gram.shape[-1]
    step = _STEP * np.trace(gram, axis1=1, axis2=2).real / count
    inverse = np.linalg.inv(gram + step[:, None, None] * np.eye(count))
    kept, price = start, np.zeros_like(start)
    for _ in range(_MOST_STEPS):
        free = (inverse @ (right + step[:, None] * (kept - price))[..., None])[..., 0]
        relaxed = _RELAXATION * free + (1.0 - _RELAXATION) * kept
        before, kept = kept, limited(relaxed + price, np.ones(1))
        price = price + relaxed - kept
        if max(np.abs(free - kept).max(), np.abs(kept - before).max()) < _CLOSE:
            break
    return kept
