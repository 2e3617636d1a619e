"""Filters for a wanted correction, as biquads or as a FIR curve, rounded and held within limits."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from roomwright.model import Biquad, ByHand, Finding, FirCurve, Job
from roomwright.signals import amplitude_db, fir_taps, frequencies_hz, log_frequencies
from roomwright.tuning.correction import Correction
from roomwright.tuning.fit import fit_biquads
from roomwright.tuning.peaking import peaking_levels_db
from roomwright.tuning.wanted import FitLimits, Wanted

F = NDArray[np.float64]

#: Rounding of a filter's Q; its frequency keeps four digits. Both far below what is audible.
_Q_STEP = 0.01

#: The grid on which the sum of filters is held within its limits: narrower than any filter.
_POINTS_PER_OCTAVE = 48

#: Cost of a decibel of a filter's gain, in squared decibels of misfit at one of the grid's points:
#: keeps filters from working against each other (tried on simulated rooms, no source).
_EFFORT = 1.0

#: What counts as no violation: rounding of the arithmetic.
_NEGLIGIBLE_DB = 1e-9

#: A band narrower than this ratio is not equalised.
_NARROWEST_BAND = 1.2

#: The shortest FIR a tuning may hold.
_FEWEST_TAPS = 256

#: A shortfall of the boost limit, or a departure of a FIR from its curve, worth a finding.
_SHORT_DB = 1.5
_FIR_ERROR_DB = 1.0


def filters_for(
    job: Job,
    where: str,
    correction: Correction,
    transition_hz: float,
    *,
    use_fir: bool,
    hand: ByHand | None = None,
    reserved: int = 0,
) -> tuple[dict[str, object], tuple[Finding, ...]]:
    """The filters of an output for a correction, and what they leave undone.

    Parameters
    ----------
    job
        Its limits and capability sheet.
    where
        What is corrected, for the findings.
    correction
        What is wanted; filters are centred within its band.
    transition_hz
        Where the lower of the two limits of Q begins.
    use_fir
        A FIR instead of biquads.
    hand
        What is set by hand: its biquads come first and are kept as they are.
    reserved
        Places for biquads that something else needs.

    Returns
    -------
    dict, tuple of Finding
        Fields of `OutputTuning` to update.
    """
    findings = _nulls(where, correction)
    low_hz, high_hz = correction.band_hz
    hand = hand or ByHand(drives=where)
    kept: dict[str, object] = {"biquads": hand.biquads} if hand.biquads else {}
    if hand.no_more_biquads:
        text = "its filters are set by hand; the solver adds none"
        return kept, (Finding(severity="note", where=where, text=text),)
    if high_hz < _NARROWEST_BAND * low_hz:
        text = f"nothing is left to equalise from {low_hz:.0f} to {high_hz:.0f} Hz"
        return kept, (*findings, Finding(severity="note", where=where, text=text))
    if use_fir and fir_taps_allowed(job):
        curve = fir_curve(correction, fir_taps_allowed(job))
        findings += _fir_error(where, curve, correction, job.sampling_rate_hz)
        return {**kept, "fir": curve}, findings
    count = min(job.limits.biquads_per_output, job.processor.biquads_per_output) - reserved
    if count <= len(hand.biquads):
        text = "no filter is allowed by the limits or the processor; it is not equalised"
        if hand.biquads:
            text = f"{len(hand.biquads)} filters set by hand are all that the limits allow"
        return kept, (*findings, Finding(severity="note", where=where, text=text))
    biquads = equalising_biquads(
        correction.wanted,
        fit_limits(job, correction.band_hz, transition_hz),
        count - len(hand.biquads),
        job.processor.gain_step_db,
        job.sampling_rate_hz,
    )
    return {"biquads": (*hand.biquads, *biquads)}, findings


def fir_taps_allowed(job: Job) -> int:
    """Length of the FIR an output may have; 0 if that is too short to be one."""
    taps = min(job.limits.fir_taps, job.processor.fir_taps_per_output)
    return taps if taps >= _FEWEST_TAPS else 0


def fit_limits(job: Job, band_hz: tuple[float, float], transition_hz: float) -> FitLimits:
    """What each filter may be by the job's limits, centred within a band."""
    limits = job.limits
    return FitLimits(
        lowest_hz=band_hz[0],
        highest_hz=band_hz[1],
        maximum_boost_db=limits.maximum_boost_db,
        maximum_cut_db=limits.maximum_cut_db,
        maximum_q=limits.maximum_q,
        maximum_q_above=min(limits.maximum_q_above_transition, limits.maximum_q),
        transition_hz=transition_hz,
        minimum_q=min(0.5, limits.maximum_q, limits.maximum_q_above_transition),
    )


