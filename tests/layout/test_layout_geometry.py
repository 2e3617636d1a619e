import math

import pytest

from roomwright.layout import Direction, direction, within
from roomwright.standards import Position, bs2051

EARS = (3.0, 4.0, 1.2)


@pytest.mark.parametrize(
    ("point", "azimuth", "elevation", "distance"),
    [
        ((3.0, 1.0, 1.2), 0, 0, 3),  # ahead
        ((1.0, 4.0, 1.2), 90, 0, 2),  # left is towards x = 0
        ((5.0, 4.0, 1.2), -90, 0, 2),
        ((3.0, 6.0, 1.2), 180, 0, 2),
        ((2.0, 3.0, 1.2), 45, 0, math.sqrt(2)),
        ((3.0, 3.0, 2.2), 0, 45, math.sqrt(2)),
        ((3.0, 3.0, 0.2), 0, -45, math.sqrt(2)),
        ((3.0, 4.0, 2.7), 0, 90, 1.5),
        (EARS, 0, 0, 0),
    ],
)
def test_directions(point, azimuth, elevation, distance):
    seen = direction(EARS, point)
    assert abs(seen.azimuth_deg) == pytest.approx(abs(azimuth))
    assert seen.azimuth_deg * azimuth >= 0 or abs(azimuth) == 180
    assert seen.elevation_deg == pytest.approx(elevation)
    assert seen.distance_m == pytest.approx(distance)


def test_within_spares_one_degree():
    left = Position("M+030", 30, 0, (30, 45), (0, 0))
    assert within(Direction(45.9, -0.9, 3), left)
    assert not within(Direction(46.1, 0, 3), left)
    assert not within(Direction(40, 1.1, 3), left)


@pytest.mark.parametrize("azimuth", [180.0, -180.0, 179.5, -179.5])
def test_straight_behind_is_one_direction(azimuth):
    assert within(Direction(azimuth, 0, 3), bs2051.position("M+180"))


def test_overhead_has_any_azimuth():
    assert within(Direction(-123, 89.5, 2), bs2051.position("T+000"))
