"""Carrying the microphone: row by row, and no longer than the best of small tours."""

from __future__ import annotations

import itertools

import pytest

from roomwright._errors import InputError
from roomwright.layout import (
    rows_of_seats,
    seat_stations,
    stations_around_seats,
    walk_m,
    walking_order,
)
from roomwright.model import Room, Seat, Station, Surface

SURFACE = Surface(material="plaster", absorption=(0.2,) * 8)
BOX = Room(
    outline_m=((0.0, 0.0), (5.4, 0.0), (5.4, 7.2), (0.0, 7.2)),
    height_m=2.6,
    floor=SURFACE,
    ceiling=SURFACE,
    walls=(SURFACE,) * 4,
)


def grid(columns, rows, layers=(1.2,)):
    places = itertools.product(range(columns), range(rows), layers)
    return [
        Station(id=f"P{number}", position_m=(1.0 + x, 2.0 + y, z))
        for number, (x, y, z) in enumerate(places)
    ]


def test_rows_are_walked_there_and_back():
    seats = rows_of_seats(BOX, 2, 4)
    order = walking_order(seat_stations(tuple(reversed(seats)), seats[0].id))
    assert [station.seat for station in order] == [
        *("R1-1", "R1-2", "R1-3", "R1-4"),
        *("R2-4", "R2-3", "R2-2", "R2-1"),
    ]


@pytest.mark.parametrize(("columns", "rows"), [(2, 2), (2, 3), (3, 2), (4, 2), (2, 4), (1, 5)])
def test_on_small_grids_no_tour_is_shorter(columns, rows):
    """A grid of n places 1 m apart cannot be toured in less than n - 1 metres."""
    order = walking_order(grid(columns, rows))
    assert len(set(order)) == columns * rows
    assert walk_m(order) == pytest.approx(columns * rows - 1)


def test_heights_at_one_place_follow_each_other():
    order = walking_order(grid(3, 3, (1.1, 1.6)))
    for low, high in zip(order[::2], order[1::2], strict=True):
        assert low.position_m[:2] == high.position_m[:2]
    # Nine places, each one change of height, eight steps of a metre at the height last used.
    assert walk_m(order) == pytest.approx(9 * 0.5 + 8 * 1.0)


def test_stations_without_a_place_come_last():
    lost = Station(id="lost")
    assert walking_order([lost, *grid(2, 1)])[-1] == lost
    assert walk_m([lost]) == 0.0


def test_around_a_seat_stations_are_near_it_and_inside_the_room():
    seats = (
        Seat(id="R1-1", position_m=(0.4, 3.0, 1.2)),
        Seat(id="R1-2", position_m=(2.0, 3.0, 1.2)),
    )
    found = stations_around_seats(BOX, seats, 3)
    assert [station.id for station in found[:4]] == ["S-R1-1", "S-R1-1a", "S-R1-1b", "S-R1-1c"]
    assert [station.seat for station in found] == ["R1-1", *(None,) * 3, "R1-2", *(None,) * 3]
    for station in found:
        seat = seats[0] if "R1-1" in station.id else seats[1]
        distance = sum(
            (a - b) ** 2 for a, b in zip(station.position_m, seat.position_m, strict=True)
        )
        assert distance**0.5 <= 0.3
        assert station.position_m[0] >= 0.15


def test_a_seat_at_the_wall_has_nothing_around_it():
    seats = (Seat(id="R1-1", position_m=(0.1, 3.0, 1.2)),)
    assert len(stations_around_seats(BOX, seats, 0)) == 1
    with pytest.raises(InputError, match=r"within 0\.15 m of a wall"):
        stations_around_seats(BOX, seats, 1)
    with pytest.raises(InputError, match="0 to 26"):
        stations_around_seats(BOX, seats, 27)
