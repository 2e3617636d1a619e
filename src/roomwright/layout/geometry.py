"""Directions as a listener has them who sits at a seat and faces the front wall."""

from __future__ import annotations

import math
from dataclasses import dataclass

from roomwright.model import Point
from roomwright.standards import Position

#: Angles this far beyond a range count as within it: drawings and tape measures are that coarse
#: (5 cm at 3 m). Common practice, no source.
ANGLE_TOLERANCE_DEG = 1.0


@dataclass(frozen=True, slots=True)
class Direction:
    """Azimuth (positive left, 0 ahead), elevation (positive up), in degrees, and distance."""

    azimuth_deg: float
    elevation_deg: float
    distance_m: float


def direction(listener_m: Point, point_m: Point) -> Direction:
    """Direction of a point for a listener who faces the front wall (towards y = 0).

    Azimuth lies in -180 to 180 degrees; straight overhead and at no distance it is 0.
    """
    left = listener_m[0] - point_m[0]
    ahead = listener_m[1] - point_m[1]
    up = point_m[2] - listener_m[2]
    across = math.hypot(left, ahead)
    return Direction(
        azimuth_deg=math.degrees(math.atan2(left, ahead)) if across else 0.0,
        elevation_deg=math.degrees(math.atan2(up, across)),
        distance_m=math.hypot(across, up),
    )


def within(seen: Direction, position: Position) -> bool:
    """Whether a direction lies in a position's allowed ranges, `ANGLE_TOLERANCE_DEG` spared."""
    low, high = position.elevation_range_deg
    if not low - ANGLE_TOLERANCE_DEG <= seen.elevation_deg <= high + ANGLE_TOLERANCE_DEG:
        return False
    low, high = position.azimuth_range_deg
    return any(
        low - ANGLE_TOLERANCE_DEG <= seen.azimuth_deg + turn <= high + ANGLE_TOLERANCE_DEG
        for turn in (-360.0, 0.0, 360.0)
    )
