"""Waves along one axis of a box: what the sums over pairs of points and over a lattice share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.acoustics._axis_modes import AxisModes, lossy_modes, rigid_modes

_Complex = NDArray[np.complex128]
_Real = NDArray[np.float64]

#: No evanescent decay above this is summed, 1/m, however close the pair.
LARGEST_DECAY = 140.0
#: Half of this, the largest kappa times length, is an exponent a float64 can hold.
LARGEST_EXPONENT = 1300.0
#: No nearer than this may a receiver be to a source.
NEAREST_M = 0.1
_LEAST_SQUARED = 1e-12


@dataclass(frozen=True, slots=True)
class Box:
    """A box at F frequencies.

    `wavenumber` (F,) is complex where damping is uniform; `admittance` (6, F) is of the walls,
    or None where they are rigid.
    """

    size: _Real
    wavenumber: _Complex
    admittance: _Real | None

    def at(self, part: slice) -> Box:
        """The same box at some of the frequencies."""
        walls = None if self.admittance is None else self.admittance[:, part]
        return Box(self.size, self.wavenumber[part], walls)

    def axis_modes(self, axis: int, count: int) -> AxisModes:
        """The first standing waves along an axis."""
        length = float(self.size[axis])
        if self.admittance is None:
            return rigid_modes(length, count)
        walls = self.admittance[2 * axis : 2 * axis + 2]
        return lossy_modes(length, count, self.wavenumber.real, walls)


def propagation_constants(box: Box, across: _Complex) -> _Complex:
    """Propagation constants g (F, modes) along the axis from the squared wavenumbers across."""
    squared = across - box.wavenumber[:, None] ** 2
    # The field is smooth where g vanishes, at a cut-off exactly hit, but 1 / g is not.
    return np.sqrt(np.where(np.abs(squared) < _LEAST_SQUARED, _LEAST_SQUARED, squared))


def end_reflections(box: Box, axis: int, constant: _Complex) -> tuple[_Complex, _Complex]:
    """Reflection of waves exp(-g x), g (F, modes), at the first and the last wall."""
    if box.admittance is None:
        rigid = np.ones((1, 1), dtype=np.complex128)
        return rigid, rigid
    ends = 1j * box.wavenumber[:, None] * box.admittance[2 * axis : 2 * axis + 2, :, None]
    first, last = (constant - ends) / (constant + ends)
    return first, last


def end_waves(constant: _Complex, reflection: _Complex, offset_m: _Real) -> _Complex:
    """exp(g x) + r exp(-g x) at (p,) offsets, (F, p, modes)."""
    rising = np.exp(constant[:, None, :] * offset_m[:, None])
    falling = reflection[:, None, :] / rising
    rising += falling
    return rising
