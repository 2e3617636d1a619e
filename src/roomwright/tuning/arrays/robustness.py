"""Errors to be expected, and the normal equations that hold on average over them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.tuning.arrays.grid import Grid

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Gauss-Hermite nodes and weights of three points: exact for fields quadratic in the speed.
_NODES = (-np.sqrt(3.0), 0.0, np.sqrt(3.0))
_WEIGHTS = (1.0 / 6.0, 2.0 / 3.0, 1.0 / 6.0)
#: Good enough for what an error of position amounts to.
_ABOUT_M_S = 343.0


@dataclass(frozen=True, slots=True)
class Uncertainty:
    """Standard deviations of what changes after the design; the defaults are our choice.

    `speed_share` of the speed of sound (0.5 % is 3 K), common to all; `position_m` of every
    emitter along each axis and `gain_db` of its level, independent of each other: small where
    the responses were measured, as the emitters stay where they are, larger on the drawing board.
    """

    speed_share: float = 0.005
    position_m: float = 0.005
    gain_db: float = 0.1


CERTAIN = Uncertainty(0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Normal:
    """Normal equations at every bin: `gram` (bins, S, S) w = `right` (bins, S)."""

    gram: C
    right: C


def normal_equations(
    field: C, wanted: C, weights: F, uncertainty: Uncertainty, grid: Grid, turn: F
) -> Normal:
    """Expected normal equations of least squares at the points, without regularisation.

    Parameters
    ----------
    field
        (S, P, bins) of the emitters at the points.
    wanted
        (P, bins), its delay included.
    weights
        (P,) what each point counts.
    uncertainty
        What to expect.
    grid
        Of the bins.
    turn
        (P,) way of the wave to the points in seconds, which changes with the speed of sound.

    Notes
    -----
    The expectation of |(H + E) w - t|^2 over a zero-mean E is |H w - t|^2 + w^H S w with
    S = E{E^H E} (Doclo and Moonen, IEEE Trans. Signal Processing 51, 2003, from memory). Errors
    of single emitters make S diagonal: (relative gain error)^2 + (k position error)^2 times the
    power of each. The speed of sound moves all together, so whole fields are averaged.
    """
    count = field.shape[0]
    gram = np.zeros((grid.bins, count, count), dtype=np.complex128)
    right = np.zeros((grid.bins, count), dtype=np.complex128)
    if uncertainty.speed_share == 0.0:
        _add(gram, right, field, wanted, weights)
    else:
        for node, weight in zip(_NODES, _WEIGHTS, strict=True):
            faster = 1.0 + node * uncertainty.speed_share
            late = turn * (1.0 / faster - 1.0)
            moved = wanted * np.exp(-2j * np.pi * grid.frequencies_hz * late[:, None])
            other = field if node == 0.0 else at_other_speed(field, grid, faster)
            _add(gram, right, other, moved, weight * weights)
    wavenumber = 2.0 * np.pi * grid.frequencies_hz / _ABOUT_M_S
    relative = np.expm1(uncertainty.gain_db * np.log(10.0) / 20.0)
    share = relative**2 + (wavenumber * uncertainty.position_m) ** 2
    power = np.einsum("p,spb->bs", weights, np.abs(field) ** 2)
    gram[:, np.arange(count), np.arange(count)] += share[:, None] * power
    return Normal(gram, right)


def _add(gram: C, right: C, field: C, wanted: C, weights: F) -> None:
    columns = np.ascontiguousarray(np.moveaxis(field, -1, 0).swapaxes(1, 2))
    adjoint = columns.conj().swapaxes(1, 2) * weights
    gram += adjoint @ columns
    right += (adjoint @ wanted.T[..., None])[..., 0]


def at_other_speed(field: C, grid: Grid, faster: float) -> C:
    """The field (S, P, bins) with the speed of sound `faster` times as high.

    A room's field depends on frequency over speed alone, so it is read at other frequencies: by
    direct transform of the responses, as straight lines between bins would cut their ends off.
    """
    responses = grid.time(field)
    n = np.arange(grid.period)
    # What the band limit sends ahead of time zero stands at the end, where filters would ring out.
    n[grid.period - grid.taps // 2 :] -= grid.period
    angle = np.outer(n, np.arange(1, grid.bins + 1)) * (-2.0 * np.pi / (grid.period * faster))
    flat = responses.reshape(-1, grid.period)
    moved = (flat @ np.cos(angle)) + 1j * (flat @ np.sin(angle))
    return np.asarray(moved.reshape(field.shape))
