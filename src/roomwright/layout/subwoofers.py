"""Places for subwoofers along the walls."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from shapely import LinearRing
from shapely import Point as FlatPoint

from roomwright.layout.enclosure import Enclosure, enclosure, hits
from roomwright.model import Point, Room

_HEIGHT_M = 0.25
_FROM_WALL_M = 0.3
_STEP_M = 0.1

#: Azimuths from the middle of the room: front, back, left, right.
_WALL_MIDDLES_DEG = (0.0, 180.0, 90.0, -90.0)


def subwoofer_places(
    room: Room, count: int, taken: Sequence[Point], spacing_m: float
) -> tuple[Point, ...]:
    """Places for `count` subwoofers on the floor along the walls, clear of what stands there.

    One stands in the front left corner, two in the middle of the front and back walls, four in
    the middle of all four (which leaves the odd modes of a box unexcited); other numbers are
    spread evenly along the walls, from the middle of the front wall. Each is moved along the wall
    until it is `spacing_m` from everything in `taken` and from the others, where there is such a
    place. Common practice, no source.
    """
    middle = room.polygon.centroid
    if not room.polygon.contains(middle):
        middle = room.polygon.representative_point()
    centre = (middle.x, middle.y, _HEIGHT_M)
    inner = enclosure(room, centre, _FROM_WALL_M)
    ring = inner.ring
    placed: list[Point] = []
    for wanted_m in _wanted_m(inner, centre, count):
        placed.append(_clear(ring, wanted_m, [*taken, *placed], spacing_m))
    return tuple(placed)


def _wanted_m(inner: Enclosure, centre: Point, count: int) -> list[float]:
    """Distances along the ring where the subwoofers belong."""
    ring = inner.ring
    azimuths = np.array(_WALL_MIDDLES_DEG)
    points = hits(inner, centre, azimuths, np.zeros(4)).points_m
    middles = [ring.project(FlatPoint(x, y)) for x, y, _ in points]
    if count == 1:
        x, y, _, _ = ring.bounds
        corner = inner.corners_m[np.hypot(*(inner.corners_m - (x, y)).T).argmin()]
        return [ring.project(FlatPoint(*corner))]
    if count in {2, 4}:
        return middles[:count]
    return [middles[0] + ring.length * number / count for number in range(count)]


def _clear(ring: LinearRing, wanted_m: float, taken: Sequence[Point], spacing_m: float) -> Point:
    """Nearest place along the ring that is clear of everything taken, else the clearest."""
    candidates = [_place(ring, wanted_m + shift) for shift in _shifts_m(ring.length)]
    clearances = [min((math.dist(p, q) for q in taken), default=math.inf) for p in candidates]
    for candidate, clearance in zip(candidates, clearances, strict=True):
        if clearance >= spacing_m:
            return candidate
    return candidates[int(np.argmax(clearances))]


def _shifts_m(length_m: float) -> Iterator[float]:
    yield 0.0
    for step in range(1, int(length_m / 2 / _STEP_M) + 1):
        yield step * _STEP_M
        yield -step * _STEP_M


def _place(ring: LinearRing, along_m: float) -> Point:
    point = ring.interpolate(along_m % ring.length)
    return (round(point.x, 3), round(point.y, 3), _HEIGHT_M)
