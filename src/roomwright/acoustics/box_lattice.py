"""Exact sound field of point sources in a box over a lattice of points, for maps.

The sum is that of `box_field`. Over a lattice its terms are products of one factor for each axis,
so the modes across are contracted one axis after the other, and no term is computed for every
point: a map costs a tenth of its points taken one by one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import positive, within
from roomwright._errors import InputError
from roomwright.acoustics._axis_modes import AxisModes
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


def green_lattice(
    size_m: Point,
    sources: ArrayLike,
    lattice: tuple[ArrayLike, ArrayLike, ArrayLike],
    frequency_hz: float,
    admittance: ArrayLike,
    c: float = 343.0,
    *,
    tolerance: float = 1e-6,
) -> _Complex:
    """Green's function of a box whose six walls react locally, over a lattice of points.

    Parameters
    ----------
    size_m
        (Lx, Ly, Lz), metres, origin in a corner.
    sources
        (S, 3) positions, metres.
    lattice
        The coordinates (X,), (Y,) and (Z,) of its planes, metres.
    frequency_hz
        One frequency above 0.
    admittance
        (6,) real specific admittances of the planes x=0, x=Lx, y=0, y=Ly, z=0, z=Lz, 0 to 1, at
        least one above 0.
    c
        Speed of sound, m/s.
    tolerance
        As in `green_walls`.

    Returns
    -------
    ndarray
        (S, X, Y, Z), 1/m; NaN within 0.1 m of a source.

    Raises
    ------
    InputError
        If a point is outside the box, or an admittance has another shape or is out of range.

    References
    ----------
    As `green_walls`; the order of the sums is derived here.
    """
    size = box_size(size_m)
    source = points_inside(size, sources, "source")
    planes = _planes(size, lattice)
    beta = np.asarray(admittance, dtype=np.float64)
    if beta.shape != (6,) or not np.all((beta >= 0) & (beta <= 1)) or not beta.any():
        raise InputError("admittance must be six numbers from 0 to 1, one of them above 0")
    wavenumber = 2.0 * np.pi * positive(frequency_hz, "frequency_hz") / positive(c, "c")
    box = Box(size, np.array([wavenumber], dtype=np.complex128), beta[:, None])
    tail = -np.log(within(tolerance, 1e-15, 0.1, "tolerance"))

    apart = [np.abs(x[:, None] - plane) for x, plane in zip(source.T, planes, strict=True)]
    along = np.argmax(_spread(apart, np.sqrt(size)), axis=0)
    largest = np.minimum(LARGEST_DECAY, LARGEST_EXPONENT / size)
    decay = [tail / np.maximum(a, tail / most) for a, most in zip(apart, largest, strict=True)]
    cutoffs = [np.hypot(one, wavenumber) for one in decay]
    greatest = max(float(cutoff.max()) for cutoff in cutoffs)
    modes = [box.axis_modes(axis, int(greatest * size[axis] / np.pi) + 1) for axis in range(3)]

    field = np.zeros(along.shape, dtype=np.complex128)
    for axis in range(3):
        _fill(field, box, axis, source, planes, modes=modes, cutoff=cutoffs[axis], along=along)
    field[np.sum(_spread(apart, np.ones(3)) ** 2, axis=0) < NEAREST_M**2] = np.nan
    return field


def _planes(size: _Real, lattice: Sequence[ArrayLike]) -> list[_Real]:
    planes = []
    for axis, coordinates in enumerate(lattice):
        plane = np.atleast_1d(np.asarray(coordinates, dtype=np.float64))
        places = np.zeros((plane.size, 3))
        places[:, axis] = plane.ravel()
        planes.append(points_inside(size, places, "lattice plane")[:, axis])
    return planes


def _spread(apart: list[_Real], factor: _Real) -> _Real:
    """Separations along the three axes times a factor each, (3, S, X, Y, Z)."""
    shape = apart[0].shape[0], *(one.shape[1] for one in apart)
    spread = np.empty((3, *shape))
    for axis, one in enumerate(apart):
        others = tuple(other + 1 for other in range(3) if other != axis)
        spread[axis] = np.expand_dims(one * factor[axis], others)
    return spread


def _fill(
    field: _Complex,
    box: Box,
    axis: int,
    source: _Real,
    planes: list[_Real],
    *,
    modes: list[AxisModes],
    cutoff: _Real,
    along: NDArray[np.intp],
) -> None:
    """Write the pairs that are summed along one axis into `field` (S, X, Y, Z).

    `cutoff` (S, planes) is the wavenumber across up to which a source and a plane are summed.
    """
    one, two = (other for other in range(3) if other != axis)
    wanted = np.moveaxis(along == axis, axis + 1, 1)
    into = np.moveaxis(field, axis + 1, 1)
    shapes = {a: modes[a].shapes(planes[a])[0] for a in (one, two)}
    at_source = {a: modes[a].shapes(source[:, a])[0] for a in (one, two)}
    for rows, plane in _octaves(wanted.any(axis=(2, 3)), cutoff):
        first, second, kept = _across(box.size[[one, two]], float(cutoff[rows, plane].max()))
        squared = (
            modes[one].wavenumber_squared[:, :first, None]
            + modes[two].wavenumber_squared[:, None, :second]
        )[:, kept]
        weight = np.zeros((rows.size, first, second), dtype=np.complex128)
        weight[:, kept] = _between(box, axis, squared, source[rows, axis], planes[axis][plane])
        weight *= at_source[one][rows, :first, None] * at_source[two][rows, None, :second]
        # Not by matrix products: these are small, and BLAS would start threads for each of them.
        summed = np.einsum("rij,qj->riq", weight, shapes[two][:, :second])
        summed = np.einsum("pi,riq->rpq", shapes[one][:, :first], summed)
        mask = wanted[rows, plane]
        into[rows, plane] = np.where(mask, summed, into[rows, plane])


def _octaves(
    wanted: NDArray[np.bool_], cutoff: _Real
) -> Iterator[tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Sources and planes in groups whose cut-offs lie within an octave."""
    rows, plane = np.nonzero(wanted)
    octave = np.floor(np.log2(cutoff[rows, plane]))
    for one in np.unique(octave):
        yield rows[octave == one], plane[octave == one]


