"""The field that subwoofers are placed by: the job's type at places in the room that is drawn."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roomwright.acoustics import sheet_response, speed_of_sound_m_s
from roomwright.commissioning.edits.layout import role_models
from roomwright.commissioning.generic_equipment import GENERIC_MODELS
from roomwright.layout import stations_held_back
from roomwright.model import Job, LoudspeakerModel, Point
from roomwright.signals import log_frequencies
from roomwright.tuning.bass_design import GainDelayLimits, travelling_wave
from roomwright.tuning.bass_ways import drawn_field

F = NDArray[np.float64]
C = NDArray[np.complex128]

_STEPS_AN_OCTAVE = 24


def drawn_places(
    job: Job, places: F | tuple[Point, ...], points: F, frequency: F, warmer_k: float = 0.0
) -> C:
    """Field (S, P, F) of the job's type of subwoofer at places, from the drawing.

    Raises
    ------
    InputError
        If the room is no box, or a point is outside it or too close to a place.
    """
    field = drawn_field(job.room, places, points, frequency, warmer_k=warmer_k)
    return np.asarray(field * sheet_response(subwoofer_model(job), frequency))


def subwoofer_model(job: Job) -> LoudspeakerModel:
    """The type of the job's subwoofers."""
    name = role_models(job)["subwoofer"]
    return next(m for m in (*job.loudspeaker_models, *GENERIC_MODELS) if m.name == name)


def search_limits(job: Job) -> GainDelayLimits:
    """What a search may set of each subwoofer."""
    longest = min(GainDelayLimits().longest_delay_s, job.processor.maximum_delay_s)
    return GainDelayLimits(longest_delay_s=longest)


def search_hz(job: Job) -> F:
    """Frequencies (F,) a search looks at: even steps of log frequency over the band."""
    return log_frequencies(*job.bass.band_hz, _STEPS_AN_OCTAVE)


def search_target(job: Job) -> C:
    """A pressure (P, F) whose phase subwoofers can be expected to make at the stations."""
    _, points = searched_stations(job)
    speed = speed_of_sound_m_s(job.room.temperature_c)
    return travelling_wave(points, search_hz(job), speed)


def searched_stations(job: Job) -> tuple[tuple[str, ...], F]:
    """The stations with a place that are not held back, the seats where there is none."""
    names = [station.id for station in job.stations]
    held = stations_held_back(job, names)
    used = {
        station.id: station.position_m
        for station, out in zip(job.stations, held, strict=True)
        if station.position_m is not None and not out
    }
    used = used if len(used) > 1 else {seat.id: seat.position_m for seat in job.seats}
    return tuple(used), np.array(list(used.values()))
