"""Stations for the bass: how they stand, which are held back, which further ones help most."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright._progress import Progress, silent
from roomwright.acoustics import box_admittances, green_walls, speed_of_sound_m_s
from roomwright.commissioning.bass.wishes import with_bass
from roomwright.layout import bass_grid, stations_held_back
from roomwright.model import Job, Point, Station
from roomwright.signals import log_frequencies
from roomwright.tuning.bass_design import (
    diffuse_covariance,
    ensemble_covariance,
    further_stations,
)

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: What the drawing leaves open: sizes and places by these shares and metres, air, absorption.
_MODELS = 12
_SIZE_SHARE, _PLACE_M, _AIR_K, _ABSORPTION = 0.01, 0.1, 3.0, 2.0
_LEAST_ADMITTANCE = 0.001

_STEPS_AN_OCTAVE = 8
#: Further places stand this share of a third of the shortest wavelength apart, and this far from
#: the stations there are.
_CLOSER, _NEAR_M = 0.5, 0.2
_INSIDE_M = 0.02


@dataclass(frozen=True, slots=True)
class SuggestedStations:
    """Places for further stations, the most useful first.

    `left` is what is uncertain of the bass at the seats, as a share of what is without any
    station: with those there are, and after each further one.
    """

    places_m: tuple[Point, ...]
    left: tuple[float, ...]

    @property
    def says(self) -> str:
        """What they bring, in one sentence."""
        before, after = (f"{100 * share:.2g} %" for share in (self.left[0], self.left[-1]))
        if not self.places_m:
            return f"no further station would help: {before} of the bass at the seats is uncertain"
        count = len(self.places_m)
        word = "station lowers" if count == 1 else "stations lower"
        return (
            f"{count} further {word} what is uncertain of the bass at the seats from {before} "
            f"to {after}"
        )


def suggest_stations(job: Job, count: int, progress: Progress = silent) -> SuggestedStations:
    """Which further stations would reduce the uncertainty of the bass at the seats most.

    In a box room the uncertainty is that over rooms like the drawn one: sizes within 1 %,
    subwoofers within 10 cm, air within 3 K, walls that absorb half to twice as much (engineering
    choices, no source). In another room waves may come from everywhere.

    Parameters
    ----------
    job
        Its room, seats, subwoofers and stations with a place.
    count
        Stations wanted at most.
    progress
        Told how far it is; may raise `Cancelled`.

    Raises
    ------
    InputError
        If there is no subwoofer, or fewer than one station is asked for.
    """
    if count < 1:
        raise InputError("ask for one further station at least")
    if not job.subwoofers:
        raise InputError("place the subwoofers first: their sound is what stations tell of")
    seats = [seat.position_m for seat in job.seats]
    there = [s.position_m for s in job.stations if s.position_m is not None]
    free = _free_places(job, there)
    points = np.array([*seats, *there, *free])
    frequency = log_frequencies(*job.bass.band_hz, _STEPS_AN_OCTAVE)
    if job.room.box_size_m is None:
        speed = speed_of_sound_m_s(job.room.temperature_c)
        covariance = diffuse_covariance(points, frequency, speed)
    else:
        covariance = ensemble_covariance(_ensemble(job, points, frequency, progress))
    progress(0.9, "choosing stations")
    ends = np.cumsum([len(seats), len(there), len(free)])
    numbers = np.arange(ends[-1])
    found = further_stations(
        covariance, numbers[: ends[0]], numbers[ends[0] : ends[1]], numbers[ends[1] :], count
    )
    return SuggestedStations(
        tuple(free[number - int(ends[1])] for number in found.stations),
        tuple(float(share) for share in found.left),
    )


def with_stations_at(job: Job, places_m: Sequence[Point]) -> Job:
    """The job with further stations "G1", "G2" ... at places."""
    taken = {station.id for station in job.stations}
    added = []
    for place in places_m:
        name = next(f"G{n}" for n in range(1, len(taken) + 2) if f"G{n}" not in taken)
        taken.add(name)
        added.append(Station(id=name, position_m=place))
    return job.model_copy(update={"stations": (*job.stations, *added)})


def held_back_names(job: Job) -> tuple[str, ...]:
    """The stations that no design of the bass uses, named or by themselves."""
    names = [station.id for station in job.stations]
    held = stations_held_back(job, names)
    return tuple(name for name, out in zip(names, held, strict=True) if out)


def with_held_back(job: Job, name: str, *, held: bool) -> Job:
    """The job with a station held back from the design of the bass, or used by it.

    Raises
    ------
    InputError
        If there is no such station, or none would be left for the design.
    """
    order = [station.id for station in job.stations]
    if name not in order:
        raise InputError(f"there is no station {name}")
    wanted = {one for one in held_back_names(job) if one != name} | ({name} if held else set())
    if len(wanted) == len(order):
        raise InputError("some stations must be left for the design of the bass")
    return with_bass(job, held_back=tuple(sorted(wanted, key=order.index)))


def stations_say(job: Job, length: Callable[[float], str]) -> tuple[str, ...]:
    """How the stations stand, in plain sentences; `length` writes a length."""
    places = np.array([s.position_m for s in job.stations if s.position_m is not None])
    if len(places) < 2:
        return ("Fewer than two stations have a place.",)
    apart = np.linalg.norm(places[:, None] - places, axis=-1)
    np.fill_diagonal(apart, np.inf)
    widest = float(apart.min(axis=1).max())
    upto = speed_of_sound_m_s(job.room.temperature_c) / (3.0 * widest)
    heights = ", ".join(length(float(z)) for z in np.unique(np.round(places[:, 2], 2)))
    wanted = job.bass.band_hz[1]
    enough = f"enough for the band up to {wanted:.0f} Hz"
    if upto < wanted:
        enough = f"too far for the band up to {wanted:.0f} Hz; add a grid"
    held = held_back_names(job)
    named = ", ".join(held) if held else "none"
    by_itself = "" if job.bass.held_back or not held else ", a quarter, as none is named"
    neighbours = (
        f"Each has a neighbour within {length(widest)}: a third of the wavelength at "
        f"{upto:.0f} Hz, {enough}."
    )
    return (
        f"{len(places)} stations at heights {heights}.",
        neighbours,
        f"Held back from the design, to judge it: {named}{by_itself}.",
    )


def _free_places(job: Job, there: Sequence[Point]) -> list[Point]:
    """A closer grid over the seats, below and above the ears, away from stations and seats."""
    speed = speed_of_sound_m_s(job.room.temperature_c)
    spacing = _CLOSER * speed / (3.0 * job.bass.band_hz[1])
    ears = np.array([seat.position_m for seat in job.seats])
    places: list[Point] = []
    for station in bass_grid(job.room, job.seats, (), spacing):
        if station.position_m is None:
            continue
        x, y, z = station.position_m
        nearest = ears[int(np.argmin(np.hypot(ears[:, 0] - x, ears[:, 1] - y)))]
        other = min(max(2.0 * float(nearest[2]) - z, 0.3), job.room.height_m - 0.3)
        places += [
            (x, y, height)
            for height in sorted({z, round(other, 3)})
            if all(math.dist((x, y, height), one) >= _NEAR_M for one in there)
        ]
    return places


def _ensemble(job: Job, points: F, frequency: F, progress: Progress) -> C:
    """Fields (K, S, P, F) of the subwoofers in rooms that the drawing leaves possible."""
    size = np.array(job.room.box_size_m)
    sources = np.array([subwoofer.position_m for subwoofer in job.subwoofers])
    walls = box_admittances(job.room, frequency)
    rng = np.random.default_rng(0)
    fields = []
    for number in range(_MODELS):
        progress(0.9 * number / _MODELS, "computing rooms like the drawn one")
        stretch = 1.0 + rng.uniform(-_SIZE_SHARE, _SIZE_SHARE, 3)
        shaken = sources * stretch + rng.uniform(-_PLACE_M, _PLACE_M, sources.shape)
        shaken = np.clip(shaken, _INSIDE_M, size * stretch - _INSIDE_M)
        absorbs = _ABSORPTION ** rng.uniform(-1.0, 1.0)
        warmer = rng.uniform(-_AIR_K, _AIR_K)
        fields.append(
            green_walls(
                tuple(size * stretch),
                shaken,
                points * stretch,
                frequency,
                np.maximum(walls * absorbs, _LEAST_ADMITTANCE),
                speed_of_sound_m_s(job.room.temperature_c + warmer),
            )
        )
    return np.stack(fields)
