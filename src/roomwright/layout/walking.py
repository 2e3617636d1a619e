"""The order in which a microphone is carried through its stations."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from typing import Final

from roomwright.model import Point, Station

#: Stations this close behind each other belong to one row, metres; this close side by side, to
#: one place of the stand. Nearer rows than 0.9 m of seats do not exist.
_ONE_ROW_M: Final = 0.45
_ONE_PLACE_M: Final = 0.35

Placed = tuple[Station, Point]


def walking_order(stations: Sequence[Station]) -> tuple[Station, ...]:
    """Stations row by row, there and back again; the shorter of along and across the room.

    At one place of the stand the heights are taken one after the other, up and down by turns.
    Stations without a position come last. Ends of rows are never jumped, so nobody climbs
    over seats: a shorter tour may exist.
    """
    placed = [(station, at) for station in stations if (at := station.position_m) is not None]
    lost = [station for station in stations if station.position_m is None]
    across = _snake(placed, row=lambda one: one[1][1], column=lambda one: one[1][0])
    along = _snake(placed, row=lambda one: one[1][0], column=lambda one: one[1][1])
    shorter = min((across, along), key=lambda order: round(walk_m([one[0] for one in order]), 6))
    return (*(station for station, _ in shorter), *lost)


def walk_m(stations: Sequence[Station]) -> float:
    """Metres from the first station through all others, straight; unknown places left out."""
    places = [station.position_m for station in stations if station.position_m is not None]
    return sum(math.dist(a, b) for a, b in itertools.pairwise(places))


def _snake(
    placed: Sequence[Placed],
    row: Callable[[Placed], float],
    column: Callable[[Placed], float],
) -> list[Placed]:
    order: list[Placed] = []
    is_back = is_down = False
    for members in _clusters(placed, row, _ONE_ROW_M):
        places = _clusters(members, column, _ONE_PLACE_M)
        for place in reversed(places) if is_back else places:
            order += sorted(place, key=lambda one: one[1][2], reverse=is_down)
            is_down = not is_down
        is_back = not is_back
    return order


def _clusters(
    placed: Sequence[Placed], value: Callable[[Placed], float], apart_m: float
) -> list[list[Placed]]:
    """Groups in rising order of a value, each no wider than `apart_m`."""
    groups: list[list[Placed]] = []
    for one in sorted(placed, key=value):
        if groups and value(one) - value(groups[-1][0]) <= apart_m:
            groups[-1].append(one)
        else:
            groups.append([one])
    return groups
