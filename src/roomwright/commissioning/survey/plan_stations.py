"""Where the microphone goes: the stations of a survey, computed from room, seats and task."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from roomwright._errors import InputError
from roomwright.acoustics import speed_of_sound_m_s
from roomwright.commissioning.settle import settled
from roomwright.layout import (
    BassGrid,
    bass_grid_points,
    bass_stations,
    seat_stations,
    stations_around_seats,
    walk_m,
    walking_order,
)
from roomwright.model import Finding, Job, Point, Station

StationTask = Literal["seats", "seats and around", "bass grid"]

#: Stations around each seat. Common practice, no source.
AROUND_EACH_SEAT: Final = 3

#: Two places this close are one, metres: what a stand is put down to.
_ONE_PLACE_M: Final = 0.05


@dataclass(frozen=True, slots=True)
class StationPlan:
    """A job with its stations planned, in the order in which they are walked.

    Attributes
    ----------
    job
        With the stations; its takes are untouched.
    kept
        Stations that were there before and have takes, so that they stayed.
    grid
        Spacing and layers of the bass grid, None without one.
    walk_m
        How far the microphone is carried, straight from one station to the next.
    findings
        What is doubtful or left out.
    """

    job: Job
    kept: tuple[str, ...]
    grid: BassGrid | None
    walk_m: float
    findings: tuple[Finding, ...]


def plan_stations(
    job: Job,
    task: StationTask,
    *,
    around_each: int = AROUND_EACH_SEAT,
    upper_hz: float | None = None,
) -> StationPlan:
    """The job with stations for a task; those at which something was recorded stay.

    Parameters
    ----------
    job
        Room, seats, takes; the speed of sound is that of its air.
    task
        ``seats``: one station at each. ``seats and around``: further ones about each head.
        ``bass grid``: one at each seat, and a grid over all of them for bass control.
    around_each
        For ``seats and around``, how many.
    upper_hz
        For ``bass grid``, the upper frequency of control; by default the end of the band in which
        the job's bass is designed.

    Raises
    ------
    InputError
        If the stations do not fit the room.
    """
    grid = None
    in_grid: tuple[Station, ...] = ()
    if task == "seats and around":
        at_seats = stations_around_seats(job.room, job.seats, around_each)
    elif task in ("seats", "bass grid"):
        at_seats = seat_stations(job.seats, job.main_seat)
    else:
        raise InputError(
            f"there is no task {task!r}; there are 'seats', 'seats and around' and 'bass grid'"
        )
    if task == "bass grid":
        upper = job.bass.band_hz[1] if upper_hz is None else upper_hz
        speed = speed_of_sound_m_s(job.room.temperature_c)
        grid = bass_grid_points(job.room, job.seats, upper, speed, job.bass.keep_clear)
        in_grid = bass_stations(grid.points_m)
    recorded = {take.station for take in job.takes}
    kept = tuple(station for station in job.stations if station.id in recorded)
    order = walking_order((*kept, *_elsewhere((*at_seats, *in_grid), kept)))
    stations = _named(order, kept, in_grid)
    return StationPlan(
        job=settled(job.model_copy(update={"stations": stations})),
        kept=tuple(station.id for station in kept),
        grid=grid,
        walk_m=walk_m(stations),
        findings=tuple(_left_out(grid)),
    )


def _elsewhere(wanted: Sequence[Station], kept: Sequence[Station]) -> list[Station]:
    """The stations wanted at places where none of those kept stands."""
    taken: list[Point] = [at for station in kept if (at := station.position_m) is not None]
    return [
        station
        for station in wanted
        if station.position_m is not None
        and all(math.dist(station.position_m, place) > _ONE_PLACE_M for place in taken)
    ]


def _named(
    order: Sequence[Station], kept: Sequence[Station], in_grid: Sequence[Station]
) -> tuple[Station, ...]:
    """New stations with names of their own; those of a grid numbered as they are walked."""
    known = {station.id for station in kept}
    seated = {station.seat for station in kept}
    new_in_grid = [station for station in order if station in in_grid and station not in kept]
    places = [at for station in new_in_grid if (at := station.position_m) is not None]
    numbered = dict(zip(new_in_grid, bass_stations(places, known), strict=True))
    named: list[Station] = []
    for station in order:
        if station in kept:
            named.append(station)
        elif station in numbered:
            named.append(numbered[station])
        else:
            name = station.id
            while name in known:
                name += "+"
            # A seat that was measured keeps its station: one stands for one seat.
            seat = None if station.seat in seated else station.seat
            named.append(station.model_copy(update={"id": name, "seat": seat}))
    return tuple(named)


def _left_out(grid: BassGrid | None) -> list[Finding]:
    if grid is None or not grid.left_out:
        return []
    text = (
        f"{grid.left_out} places of the bass grid are left out: they stand in the back of a "
        "seat, in a box kept clear or too near a wall; between their neighbours the grid is wider "
        "than half a wavelength"
    )
    return [Finding(severity="doubt", where="stations", text=text)]
