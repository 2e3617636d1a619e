"""A plane-wave array designed from its measured grid: filters, if they beat gains and delays."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright._progress import Progress, silent
from roomwright.layout import held_back
from roomwright.model import Finding
from roomwright.tuning.arrays.band import ControlBand, band_shape, control_band
from roomwright.tuning.arrays.common_level import common_equaliser, mean_level
from roomwright.tuning.arrays.drivers import Drivers
from roomwright.tuning.arrays.emitters import Emitters
from roomwright.tuning.arrays.evidence import Evidence, evidence
from roomwright.tuning.arrays.filters import FilterProblem, filters_in_time
from roomwright.tuning.arrays.grid import Grid, at_output_rate, design_grid, response_spectra
from roomwright.tuning.arrays.plane_wave import launched_field, plane_wave, reachable_wave
from roomwright.tuning.arrays.robustness import Uncertainty
from roomwright.tuning.arrays.simple_array import SimpleArray
from roomwright.tuning.arrays.stations import (
    StationGrid,
    refuse_dependent,
    station_doubts,
)
from roomwright.tuning.arrays.time_terms import TimeTerms

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: By how much filters must beat gains and delays at held-back stations; our choice.
ERROR_MARGIN_DB = 3.0
VARIANCE_MARGIN_DB2 = 0.1
#: Or by how much they must shorten the slowest decay, and how much spread that may cost.
DECAY_MARGIN = 1.5
VARIANCE_COST_DB2 = 0.2


@dataclass(frozen=True, slots=True)
class ArrayOptions:
    """What the design aims at; the defaults are our choice.

    `wanted_hz` is the band; filters are `filter_s` long and delay the wave by `delay_s`.
    `effort_db` is the price of drive re the emitters' mean power. `reachable` asks for the nearest
    wave that the launching emitters can make instead of a plane one.
    """

    wanted_hz: tuple[float, float] = (20.0, 120.0)
    filter_s: float = 0.34
    delay_s: float = 0.02
    effort_db: float = -40.0
    uncertainty: Uncertainty = field(default_factory=Uncertainty)
    time_terms: TimeTerms = field(default_factory=TimeTerms)
    reachable: bool = False
    speed_m_s: float = 343.0


@dataclass(frozen=True, slots=True)
class ArrayDesign:
    """The simple array, the filters, what either gives at held-back stations, and which to use.

    `coefficients` (S, K) are at the grid's rate, `taps` (S, T) at the output's; they bring
    `latency_s`. `level` is what the drives are
    relative to: the wave's, re the free field of one emitter at 1 m. `held` (P,) marks stations
    that the design did not use. `designed` is of the filters at the stations that it did use.
    """

    chosen: Literal["filters", "simple"]
    band: ControlBand
    grid: Grid
    simple: SimpleArray
    equaliser: C
    coefficients: F
    taps: F
    latency_s: float
    level: float
    held: NDArray[np.bool_]
    by_simple: Evidence
    by_filters: Evidence
    designed: Evidence
    findings: tuple[Finding, ...]


def designed_array(
    array: Emitters,
    simple: SimpleArray,
    stations: StationGrid,
    drivers: Drivers,
    options: ArrayOptions | None = None,
    progress: Progress = silent,
    held: NDArray[np.bool_] | None = None,
) -> ArrayDesign:
    """Filters for an array, judged against gains and delays where neither was fitted.

    Parameters
    ----------
    array
        The S subwoofers.
    simple
        Their gains and delays.
    stations
        Responses of each at P stations, without any of these settings.
    drivers
        What the subwoofers can give.
    options
        What to aim at; by default as `ArrayOptions` says.
    progress
        Told how far the work is; may raise to stop it.
    held
        (P,) stations not to be used, only to judge; by default a quarter of them.

    Raises
    ------
    InputError
        If the stations were measured with another number of subwoofers, some of these cannot be
        told apart, or the band left is too narrow.

    Notes
    -----
    Least squares over the stations of the difference from the wave, plus effort, plus the
    difference ahead of the wave and long after it, in expectation over errors, within the drivers'
    limits. Chosen are the filters if at held-back stations their error is 3 dB and their spatial
    variance 0.1 dB2 below those of the simple array; or if the slowest third octave decays 1.5
    times as fast (re what can be read) with no more than 3 dB of error and 0.2 dB2 of variance in
    exchange. In either case with no more ahead of the wave than is tolerable and no output beyond
    its limit.
    """
    if stations.samples.shape[0] != len(array.names):
        raise InputError(
            f"the array has {len(array.names)} subwoofers and the stations have responses of "
            f"{stations.samples.shape[0]}; they must be the same"
        )
    options = options or ArrayOptions()
    held = held_back(stations.position_m) if held is None else held
    band, findings = control_band(
        array, stations.position_m[~held], options.wanted_hz, options.speed_m_s
    )
    findings += station_doubts(int(np.sum(~held)), len(array.names))
    progress(0.0, "reading the responses")
    case = _case(array, stations, drivers, options, band)
    drive = simple.drives(case.grid.frequencies_hz)
    reached = mean_level(case.measured[:, ~held], drive, case.grid)
    level = float(reached[band.inside(case.grid.frequencies_hz)].min())
    shape = level * band_shape(band, case.grid)
    equaliser = common_equaliser(reached, shape, band, case.grid)
    progress(0.2, "computing the filters")
    taps, _ = filters_in_time(
        case.problem(shape, stations.weights, ~held, options.delay_s),
        options.uncertainty,
        options.effort_db,
        options.time_terms,
    )
    progress(0.9, "judging at held-back stations")
    filters = case.grid.spectrum(taps).T
    by_simple = case.judged((drive * equaliser).T, shape, held, 0.0)
    by_filters = case.judged(filters, shape, held, options.delay_s)
    chosen, why = filters_or_simple(by_simple, by_filters)
    return ArrayDesign(
        chosen=chosen,
        band=band,
        grid=case.grid,
        simple=simple,
        equaliser=equaliser,
        coefficients=taps,
        taps=at_output_rate(taps, case.grid),
        latency_s=options.delay_s,
        level=level,
        held=held,
        by_simple=by_simple,
        by_filters=by_filters,
        designed=case.judged(filters, shape, ~held, options.delay_s),
        findings=(*findings, why),
    )


@dataclass(frozen=True, slots=True)
class _Case:
    """What both arrays are designed for and judged by, at all P stations.

    `measured` (S, P, bins), `wave` (P, bins) at level 1 and no delay, `travel_s` (P,) of the wave,
    `limit` (bins, S).
    """

    band: ControlBand
    grid: Grid
    measured: C
    wave: C
    travel_s: F
    limit: F

    def wanted(self, shape: C, delay_s: float) -> C:
        """The wave (P, bins) of a shape (bins,), delayed."""
        turn = np.exp(-2j * np.pi * self.grid.frequencies_hz * delay_s)
        return np.asarray(self.wave * shape * turn)

    def problem(self, shape: C, weights: F, at: NDArray[np.bool_], delay_s: float) -> FilterProblem:
        """The design at some of the stations."""
        return FilterProblem(
            grid=self.grid,
            band=self.band,
            field=self.measured[:, at],
            wanted=self.wanted(shape, delay_s)[at],
            travel_s=self.travel_s[at],
            delay_s=delay_s,
            weights=weights[at],
            limit=self.limit,
        )

    def judged(self, drive: C, shape: C, at: NDArray[np.bool_], delay_s: float) -> Evidence:
        """What drives (bins, S) give at some of the stations."""
        return evidence(
            self.measured[:, at],
            drive,
            self.wanted(shape, delay_s)[at],
            self.travel_s[at] + delay_s,
            self.limit,
            self.band,
            self.grid,
        )


def _case(
    array: Emitters,
    stations: StationGrid,
    drivers: Drivers,
    options: ArrayOptions,
    band: ControlBand,
) -> _Case:
    length_s = stations.samples.shape[-1] / stations.sampling_rate_hz
    grid = design_grid(stations.sampling_rate_hz, options.filter_s, length_s, band.fades_out_hz)
    measured = response_spectra(stations.samples, grid)
    frequency, points, c = grid.frequencies_hz, stations.position_m, options.speed_m_s
    refuse_dependent(measured[..., band.inside(frequency)], array.names)
    wave = plane_wave(array, points, frequency, c)
    if options.reachable:
        wave = reachable_wave(wave, launched_field(array, points, frequency, c))
    travel = array.along_m(points) / c
    return _Case(band, grid, measured, wave, travel, drivers.limit(frequency))


def filters_or_simple(
    simple: Evidence, filters: Evidence
) -> tuple[Literal["filters", "simple"], Finding]:
    """Which of the two at held-back stations, and why; see the notes of `designed_array`."""
    better_db = simple.error_all_db - filters.error_all_db
    closer = simple.spatial_variance_db2 - filters.spatial_variance_db2
    sooner = simple.decay.slowest / filters.decay.slowest
    figures = (
        f"at held-back stations their error is {better_db:.1f} dB and their spatial variance "
        f"{closer:.2f} dB2 below those of gains and delays, and the slowest decay "
        f"{sooner:.1f} times as fast"
    )
    evener = better_db >= ERROR_MARGIN_DB and closer >= VARIANCE_MARGIN_DB2
    drier = sooner >= DECAY_MARGIN and better_db > -ERROR_MARGIN_DB and closer > -VARIANCE_COST_DB2
    reasons = []
    if not (evener or drier):
        reasons.append(
            f"less than {ERROR_MARGIN_DB:g} dB and {VARIANCE_MARGIN_DB2:g} dB2, or than "
            f"{DECAY_MARGIN:g} times as fast at no more than {VARIANCE_COST_DB2:g} dB2"
        )
    if not filters.quiet_ahead:
        reasons.append("too much sounds ahead of the wave")
    if np.any(filters.headroom_db < 0.0):
        reasons.append("an output exceeds its limit")
    if reasons:
        text = f"gains and delays are kept; of filters, {figures}: {'; '.join(reasons)}"
        return "simple", Finding(severity="note", where="array", text=text)
    return "filters", Finding(severity="note", where="array", text=f"filters are used: {figures}")
