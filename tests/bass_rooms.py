"""Rooms, seats and subwoofers of the published and of our own bass tables, as computed fields."""

from __future__ import annotations

import numpy as np

from roomwright.acoustics import green_walls


def box_field(size, sources, points, frequency, admittance, c=343.0):
    """Field relative to the free field at 1 m, (sources, points, frequencies)."""
    walls = np.full((6, len(frequency)), admittance)
    return 4 * np.pi * green_walls(size, sources, points, frequency, walls, c)


class CentredRoom:
    """The room of Welti, AES 112th Convention 2002: 20 x 24 x 9 ft, 16 seats about its middle."""

    size = (6.10, 7.32, 2.74)
    frequency = np.geomspace(20.0, 80.0, 49)
    seats = np.array(
        [
            (3.05 + 0.61 * across, 3.66 + 0.61 * back, 1.2)
            for back in (-1.5, -0.5, 0.5, 1.5)
            for across in (-1.5, -0.5, 0.5, 1.5)
        ]
    )
    corners = tuple((x, y, 0.15) for y in (0.15, 7.17) for x in (0.15, 5.95))
    midpoints = ((3.05, 0.15, 0.15), (3.05, 7.17, 0.15), (0.15, 3.66, 0.15), (5.95, 3.66, 0.15))

    @classmethod
    def field(cls, sources, admittance=0.0266):
        return box_field(cls.size, sources, cls.seats, cls.frequency, admittance)


class CinemaRoom:
    """A private cinema: 4.5 x 6 x 2.7 m, 21 seats in three rows behind the middle."""

    size = (4.5, 6.0, 2.7)
    frequency = np.geomspace(20.0, 120.0, 60)
    seats = np.array(
        [
            (2.25 + across * 2.8 / 6, back, height)
            for back, height in ((2.7, 1.2), (3.9, 1.2), (5.1, 1.45))
            for across in range(-3, 4)
        ]
    )
    corners = tuple((x, y, 0.15) for y in (0.15, 5.85) for x in (0.15, 4.35))
    midpoints = ((2.25, 0.15, 0.15), (2.25, 5.85, 0.15), (0.15, 3.0, 0.15), (4.35, 3.0, 0.15))

    @classmethod
    def field(cls, sources, frequency=None, c=343.0):
        at = cls.frequency if frequency is None else frequency
        return box_field(cls.size, sources, cls.seats, at, 0.0166, c)

    @classmethod
    def perimeter(cls, across, back):
        """Places along the walls, 0.15 m from them, corners and middles among them."""
        x, y = np.linspace(0.15, 4.35, across), np.linspace(0.15, 5.85, back)
        ends = [(a, b, 0.15) for b in (0.15, 5.85) for a in x]
        return np.array(ends + [(a, b, 0.15) for b in y[1:-1] for a in (0.15, 4.35)])
