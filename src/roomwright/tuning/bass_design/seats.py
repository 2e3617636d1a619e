"""Even seats: what each subwoofer should be fed so that the seats differ least.

Spread over the seats first, then one common correction for all subwoofers: no common filter
changes the spread.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from roomwright.model import Biquad, CapabilitySheet, Finding
from roomwright.tuning.bass_design.descent import descend
from roomwright.tuning.bass_design.field import BassField, field_findings
from roomwright.tuning.bass_design.filters import FilterChain, FilterLimits
from roomwright.tuning.bass_design.gain_delay import (
    THOROUGH,
    GainDelayLimits,
    Settings,
    gain_and_delay,
)
from roomwright.tuning.bass_design.judging import Judged, Weights, judged, level_db
from roomwright.tuning.bass_design.magnitude import magnitude_gains
from roomwright.tuning.bass_design.short_filters import ShortFilters, short_filters
from roomwright.tuning.fit import fit_biquads
from roomwright.tuning.wanted import FitLimits, Wanted

F = NDArray[np.float64]
C = NDArray[np.complex128]

_DB_PER_NEPER = 20.0 / np.log(10.0)

#: Biquads a subwoofer gets for evenness at most; the rest of the sheet's is for the common
#: correction.
_MOST_PEAKING, _MOST_ALL_PASSES = 3, 1

#: Random starts of the filters, and steps from each.
_STARTS, _STEPS = 8, 30


@dataclass(frozen=True, slots=True)
class EvenSeats:
    """One way to feed the subwoofers, and what it gives.

    `way` is `alike`, `gain and delay`, `biquads`, `FIR` or `free`, the last a bound that no
    processor reaches. `gains` (N, F) are the complex gains, hardest driven source at 1 or below.
    `biquads` holds each source's filters, `fir` their taps at a low rate, where the way has any.
    `judged` says spread and level; `loss_db` the level given up against `alike` at equal drive.
    """

    way: str
    settings: Settings
    biquads: tuple[tuple[Biquad, ...], ...]
    fir: ShortFilters | None
    gains: C
    judged: Judged
    loss_db: float


def even_seats(
    field: BassField,
    sheet: CapabilitySheet,
    sampling_rate_hz: float,
    *,
    weights: Weights | None = None,
    limits: GainDelayLimits | None = None,
    filter_limits: FilterLimits | None = None,
    most_loss_db: float = 6.0,
) -> tuple[tuple[EvenSeats, ...], tuple[Finding, ...]]:
    """Every way the capability sheet has to feed the subwoofers, from the simplest, and the bound.

    Parameters
    ----------
    field
        The subwoofers at the seats.
    sheet
        What an output of the processor can do. Delays and gains are rounded to its steps.
    sampling_rate_hz
        The rate at which biquads run.
    weights
        What level is worth against spread.
    limits, filter_limits
        What may be set of each subwoofer.
    most_loss_db
        A way that gives up more level than this is left out, and a finding says so; the bound
        stays.

    Returns
    -------
    tuple
        The ways, and what is doubtful about the field or was left out.
    """
    weights, limits = weights or Weights(), _within_sheet(limits or GainDelayLimits(), sheet)
    own, frequency = field.response, field.frequencies_hz
    alike = _alike(field.sources)
    start = gain_and_delay(own[None], frequency, limits, weights.level, THOROUGH).of(0)
    plain = _rounded(start, sheet)
    ways = [_way("alike", field, alike), _way("gain and delay", field, plain)]
    if sheet.biquads_per_output:
        ways.append(
            _with_biquads(
                field,
                plain,
                limits,
                filter_limits or FilterLimits(),
                weights,
                sheet,
                sampling_rate_hz,
            )
        )
    if sheet.fir_taps_per_output:
        fir = short_filters(own, frequency, sheet.fir_taps_per_output / sampling_rate_hz)
        ways.append(_way("FIR", field, alike, gains=fir.gains(frequency), fir=fir))
    ways.append(_way("free", field, alike, gains=magnitude_gains(own[None])[0]))
    reference = float(ways[0].judged.level_db)
    ways = [replace(way, loss_db=reference - float(way.judged.level_db)) for way in ways]
    findings = [
        Finding(
            severity="note",
            where="subwoofers",
            text=f"{way.way} would cost {way.loss_db:.1f} dB of level, more than the "
            f"{most_loss_db:g} dB allowed; it is left out",
        )
        for way in ways[:-1]
        if way.loss_db > most_loss_db
    ]
    kept = [way for way in ways[:-1] if way.loss_db <= most_loss_db]
    return (*kept, ways[-1]), (*field_findings(field), *findings)


def common_correction(
    mean_level_db: F,
    target_db: F,
    frequencies_hz: F,
    limits: FitLimits,
    count: int,
    sampling_rate_hz: float,
) -> tuple[Biquad, ...]:
    """Filters, the same for every subwoofer, that bring the mean over seats to the target.

    Parameters
    ----------
    mean_level_db, target_db
        (F,), dB; only their difference about its own mean counts, a trim does the rest.
    frequencies_hz
        (F,).
    limits
        What each filter may be; the sum is held within its boost and cut.
    count
        Filters at most.
    sampling_rate_hz
        The rate at which they run.
    """
    error = target_db - mean_level_db
    error -= np.median(error)
    size = error.size
    wanted = Wanted(
        frequencies_hz,
        np.clip(error, -limits.maximum_cut_db, limits.maximum_boost_db),
        np.full(size, 1.0),
        np.full(size, limits.maximum_boost_db),
        np.full(size, -limits.maximum_cut_db),
    )
    return fit_biquads(wanted, limits, count, sampling_rate_hz)


def mean_level_db(field: BassField, gains: C) -> F:
    """Mean level over the points with complex gains (N, F), dB, (F,)."""
    level: F = level_db(np.sum(gains[:, None] * field.response, axis=0)).mean(axis=0)
    return level


def _within_sheet(limits: GainDelayLimits, sheet: CapabilitySheet) -> GainDelayLimits:
    longest = min(limits.longest_delay_s, sheet.maximum_delay_s)
    return replace(limits, longest_delay_s=longest)


def _rounded(settings: Settings, sheet: CapabilitySheet) -> Settings:
    gain = np.round(settings.gain_db / sheet.gain_step_db) * sheet.gain_step_db
    delay = np.round(settings.delay_s / sheet.delay_step_s) * sheet.delay_step_s
    return Settings(gain, delay, settings.inverted)


def _alike(sources: int) -> Settings:
    return Settings(np.zeros(sources), np.zeros(sources), np.zeros(sources, dtype=np.bool_))


def _way(
    way: str,
    field: BassField,
    settings: Settings,
    *,
    gains: C | None = None,
    biquads: tuple[tuple[Biquad, ...], ...] = (),
    fir: ShortFilters | None = None,
) -> EvenSeats:
    gains = settings.gains(field.frequencies_hz) if gains is None else gains
    gains = gains / np.abs(gains).max()
    return EvenSeats(way, settings, biquads, fir, gains, judged(field.response, gains), 0.0)


def _with_biquads(
    field: BassField,
    start: Settings,
    limits: GainDelayLimits,
    filter_limits: FilterLimits,
    weights: Weights,
    sheet: CapabilitySheet,
    sampling_rate_hz: float,
) -> EvenSeats:
    """Gain, delay and a few biquads for each subwoofer, from many starts around gain and delay."""
    peaking = min(_MOST_PEAKING, max(sheet.biquads_per_output - _MOST_ALL_PASSES, 0))
    passes = min(_MOST_ALL_PASSES, sheet.biquads_per_output - peaking)
    lower, upper = _bounds(limits, filter_limits, peaking, passes)
    rng = np.random.default_rng(0)
    parameters = rng.uniform(lower, upper, (_STARTS, field.sources, lower.size))
    parameters[..., 0] = start.gain_db / _DB_PER_NEPER
    parameters[..., 1] = 1e3 * start.delay_s
    parameters[..., 3 : 2 + 3 * peaking : 3] = 0.0
    # Once with an all-pass that does next to nothing above its frequency.
    parameters[0, :, 2 + 3 * peaking :] = np.tile(
        [np.log(filter_limits.lowest_hz), np.log(filter_limits.highest_q)], passes
    )
    sign = np.where(start.inverted, -1.0, 1.0)
    chain = FilterChain(
        field.frequencies_hz,
        sampling_rate_hz,
        np.tile(sign, (_STARTS, 1)),
        peaking,
        passes,
        lower,
        upper,
    )
    response = np.broadcast_to(
        field.response.astype(np.complex64), (_STARTS, *field.response.shape)
    )
    reached = descend(response, chain, parameters, weights.level, _STEPS)
    best = reached.parameters[int(np.argmin(reached.cost))]
    gain, delay = best[:, 0] - best[:, 0].max(), best[:, 1] - best[:, 1].min()
    settings = _rounded(Settings(gain * _DB_PER_NEPER, 1e-3 * delay, start.inverted), sheet)
    best = best.copy()
    best[:, 0], best[:, 1] = settings.gain_db / _DB_PER_NEPER, 1e3 * settings.delay_s
    chain = replace(chain, sign=sign[None])
    return _way(
        "biquads",
        field,
        settings,
        gains=chain.gains(best[None])[0],
        biquads=tuple(chain.biquads(own) for own in best),
    )


def _bounds(
    limits: GainDelayLimits, filters: FilterLimits, peaking: int, passes: int
) -> tuple[F, F]:
    """Least and greatest parameters of one source, (K,)."""
    frequency = np.log([filters.lowest_hz, filters.highest_hz])
    quality = np.log([filters.lowest_q, filters.highest_q])
    gain = np.array([-filters.largest_cut_db, filters.largest_boost_db]) / _DB_PER_NEPER
    one = [frequency, gain, quality]
    every = [
        np.array([limits.lowest_gain_db / _DB_PER_NEPER, 0.0]),
        np.array([0.0, 1e3 * limits.longest_delay_s]),
        *(one * peaking),
        *([frequency, quality] * passes),
    ]
    lower, upper = np.array(every).T
    return lower, upper
