"""Further stations among the seats, so that the bass between them is known too."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from roomwright._checks import positive
from roomwright._errors import InputError
from roomwright.model import Point, Room, Seat, Station

#: Further stations stand this much above and below the ears around them, by turns: filters
#: designed at one height fit that height alone.
_OFF_M = 0.25

#: A place this close to a station or seat, as a share of the spacing, says little new.
_NEAR = 0.5

_LOWEST_M = 0.3


def bass_grid(
    room: Room, seats: Sequence[Seat], stations: Sequence[Station], spacing_m: float
) -> tuple[Station, ...]:
    """Stations "G1", "G2" ... on an even grid over the seats, above and below ears by turns.

    Parameters
    ----------
    room
        The room they must be in.
    seats
        The seats to cover.
    stations
        Those there are; a place of the grid near one of them is left out.
    spacing_m
        The grid's steps at most; a third of the wavelength at the highest frequency (common
        practice).

    Raises
    ------
    InputError
        If the spacing is not above 0 or there is no seat.
    """
    step = positive(spacing_m, "the spacing of stations")
    if not seats:
        raise InputError("a grid of stations needs a seat to stand around")
    ears = np.array([seat.position_m for seat in seats])
    low, high = ears.min(axis=0), ears.max(axis=0)
    taken = [s.position_m for s in stations if s.position_m is not None]
    names = {station.id for station in stations}
    added: list[Station] = []
    for y in _along(low[1], high[1], step):
        for x in _along(low[0], high[0], step):
            if any(math.dist((x, y), place[:2]) < _NEAR * step for place in taken):
                continue
            nearest = ears[int(np.argmin(np.hypot(ears[:, 0] - x, ears[:, 1] - y)))]
            off = _OFF_M if len(added) % 2 else -_OFF_M
            z = min(max(float(nearest[2]) + off, _LOWEST_M), room.height_m - _LOWEST_M)
            name = next(f"G{n}" for n in range(1, 10_000) if f"G{n}" not in names)
            names.add(name)
            place: Point = (round(x, 3), round(y, 3), round(z, 3))
            added.append(Station(id=name, position_m=place))
    return tuple(added)


def _along(low: float, high: float, step_m: float) -> list[float]:
    """Places from `low` to `high` in even steps of at most `step_m`, the ends among them."""
    count = max(math.ceil((high - low) / step_m - 1e-9), 1 if high > low else 0)
    return [float(value) for value in np.linspace(low, high, count + 1)]
