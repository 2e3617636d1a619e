"""What every way to feed the subwoofers is designed for and judged by."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright._checks import finite
from roomwright._errors import InputError
from roomwright.acoustics import speed_of_sound_m_s
from roomwright.layout import stations_held_back
from roomwright.measurement import ResponseSet
from roomwright.model import Job
from roomwright.signals import log_frequencies
from roomwright.tuning.arrays import Grid, design_grid, response_spectra
from roomwright.tuning.bass_design import BassField
from roomwright.tuning.stations import station_weights

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Steps an octave at which levels are read and even seats designed.
STEPS_AN_OCTAVE = 24

#: Filters are this long where the processor has the taps; longer ones ring audibly ahead or after.
LONGEST_FILTER_S = 0.34

#: Settings hold up to this many times the crossover, where bass management has taken over.
_OVER_CROSSOVER = 3.0
_LEAST_HIGHEST_HZ = 240.0


@dataclass(frozen=True, slots=True, eq=False)
class LowCase:
    """S subwoofers at P stations: `samples` (S, P, n), `field` (S, P, bins) on `grid`.

    `position_m` (S, 3); `points_m` (P, 3), NaN where a station has no place. `held` (P,) marks
    stations that no design uses; `weights` (P,) is what the others count.
    """

    job: Job
    names: tuple[str, ...]
    position_m: F
    stations: tuple[str, ...]
    points_m: F
    held: NDArray[np.bool_]
    weights: F
    samples: NDArray[np.float32]
    grid: Grid
    field: C
    speed_m_s: float

    @property
    def band_hz(self) -> tuple[float, float]:
        """The band of the design."""
        return self.job.bass.band_hz

    def read_at(self) -> NDArray[np.intp]:
        """Bins nearest to frequencies in even steps of log frequency over the band."""
        wanted = log_frequencies(*self.band_hz, STEPS_AN_OCTAVE)
        step = self.grid.frequencies_hz[0]
        nearest = np.round(wanted / step).astype(np.intp) - 1
        return np.asarray(np.clip(nearest, 0, self.grid.bins - 1))

    def bass_field(self) -> BassField:
        """The field at the stations that designs may use, in even steps of log frequency."""
        at = np.unique(self.read_at())
        return BassField(self.grid.frequencies_hz[at], self.field[:, ~self.held][..., at])

    def arrival_s(self) -> F:
        """Earliest direct sound of any subwoofer at each station, (P,); 0 without a place."""
        apart = np.linalg.norm(self.position_m[:, None] - self.points_m, axis=-1)
        return np.asarray(np.nan_to_num(apart.min(axis=0) / self.speed_m_s, nan=0.0))


def low_case(job: Job, survey: ResponseSet) -> LowCase:
    """The subwoofers of a survey, measured or drawn, ready to be designed for.

    Raises
    ------
    InputError
        If the responses share no time reference, hold no numbers, or are of too few subwoofers or
        stations.
    """
    if not survey.timed:
        raise InputError(
            "the responses have no common time reference, so the delays between the subwoofers "
            "are unknown; measure again with a reference channel, or state a common start when "
            "importing"
        )
    units = [s for s in job.subwoofers if s.id in survey.sources]
    rows = [survey.sources.index(unit.id) for unit in units]
    if not rows:
        raise InputError("no subwoofer was measured; measure all of them at every station")
    columns = np.flatnonzero(survey.present[rows].all(axis=0))
    if columns.size < 2:
        raise InputError(
            f"all subwoofers were measured together at {columns.size} station(s); the bass is "
            "designed over two or more"
        )
    stations = tuple(survey.stations[c] for c in columns)
    samples = finite(survey.samples[rows][:, columns], "the responses of the subwoofers")
    nowhere = (np.nan, np.nan, np.nan)
    places = {s.id: s.position_m or nowhere for s in job.stations}
    held = stations_held_back(job, stations)
    if held.all():
        raise InputError("every station is held back; leave some for the design of the bass")
    grid = _grid(job, survey)
    return LowCase(
        job=job,
        names=tuple(unit.id for unit in units),
        position_m=np.array([unit.position_m for unit in units]),
        stations=stations,
        points_m=np.array([places.get(name, nowhere) for name in stations]),
        held=held,
        weights=np.maximum(station_weights(job, stations), 1.0),
        samples=samples,
        grid=grid,
        field=response_spectra(samples, grid),
        speed_m_s=speed_of_sound_m_s(job.room.temperature_c),
    )


def filter_length_s(job: Job) -> float:
    """Length of the filters that the processor can run, seconds."""
    return min(LONGEST_FILTER_S, job.processor.fir_taps_per_output / job.sampling_rate_hz)


def _grid(job: Job, survey: ResponseSet) -> Grid:
    highest = max(
        2.0 * job.bass.band_hz[1], _OVER_CROSSOVER * job.limits.crossover_hz, _LEAST_HIGHEST_HZ
    )
    rate = survey.sampling_rate_hz
    return design_grid(
        rate, max(filter_length_s(job), 0.05), survey.samples.shape[-1] / rate, highest
    )
