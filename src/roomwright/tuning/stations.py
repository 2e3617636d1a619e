"""How much each station counts, and which one stands for the main seat."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from roomwright.layout import stations_held_back
from roomwright.model import Job

#: How much the main seat's station counts against any other one (common practice, no source).
MAIN_SEAT_WEIGHT = 2.0

#: A station without a seat this close to the main seat can stand in for it.
_NEAR_M = 0.5


def main_station(job: Job, stations: Sequence[str]) -> int | None:
    """Index of the station that stands for the main seat, or None if there is none.

    The station that names the main seat; otherwise the nearest one within half a metre of it.
    """
    known = {station.id: station for station in job.stations}
    for index, name in enumerate(stations):
        if name in known and known[name].seat == job.main_seat:
            return index
    seat = np.array(job.seat(job.main_seat).position_m)
    distances = [
        float(np.linalg.norm(np.array(known[name].position_m) - seat))
        if name in known and known[name].position_m is not None
        else np.inf
        for name in stations
    ]
    if not distances or min(distances) > _NEAR_M:
        return None
    return int(np.argmin(distances))


def station_weights(job: Job, stations: Sequence[str]) -> NDArray[np.float64]:
    """Weight (P,) of each station in averages.

    `MAIN_SEAT_WEIGHT` at the main seat, 0 where held back from the bass, 1 elsewhere.
    """
    weights = np.where(stations_held_back(job, stations), 0.0, 1.0)
    main = main_station(job, stations)
    if main is not None:
        weights[main] = MAIN_SEAT_WEIGHT
    return weights
