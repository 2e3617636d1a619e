"""Exact sound field of point sources in a box, summed in closed form along one axis.

With exp(+j omega t), the Green's function G obeys (laplacian + k^2) G = -delta and is
exp(-j k R) / (4 pi R) in the free field; the pressure of a volume velocity q is
j omega rho q G. Along the axis of summation each pair of standing waves across the other two
axes is a wave between two end walls, whose field is known in closed form; the double sum over
those pairs converges like exp(-kappa |x - x0|), so each source and receiver are taken along
the axis that separates them best.

References
----------
Morse and Ingard, Theoretical Acoustics, chapter 9; Kuttruff, Room Acoustics, chapter 3 (from
memory). The form with decaying exponentials, and the lossy walls by complex standing waves,
are derived here.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import finite, positive, within
from roomwright._errors import InputError
from roomwright.acoustics._box import box_size, points_inside
from roomwright.acoustics._box_waves import (
    LARGEST_DECAY,
    LARGEST_EXPONENT,
    NEAREST_M,
    Box,
    end_reflections,
    end_waves,
    propagation_constants,
)
from roomwright.model import Point

_Complex = NDArray[np.complex128]
_Real = NDArray[np.float64]
#: An axis across, and the numbers of its standing waves.
_Across = tuple[int, NDArray[np.int64]]

#: Modes and frequencies computed at once: the arrays then stay in the processor's cache. Where
#: points and frequencies are few, more modes, up to so many numbers.
_MODES = 32
_FREQUENCIES = 50
_NUMBERS = 8192


@dataclass(frozen=True, slots=True)
class _Points:
    """Positions (p, 3) and, for each axis, its standing waves there, (F or 1, p, n)."""

    position: _Real
    shapes: list[_Complex]


class _Ordered:
    """Points in falling order of the wavenumber up to which they are needed, if they are.

    `order` (p,) are their numbers; points of one offset along the axis share its end waves.
    """

    def __init__(self, points: _Points, need: _Real, offset_m: _Real) -> None:
        """Sort points by `need` (P,), with their offsets (P,) along the axis."""
        order = np.argsort(-need, kind="stable")
        self.order = order[need[order] >= 0.0]
        self._need = -need[self.order]
        _, at, place = np.unique(offset_m[self.order], return_index=True, return_inverse=True)
        rank = np.argsort(np.argsort(at))
        self._offset_m = offset_m[self.order][np.sort(at)]
        self._place = rank[place]
        self._shapes = [shape[:, self.order] for shape in points.shapes]

    def needing(self, wavenumber: float) -> int:
        """How many of the points are needed from a wavenumber on."""
        return int(np.searchsorted(self._need, -wavenumber, side="right"))

    def waves(
        self, count: int, constant: _Complex, reflection: _Complex, *across: _Across
    ) -> _Complex:
        """Waves from an end times the standing waves across, at the first points (F, count, n)."""
        place = self._place[:count]
        waves = end_waves(constant, reflection, self._offset_m[: place.max(initial=-1) + 1])
        if waves.shape[1] < count:
            waves = waves[:, place]
        for axis, numbers in across:
            waves *= self._shapes[axis][:, :count, numbers]
        return waves


def green_uniform(
    size_m: Point,
    sources: ArrayLike,
    receivers: ArrayLike,
    frequency_hz: ArrayLike,
    reverberation_time_s: float,
    c: float = 343.0,
    *,
    axis: int | None = None,
    tolerance: float = 1e-6,
) -> _Complex:
    """Green's function of a box with rigid walls whose modes all decay alike.

    Parameters
    ----------
    size_m
        (Lx, Ly, Lz), metres, origin in a corner.
    sources, receivers
        (S, 3) and (R, 3) positions, metres, at least 0.1 m apart.
    frequency_hz
        (F,) frequencies above 0.
    reverberation_time_s
        Time in which every mode decays by 60 dB.
    c
        Speed of sound, m/s.
    axis
        Axis of the closed form (0, 1 or 2) for every pair; by default the best for each.
    tolerance
        Evanescent waves are left out once they have decayed to this between the points, which
        bounds the error relative to the direct sound except for points closer than about
        0.2 m along the axis.

    Returns
    -------
    ndarray
        (S, R, F), 1/m; times 4 pi it is relative to the free field at 1 m.

    Raises
    ------
    InputError
        If a point is outside the box, a pair is too close or a number is not positive.

    Notes
    -----
    Uniform damping is the complex wavenumber (omega - j 3 ln 10 / T) / c. Real walls damp
    axial modes less than oblique ones: see `green_walls`.
    """
    size, frequency = box_size(size_m), _frequencies(frequency_hz)
    decay = 3.0 * np.log(10.0) / positive(reverberation_time_s, "reverberation_time_s")
    wavenumber = (2.0 * np.pi * frequency - 1j * decay) / positive(c, "c")
    box = Box(size, wavenumber, None)
    return _summed(box, sources, receivers, axis, tolerance)


def green_walls(
    size_m: Point,
    sources: ArrayLike,
    receivers: ArrayLike,
    frequency_hz: ArrayLike,
    admittance: ArrayLike,
    c: float = 343.0,
    *,
    axis: int | None = None,
    tolerance: float = 1e-6,
) -> _Complex:
    """Green's function of a box whose six walls react locally.

    Parameters
    ----------
    size_m
        (Lx, Ly, Lz), metres, origin in a corner.
    sources, receivers
        (S, 3) and (R, 3) positions, metres, at least 0.1 m apart.
    frequency_hz
        (F,) frequencies above 0.
    admittance
        (6, F) real specific admittances of the planes x=0, x=Lx, y=0, y=Ly, z=0, z=Lz, 0 to 1;
        at least one above 0 at every frequency, or the field at a resonance is infinite.
    c
        Speed of sound, m/s.
    axis
        Axis of the closed form (0, 1 or 2) for every pair; by default the best for each.
    tolerance
        Evanescent waves are left out once they have decayed to this between the points, which
        bounds the error relative to the direct sound except for points closer than about
        0.2 m along the axis.

    Returns
    -------
    ndarray
        (S, R, F), 1/m; times 4 pi it is relative to the free field at 1 m.

    Raises
    ------
    InputError
        If a point is outside the box, a pair is too close, or an admittance has another shape
        or is outside its range.

    Notes
    -----
    The end walls enter by their reflection (g - j k beta) / (g + j k beta), the others by the
    complex standing waves between them, so every mode has its own decay.
    """
    size, frequency = box_size(size_m), _frequencies(frequency_hz)
    beta = finite(np.asarray(admittance, dtype=np.float64), "admittance")
    if beta.shape != (6, frequency.size):
        raise InputError(f"admittance has shape {beta.shape}; it must be (6, {frequency.size})")
    if np.any((beta < 0) | (beta > 1)) or not np.all(beta.any(axis=0)):
        raise InputError("admittance must be 0 to 1, and above 0 on a wall at every frequency")
    wavenumber = 2.0 * np.pi * frequency / positive(c, "c")
    box = Box(size, wavenumber.astype(np.complex128), beta)
    return _summed(box, sources, receivers, axis, tolerance)


def _frequencies(frequency_hz: ArrayLike) -> _Real:
    frequency = np.atleast_1d(finite(np.asarray(frequency_hz, dtype=np.float64), "frequency_hz"))
    if frequency.ndim != 1 or frequency.size == 0 or np.any(frequency <= 0):
        raise InputError("frequency_hz must be a list of numbers above 0")
    return frequency


def _summed(
    box: Box, sources: ArrayLike, receivers: ArrayLike, axis: int | None, tolerance: float
) -> _Complex:
    """Choose the axis of each pair and sum, some frequencies at a time."""
    source = points_inside(box.size, sources, "source")
    receiver = points_inside(box.size, receivers, "receiver")
    apart = np.abs(source[:, None, :] - receiver[None, :, :])
    _refuse_close(np.sqrt(np.sum(apart**2, axis=-1)))
    if axis is None:
        # The number of terms falls as the square of the separation times the length.
        along = np.argmax(apart * np.sqrt(box.size), axis=-1)
    else:
        along = np.full(apart.shape[:2], int(within(axis, 0, 2, "axis")))
    tail = -np.log(within(tolerance, 1e-15, 0.1, "tolerance"))
    largest = np.minimum(LARGEST_DECAY, LARGEST_EXPONENT / box.size[along])
    separation = np.take_along_axis(apart, along[..., None], axis=-1)[..., 0]
    decay = tail / np.maximum(separation, tail / largest)

    parts = [
        box.at(slice(start, start + _FREQUENCIES))
        for start in range(0, box.wavenumber.size, _FREQUENCIES)
    ]
    if len(parts) == 1:
        return _at_once(parts[0], source, receiver, along, decay)
    # NumPy leaves the interpreter free while it computes, so threads share the work.
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        fields = pool.map(lambda part: _at_once(part, source, receiver, along, decay), parts)
        return np.concatenate(list(fields), axis=-1)


def _refuse_close(distance: _Real) -> None:
    if np.any(distance < NEAREST_M):
        i, j = np.argwhere(distance < NEAREST_M)[0]
        raise InputError(
            f"source {i} and receiver {j} are {distance[i, j]:.3g} m apart;"
            f" allowed is {NEAREST_M:g} m or more"
        )


def _at_once(
    box: Box, source: _Real, receiver: _Real, along: NDArray[np.int64], decay: _Real
) -> _Complex:
    """The field (S, R, F), given the axis of each pair and the decay to sum to, 1/m."""
    cutoff = np.hypot(decay, np.max(np.abs(box.wavenumber)))
    counts = cutoff.max() * box.size / np.pi + 1.0
    modes = [box.axis_modes(axis, int(count)) for axis, count in enumerate(counts)]
    start = _Points(source, [m.shapes(x) for m, x in zip(modes, source.T, strict=True)])
    end = _Points(receiver, [m.shapes(x) for m, x in zip(modes, receiver.T, strict=True)])
    squared = [m.wavenumber_squared for m in modes]
    field = np.zeros((box.wavenumber.size, *along.shape), dtype=np.complex128)
    for axis in range(3):
        ahead = source[:, None, axis] <= receiver[None, :, axis]
        wanted = np.where((along == axis) & ahead, cutoff, -1.0)
        _add_along(field, box, axis, start, end, squared=squared, cutoff=wanted)
        wanted = np.where((along == axis) & ~ahead, cutoff, -1.0)
        _add_along(field.swapaxes(1, 2), box, axis, end, start, squared=squared, cutoff=wanted.T)
    return np.moveaxis(field, 0, -1)


def _add_along(
    field: _Complex,
    box: Box,
    axis: int,
    near: _Points,
    far: _Points,
    *,
    squared: list[_Complex],
    cutoff: _Real,
) -> None:
    """Add to `field` (F, P, Q) the pairs of near and far points summed along one axis.

    `squared` holds the squared wavenumbers of each axis, (F or 1, n). `cutoff` (P, Q) is the
    wavenumber across up to which a pair is summed, negative for pairs that are not; only those
    may have their near point farther from the first wall. The modes across come in blocks of
    rising cut-off, and the points in falling order of need, so each block is of the first ones.
    """
    one, two = (other for other in range(3) if other != axis)
    number, rigid = _across(box.size[[one, two]], float(cutoff.max()))
    length = float(box.size[axis])
    # Both are scaled about the middle; mirrored, the last wall is the first.
    rows = _Ordered(near, cutoff.max(axis=1), near.position[:, axis] - 0.5 * length)
    columns = _Ordered(far, cutoff.max(axis=0), 0.5 * length - far.position[:, axis])
    wanted = cutoff[np.ix_(rows.order, columns.order)]
    total = np.zeros((box.wavenumber.size, *wanted.shape), dtype=np.complex128)
    block = max(_MODES, _NUMBERS // (box.wavenumber.size * max(cutoff.shape)))
    for start in range(0, rigid.size, block):
        first, second = (n[start : start + block] for n in number)
        constant = propagation_constants(box, squared[one][:, first] + squared[two][:, second])
        first_wall, last_wall = end_reflections(box, axis, constant)
        once = np.exp(-constant * length)
        weight = 0.5 / (constant * (1.0 - first_wall * last_wall * once**2))
        p, q = (points.needing(rigid[start]) for points in (rows, columns))
        from_near = rows.waves(p, constant, first_wall * once, (one, first), (two, second))
        from_far = columns.waves(q, constant, last_wall * once, (one, first), (two, second))
        from_near *= weight[:, None, :]
        with np.errstate(over="ignore", invalid="ignore"):
            # Only pairs that are not needed can overflow.
            product = from_near @ np.swapaxes(from_far, 1, 2)
        total[:, :p, :q] += np.where(wanted[:p, :q] >= rigid[start], product, 0.0)
    field[:, rows.order[:, None], columns.order] += total


def _across(
    size: _Real, cutoff: float
) -> tuple[tuple[NDArray[np.int64], NDArray[np.int64]], _Real]:
    """Mode numbers across two axes up to a cut-off wavenumber, in rising order of their own."""
    counts = [int(max(cutoff, 0.0) * length / np.pi) + 1 for length in size]
    first, second = np.indices(counts).reshape(2, -1).astype(np.int64)
    own = np.pi * np.hypot(first / size[0], second / size[1])
    order = np.argsort(own, kind="stable")
    order = order[own[order] <= cutoff]
    return (first[order], second[order]), own[order]
