"""Stations that no design of the bass may see, so that they can judge it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from roomwright.model import Job

F = NDArray[np.float64]

HELD_SHARE = 0.25
_GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0

#: With fewer stations than this beside the main seat's, all of them are needed.
_FEWEST_STATIONS = 5


def held_back(position_m: F, share: float = HELD_SHARE) -> NDArray[np.bool_]:
    """Which stations (P,) the design must not see: a share of them, spread over the grid.

    Stations in order of height, depth and width are taken at steps of the golden ratio, which
    lets no row or column go unseen for long.
    """
    count = position_m.shape[0]
    order = np.lexsort(np.round(position_m, 2).T)
    held = np.zeros(count, dtype=bool)
    score = (np.arange(count) * _GOLDEN + 0.5) % 1.0
    held[order[np.argsort(score)[: max(1, round(share * count))]]] = True
    return held


def stations_held_back(job: Job, stations: Sequence[str]) -> NDArray[np.bool_]:
    """Which stations (P,) of a job are held back from the design of its bass.

    Those the job names. Where it names none and the subwoofers are to do more than play alike, a
    quarter of those with a place, spread over them, the main seat's never among them; none where
    there are too few.
    """
    if job.bass.held_back:
        return np.isin(np.array(stations), job.bass.held_back)
    held = np.zeros(len(stations), dtype=np.bool_)
    known = {station.id: station for station in job.stations}
    places = [
        (number, known[name].position_m)
        for number, name in enumerate(stations)
        if name in known and known[name].seat != job.main_seat
    ]
    free = [(number, place) for number, place in places if place is not None]
    if job.bass.method == "matched" or len(free) < _FEWEST_STATIONS:
        return held
    held[[number for number, _ in free]] = held_back(np.array([place for _, place in free]))
    return held
