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
    """Stations row by row, there and back again, so that nobody climbs over seats.

    Where several places lie close together the nearest is next; at one place of the stand the
    heights are taken one after the other, up and down by turns. Stations without a position come
    last. On an even grid no tour is shorter (n places, n - 1 steps).
    """
    placed = [(station, at) for station in stations if (at := station.position_m) is not None]
    lost = [station for station in stations if station.position_m is None]
    order: list[Placed] = []
    is_back = False
    for row in _clusters(placed, lambda one: one[1][1], _ONE_ROW_M):
        places = _clusters(row, lambda one: one[1][0], _ONE_PLACE_M)
        for place in reversed(places) if is_back else places:
            order += _nearest_first(place, order[-1][1] if order else None)
        is_back = not is_back
    return (*(station for station, _ in order), *lost)


def walk_m(stations: Sequence[Station]) -> float:
    """Metres from the first station through all others, straight; unknown places left out."""
    places = [station.position_m for station in stations if station.position_m is not None]
    return sum(math.dist(a, b) for a, b in itertools.pairwise(places))


def _nearest_first(place: Sequence[Placed], start: Point | None) -> list[Placed]:
    """Stands of one place, each with its heights from the one that is nearest."""
    stands: dict[tuple[float, float], list[Placed]] = {}
    for one in sorted(place, key=lambda one: one[1]):
        stands.setdefault(one[1][:2], []).append(one)
    order: list[Placed] = []
    at = start or min(one[1] for one in place)
    while stands:
        nearest = min(stands, key=lambda stand: math.dist(stand, at[:2]))
        heights = stands.pop(nearest)
        is_down = abs(heights[-1][1][2] - at[2]) < abs(heights[0][1][2] - at[2])
        order += reversed(heights) if is_down else heights
        at = order[-1][1]
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
