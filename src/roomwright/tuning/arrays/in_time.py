"""Array filters of finite length with every term: those over time couple all bins.

The normal equations are never formed. Each step of conjugate gradients takes the filters through
the room by fast transforms, weighs the error over time, and takes it back; the solution at each
bin alone is the preconditioner.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright.tuning.arrays.by_bin import limited, with_effort
from roomwright.tuning.arrays.grid import Grid
from roomwright.tuning.arrays.robustness import Normal

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Where it stops, re the right-hand side in the preconditioner's norm, or after that many steps:
#: later ones change the prediction by less than 0.1 dB (computed).
_CLOSE = 1e-3
_MOST_STEPS = 400
#: Of the splitting that keeps the limits: rounds, steps in each, and its step re the curvature.
_ROUNDS = 60
_STEPS_A_ROUND = 30
_STEP = 1.0
#: And how near the filters' drives must be to drives within the limits, re the limits.
_NEAR = 2e-3


@dataclass(frozen=True, slots=True)
class TimeTask:
    """Least squares for S filters of `grid.taps` taps.

    `normal` and `effort` (bins, S) are as by bin, `effort_outside` (S,) at the bins not used.
    `field` (bins, P, S) and `wanted` (P, bins) are of the points, each times the square root of
    what it counts; `weights` (P, period) weigh the square of their error over time.
    """

    grid: Grid
    normal: Normal
    effort: F
    effort_outside: F
    field: C
    wanted: C
    weights: F

    def drives(self, taps: F) -> C:
        """Spectra (bins, S) of filters."""
        return self.grid.spectrum(taps).T

    def gradient(self, taps: F, gram: C) -> F:
        """The quadratic form's matrix times filters (S, T), given the gram with its effort."""
        every = fft.rfft(taps, self.grid.period) * self.effort_outside[:, None]
        drive = self.drives(taps)
        felt = (gram @ drive[..., None])[..., 0]
        felt += self.back((self.field @ drive[..., None])[..., 0].T)
        every[:, 1 : self.grid.bins + 1] = felt.T
        return self._taps(every)

    def back(self, at_points: C) -> C:
        """Signals at the points (P, bins), weighted over time and taken back to (bins, S)."""
        weighted = self.grid.spectrum(self.weights * self.grid.time(at_points))
        return np.asarray((self.field.conj().swapaxes(1, 2) @ weighted.T[..., None])[..., 0])

    def taps_of(self, spectra: C) -> F:
        """The adjoint of `drives`: filters (S, T) from (bins, S)."""
        every = np.zeros((spectra.shape[1], self.grid.period // 2 + 1), dtype=np.complex128)
        every[:, 1 : self.grid.bins + 1] = spectra.T
        return self._taps(every)

    def right(self) -> F:
        """The right-hand side (S, T)."""
        return self.taps_of(self.normal.right + self.back(self.wanted))

    def preconditioner(self, gram: C) -> Callable[[F], F]:
        """The inverse at each bin alone, the time weights taken for their mean."""
        mean = float(self.weights.mean())
        near = gram + mean * (self.field.conj().swapaxes(1, 2) @ self.field)
        inverse = np.linalg.inv(near)

        def apply(residual: F) -> F:
            inside = self.drives(residual)
            every = fft.rfft(residual, self.grid.period) / self.effort_outside[:, None]
            every[:, 1 : self.grid.bins + 1] = (inverse @ inside[..., None])[..., 0].T
            return self._taps(every)

        return apply

    def _taps(self, every: C) -> F:
        taps: F = fft.irfft(every, self.grid.period)[:, : self.grid.taps]
        return taps


def solved_in_time(task: TimeTask) -> tuple[F, int]:
    """Filters (S, T) of least cost, and the steps taken."""
    gram = with_effort(task.normal.gram, task.effort)
    precondition = task.preconditioner(gram)
    start = np.zeros((task.effort.shape[1], task.grid.taps))
    return _descend(
        lambda taps: task.gradient(taps, gram), precondition, task.right(), start, _MOST_STEPS
    )


def solved_in_time_within(task: TimeTask, limit: F) -> tuple[F, int]:
    """As `solved_in_time`, with the drives kept below `limit` (bins, S); taps and steps taken.

    Alternating directions (ADMM): filters that track, and drives within the limits, pulled
    towards each other. What they still exceed in the end is taken from all filters alike.
    """
    taps, steps = solved_in_time(task)
    drive = task.drives(taps)
    if np.all(np.abs(drive) <= limit):
        return taps, steps
    curvature = np.abs(np.diagonal(task.normal.gram, axis1=1, axis2=2)) + task.effort
    step = _STEP * curvature
    gram = with_effort(task.normal.gram, task.effort + step)
    precondition, right = task.preconditioner(gram), task.right()
    price = np.zeros_like(drive)
    kept = limited(drive, limit)
    for _ in range(_ROUNDS):
        pulled = right + task.taps_of(step * (kept - price))
        taps, taken = _descend(
            lambda t: task.gradient(t, gram), precondition, pulled, taps, _STEPS_A_ROUND
        )
        steps += taken
        drive = task.drives(taps)
        before, kept = kept, limited(drive + price, limit)
        price = price + drive - kept
        if max(_largest(drive - kept, limit), _largest(kept - before, limit)) < _NEAR:
            break
    return taps / max(1.0, _largest(drive, limit)), steps


def _largest(drive: C, limit: F) -> float:
    return float(np.max(np.abs(drive) / limit))


def _descend(
    apply: Callable[[F], F], precondition: Callable[[F], F], right: F, start: F, most: int
) -> tuple[F, int]:
    """Preconditioned conjugate gradients from `start`."""
    taps, residual = start.copy(), right - apply(start)
    enough = _CLOSE**2 * float(np.vdot(right, precondition(right)))
    direction = closer = precondition(residual)
    size = float(np.vdot(residual, closer))
    for step in range(most):
        if size <= enough:
            return taps, step
        moved = apply(direction)
        length = size / float(np.vdot(direction, moved))
        taps += length * direction
        residual -= length * moved
        closer = precondition(residual)
        before, size = size, float(np.vdot(residual, closer))
        direction = closer + (size / before) * direction
    return taps, most
