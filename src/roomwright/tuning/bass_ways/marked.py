"""The plane-wave array that the engineer marked among a job's subwoofers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.acoustics import box_admittances
from roomwright.model import Job, Point
from roomwright.tuning.arrays import (
    Drivers,
    Emitters,
    SimpleArray,
    absorbing_gain,
    emitters,
    front_delays_s,
    simple_array,
)
from roomwright.tuning.bass_ways.case import LowCase

F = NDArray[np.float64]

#: What any subwoofer is held to have in reserve above the drive of gains and delays; our choice.
_RESERVE_DB = 6.0
_LEAST_ADMITTANCE = 0.001

#: Gains of the absorbing ones that are tried where the room is no box.
_GAINS_TRIED = np.arange(0.4, 1.01, 0.05)


def marked_emitters(job: Job, names: Sequence[str]) -> Emitters:
    """The array of the job's marks, checked.

    Parameters
    ----------
    job
        Its marks, room and seats.
    names
        The subwoofers that were measured or computed.

    Raises
    ------
    InputError
        If a subwoofer is not marked, or the marks make no array.
    """
    launching, absorbing = set(job.bass.launching), set(job.bass.absorbing)
    unmarked = [name for name in names if name not in launching | absorbing]
    if launching | absorbing and unmarked:
        raise InputError(
            f"{', '.join(unmarked)} neither launches nor absorbs; mark every subwoofer, or choose "
            "even seats"
        )
    missing = sorted((launching | absorbing) - set(names))
    if missing:
        raise InputError(f"{', '.join(missing)} of the array was not measured; measure it too")
    marked = [s for s in job.subwoofers if s.id in launching | absorbing]
    return emitters(
        [s.id for s in marked],
        np.array([s.position_m for s in marked]).reshape(-1, 3),
        [s.id in launching for s in marked],
        room_size_m(job),
        [seat.position_m for seat in job.seats],
    )


def room_size_m(job: Job) -> Point:
    """The room's size; that of the box around it where it is none."""
    x_min, y_min, x_max, y_max = job.room.polygon.bounds
    return job.room.box_size_m or (x_max - x_min, y_max - y_min, job.room.height_m)


def marked_simple(case: LowCase, array: Emitters) -> SimpleArray:
    """Gains and delays: from the walls of a box, else by trying gains of the absorbing ones.

    Gains are tried for the least spread at the stations that designs may use.
    """
    speed = case.speed_m_s
    if case.job.room.box_size_m is not None:
        walls = wall_admittances(case.job)
        gain = absorbing_gain(
            array.size_m, walls, array.travel_m, axis=array.axis, direction=array.direction
        )
        return simple_array(array, gain, speed, front_delays_s(array, walls, speed))
    tried = [simple_array(array, float(gain), speed) for gain in _GAINS_TRIED]
    own = case.bass_field().of([case.names.index(name) for name in array.names])
    spreads = []
    for one in tried:
        pressure = np.einsum("sf,spf->pf", one.drives(own.frequencies_hz), own.response)
        spreads.append(np.var(20.0 * np.log10(np.abs(pressure)), axis=0).mean())
    return tried[int(np.argmin(spreads))]


def wall_admittances(job: Job) -> F:
    """Admittances (6,) of a box room's walls in the middle of the band.

    Raises
    ------
    InputError
        If the room is no box.
    """
    middle = np.array([np.sqrt(np.prod(job.bass.band_hz))])
    return np.maximum(box_admittances(job.room, middle)[:, 0], _LEAST_ADMITTANCE)


def drivers_of(job: Job, names: Sequence[str]) -> Drivers:
    """What each subwoofer can be asked for, from its data sheet.

    The one that reaches its highest level first has 6 dB in reserve, the others what more they
    can give.
    """
    models = [job.model_of(job.unit(name)) for name in names]
    reach = np.array([model.maximum_level_db - model.sensitivity_db for model in models])
    return Drivers(
        reserve_db=_RESERVE_DB + reach - reach.min(),
        low_hz=np.array([model.low_hz for model in models]),
    )
