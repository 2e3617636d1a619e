"""Microphone positions that stand for the seats, and further ones around the main seat."""

from __future__ import annotations

import math
from collections.abc import Sequence

from roomwright._errors import InputError
from roomwright.model import Point, Seat, Station

#: Furthest a station stands from the main seat it surrounds, metres.
_RADIUS_M = 0.3
_GOLDEN_ANGLE = math.pi * (3 - math.sqrt(5))


def seat_stations(
    seats: Sequence[Seat], main_seat: str, extra_around_main: int = 0
) -> tuple[Station, ...]:
    """One station at each seat ("S-R1-1"), then "X1", "X2" ... within 0.3 m of the main seat.

    The further ones fill a flattened ball evenly (a spiral by the golden angle), because a
    regular pattern would meet the same wave at equal phases.

    Raises
    ------
    InputError
        If the main seat is not one of the seats, or fewer than 0 further stations are asked for.
    """
    places = {seat.id: seat.position_m for seat in seats}
    if main_seat not in places:
        raise InputError(f"the main seat {main_seat} is not one of the seats ({', '.join(places)})")
    if extra_around_main < 0:
        raise InputError(f"{extra_around_main} further stations were asked for; 0 or more can be")
    at_seats = tuple(
        Station(id=f"S-{seat.id}", position_m=seat.position_m, seat=seat.id) for seat in seats
    )
    around = tuple(
        Station(
            id=f"X{number + 1}", position_m=_around(places[main_seat], number, extra_around_main)
        )
        for number in range(extra_around_main)
    )
    return at_seats + around


def _around(centre_m: Point, number: int, count: int) -> Point:
    x, y, z = centre_m
    share = (number + 0.5) / count
    across = 0.9 * _RADIUS_M * math.sqrt(share)
    up = 0.3 * _RADIUS_M * (1 if number % 2 else -1)
    angle = number * _GOLDEN_ANGLE
    return (
        round(x + across * math.cos(angle), 3),
        round(y + across * math.sin(angle), 3),
        round(z + up, 3),
    )
