"""Changes of the room and its seats: each takes a job and returns another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from pydantic import ValidationError

from roomwright._errors import InputError
from roomwright.commissioning.settle import settled
from roomwright.layout import main_seat_of, rows_of_seats, seat_stations
from roomwright.model import Job, Point, Room, Seat, Station

#: Sides of a room that are believed, metres.
SHORTEST_M: Final = 1.0
LONGEST_M: Final = 60.0

#: Things nearer to a wall than this keep their distance to it when the room is resized, metres.
_AT_WALL_M: Final = 0.6

#: Stations nearer than this to a seat belong to it and move with it, metres.
_AROUND_SEAT_M: Final = 0.35


def resized(job: Job, width_m: float, length_m: float, height_m: float) -> Job:
    """The job in a room of another size, everything in it moved along.

    The outline is stretched. What stands near a wall, the floor or the ceiling keeps its distance
    to it; loudspeakers further in are moved in proportion. Seats keep their distances to each
    other and the ears their height; the block of seats stays where it is in proportion.

    Raises
    ------
    InputError
        If a side is not 1 to 60 m.
    """
    size = (width_m, length_m, height_m)
    for name, side in zip(("width", "length", "height"), size, strict=True):
        if not SHORTEST_M <= side <= LONGEST_M:
            raise InputError(
                f"the room's {name} is {side:.2f} m; allowed is {SHORTEST_M:g} to {LONGEST_M:g} m"
            )
    x0, y0, x1, y1 = job.room.polygon.bounds
    low, old = (x0, y0, 0.0), (x1 - x0, y1 - y0, job.room.height_m)
    outline = tuple(
        (round(x0 + (x - x0) * width_m / old[0], 4), round(y0 + (y - y0) * length_m / old[1], 4))
        for x, y in job.room.outline_m
    )
    middle = [
        sum(seat.position_m[axis] for seat in job.seats) / len(job.seats) for axis in range(3)
    ]
    shift = [
        (middle[axis] - low[axis]) * (size[axis] / old[axis] - 1.0) if axis < 2 else 0.0
        for axis in range(3)
    ]

    def unit_at(place: Point) -> Point:
        x, y, z = (
            low[axis] + _stretched(place[axis] - low[axis], old[axis], size[axis])
            for axis in range(3)
        )
        return (round(x, 3), round(y, 3), round(z, 3))

    room = changed_room(job, outline_m=outline, height_m=height_m)
    moved = job.model_copy(
        update={
            "room": room,
            "loudspeakers": tuple(
                one.model_copy(update={"position_m": unit_at(one.position_m)})
                for one in job.loudspeakers
            ),
            "subwoofers": tuple(
                one.model_copy(update={"position_m": unit_at(one.position_m)})
                for one in job.subwoofers
            ),
        }
    )
    return _seats_moved(moved, {seat.id: _added(seat.position_m, shift) for seat in job.seats})


def with_outline(job: Job, outline_m: Sequence[tuple[float, float]]) -> Job:
    """The job in a room of another outline; each new edge is made like the nearest old one.

    Raises
    ------
    InputError
        If the outline has fewer than three corners, crosses itself, or encloses no area.
    """
    old = job.room.outline_m
    middles = [_middle(old, number) for number in range(len(old))]
    walls = []
    for number in range(len(outline_m)):
        x, y = _middle(outline_m, number)
        near = min(
            range(len(old)),
            key=lambda edge: (middles[edge][0] - x) ** 2 + (middles[edge][1] - y) ** 2,
        )
        walls.append(job.room.walls[near])
    outline = tuple((round(x, 4), round(y, 4)) for x, y in outline_m)
    room = changed_room(job, outline_m=outline, walls=tuple(walls))
    return job.model_copy(update={"room": room})


def with_air(
    job: Job,
    *,
    temperature_c: float | None = None,
    humidity_percent: float | None = None,
    noise_criterion: float | None = None,
) -> Job:
    """The job with other air, or another background noise, in its room.

    Raises
    ------
    InputError
        If a value is outside its range.
    """
    given = {
        "temperature_c": temperature_c,
        "humidity_percent": humidity_percent,
        "noise_criterion": noise_criterion,
    }
    room = changed_room(job, **{name: value for name, value in given.items() if value is not None})
    return job.model_copy(update={"room": room})


def with_rows(job: Job, rows: int, seats_per_row: int) -> Job:
    """The job with seats set out anew in rows, and stations for them.

    Loudspeakers stay where they are and are aimed at the new main seat.

    Raises
    ------
    InputError
        If they do not fit the room.
    """
    return _reseated(job, rows_of_seats(job.room, rows, seats_per_row))


def with_another_seat(job: Job) -> Job:
    """The job with a seat more, to the right of the last row's rightmost.

    Raises
    ------
    InputError
        If there is no room for it.
    """
    row = max(seat.row for seat in job.seats)
    across = sorted((s for s in job.seats if s.row == row), key=lambda one: one.position_m[0])
    last = across[-1]
    pitch = last.position_m[0] - across[-2].position_m[0] if len(across) > 1 else 0.75
    number = next(n for n in range(1, 1000) if f"R{row}-{n}" not in {s.id for s in job.seats})
    x, y, z = last.position_m
    seat = Seat(id=f"R{row}-{number}", position_m=(round(x + pitch, 3), y, z), row=row)
    station = Station(id=f"S-{seat.id}", position_m=seat.position_m, seat=seat.id)
    stations = tuple(one for one in job.stations if one.id != station.id)
    return job.model_copy(update={"seats": (*job.seats, seat), "stations": (*stations, station)})


def without_seat(job: Job, seat_id: str) -> Job:
    """The job without a seat, its station and that station's takes.

    Raises
    ------
    InputError
        If it is the only seat, or there is no such seat.
    """
    _known_seat(job, seat_id)
    if len(job.seats) == 1:
        raise InputError("this is the only seat; a cinema needs one at least")
    seats = tuple(seat for seat in job.seats if seat.id != seat_id)
    stations = tuple(station for station in job.stations if station.seat != seat_id)
    left = settled(job.model_copy(update={"seats": seats, "stations": stations}))
    return left if job.main_seat != seat_id else with_main_seat(left, main_seat_of(seats))


def with_main_seat(job: Job, seat_id: str) -> Job:
    """The job with another main seat; what was aimed at the old one is aimed at the new.

    Raises
    ------
    InputError
        If there is no such seat.
    """
    _known_seat(job, seat_id)
    old = next((seat.position_m for seat in job.seats if seat.id == job.main_seat), None)
    new = job.seat(seat_id).position_m
    aimed = _aimed(job, old, new)
    return aimed.model_copy(update={"main_seat": seat_id})


def with_seat_at(job: Job, seat_id: str, position_m: Point) -> Job:
    """The job with a seat moved; its stations, and aims at it, follow.

    Raises
    ------
    InputError
        If there is no such seat.
    """
    _known_seat(job, seat_id)
    return _seats_moved(job, {seat_id: position_m})


def with_station_at(job: Job, station_id: str, position_m: Point) -> Job:
    """The job with a station moved.

    Raises
    ------
    InputError
        If there is no such station.
    """
    if station_id not in {station.id for station in job.stations}:
        raise InputError(f"there is no station {station_id}")
    stations = tuple(
        one.model_copy(update={"position_m": position_m}) if one.id == station_id else one
        for one in job.stations
    )
    return job.model_copy(update={"stations": stations})


def _stretched(place: float, old: float, new: float) -> float:
    """A place along one side after stretching it; near an end, its distance to that is kept."""
    if place <= min(_AT_WALL_M, old / 2):
        return min(place, new / 2)
    if old - place <= _AT_WALL_M:
        return max(new - (old - place), new / 2)
    return place * new / old


def _seats_moved(job: Job, places: Mapping[str, Point]) -> Job:
    """Seats at new places, and with them their stations and the aims at them."""
    seats = tuple(
        seat.model_copy(update={"position_m": _rounded(places[seat.id])})
        if seat.id in places
        else seat
        for seat in job.seats
    )
    moved = job
    for seat in job.seats:
        if seat.id in places:
            moved = _aimed(moved, seat.position_m, _rounded(places[seat.id]))
    stations = tuple(_followed(job, station, places) for station in job.stations)
    return moved.model_copy(update={"seats": seats, "stations": stations})


def _followed(job: Job, station: Station, places: Mapping[str, Point]) -> Station:
    """A station moved along with its seat, or with the main seat it stands around."""
    seat_id = station.seat or job.main_seat
    if station.position_m is None or seat_id not in places:
        return station
    old = job.seat(seat_id).position_m
    offset = [a - b for a, b in zip(station.position_m, old, strict=True)]
    if sum(part**2 for part in offset) > _AROUND_SEAT_M**2:
        return station
    return station.model_copy(update={"position_m": _added(places[seat_id], offset)})


def _aimed(job: Job, old_m: Point | None, new_m: Point) -> Job:
    if old_m is None or old_m == new_m:
        return job
    loudspeakers = tuple(
        one.model_copy(update={"aim_m": new_m}) if one.aim_m == old_m else one
        for one in job.loudspeakers
    )
    return job.model_copy(update={"loudspeakers": loudspeakers})


def _reseated(job: Job, seats: tuple[Seat, ...]) -> Job:
    main = main_seat_of(seats)
    around = sum(1 for station in job.stations if station.seat is None)
    old = next((seat.position_m for seat in job.seats if seat.id == job.main_seat), None)
    new = {seat.id: seat.position_m for seat in seats}[main]
    return settled(
        _aimed(job, old, new).model_copy(
            update={
                "seats": seats,
                "main_seat": main,
                "stations": seat_stations(seats, main, extra_around_main=around),
            }
        )
    )


def changed_room(job: Job, **changes: object) -> Room:
    """The job's room with some fields changed.

    Raises
    ------
    InputError
        If a value is outside its range.
    """
    fields = {name: getattr(job.room, name) for name in Room.model_fields}
    try:
        return Room.model_validate(fields | changes)
    except ValidationError as error:
        first = error.errors()[0]
        name = str(first["loc"][0]) if first["loc"] else "room"
        says = first["msg"].removeprefix("Value error, ")
        raise InputError(f"{_FIELD_WORDS.get(name, name)}: {says}") from None


_FIELD_WORDS: Final = {
    "outline_m": "the room's outline",
    "height_m": "the room's height",
    "temperature_c": "the temperature",
    "humidity_percent": "the humidity",
    "noise_criterion": "the noise criterion",
}


def _known_seat(job: Job, seat_id: str) -> None:
    if seat_id not in {seat.id for seat in job.seats}:
        raise InputError(f"there is no seat {seat_id}")


def _middle(outline: Sequence[tuple[float, float]], number: int) -> tuple[float, float]:
    (x0, y0), (x1, y1) = outline[number], outline[(number + 1) % len(outline)]
    return (x0 + x1) / 2, (y0 + y1) / 2


def _added(place: Point, offset: Sequence[float]) -> Point:
    x, y, z = (a + b for a, b in zip(place, offset, strict=True))
    return _rounded((x, y, z))


def _rounded(place: Point) -> Point:
    x, y, z = place
    return (round(x, 3), round(y, 3), round(z, 3))
