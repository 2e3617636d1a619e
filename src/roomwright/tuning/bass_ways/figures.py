"""What a way to feed the subwoofers gives: the same figures for all, at stations no design saw."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.analysis import mean_spatial_variance_db2
from roomwright.signals import REFERENCE_PRESSURE_PA, amplitude_db, midbands, power_db
from roomwright.standards.decay import decay_limit_s
from roomwright.tuning.arrays import BandDecay, ControlBand, band_decay, band_shape
from roomwright.tuning.arrays.common_level import common_equaliser, mean_level
from roomwright.tuning.arrays.robustness import at_other_speed
from roomwright.tuning.bass_ways.case import LowCase
from roomwright.tuning.bass_ways.way import Way

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Energy ahead of the sound by more than this is looked at, and what of it is tolerable: what
#: precedes a sound by more than 5 to 20 ms is heard (engineering choice, no source).
AHEAD_S = (0.005, 0.010, 0.020)
AHEAD_LIMIT_DB = (-20.0, -30.0, -40.0)

_LATE_S = 0.1
_NOTHING = 1e-10
_GAIN_ERROR_DB = 1.0
#: 3 K change the speed of sound by this.
_SPEED_CHANGE = 0.005
_RATED_PEAK = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class WayFigures:
    """What a way gives in the band, with the common correction that makes its mean level even.

    At the stations held back, or at all where none is. `spread_db2` is the mean over frequency of
    the variance of the level over stations, `designed_spread_db2` that at the stations of the
    design, `range_db` the mean of the highest less the lowest. `level_db` is the level for the
    same largest drive re all alike, `drive_db` (S,) the largest drive of each for the same level
    re all alike, `reach_db` the highest level in dB SPL of a sine at every frequency within the
    data sheets, None where levels are not absolute. `decay` has the times at each station and the
    shortest that can be read, `decay_limit_s` the published line, NaN outside its range.
    `ahead_db` is the energy that precedes the first sound by more than 5, 10 and 20 ms,
    `late_db` that of more than 100 ms after it, re all, at the worst station: a click through the
    band from 20 Hz has some -23 dB there itself. `gain_off_db2` and
    `air_off_db2` are the spread with one subwoofer 1 dB off, and 3 K warmer. What is over time is
    None for the bound. `level_over_frequency_db` (P, f) at `frequency_hz` is re the mean, and
    `drive` (S, f) the gains that give it.
    """

    spread_db2: float
    designed_spread_db2: float
    range_db: float
    level_db: float
    drive_db: F
    reach_db: float | None
    decay: BandDecay | None
    decay_limit_s: F
    ahead_db: F | None
    late_db: float | None
    gain_off_db2: float
    air_off_db2: float
    frequency_hz: F
    level_over_frequency_db: F
    drive: C


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """A way with its common correction: drives (S, bins) that make the mean level even."""

    drive: C
    loudest: F

    @property
    def largest_db(self) -> float:
        """Mean over frequency of the hardest driven subwoofer's drive."""
        return float(amplitude_db(self.loudest).mean())


def figures_of(case: LowCase, ways: tuple[Way, ...], *, absolute: bool) -> tuple[WayFigures, ...]:
    """Figures of ways, in their order; the first is what the others are compared with.

    Parameters
    ----------
    case
        The subwoofers at the stations.
    ways
        Ways to feed them.
    absolute
        Whether the responses are in pascal for digital full scale.
    """
    low, high = case.band_hz
    band = ControlBand(low, min(high, 0.5 * float(case.grid.frequencies_hz[-1])))
    shape = band_shape(band, case.grid)
    warmer = at_other_speed(case.field, case.grid, 1.0 + _SPEED_CHANGE)
    seen = [_corrected(case, way, band, shape) for way in ways]
    return tuple(
        _figures(case, way, one, seen[0], warmer, absolute=absolute)
        for way, one in zip(ways, seen, strict=True)
    )


def _corrected(case: LowCase, way: Way, band: ControlBand, shape: C) -> _Seen:
    used = case.field[:, ~case.held]
    # Beyond its band the bound is silent; a floor keeps its correction finite there.
    reached = mean_level(used, way.drive, case.grid)
    reached = np.maximum(reached, 1e-3 * reached.max())
    drive = way.drive * common_equaliser(reached, shape, band, case.grid)
    at = case.read_at()
    return _Seen(drive, np.maximum(np.abs(drive[:, at]).max(axis=0), _NOTHING))


