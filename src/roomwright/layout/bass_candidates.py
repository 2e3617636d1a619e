"""Places where a subwoofer could stand: along the walls, on a strip of floor, under the ceiling."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, contains_xy, get_parts

from roomwright._checks import positive
from roomwright._errors import InputError
from roomwright.model import Point, Room

F = NDArray[np.float64]

#: Places nearer than this to each other are one.
_SAME_M = 0.01


@dataclass(frozen=True, slots=True)
class Exclusion:
    """A box, from one corner to the opposite one, where no subwoofer may stand: a door, a screen.

    Heights left at their defaults exclude from floor to ceiling.
    """

    from_m: tuple[float, float]
    to_m: tuple[float, float]
    low_m: float = 0.0
    high_m: float = math.inf

    def holds(self, points: F) -> NDArray[np.bool_]:
        """Which of the points (n, 3) are inside or on its faces, (n,)."""
        ends = np.array([self.from_m, self.to_m])
        low = np.array([*ends.min(axis=0), self.low_m]) - 1e-9
        high = np.array([*ends.max(axis=0), self.high_m]) + 1e-9
        inside: NDArray[np.bool_] = np.all((points >= low) & (points <= high), axis=1)
        return inside


@dataclass(frozen=True, slots=True)
class CandidateRules:
    """Where subwoofers may stand; lengths in metres from the surfaces to the source's middle.

    `wall_heights_m` are the heights at which they may stand along the walls (none: not at all),
    `strip_m` is the width of a strip of floor along the walls on which they may stand further in,
    at the lowest of these heights, 0 for none; `on_ceiling` allows them everywhere under the
    ceiling. Common practice, no source.
    """

    spacing_m: float = 0.5
    from_wall_m: float = 0.3
    wall_heights_m: tuple[float, ...] = (0.3,)
    strip_m: float = 0.0
    on_ceiling: bool = False
    from_ceiling_m: float = 0.3


def bass_candidates(
    room: Room,
    rules: CandidateRules | None = None,
    exclusions: Sequence[Exclusion] = (),
    *,
    away_from: Sequence[Point] = (),
    clearance_m: float = 0.3,
    mirrored: bool = False,
) -> tuple[Point, ...]:
    """Places where a subwoofer could stand.

    Along each wall the places are evenly spaced, from corner to corner, at most `spacing_m`
    apart, corners and middles among them; a strip likewise, further in; the ceiling has a grid
    about the room's middle.

    Parameters
    ----------
    room
        Any prism.
    rules
        Which surfaces, how close together.
    exclusions
        Boxes that must stay free.
    away_from, clearance_m
        Points (seats, loudspeakers) and how far from each a subwoofer must stay.
    mirrored
        Keep only places whose mirror image across the room's middle, left for right, is one too.

    Raises
    ------
    InputError
        If a length is not above 0, or no place is left.
    """
    rules = rules or CandidateRules()
    positive(rules.spacing_m, "the spacing of subwoofer places")
    positive(rules.from_wall_m, "the distance of subwoofers from the wall")
    points = np.array(_everywhere(room, rules)).reshape(-1, 3)
    free = np.ones(len(points), dtype=bool)
    for box in exclusions:
        free &= ~box.holds(points)
    for point in away_from:
        free &= np.linalg.norm(points - point, axis=1) >= clearance_m
    points = _distinct(points[free])
    if mirrored:
        points = _with_image(points, room)
    if not len(points):
        raise InputError(
            "no place is left for a subwoofer; allow another surface, closer spacing or fewer "
            "exclusions"
        )
    return tuple((float(x), float(y), float(z)) for x, y, z in points)


def _everywhere(room: Room, rules: CandidateRules) -> list[Point]:
    """Places on all surfaces allowed, exclusions not looked at."""
    places: list[Point] = []
    for height in rules.wall_heights_m:
        if 0 < height < room.height_m:
            places += _along(room.polygon, rules.from_wall_m, rules.spacing_m, height)
    low = min(rules.wall_heights_m, default=rules.from_wall_m)
    for depth in np.arange(rules.spacing_m, rules.strip_m + 1e-9, rules.spacing_m):
        places += _along(room.polygon, rules.from_wall_m + float(depth), rules.spacing_m, low)
    if rules.on_ceiling:
        height = room.height_m - rules.from_ceiling_m
        places += _over(room.polygon, rules, height)
    return places


def _inside(polygon: Polygon, margin_m: float) -> list[Polygon]:
    shrunk = polygon.buffer(-margin_m, join_style="mitre")
    return [part for part in get_parts(shrunk) if not part.is_empty]


def _along(polygon: Polygon, margin_m: float, spacing_m: float, height_m: float) -> list[Point]:
    """Places along the walls, `margin_m` from them."""
    places: list[Point] = []
    for part in _inside(polygon, margin_m):
        corners = np.asarray(part.exterior.coords)
        for start, stop in pairwise(corners):
            steps = _even_steps(float(np.linalg.norm(stop - start)), spacing_m)
            for share in np.arange(steps) / steps:
                x, y = start + share * (stop - start)
                places.append((round(float(x), 4), round(float(y), 4), height_m))
    return places


def _over(polygon: Polygon, rules: CandidateRules, height_m: float) -> list[Point]:
    """A grid under the ceiling about the middle of the room's bounds."""
    parts = _inside(polygon, rules.from_wall_m)
    x_min, y_min, x_max, y_max = polygon.bounds
    across = _centred(x_max - x_min - 2 * rules.from_wall_m, rules.spacing_m) + (x_min + x_max) / 2
    back = _centred(y_max - y_min - 2 * rules.from_wall_m, rules.spacing_m) + (y_min + y_max) / 2
    grid = np.array([(x, y) for y in back for x in across])
    held = np.zeros(len(grid), dtype=bool)
    for part in parts:
        # A hair's breadth outwards, so that places on the edge count.
        held |= contains_xy(part.buffer(1e-6), grid[:, 0], grid[:, 1])
    return [(round(float(x), 4), round(float(y), 4), height_m) for x, y in grid[held]]


def _centred(length_m: float, spacing_m: float) -> F:
    """Places about 0 along a length, its ends among them, at most `spacing_m` apart."""
    steps = _even_steps(length_m, spacing_m)
    places: F = (np.arange(steps + 1) / steps - 0.5) * length_m
    return places


def _even_steps(length_m: float, spacing_m: float) -> int:
    """Steps along a length, an even number so that its middle is a place."""
    return 2 * max(math.ceil(length_m / (2 * spacing_m) - 1e-9), 1)


def _distinct(points: F) -> F:
    """The points without those that repeat an earlier one."""
    kept: list[F] = []
    for point in points:
        if all(np.linalg.norm(point - other) > _SAME_M for other in kept):
            kept.append(point)
    return np.array(kept).reshape(-1, 3)


def _with_image(points: F, room: Room) -> F:
    """The points whose mirror image across the room's middle is among them."""
    x_min, _, x_max, _ = room.polygon.bounds
    images = points * (-1.0, 1.0, 1.0) + (x_min + x_max, 0.0, 0.0)
    apart = np.linalg.norm(images[:, None] - points, axis=-1)
    return np.asarray(points[apart.min(axis=1, initial=np.inf) <= _SAME_M])
