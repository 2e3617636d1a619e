"""Microphone positions that stand for the seats, and further ones around them."""

from __future__ import annotations

import math
import string
from collections.abc import Sequence

from shapely import Point as FlatPoint

from roomwright._errors import InputError
from roomwright.model import Point, Room, Seat, Station

#: Furthest a station stands from the seat it surrounds, metres, and nearest to a wall. Common
#: practice, no source.
_RADIUS_M = 0.3
_TO_WALL_M = 0.15
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
            id=f"X{number + 1}",
            position_m=_around(places[main_seat], number, extra_around_main, _RADIUS_M),
        )
        for number in range(extra_around_main)
    )
    return at_seats + around


def stations_around_seats(
    room: Room, seats: Sequence[Seat], around_each: int
) -> tuple[Station, ...]:
    """At each seat one station ("S-R1-1") and others around it ("S-R1-1a", "S-R1-1b", ...).

    The others stand within 0.3 m of the ears, closer where a wall is near, spread as those of
    `seat_stations`; they name no seat, which has one station of its own.

    Raises
    ------
    InputError
        If not 0 to 26 are asked for, or a seat stands so near a wall that they do not fit.
    """
    most = len(string.ascii_lowercase)
    if not 0 <= around_each <= most:
        raise InputError(
            f"{around_each} stations around each seat were asked for; 0 to {most} can be"
        )
    stations: list[Station] = []
    for seat in seats:
        at = Station(id=f"S-{seat.id}", position_m=seat.position_m, seat=seat.id)
        free_m = room.polygon.exterior.distance(FlatPoint(seat.position_m[:2])) - _TO_WALL_M
        if around_each and free_m <= 0:
            raise InputError(
                f"seat {seat.id} stands within {_TO_WALL_M:g} m of a wall; "
                "stations around it do not fit"
            )
        radius_m = min(_RADIUS_M, free_m)
        stations.append(at)
        stations += [
            Station(
                id=f"{at.id}{string.ascii_lowercase[number]}",
                position_m=_around(seat.position_m, number, around_each, radius_m),
            )
            for number in range(around_each)
        ]
    return tuple(stations)


def _around(centre_m: Point, number: int, count: int, radius_m: float) -> Point:
    x, y, z = centre_m
    share = (number + 0.5) / count
    across = 0.9 * radius_m * math.sqrt(share)
    up = 0.3 * radius_m * (1 if number % 2 else -1)
    angle = number * _GOLDEN_ANGLE
    return (
        round(x + across * math.cos(angle), 3),
        round(y + across * math.sin(angle), 3),
        round(z + up, 3),
    )
