"""Standing waves between two parallel walls that react locally.

Between walls of specific admittance b0 and b1 a distance L apart, X'' + q^2 X = 0 with
X'(0) = j k b0 X(0) and X'(L) = -j k b1 X(L). The eigenvalues are sought as w = (q L)^2, in
which the characteristic function is entire and its roots are simple, the lowest included.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

#: Largest change of |k b L| in one step of the continuation from rigid walls.
_STEP = 1.0
_CORRECTIONS = 2
_FINAL_CORRECTIONS = 5


@dataclass(frozen=True, slots=True)
class AxisModes:
    """The first n standing waves along one axis at each of F frequencies.

    `wavenumber_squared` and `norm` (the integral of X^2 over the axis) are (F, n); `slope` is
    X'(0) / X(0), (F, 1). F is 1 where nothing depends on frequency.
    """

    wavenumber_squared: NDArray[np.complex128]
    norm: NDArray[np.complex128]
    slope: NDArray[np.complex128]

    def shapes(self, position_m: NDArray[np.float64]) -> NDArray[np.complex128]:
        """X at (p,) positions, (F, p, n), over the square root of its norm."""
        places, where = np.unique(position_m, return_inverse=True)
        wavenumber = np.sqrt(self.wavenumber_squared)
        # cos(q x) + slope sin(q x) / q, as two waves; a wave that does not vary has no slope.
        tilt = self.slope / (1j * np.where(wavenumber == 0, 1.0, wavenumber))
        scale = 0.5 / np.sqrt(self.norm)
        wave = np.exp(1j * wavenumber[:, None, :] * places[:, None])
        shape = (scale * (1.0 + tilt))[:, None] * wave + (scale * (1.0 - tilt))[:, None] / wave
        return shape[:, where]


def rigid_modes(length_m: float, count: int) -> AxisModes:
    """Modes 0 to count - 1 between rigid walls: cos(n pi x / L), norm L or L / 2."""
    number = np.arange(count)
    wavenumber = (number * np.pi / length_m).astype(np.complex128)
    norm = np.where(number == 0, length_m, length_m / 2.0).astype(np.complex128)
    return AxisModes(wavenumber[None, :] ** 2, norm[None, :], np.zeros((1, 1), np.complex128))


def lossy_modes(
    length_m: float,
    count: int,
    wavenumber: NDArray[np.float64],
    admittance: NDArray[np.float64],
) -> AxisModes:
    """Modes between walls of admittance (2, F) at (F,) free wavenumbers, rad/m.

    Each root is followed from its rigid value while the admittance grows, so none is lost or
    found twice. The resistive walls met here keep clear of the reactive values at which two
    roots would meet.
    """
    ends = 1j * wavenumber * length_m * admittance
    total, product = ends.sum(axis=0)[:, None], ends.prod(axis=0)[:, None]
    rigid = ((np.arange(count) * np.pi) ** 2).astype(np.complex128)
    root: NDArray[np.complex128] = np.broadcast_to(rigid, (wavenumber.size, count))
    previous = root
    steps = max(1, int(np.ceil(np.abs(ends).max() / _STEP)))
    for step in range(1, steps + 1):
        part = step / steps
        guess = 2.0 * root - previous if step > 1 else root
        previous = root
        corrections = _FINAL_CORRECTIONS if step == steps else _CORRECTIONS
        root = _corrected(guess, part * total, part**2 * product, corrections)

    phase = np.sqrt(root)
    slope = ends[0][:, None] / length_m
    return AxisModes(root / length_m**2, _norm(length_m, phase, ends[0][:, None]), slope)


def _corrected(
    root: NDArray[np.complex128],
    total: NDArray[np.complex128],
    product: NDArray[np.complex128],
    corrections: int,
) -> NDArray[np.complex128]:
    """Newton's method on (b0 + b1) cos sqrt(w) + (b0 b1 - w) sin sqrt(w) / sqrt(w)."""
    for _ in range(corrections):
        phase = np.sqrt(root)
        cosine, sine = np.cos(phase), _sinc(phase)
        small = np.abs(root) < 1e-4
        curvature = np.where(
            small, -1.0 / 6.0 + root / 60.0, (cosine - sine) / (2.0 * np.where(small, 1.0, root))
        )
        value = total * cosine + (product - root) * sine
        slope = -(0.5 * total + 1.0) * sine + (product - root) * curvature
        root = root - value / slope
    return root


def _norm(
    length_m: float, phase: NDArray[np.complex128], end: NDArray[np.complex128]
) -> NDArray[np.complex128]:
    """Integral over the axis of (cos q x + (b0 / L) sin(q x) / q)^2."""
    sine_double = _sinc(2.0 * phase)
    sine_squared = _sinc(phase) ** 2
    small = np.abs(phase) < 1e-2
    squared = np.where(small, 1.0, phase) ** 2
    # (1 - sin 2u / 2u) / u^2, by its series where that cancels.
    remainder = np.where(small, 2.0 / 3.0 - 2.0 * phase**2 / 15.0, (1.0 - sine_double) / squared)
    return 0.5 * length_m * (1.0 + sine_double + 2.0 * end * sine_squared + end**2 * remainder)


def _sinc(phase: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """sin(u) / u, 1 at u = 0."""
    safe = np.where(phase == 0, 1.0, phase)
    return np.where(phase == 0, 1.0, np.sin(safe) / safe)
