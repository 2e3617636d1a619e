"""Where every loudspeaker really is, from the arrival times of the survey."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

import numpy as np

from roomwright._errors import InputError
from roomwright.acoustics import speed_of_sound_m_s
from roomwright.analysis import Located, arrival_s, locate
from roomwright.commissioning.lengths import Units, format_length
from roomwright.measurement import ResponseSet
from roomwright.model import Job, Loudspeaker, Point, Station

#: Standard deviation of one arrival time, seconds: crest of a broadband response, some noise.
#: Common practice, no source.
_TIMING_S: Final = 1e-5

#: So many stations tell the place and the loudspeaker's own delay apart.
_ENOUGH: Final = 6

#: A place counts as another than planned beyond this many standard deviations and this far: a
#: tape measure and the acoustic centre are no better. Common practice, no source.
_SURE, _OFF_M = 3.0, 0.10

#: A loudspeaker's own delay is told beyond this many standard deviations and this long.
_OWN_DELAY_S: Final = 1e-4


@dataclass(frozen=True, slots=True)
class Whereabouts:
    """One loudspeaker, where the plan has it and where its sound came from.

    Attributes
    ----------
    unit
        Its id.
    planned_m
        By the plan.
    found_m, deviation_m
        As heard, and the standard deviation along each axis; None where it cannot be told.
    off_m
        Distance between the two.
    own_delay_s
        By how much it speaks later than its output, None where that cannot be told apart.
    moved
        Whether it surely is somewhere else than planned.
    says
        All this in a sentence, or why nothing is known.
    """

    unit: str
    planned_m: Point
    found_m: Point | None
    deviation_m: Point | None
    off_m: float | None
    own_delay_s: float | None
    moved: bool
    says: str


def whereabouts(job: Job, survey: ResponseSet, units: Units = "m") -> tuple[Whereabouts, ...]:
    """Where every loudspeaker of a survey is; subwoofers have no arrival sharp enough.

    Parameters
    ----------
    job
        Its plan says where they should be, and where the stations are.
    survey
        The responses.
    units
        What lengths are written in.
    """
    loudspeakers = {unit.id: unit for unit in job.loudspeakers}
    stations = {station.id: station for station in job.stations}
    return tuple(
        _one(job, survey, loudspeakers[name], stations, units)
        for name in survey.sources
        if name in loudspeakers
    )


def take_over(job: Job, found: Collection[Whereabouts]) -> Job:
    """The job with its loudspeakers where they were found, to the centimetre.

    Raises
    ------
    InputError
        If one of them was not found.
    """
    places: dict[str, Point] = {}
    for one in found:
        if one.found_m is None:
            raise InputError(f"{one.unit} was not found: {one.says}")
        x, y, z = (round(value, 2) for value in one.found_m)
        places[one.unit] = (x, y, z)
    moved = tuple(
        unit.model_copy(update={"position_m": places.get(unit.id, unit.position_m)})
        for unit in job.loudspeakers
    )
    return job.model_copy(update={"loudspeakers": moved})


def _one(
    job: Job,
    survey: ResponseSet,
    unit: Loudspeaker,
    stations: dict[str, Station],
    units: Units,
) -> Whereabouts:
    row = survey.sources.index(unit.id)
    columns = [
        column
        for column, name in enumerate(survey.stations)
        if survey.present[row, column]
        and name in stations
        and stations[name].position_m is not None
    ]
    places = np.array([stations[survey.stations[column]].position_m for column in columns])
    arrivals = arrival_s(survey.samples[row, columns], survey.sampling_rate_hz)
    try:
        located, own_delay_s = _located(
            places.reshape(-1, 3), arrivals, unit.position_m, job, timed=survey.timed
        )
    except InputError as error:
        return Whereabouts(
            unit.id, unit.position_m, None, None, None, None, moved=False, says=str(error)
        )
    off = located.position_m - unit.position_m
    off_m = float(np.linalg.norm(off))
    along = off / max(off_m, 1e-9)
    sigma_m = float(np.sqrt(np.sum((along * np.minimum(located.deviation_m, 1e3)) ** 2)))
    moved = off_m > _OFF_M and off_m > _SURE * sigma_m
    return Whereabouts(
        unit=unit.id,
        planned_m=unit.position_m,
        found_m=_point(located.position_m),
        deviation_m=_point(located.deviation_m),
        off_m=off_m,
        own_delay_s=own_delay_s,
        moved=moved,
        says=_sentence(located, off_m, own_delay_s, moved=moved, units=units),
    )


def _located(
    places: np.ndarray, arrivals: np.ndarray, near_m: Point, job: Job, *, timed: bool
) -> tuple[Located, float | None]:
    """The place; and the loudspeaker's own delay where there are stations enough to tell."""
    speed = speed_of_sound_m_s(job.room.temperature_c)
    enough = int(np.isfinite(arrivals).sum()) >= _ENOUGH
    if timed and enough:
        free = locate(places, arrivals, near_m, speed_m_s=speed, timing_s=_TIMING_S, timed=False)
        offset, deviation = free.offset_s or 0.0, free.offset_deviation_s or np.inf
        if abs(offset) > max(_OWN_DELAY_S, _SURE * deviation):
            return free, offset
    found = locate(places, arrivals, near_m, speed_m_s=speed, timing_s=_TIMING_S, timed=timed)
    return found, None


def _sentence(
    located: Located, off_m: float, own_delay_s: float | None, *, moved: bool, units: Units
) -> str:
    worst = int(np.argmax(located.deviation_m))
    sure_m = float(located.deviation_m[worst])
    if sure_m > _SURE * _OFF_M:
        axis = ("across", "along", "in height")[worst]
        sure = f"not known {axis}: measure at stations that differ more {axis}"
    else:
        sure = f"known to {format_length(max(sure_m, 0.01), units)}"
    place = f"{format_length(off_m, units)} from its plan"
    text = f"is {place}: look for it, or correct the plan" if moved else f"{place}, as planned"
    if own_delay_s is not None:
        text += f"; it speaks {1000 * own_delay_s:.1f} ms late by itself"
    return f"{text}; {sure}"


def _point(values: np.ndarray) -> Point:
    x, y, z = (float(value) for value in values)
    return (x, y, z)