def _across(size: _Real, cutoff: float) -> tuple[int, int, NDArray[np.bool_]]:
    """Numbers of modes across two axes, and which of them are below a cut-off."""
    first, second = (int(cutoff * length / np.pi) + 1 for length in size)
    own = np.hypot(np.arange(first)[:, None] * np.pi / size[0], np.arange(second) * np.pi / size[1])
    return first, second, own <= cutoff


def _between(box: Box, axis: int, across: _Complex, source_m: _Real, plane_m: _Real) -> _Complex:
    """The wave along an axis from sources to planes, (pairs, modes); `across` is squared."""
    constant = propagation_constants(box, across)
    first_wall, last_wall = end_reflections(box, axis, constant)
    half = 0.5 * float(box.size[axis])
    once = np.exp(-2.0 * constant * half)
    near, far = np.minimum(source_m, plane_m), np.maximum(source_m, plane_m)
    wave = _end_waves(constant, first_wall * once, near - half)
    wave *= _end_waves(constant, last_wall * once, half - far)
    wave *= 0.5 / (constant * (1.0 - first_wall * last_wall * once**2))
    return wave


def _end_waves(constant: _Complex, reflection: _Complex, offset_m: _Real) -> _Complex:
    """`end_waves` (p, modes) of one frequency, computed once where pairs share an offset."""
    offset, place = np.unique(offset_m, return_inverse=True)
    waves: _Complex = end_waves(constant, reflection, offset)[0, place]
    return waves
