"""Spread and level of the subwoofers where they stand, quick enough to follow one being dragged."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from roomwright.commissioning.bass.drawn import (
    drawn_places,
    search_hz,
    search_limits,
    search_target,
    searched_stations,
    subwoofer_model,
)
from roomwright.model import Job, Point
from roomwright.tuning.bass_design import (
    BassField,
    Playing,
    SearchEffort,
    Weights,
    best_places,
    judged_playing,
    playing,
    with_source_moved,
)

F = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class StandingFigures:
    """What the subwoofers give at the stations from where they stand.

    Spread and level per drive as of `PlaceChoice`: with all fed alike, and with the gains and
    delays that suit them best where they stood when last computed.
    """

    alike_spread_db2: float
    alike_level_db: float
    spread_db2: float
    level_db: float


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """Subwoofers at `positions_m`, fed alike and with the gains and delays that suit them."""

    positions_m: tuple[Point, ...]
    points_m: F
    frequency_hz: F
    alike: Playing
    fed: Playing

    @property
    def figures(self) -> StandingFigures:
        """Spread and level, from the pressure alone."""
        alike, fed = judged_playing(self.alike), judged_playing(self.fed)
        return StandingFigures(
            float(alike.spread_db2),
            float(alike.level_per_drive_db),
            float(fed.spread_db2),
            float(fed.level_per_drive_db),
        )


def standing_from(job: Job) -> tuple[object, ...]:
    """Everything of a job that `stand` depends on."""
    wishes = (job.bass.band_hz, job.bass.level_weight, job.bass.held_back, job.bass.method)
    subwoofers = tuple(one.position_m for one in job.subwoofers)
    longest = job.processor.maximum_delay_s
    return job.room, job.seats, job.stations, subwoofers, longest, wishes, subwoofer_model(job)


def stand(job: Job) -> Standing | None:
    """The subwoofers where they stand, with their best gains and delays; None if there are none.

    Raises
    ------
    InputError
        If the room is no box, or a subwoofer stands too close to a station.
    """
    if not job.subwoofers:
        return None
    _, points = searched_stations(job)
    frequency = search_hz(job)
    places = tuple(subwoofer.position_m for subwoofer in job.subwoofers)
    response = drawn_places(job, places, points, frequency)
    found = best_places(
        BassField(frequency, response),
        len(places),
        search_target(job),
        weights=Weights(job.bass.level_weight),
        limits=search_limits(job),
        effort=SearchEffort(designed=1, shown=1, others=0),
    ).choices[0]
    gains = np.empty((len(places), frequency.size), dtype=np.complex128)
    gains[list(found.sources)] = found.settings.gains(frequency)
    alike = playing(response, np.ones_like(gains))
    return Standing(places, points, frequency, alike, playing(response, gains))


def stood(before: Standing, job: Job) -> Standing:
    """The same subwoofers where a job has them now: only the field of those moved is computed.

    Gains and delays stay as they were.

    Raises
    ------
    InputError
        If there are more or fewer, or one stands too close to a station.
    """
    places = tuple(subwoofer.position_m for subwoofer in job.subwoofers)
    alike, fed = before.alike, before.fed
    for number, (old, new) in enumerate(zip(before.positions_m, places, strict=True)):
        if new != old:
            row = drawn_places(job, (new,), before.points_m, before.frequency_hz)[0]
            alike = with_source_moved(alike, number, row)
            fed = with_source_moved(fed, number, row)
    return replace(before, positions_m=places, alike=alike, fed=fed)