def equalising_biquads(
    wanted: Wanted, limits: FitLimits, count: int, gain_step_db: float, sampling_rate_hz: float
) -> tuple[Biquad, ...]:
    """Peaking filters for a wanted correction, rounded as a processor takes them.

    The sum of the filters is nowhere above the ceiling nor below the floor.

    Parameters
    ----------
    wanted
        The correction.
    limits
        What each filter may be.
    count
        The largest number of filters.
    gain_step_db
        Step of the gains, in decibels.
    sampling_rate_hz
        The rate at which the filters will run, in hertz.
    """
    fitted = fit_biquads(wanted, limits, count, sampling_rate_hz, effort=_EFFORT)
    rounded = tuple(_rounded(biquad, limits, gain_step_db) for biquad in fitted)
    return hold_within(rounded, wanted, gain_step_db, sampling_rate_hz)


def hold_within(
    biquads: tuple[Biquad, ...], wanted: Wanted, gain_step_db: float, sampling_rate_hz: float
) -> tuple[Biquad, ...]:
    """The filters with gains reduced, step by step, until their sum respects ceiling and floor.

    The boosts alone must respect the highest ceiling too, so that none hides under a cut. Each
    step takes from the filter that gives most to the worst violation. Every step brings gains
    nearer to 0, where the sum is 0, so it ends. Filters left without gain are dropped.
    """
    f = log_frequencies(wanted.frequency_hz[0], wanted.frequency_hz[-1], _POINTS_PER_OCTAVE)
    omega = 2 * np.pi * f / sampling_rate_hz
    ceiling = _lower_of_neighbours(f, wanted.frequency_hz, wanted.ceiling_db)
    floor = -_lower_of_neighbours(f, wanted.frequency_hz, -wanted.floor_db)
    rows = np.array([[np.log(b.frequency_hz), b.gain_db, np.log(b.q)] for b in biquads])
    rows = rows.reshape(-1, 3)
    while rows.size:
        levels = peaking_levels_db(rows, omega, sampling_rate_hz)
        total, boosts = levels.sum(axis=0), np.maximum(levels, 0.0).sum(axis=0)
        above = np.maximum(total - ceiling, boosts - ceiling.max())
        below = floor - total
        sign, excess = (1.0, above) if above.max() >= below.max() else (-1.0, below)
        worst = int(np.argmax(excess))
        if excess[worst] <= _NEGLIGIBLE_DB:
            break
        row = int(np.argmax(sign * levels[:, worst]))
        rows[row, 1] = sign * max(sign * rows[row, 1] - gain_step_db, 0.0)
    return tuple(
        biquad.model_copy(update={"gain_db": _tidy(row[1], gain_step_db)})
        for biquad, row in zip(biquads, rows, strict=True)
        if abs(row[1]) > gain_step_db / 2
    )


def fir_curve(correction: Correction, taps: int) -> FirCurve:
    """The wanted correction as the curve of a minimum-phase FIR of `taps` taps.

    Each frequency is corrected by the share that can be trusted; beyond the band the wanted level
    has faded to 0. Levels are rounded to a hundredth of a decibel, towards 0.
    """
    wanted = correction.wanted
    level = np.fix(100 * wanted.level_db * correction.trust) / 100
    return FirCurve(
        taps=taps,
        frequencies_hz=tuple(float(f) for f in np.round(wanted.frequency_hz, 3)),
        level_db=tuple(float(step) for step in level + 0.0),
    )


