"""Loudspeakers and subwoofers added to those that stand already."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from shapely import Point as FlatPoint

from roomwright._errors import InputError
from roomwright.layout.enclosure import enclosure
from roomwright.layout.placement import FROM_WALL_M, loudspeaker_at, role_of
from roomwright.layout.spots import SPACING_M, find_spots
from roomwright.layout.subwoofers import subwoofer_places
from roomwright.model import Channel, Job, Loudspeaker, Point, Room, Subwoofer
from roomwright.standards import bs2051

#: As many as a domestic count may name.
MOST_SUBWOOFERS = 24

#: A second loudspeaker on a channel stands this far beside the first, where there is room.
_BESIDE_M = (0.8, 1.1, 0.6, 1.4, 0.45, 1.8, 0.35)


def place_channels(
    job: Job, labels: Sequence[str], models: Mapping[str, str]
) -> tuple[tuple[Loudspeaker, ...], tuple[Channel, ...]]:
    """Loudspeakers for further BS.2051 labels, clear of everything that stands in the room.

    Parameters
    ----------
    job
        The room, seats and loudspeakers as they are.
    labels
        Labels that the job has no channel for.
    models
        Name of the loudspeaker model for each role.

    Raises
    ------
    InputError
        If a label is unknown or taken, or the main seat is not in the room.
    """
    have = {channel.id for channel in job.channels} | {unit.id for unit in job.units}
    for label in labels:
        if label in have:
            raise InputError(f"the job has {label} already; each channel is there once")
    positions = [bs2051.position(label) for label in labels]
    main = job.seat(job.main_seat).position_m
    spots = find_spots(
        enclosure(job.room, main, FROM_WALL_M),
        main,
        tuple(seat.position_m for seat in job.seats),
        positions,
        tuple(unit.position_m for unit in job.units),
    )
    return (
        tuple(loudspeaker_at(spot, main, models) for spot in spots),
        tuple(Channel(id=name, role=role_of(name), loudspeakers=(name,)) for name in labels),
    )


def place_beside(room: Room, first_m: Point, taken: Sequence[Point]) -> Point:
    """A place beside a loudspeaker, at its height.

    Along the wall it stands at, towards the back or the right if there is room; away from every
    wall, towards the back.

    Raises
    ------
    InputError
        If everything within 1.8 m is taken or outside the room.
    """
    x, y, z = first_m
    inner = room.polygon.buffer(-(FROM_WALL_M - 0.005), join_style="mitre")
    for across, back in _ways(room, first_m):
        for apart in _BESIDE_M:
            place = (round(x + across * apart, 3), round(y + back * apart, 3), z)
            clear = all(math.dist(place, other) >= SPACING_M for other in taken)
            if clear and inner.covers(FlatPoint(place[:2])):
                return place
    raise InputError(
        f"there is no free place within {max(_BESIDE_M):g} m of the point ({x:g}, {y:g}, {z:g}) m"
    )


def _ways(room: Room, place_m: Point) -> tuple[tuple[int, int], ...]:
    """Directions to look in: along the nearer pair of walls first."""
    x0, y0, x1, y1 = room.polygon.bounds
    x, y, _ = place_m
    lengthwise = ((0, 1), (0, -1))
    sideways = ((1, 0), (-1, 0))
    at_an_end = min(y - y0, y1 - y) < min(x - x0, x1 - x, 1.0)
    return (*sideways, *lengthwise) if at_an_end else (*lengthwise, *sideways)


def place_subwoofers(job: Job, count: int, model: str) -> tuple[Subwoofer, ...]:
    """`count` subwoofers along the walls, clear of the loudspeakers, as `place` sets them out.

    Raises
    ------
    InputError
        If `count` is not 0 to 24.
    """
    if not 0 <= count <= MOST_SUBWOOFERS:
        raise InputError(f"{count} subwoofers were asked for; allowed is 0 to {MOST_SUBWOOFERS}")
    taken = [loudspeaker.position_m for loudspeaker in job.loudspeakers]
    places = subwoofer_places(job.room, count, taken, SPACING_M) if count else ()
    return tuple(
        Subwoofer(id=f"SW{number}", model=model, position_m=place_m)
        for number, place_m in enumerate(places, start=1)
    )
