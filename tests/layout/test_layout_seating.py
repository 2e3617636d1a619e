import math
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point as FlatPoint

from roomwright._errors import InputError
from roomwright.layout import main_seat_of, rows_of_seats, seat_stations
from roomwright.model import Seat


def test_two_rows_of_four(box):
    seats = rows_of_seats(box(6.2, 7.6, 2.9), 2, 4)
    assert [seat.id for seat in seats] == [f"R{r}-{n}" for r in (1, 2) for n in (1, 2, 3, 4)]
    assert [seat.row for seat in seats] == [1] * 4 + [2] * 4
    xs = [seat.position_m[0] for seat in seats[:4]]
    assert sum(xs) / 4 == pytest.approx(3.1)
    assert [b - a for a, b in pairwise(xs)] == pytest.approx([0.75] * 3)
    assert seats[4].position_m[1] - seats[0].position_m[1] == pytest.approx(1.4)
    assert seats[0].position_m[2] == 1.2
    assert seats[4].position_m[2] == 1.45


@settings(max_examples=60)
@given(st.floats(2.5, 10), st.floats(3, 14), st.integers(1, 4), st.integers(1, 8))
def test_seats_keep_off_the_walls_and_each_other(box, width, depth, rows, count):
    room = box(width, depth, 3.5)
    try:
        seats = rows_of_seats(room, rows, count)
    except InputError:
        return
    assert len(seats) == rows * count
    for seat in seats:
        x, y, _ = seat.position_m
        assert 0.499 <= x <= width - 0.499
        assert 1.499 <= y <= depth - 0.799
        assert room.polygon.contains(FlatPoint(x, y))
    apart = [math.dist(a.position_m, b.position_m) for i, a in enumerate(seats) for b in seats[:i]]
    assert min(apart, default=1) >= 0.549


def test_row_is_centred_where_the_room_is_slanted(prism):
    room = prism((0, 0), (6, 0), (8, 8), (2, 8))
    for seat in rows_of_seats(room, 2, 1):
        x, y, _ = seat.position_m
        assert x == pytest.approx(3 + y / 4, abs=0.001)


@pytest.mark.parametrize(
    ("rows", "count", "said"),
    [(0, 4, "must be 1 or more"), (1, 0, "must be 1 or more"), (5, 2, "deep"), (1, 20, "wide")],
)
def test_what_does_not_fit_is_refused(box, rows, count, said):
    with pytest.raises(InputError, match=said):
        rows_of_seats(box(4, 5, 2.5), rows, count)


@pytest.mark.parametrize(
    ("rows", "count", "main"),
    [(1, 1, "R1-1"), (1, 3, "R1-2"), (2, 4, "R1-2"), (3, 5, "R2-3"), (4, 2, "R2-1")],
)
def test_main_seat(box, rows, count, main):
    seats = rows_of_seats(box(9, 12, 4), rows, count)
    assert main_seat_of(tuple(reversed(seats))) == main


def test_no_seat_no_main_seat():
    with pytest.raises(InputError, match="no seat"):
        main_seat_of(())


@settings(max_examples=30)
@given(st.integers(0, 40))
def test_stations(count):
    seats = (Seat(id="A", position_m=(2, 3, 1.2)), Seat(id="B", position_m=(3, 3, 1.2)))
    stations = seat_stations(seats, "B", count)
    assert [s.id for s in stations[:2]] == ["S-A", "S-B"]
    assert [s.seat for s in stations] == ["A", "B", *[None] * count]
    assert [s.id for s in stations[2:]] == [f"X{n + 1}" for n in range(count)]
    places = [s.position_m for s in stations[1:]]
    assert all(math.dist(place, (3, 3, 1.2)) <= 0.3 for place in places)
    assert len(set(places)) == len(places)


def test_stations_need_their_main_seat():
    seats = (Seat(id="A", position_m=(2, 3, 1.2)),)
    with pytest.raises(InputError, match="main seat B"):
        seat_stations(seats, "B")
    with pytest.raises(InputError, match="0 or more"):
        seat_stations(seats, "A", -1)
