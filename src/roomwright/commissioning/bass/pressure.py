"""Pressure over the seats at one frequency: all subwoofers fed alike, and fed a compared way."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.commissioning.bass.compare import BassComparison, WayCompared
from roomwright.commissioning.room_view import PressureMap, pressure_map
from roomwright.model import Job
from roomwright.signals import from_power_db, power_db

F = NDArray[np.float64]

#: The colours span what is there, but no more than this.
_SPAN_DB = 30.0


@dataclass(frozen=True, slots=True)
class BassMap:
    """Levels (rows from the front, columns) re the power mean of the seats, decibels.

    `seats` holds each seat's level at its own height, `spread_db` loudest less quietest.
    """

    levels_db: F
    seats: tuple[tuple[str, float], ...]
    spread_db: float


@dataclass(frozen=True, slots=True)
class BassMaps:
    """Before and after at one frequency and height; both in colours from `low_db` to `high_db`."""

    frequency_hz: float
    height_m: float
    size_m: tuple[float, float]
    low_db: float
    high_db: float
    before: BassMap
    after: BassMap


def bass_maps(
    job: Job, compared: BassComparison, way: WayCompared, frequency_hz: float
) -> BassMaps:
    """The pressure over the seating plane before and after, from the drawing of a box room.

    Parameters
    ----------
    job
        The job that was compared.
    compared, way
        The comparison, and the way of it that is fed after; before all are fed alike.
    frequency_hz
        The nearest of the frequencies of the comparison is taken.

    Raises
    ------
    InputError
        If the room is no box.
    """
    at = int(np.argmin(np.abs(np.array(compared.frequency_hz) - frequency_hz)))
    frequency = compared.frequency_hz[at]
    gains = [complex(*row[at]) for row in way.gains]
    alike = pressure_map(job, compared.subwoofers, frequency)
    fed = pressure_map(job, compared.subwoofers, frequency, gains=gains)
    before, after = _re_seats(alike), _re_seats(fed)
    both = np.concatenate([before.levels_db.ravel(), after.levels_db.ravel()])
    low, high = (float(value) for value in np.nanpercentile(both, (2, 98)))
    high = 3.0 * math.ceil(high / 3.0)
    return BassMaps(
        frequency_hz=frequency,
        height_m=alike.height_m,
        size_m=alike.size_m,
        low_db=max(3.0 * math.floor(low / 3.0), high - _SPAN_DB),
        high_db=high,
        before=before,
        after=after,
    )


def _re_seats(found: PressureMap) -> BassMap:
    levels = np.array([level for _, level in found.seats])
    mean = float(power_db(from_power_db(levels).mean()))
    return BassMap(
        levels_db=found.levels_db - mean,
        seats=tuple((name, level - mean) for name, level in found.seats),
        spread_db=found.spread_db,
    )
