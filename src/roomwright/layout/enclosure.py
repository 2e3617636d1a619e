"""The surface on which loudspeakers stand: the room shrunk by a margin, and rays that meet it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import LinearRing, Polygon, get_parts
from shapely import Point as FlatPoint
from shapely.geometry.polygon import orient

from roomwright._errors import InputError
from roomwright.model import Point, Room

#: Names of the surfaces a ray can meet; `Hits.surface` holds places in this tuple.
SURFACES = ("front wall", "back wall", "left wall", "right wall", "floor", "ceiling")
FLOOR, CEILING = 4, 5


@dataclass(frozen=True, slots=True)
class Enclosure:
    """A prism within the room: corners (n, 2) of its outline, counter-clockwise, and its ends."""

    corners_m: NDArray[np.float64]
    floor_m: float
    ceiling_m: float

    @property
    def ring(self) -> LinearRing:
        """The outline as a closed line."""
        return LinearRing(self.corners_m)


@dataclass(frozen=True, slots=True)
class Hits:
    """Where rays meet an enclosure: points (n, 3), and the surface each one lies on (n,)."""

    points_m: NDArray[np.float64]
    surface: NDArray[np.intp]


def enclosure(room: Room, around_m: Point, margin_m: float) -> Enclosure:
    """Prism `margin_m` within the room that holds a point; a smaller margin where it must be.

    Raises
    ------
    InputError
        If the point is not in the room.
    """
    x, y, z = around_m
    if not room.polygon.contains(FlatPoint(x, y)) or not 0 < z < room.height_m:
        raise InputError(
            f"the point ({x:g}, {y:g}, {z:g}) m is not within the room; "
            "loudspeakers can only be placed for a seat inside it"
        )
    outline = next(
        part
        for margin in (margin_m, margin_m / 2, margin_m / 4, 0.0)
        for part in _shrunk(room.polygon, margin)
        if part.contains(FlatPoint(x, y))
    )
    return Enclosure(
        np.asarray(orient(outline).exterior.coords)[:-1],
        min(margin_m, z),
        max(room.height_m - margin_m, z),
    )


def _shrunk(polygon: Polygon, margin_m: float) -> list[Polygon]:
    shrunk = polygon.buffer(-margin_m, join_style="mitre") if margin_m else polygon
    return list(get_parts(shrunk))


def hits(
    enclosure: Enclosure,
    origin_m: Point,
    azimuth_deg: NDArray[np.float64],
    elevation_deg: NDArray[np.float64],
) -> Hits:
    """First meeting of each ray from a listener's place with the enclosure.

    Parameters
    ----------
    enclosure
        It must hold the origin.
    origin_m
        Where the rays start.
    azimuth_deg, elevation_deg
        Directions (n,) as `roomwright.layout.geometry.direction` gives them.
    """
    azimuth, elevation = np.radians(azimuth_deg), np.radians(elevation_deg)
    across = np.stack([-np.sin(azimuth), -np.cos(azimuth)], axis=-1)
    wall_m, edge = _walls(enclosure.corners_m, np.asarray(origin_m[:2]), across)
    slope = np.tan(elevation)
    rising = slope > 0
    limit = np.where(rising, enclosure.ceiling_m, enclosure.floor_m) - origin_m[2]
    with np.errstate(divide="ignore", invalid="ignore"):
        end_m = np.where(slope == 0, np.inf, limit / slope)
    flat_m = np.minimum(wall_m, end_m)
    points = np.empty((len(azimuth), 3))
    points[:, :2] = np.asarray(origin_m[:2]) + flat_m[:, None] * across
    points[:, 2] = origin_m[2] + flat_m * slope
    surface = np.where(
        wall_m <= end_m, _facing(enclosure.corners_m)[edge], np.where(rising, CEILING, FLOOR)
    )
    return Hits(points, surface)


def _walls(
    corners: NDArray[np.float64], origin: NDArray[np.float64], across: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Distance over the floor to the nearest edge ahead (n,), and which edge that is (n,)."""
    edges = np.roll(corners, -1, axis=0) - corners
    to_corner = corners - origin
    with np.errstate(divide="ignore", invalid="ignore"):
        turned = across[:, :1] * edges[:, 1] - across[:, 1:] * edges[:, 0]
        distance = (to_corner[:, 0] * edges[:, 1] - to_corner[:, 1] * edges[:, 0]) / turned
        along = (to_corner[:, 0] * across[:, 1:] - to_corner[:, 1] * across[:, :1]) / turned
    ahead = (turned != 0) & (distance >= 0) & (along >= -1e-9) & (along <= 1 + 1e-9)
    distance = np.where(ahead, distance, np.inf)
    nearest = distance.argmin(axis=1)
    return distance[np.arange(len(across)), nearest], nearest


def _facing(corners: NDArray[np.float64]) -> NDArray[np.intp]:
    """Which of the four walls each edge (n,) belongs to, by where its outer side faces."""
    edges = np.roll(corners, -1, axis=0) - corners
    out_x, out_y = edges[:, 1], -edges[:, 0]
    lengthwise = np.where(out_y < 0, 0, 1)
    sideways = np.where(out_x < 0, 2, 3)
    return np.where(np.abs(out_y) >= np.abs(out_x), lengthwise, sideways)
