"""Entry checks shared by everything computed for a box with a corner at the origin."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import finite, positive
from roomwright._errors import InputError


def box_size(size_m: ArrayLike) -> NDArray[np.float64]:
    """Return (Lx, Ly, Lz) as an array of three positive numbers.

    Raises
    ------
    InputError
        If there are not three, or one is not positive.
    """
    size = np.asarray(size_m, dtype=np.float64)
    if size.shape != (3,):
        raise InputError(f"size_m has shape {size.shape}; it must be three lengths in metres")
    for axis, length in zip("xyz", size, strict=True):
        positive(length, f"the size of the box along {axis}")
    return size


def points_inside(size: NDArray[np.float64], points_m: ArrayLike, name: str) -> NDArray[np.float64]:
    """Return points as an (n, 3) array, all of them within the box or on its walls.

    Raises
    ------
    InputError
        If the shape is wrong, a coordinate is not finite, or a point stands outside.
    """
    points = np.atleast_2d(finite(np.asarray(points_m, dtype=np.float64), name))
    if points.ndim != 2 or points.shape[1] != 3:
        raise InputError(f"{name} has shape {points.shape}; it must be (n, 3), metres")
    outside = np.flatnonzero(np.any((points < 0) | (points > size), axis=1))
    if outside.size:
        place = ", ".join(f"{value:g}" for value in points[outside[0]])
        box = " x ".join(f"{value:g}" for value in size)
        raise InputError(f"{name} {outside[0]} at ({place}) m stands outside the box of {box} m")
    return points