def _figures(
    case: LowCase, way: Way, seen: _Seen, first: _Seen, warmer: C, *, absolute: bool
) -> WayFigures:
    at, held = case.read_at(), case.held if case.held.any() else ~case.held
    level = _level(case.field[:, held], seen.drive, at)
    off = [_with_gain(seen.drive, n, by) for n in range(len(case.names)) for by in (-1.0, 1.0)]
    response = case.grid.time(np.einsum("sb,spb->pb", seen.drive, case.field[:, held]))
    mids = midbands(3, *case.band_hz)
    decay, ahead, late = None, None, None
    if way.name != "free":
        decay = band_decay(response, case.grid.rate_hz, mids)
        after = _time_s(case)[None] - (case.arrival_s()[held] + way.latency_s)[:, None]
        ahead = np.array([_share_db(response, after < -ahead_s) for ahead_s in AHEAD_S])
        late = _share_db(response, after > _LATE_S)
    largest = np.abs(seen.drive[:, at]).max(axis=1)
    return WayFigures(
        spread_db2=float(mean_spatial_variance_db2(level)),
        designed_spread_db2=float(
            mean_spatial_variance_db2(_level(case.field[:, ~case.held], seen.drive, at))
        ),
        range_db=float(np.ptp(level, axis=0).mean()),
        level_db=first.largest_db - seen.largest_db,
        drive_db=amplitude_db(np.maximum(largest, _NOTHING) / first.loudest.max()),
        reach_db=_reach_db(case, seen.drive, at) if absolute else None,
        decay=decay,
        decay_limit_s=decay_limit_s(mids),
        ahead_db=ahead,
        late_db=late,
        gain_off_db2=max(
            float(mean_spatial_variance_db2(_level(case.field[:, held], drive, at)))
            for drive in off
        ),
        air_off_db2=float(mean_spatial_variance_db2(_level(warmer[:, held], seen.drive, at))),
        frequency_hz=case.grid.frequencies_hz[at],
        level_over_frequency_db=level - level.mean(),
        drive=seen.drive[:, at],
    )


def _time_s(case: LowCase) -> F:
    """Time of a period's samples; what rings ahead of time zero stands at its end."""
    grid = case.grid
    n = np.arange(grid.period)
    n[grid.period - grid.taps // 2 :] -= grid.period
    return np.asarray(n / grid.rate_hz)


def _level(field: C, drive: C, at: NDArray[np.intp]) -> F:
    pressure = np.einsum("sb,spb->pb", drive[:, at], field[..., at])
    return np.asarray(amplitude_db(np.maximum(np.abs(pressure), _NOTHING)))


def _with_gain(drive: C, source: int, by_db: float) -> C:
    changed = drive.copy()
    changed[source] *= 10.0 ** (by_db * _GAIN_ERROR_DB / 20.0)
    return changed


def _reach_db(case: LowCase, drive: C, at: NDArray[np.intp]) -> float:
    """Highest level of a sine, dB SPL, that no subwoofer exceeds its data sheet's for."""
    limit = []
    for name in case.names:
        model = case.job.model_of(case.job.unit(name))
        limit.append(_RATED_PEAK * 10.0 ** ((model.maximum_level_db - model.sensitivity_db) / 20.0))
    pressure = np.einsum("sb,spb->pb", drive[:, at], case.field[..., at])
    mean = np.sqrt(np.mean(np.abs(pressure) ** 2, axis=0))
    room = (np.array(limit)[:, None] / np.maximum(np.abs(drive[:, at]), _NOTHING)).min(axis=0)
    return float(amplitude_db((mean * room).min() / (np.sqrt(2.0) * REFERENCE_PRESSURE_PA)))


def _share_db(response: F, part: NDArray[np.bool_]) -> float:
    energy = response**2
    share = np.sum(np.where(part, energy, 0.0), axis=1) / energy.sum(axis=1)
    return float(power_db(max(float(share.max()), _NOTHING)))
