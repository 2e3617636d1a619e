"""Image sources of a box: every specular path from a source to a receiver."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import positive
from roomwright._errors import InputError
from roomwright.acoustics._box import box_size, points_inside
from roomwright.model import Point


@dataclass(frozen=True, slots=True)
class Images:
    """Paths in rising order of length; number 0 is the direct sound.

    `distance_m` is (n,). `direction` (n, 3) points from the receiver to the image, `departure`
    (n, 3) is the direction in which the sound left the real source; both are unit vectors.
    `hits` (n, 6) counts the reflections on the planes in the order of `Room.box_surfaces`;
    `cosines` (n, 3) are those of the angles of incidence on the x, y and z planes, 0 to 1.
    """

    distance_m: NDArray[np.float64]
    direction: NDArray[np.float64]
    departure: NDArray[np.float64]
    hits: NDArray[np.int64]
    cosines: NDArray[np.float64]


def images(size_m: Point, source: Point, receiver: Point, max_distance_m: float) -> Images:
    """Image sources of a box up to a distance from the receiver.

    Parameters
    ----------
    size_m
        (Lx, Ly, Lz), metres, origin in a corner.
    source, receiver
        Positions inside the box, metres.
    max_distance_m
        Longest path, metres; the direct sound must not be longer.

    Raises
    ------
    InputError
        If a point is outside the box, the points coincide, or `max_distance_m` is shorter than
        the direct sound.

    References
    ----------
    Allen and Berkley, JASA 65(4), 1979: images at 2 n L + x0 and 2 n L - x0 along each axis.
    """
    size = box_size(size_m)
    start = points_inside(size, source, "source")[0]
    end = points_inside(size, receiver, "receiver")[0]
    limit = positive(max_distance_m, "max_distance_m")
    direct = float(np.linalg.norm(start - end))
    if not 0 < direct <= limit:
        raise InputError(
            f"source and receiver are {direct:g} m apart; allowed is more than 0 and at most"
            f" {limit:g} m"
        )
    axes = [_along(*axis, limit) for axis in zip(size, start, end, strict=True)]
    squares = [axis.offset**2 for axis in axes]
    squared = squares[0][:, None, None] + squares[1][:, None] + squares[2]
    within = np.nonzero(squared <= limit**2)
    order = np.argsort(squared[within], kind="stable")
    chosen = [(axis, index[order]) for axis, index in zip(axes, within, strict=True)]

    offset = np.stack([axis.offset[index] for axis, index in chosen], axis=-1)
    distance = np.linalg.norm(offset, axis=-1)
    direction = offset / distance[:, None]
    return Images(
        distance_m=distance,
        direction=direction,
        departure=-direction * np.stack([axis.sign[index] for axis, index in chosen], axis=-1),
        hits=np.concatenate([axis.hits[index] for axis, index in chosen], axis=-1),
        cosines=np.abs(direction),
    )


@dataclass(frozen=True, slots=True)
class _AxisImages:
    """Images along one axis: offset from the receiver, -1 if mirrored, hits on both walls."""

    offset: NDArray[np.float64]
    sign: NDArray[np.float64]
    hits: NDArray[np.int64]


def _along(length: float, start: float, end: float, limit: float) -> _AxisImages:
    reach = int(np.ceil(limit / (2.0 * length))) + 1
    period = np.repeat(np.arange(-reach, reach + 1), 2)
    mirrored = np.tile([0, 1], period.size // 2)
    sign = 1.0 - 2.0 * mirrored
    offset = 2.0 * period * length + sign * start - end
    hits = np.abs(np.stack([period - mirrored, period], axis=-1))
    near = np.abs(offset) <= limit
    return _AxisImages(offset[near], sign[near], hits[near])


def reflection_gain(images: Images, admittance: ArrayLike) -> NDArray[np.float64]:
    """Product of the plane-wave reflection factors along each path.

    Parameters
    ----------
    images
        n paths.
    admittance
        (6, B) real specific admittances of the planes in the order of `Room.box_surfaces`.

    Returns
    -------
    ndarray
        (n, B), the product over planes of ((cos - beta) / (cos + beta)) ** hits; may be
        negative, and excludes the spreading 1 / distance.

    Raises
    ------
    InputError
        If `admittance` does not have six rows or holds a negative value.

    References
    ----------
    Kuttruff, Room Acoustics, section 2.3: locally reacting wall.
    """
    beta = np.asarray(admittance, dtype=np.float64)
    if beta.ndim != 2 or beta.shape[0] != 6 or not np.all(beta >= 0):
        raise InputError("admittance must be (6, bands) and 0 or more")
    gain = np.ones((images.distance_m.size, beta.shape[1]))
    for plane in range(6):
        cosine = images.cosines[:, plane // 2, None]
        total = cosine + beta[plane]
        # A rigid plane grazed exactly reflects fully.
        factor = np.where(total > 0, (cosine - beta[plane]) / np.where(total > 0, total, 1.0), 1.0)
        gain *= factor ** images.hits[:, plane, None]
    return gain
