"""The grid for bass control: nothing below its frequency hides between two stations."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import Point as FlatPoint

from roomwright._errors import InputError
from roomwright.layout import (
    bass_grid_points,
    bass_stations,
    grid_layers_m,
    grid_spacing_m,
    rows_of_seats,
)
from roomwright.model import Room, Seat, Surface

SURFACE = Surface(material="plaster", absorption=(0.2,) * 8)


def room_of(outline, height=2.6):
    return Room(
        outline_m=outline,
        height_m=height,
        floor=SURFACE,
        ceiling=SURFACE,
        walls=(SURFACE,) * len(outline),
    )


BOX = room_of(((0.0, 0.0), (5.4, 0.0), (5.4, 7.2), (0.0, 7.2)))


@pytest.mark.parametrize("upper_hz", [40.0, 80.0, 120.0, 171.5, 200.0, 245.0, 343.0, 800.0])
def test_the_spacing_is_under_half_a_wavelength_in_whole_decimetres(upper_hz):
    spacing = grid_spacing_m(upper_hz, 343.0)
    assert spacing < 343.0 / (2 * upper_hz)
    assert spacing * 10 == pytest.approx(round(spacing * 10), abs=1e-9)
    # No wider one would do, but for what is never exceeded.
    assert spacing == 1.0 or spacing + 0.1 >= 343.0 / (2 * upper_hz)


def test_the_check_value_from_practice():
    """An ordinary ceiling: two layers, about 1.1 and 1.6 m above the floor, 1 m apart."""
    for height in (2.3, 2.4, 2.5, 2.6, 2.7, 2.8):
        assert grid_layers_m(height, [1.1], 120.0) == (1.1, 1.6)
    assert grid_spacing_m(120.0) == 1.0


@pytest.mark.parametrize("height", [2.2, 2.6, 3.4, 5.0])
@pytest.mark.parametrize("upper_hz", [60.0, 120.0, 200.0])
def test_the_layers_tell_the_vertical_modes_apart(height, upper_hz):
    """cos(pi n z / H) below the upper frequency are independent on the layers."""
    layers = np.array(grid_layers_m(height, [1.1], upper_hz))
    orders = [n for n in range(40) if n * 343.0 / (2 * height) <= upper_hz]
    modes = np.cos(np.pi * np.outer(orders, layers) / height)
    assert len(layers) == len(orders)
    assert np.linalg.matrix_rank(modes) == len(orders)
    assert (np.diff(layers) <= 0.5 + 1e-9).all()
    assert layers[0] == 1.1
    assert layers[-1] <= height - 0.3 + 1e-9


def test_high_rows_get_a_layer_of_their_own():
    assert (
        grid_layers_m(3.4, [1.1, 2.3], 40.0) == (1.1, 1.5, 1.9, 2.3)
        or len(grid_layers_m(3.4, [1.1, 2.3], 40.0)) == 4
    )
    assert grid_layers_m(3.4, [1.1, 2.3], 40.0)[-1] >= 2.3


def test_the_grid_covers_the_seats_and_keeps_clear_of_the_walls():
    seats = rows_of_seats(BOX, 2, 4)
    grid = bass_grid_points(BOX, seats, 120.0)
    points = np.array(grid.points_m)
    assert grid.left_out == 0
    assert points[:, 0].min() >= 0.29
    assert points[:, 0].max() <= 5.11
    assert points[:, 1].max() <= 6.91
    for seat in seats:
        across = np.abs(points[:, 0] - seat.position_m[0]).min()
        along = np.abs(points[:, 1] - seat.position_m[1]).min()
        # Places are rounded to the centimetre.
        assert max(across, along) <= grid.spacing_m / 2 + 0.005 + 1e-9
    columns, rows = np.unique(points[:, 0]), np.unique(points[:, 1])
    assert np.diff(columns) == pytest.approx(grid.spacing_m)
    assert np.diff(rows) == pytest.approx(grid.spacing_m)
    assert len(points) == len(columns) * len(rows) * len(grid.layers_m)


def test_no_station_stands_in_the_back_of_a_seat():
    seats = rows_of_seats(BOX, 2, 4)
    for upper_hz in (80.0, 150.0, 250.0, 300.0):
        for x, y, z in bass_grid_points(BOX, seats, upper_hz).points_m:
            for ear in (seat.position_m for seat in seats):
                behind = 0.03 < y - ear[1] < 0.35 and abs(x - ear[0]) < 0.3
                assert not (behind and z < ear[2] + 0.1)


def test_in_a_room_with_a_corner_cut_off_places_outside_are_left_out_and_counted():
    cut = room_of(((0.0, 0.0), (5.4, 0.0), (5.4, 4.0), (3.6, 5.8), (3.6, 7.2), (0.0, 7.2)))
    seats = rows_of_seats(BOX, 2, 4)
    grid, whole = bass_grid_points(cut, seats, 200.0), bass_grid_points(BOX, seats, 200.0)
    assert grid.left_out > 0
    assert len(grid.points_m) < len(whole.points_m)
    shrunk = cut.polygon.buffer(-0.29)
    for x, y, _ in grid.points_m:
        assert shrunk.covers(FlatPoint(x, y))


def test_one_seat_alone_still_shows_a_slope():
    seat = Seat(id="R1-1", position_m=(2.7, 4.0, 1.2))
    grid = bass_grid_points(BOX, [seat], 120.0)
    assert len({x for x, _, _ in grid.points_m}) == 2
    assert len({y for _, y, _ in grid.points_m}) == 2
    assert all(math.dist(at[:2], (2.7, 4.0)) <= 1.0 for at in grid.points_m)


def test_names_go_on_after_those_taken():
    named = bass_stations([(1.0, 1.0, 1.0), (2.0, 1.0, 1.0)], ["B1", "B3"])
    assert [station.id for station in named] == ["B2", "B4"]


@pytest.mark.parametrize(
    ("seats", "upper_hz", "words"),
    [
        ((), 120.0, "needs a seat"),
        ((Seat(id="A", position_m=(2.0, 3.0, 2.5)),), 120.0, "ceiling"),
        ((Seat(id="A", position_m=(2.0, 3.0, 1.2)),), 2000.0, "allowed are frequencies below"),
        ((Seat(id="A", position_m=(2.0, 3.0, 1.2)),), -1.0, "must be a number above 0"),
    ],
)
def test_what_cannot_be_is_said(seats, upper_hz, words):
    with pytest.raises(InputError, match=words):
        bass_grid_points(BOX, seats, upper_hz)
