"""Rows of seats in a room, and which of them is the main seat."""

from __future__ import annotations

from shapely import LineString

from roomwright._errors import InputError
from roomwright.model import Room, Seat

#: Common practice, no source: ears of a seated listener, and what a riser adds for each row.
EAR_HEIGHT_M = 1.2
RISER_M = 0.25

_SEAT_PITCH_M = 0.75
_NARROWEST_SEAT_PITCH_M = 0.55
_ROW_PITCH_M = 1.4
_NARROWEST_ROW_PITCH_M = 0.9
_TO_SIDE_WALL_M = 0.5
_TO_BACK_WALL_M = 0.8
_TO_FRONT_WALL_M = 1.5
_BLOCK_CENTRE = 0.62


def rows_of_seats(room: Room, rows: int, seats_per_row: int) -> tuple[Seat, ...]:
    """Seats in straight rows that face the front wall, ids "R1-1" from the front row's left.

    The rows are centred on 0.62 of the room's depth and each row on the room's width there. Seats
    stand 0.75 m and rows 1.4 m apart, closer where the room is small. Ears are 1.2 m high, and
    0.25 m more for each further row. Common practice, no source.

    Raises
    ------
    InputError
        If there is no row, no seat, or no room for them.
    """
    if rows < 1 or seats_per_row < 1:
        raise InputError(
            f"{rows} rows of {seats_per_row} seats cannot be placed; both must be 1 or more"
        )
    return tuple(
        Seat(
            id=f"R{row}-{number}",
            position_m=(round(x, 3), round(y, 3), EAR_HEIGHT_M + RISER_M * (row - 1)),
            row=row,
        )
        for row, y in enumerate(_row_places_m(room, rows), start=1)
        for number, x in enumerate(_seat_places_m(room, y, row, seats_per_row), start=1)
    )


def _row_places_m(room: Room, rows: int) -> list[float]:
    _, front, _, back = room.polygon.bounds
    first, last = front + _TO_FRONT_WALL_M, back - _TO_BACK_WALL_M
    pitch = min(_ROW_PITCH_M, (last - first) / (rows - 1)) if rows > 1 else 0.0
    if last < first or (rows > 1 and pitch < _NARROWEST_ROW_PITCH_M):
        raise InputError(f"the room is {back - front:.2f} m deep; {rows} rows of seats do not fit")
    depth = (rows - 1) * pitch
    start = front + _BLOCK_CENTRE * (back - front) - depth / 2
    start = min(max(start, first), last - depth)
    return [start + row * pitch for row in range(rows)]


def _seat_places_m(room: Room, y: float, row: int, seats: int) -> list[float]:
    left, _, right, _ = room.polygon.bounds
    across = room.polygon.intersection(LineString([(left - 1, y), (right + 1, y)]))
    widest = max(getattr(across, "geoms", [across]), key=lambda part: part.length)
    left, _, right, _ = widest.bounds
    free = right - left - 2 * _TO_SIDE_WALL_M
    pitch = min(_SEAT_PITCH_M, free / (seats - 1)) if seats > 1 else 0.0
    if free < 0 or (seats > 1 and pitch < _NARROWEST_SEAT_PITCH_M):
        raise InputError(
            f"the room is {right - left:.2f} m wide at row {row}; {seats} seats do not fit"
        )
    start = (left + right) / 2 - (seats - 1) * pitch / 2
    return [start + seat * pitch for seat in range(seats)]


def main_seat_of(seats: tuple[Seat, ...]) -> str:
    """Id of the seat in the middle of the middle row: the front row of two, the left seat of two.

    Common practice, no source.

    Raises
    ------
    InputError
        If there is no seat.
    """
    if not seats:
        raise InputError("there is no seat, so there is no main seat")
    rows = sorted({seat.row for seat in seats})
    row = rows[(len(rows) - 1) // 2]
    across = sorted((s for s in seats if s.row == row), key=lambda seat: seat.position_m[0])
    return across[(len(across) - 1) // 2].id