def _rounded(biquad: Biquad, limits: FitLimits, gain_step_db: float) -> Biquad:
    digits = 3 - int(np.floor(np.log10(biquad.frequency_hz)))
    frequency = round(biquad.frequency_hz, digits)
    highest = float(limits.highest_q(np.array(biquad.frequency_hz), boost=biquad.gain_db > 0))
    q = np.clip(round(biquad.q / _Q_STEP) * _Q_STEP, limits.minimum_q, highest)
    largest = limits.maximum_boost_db if biquad.gain_db > 0 else limits.maximum_cut_db
    gain = np.sign(biquad.gain_db) * min(
        round(abs(biquad.gain_db) / gain_step_db), np.floor(largest / gain_step_db + 1e-9)
    )
    return Biquad(
        kind="peaking",
        frequency_hz=float(np.clip(frequency, limits.lowest_hz, limits.highest_hz)),
        gain_db=_tidy(gain * gain_step_db, gain_step_db),
        q=round(float(q), 4),
    )


def _tidy(gain_db: float, step_db: float) -> float:
    return round(round(gain_db / step_db) * step_db, 6) + 0.0


def _lower_of_neighbours(f: F, grid_hz: F, values: F) -> F:
    """At each frequency the lower of the two values of the grid around it."""
    right = np.clip(np.searchsorted(grid_hz, f * (1 - 1e-12)), 0, grid_hz.size - 1)
    left = np.clip(np.searchsorted(grid_hz, f * (1 + 1e-12), side="right") - 1, 0, None)
    return np.minimum(values[left], values[right])


def shortfall(
    corrections: Mapping[str, Correction], maximum_boost_db: float
) -> tuple[Finding, ...]:
    """What the limit of boosts leaves missing, all sources in one finding; none if it is little."""
    short = {name: c for name, c in corrections.items() if c.short_db > _SHORT_DB}
    if not short:
        return ()
    where = "; ".join(
        f"{name} by {c.short_db:.0f} dB at {float(f'{c.short_hz:.3g}'):.0f} Hz"
        for name, c in short.items()
    )
    text = f"the limit of {maximum_boost_db:g} dB for boosts leaves some under the target: {where}"
    return (Finding(severity="note", where="equalisation", text=text),)


def _nulls(where: str, correction: Correction) -> tuple[Finding, ...]:
    return tuple(
        Finding(
            severity="note",
            where=where,
            text=f"has a null at {null_hz:.3g} Hz, which no filter can fill; it was left alone",
        )
        for null_hz in correction.nulls_hz
    )


def _fir_error(
    where: str, curve: FirCurve, correction: Correction, sampling_rate_hz: int
) -> tuple[Finding, ...]:
    """How far the FIR departs from its curve in the band, if that is much: too few taps."""
    taps = fir_taps(curve, sampling_rate_hz)
    # A hertz or less between bins, so that no narrow peak of the curve falls between two.
    length = max(8 * taps.size, sampling_rate_hz)
    grid = frequencies_hz(length, sampling_rate_hz)
    inside = (grid >= correction.band_hz[0]) & (grid <= correction.band_hz[1])
    level = amplitude_db(np.fft.rfft(taps, length))[inside]
    asked = np.interp(np.log(grid[inside]), np.log(curve.frequencies_hz), curve.level_db)
    worst = int(np.argmax(np.abs(level - asked)))
    if abs(level - asked)[worst] <= _FIR_ERROR_DB:
        return ()
    return (
        Finding(
            severity="note",
            where=where,
            text=f"{taps.size} taps follow the wanted curve only within "
            f"{abs(level - asked)[worst]:.1f} dB near {grid[inside][worst]:.3g} Hz",
        ),
    )
