"""How sound decays: energy decay curves and reverberation times per band."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright._checks import finite, positive
from roomwright.analysis._band_power import (
    BandPower,
    block_s,
    broad_power,
    power_in_bands,
)
from roomwright.analysis._line import line_through
from roomwright.analysis._noise_floor import SHORTEST_BLOCK_S, floor_of, peak_to_noise_db
from roomwright.analysis.arrival import onset_index
from roomwright.signals import band_edges, power_db
from roomwright.standards.iso3382 import CURVATURE_LIMIT_PERCENT, EDT, T20, T30, DecayRange

#: A line through fewer points says nothing.
_FEWEST_POINTS = 4

#: A response with less of its energy than this after the arrival has no decay to speak of.
_LEAST_AT_ARRIVAL_DB = -30.0

#: Bandwidth times the shortest decay that can be read. ISO 3382-2:2008, 7.3 asks for 4 with
#: time-reversed filters evaluated from the first sample on; evaluated from the arrival on, as
#: here, decays of noise read without bias down to 2 (computed).
_BANDWIDTH_TIMES_DECAY = 2.0

#: The first 10 dB of T20, and what ISO 3382-1 would ask of the noise for it.
_FIRST = DecayRange("T10", T20.start_db, T20.start_db - 10.0, 25.0)

#: Below this the decay curve is no straight line (common practice, no source).
_LEAST_CORRELATION = 0.98


@dataclass(frozen=True, slots=True)
class DecayResult:
    """Decay times of responses in bands; arrays have shape (..., bands).

    Times are NaN where the level above the noise (`range_db`) does not suffice.
    `curvature_percent` is 100 (T30 / T20 - 1), `correlation` that of the T20 line.
    `analysis_limit_s` (bands,) is the shortest time the band's filter can read, `too_short` marks
    decays below it. `reliable` says whether T20 may be believed, `reason` in a few words why not.
    """

    mid_hz: NDArray[np.float64]
    fraction: int
    edt_s: NDArray[np.float64]
    t20_s: NDArray[np.float64]
    t30_s: NDArray[np.float64]
    curvature_percent: NDArray[np.float64]
    correlation: NDArray[np.float64]
    range_db: NDArray[np.float64]
    analysis_limit_s: NDArray[np.float64]
    too_short: NDArray[np.bool_]
    reliable: NDArray[np.bool_]
    reason: NDArray[np.str_]


@dataclass(frozen=True, slots=True)
class DecayCurve:
    """One energy decay curve, dB re the whole energy.

    `level_db` (m,) ends where the noise begins; `time_s` (m,) counts from the arrival of the
    direct sound; `range_db` is the level of the response above its noise.
    """

    time_s: NDArray[np.float64]
    level_db: NDArray[np.float64]
    range_db: float


def analysis_limit_s(mid_hz: ArrayLike, fraction: int) -> NDArray[np.float64]:
    """Shortest reverberation time that can be read in bands, seconds, shape of `mid_hz`.

    2 / B: a time-reversed filter adds nothing after the arrival, but a band of width B holds
    no detail shorter than about 1 / B (computed; ISO 3382-2:2008, 7.3 asks for 4 / B).
    """
    low, high = band_edges(mid_hz, fraction)
    return _BANDWIDTH_TIMES_DECAY / (high - low)


def energy_decay_curve(
    samples: ArrayLike, sampling_rate_hz: float, mid_hz: float | None = None, fraction: int = 3
) -> DecayCurve | None:
    """Backward-integrated energy of one response (Schroeder), noise removed; None without decay.

    The integration stops where the decay meets the noise, the noise's power is subtracted and
    what the decay would have held beyond is added (ISO 3382-1:2009, 5.3.3; Lundeby 1995).

    Parameters
    ----------
    samples
        One impulse response, shape (n,).
    sampling_rate_hz
        Sampling rate, hertz.
    mid_hz
        Exact midband; None for the whole response.
    fraction
        Bands in an octave.

    Raises
    ------
    InputError
        If a sample is not a number, or the band does not fit the sampling rate.
    """
    response = _checked(samples, sampling_rate_hz)
    start_s = float(onset_index(response)) / sampling_rate_hz
    if mid_hz is None:
        return _curve(broad_power(response, sampling_rate_hz), start_s, SHORTEST_BLOCK_S)
    (band,) = power_in_bands(response, sampling_rate_hz, np.array([mid_hz]), fraction)
    return _curve(band, start_s, block_s(mid_hz, fraction))


def decay_times(
    samples: ArrayLike, sampling_rate_hz: float, mids_hz: ArrayLike, fraction: int = 3
) -> DecayResult:
    """Early decay time, T20 and T30 of responses per band, with their reliability.

    Straight lines are fitted to the energy decay curve from 0 to -10, -5 to -25 and -5 to
    -35 dB and extrapolated to 60 dB (ISO 3382-1:2009, 5.3.3). T20 is reliable where the level
    above the noise reaches 35 dB, the time exceeds the filter's limit, the line fits and the
    curvature stays within 10 %.

    Parameters
    ----------
    samples
        Impulse responses, shape (..., n).
    sampling_rate_hz
        Sampling rate, hertz.
    mids_hz
        Exact midbands, hertz, shape (bands,), as `signals.midbands` gives them.
    fraction
        Bands in an octave.

    Raises
    ------
    InputError
        If a sample is not a number, or a band does not fit the sampling rate.
    """
    responses = _checked(samples, sampling_rate_hz)
    mids = np.asarray(mids_hz, dtype=np.float64)
    flat = responses.reshape(-1, responses.shape[-1])
    starts = onset_index(flat) / sampling_rate_hz
    numbers = np.full((flat.shape[0], mids.size, 6), np.nan)
    for i, (response, start_s) in enumerate(zip(flat, starts, strict=True)):
        for b, band in enumerate(power_in_bands(response, sampling_rate_hz, mids, fraction)):
            average_s = block_s(mids[b], fraction)
            curve = _curve(band, float(start_s), average_s)
            if curve is None:
                numbers[i, b, 4:] = peak_to_noise_db(band.power, band.step_s, average_s), 0.0
            else:
                numbers[i, b] = _numbers(curve)
    return _result(numbers.reshape(*responses.shape[:-1], mids.size, 6), mids, fraction)


def _checked(samples: ArrayLike, sampling_rate_hz: float) -> NDArray[np.float64]:
    positive(sampling_rate_hz, "the sampling rate")
    return finite(samples, "the impulse response").astype(np.float64)


def _curve(band: BandPower, start_s: float, average_s: float) -> DecayCurve | None:
    """Decay curve of a single response's band power, shape (m,)."""
    floor = floor_of(band.power, band.step_s, average_s)
    first = int(np.ceil((start_s + band.lead_s) / band.step_s))
    if floor is None or floor.stop <= first:
        return None
    energy = np.cumsum((band.power[: floor.stop] - floor.noise)[::-1])[::-1] + floor.tail
    # A spurious peak in mere noise can leave nothing, or less, once the noise is subtracted.
    if energy[0] <= floor.tail:
        return None
    level = power_db(np.maximum(energy, floor.tail) / energy[0])[first:]
    return DecayCurve(np.arange(level.size, dtype=np.float64) * band.step_s, level, floor.range_db)


def _numbers(curve: DecayCurve) -> tuple[float, float, float, float, float, float]:
    """EDT, T20, T30, correlation of the T20 line, range, and T by the first 10 dB of T20."""
    early, _ = _decay(curve, EDT, 0.0)
    # What the filter sends ahead of the arrival takes part in the whole energy: the lines start
    # at the arrival's level where that is already lower.
    lowered_db = min(0.0, float(curve.level_db[0]) - T20.start_db)
    t20, correlation = _decay(curve, T20, lowered_db)
    t30, _ = _decay(curve, T30, lowered_db)
    return early, t20, t30, correlation, curve.range_db, _first_s(curve, lowered_db)


def _first_s(curve: DecayCurve, lowered_db: float) -> float:
    """T by the first 10 dB of T20's range; 0 if they pass too fast for a line, or nothing is left.

    Good for no more than to tell a decay that is too short from one that noise hides.
    """
    start, stop = _between(curve, T20.start_db + lowered_db, T20.start_db + lowered_db - 10.0)
    fell = stop < curve.level_db.size
    if lowered_db < _LEAST_AT_ARRIVAL_DB or (fell and stop - start < _FEWEST_POINTS):
        return 0.0
    first_s, _ = _decay(curve, _FIRST, lowered_db)
    return first_s


def _decay(curve: DecayCurve, over: DecayRange, lowered_db: float) -> tuple[float, float]:
    """Time for 60 dB and correlation of the line through a range; NaN where there is none."""
    high_db, low_db = over.start_db + lowered_db, over.stop_db + lowered_db
    needed_db = max(over.needed_range_db, 10.0 - low_db)
    start, stop = _between(curve, high_db, low_db)
    if (
        curve.range_db < needed_db
        or curve.level_db.min() > low_db
        or lowered_db < _LEAST_AT_ARRIVAL_DB
        or stop - start < _FEWEST_POINTS
    ):
        return np.nan, np.nan
    slope, _, correlation = line_through(curve.level_db[start:stop])
    return -60.0 * float(curve.time_s[1]) / slope, -correlation


def _between(curve: DecayCurve, high_db: float, low_db: float) -> tuple[int, int]:
    """First index at or below `high_db` and at or below `low_db`; the end where it is not met."""
    below_high, below_low = curve.level_db <= high_db, curve.level_db <= low_db
    end = curve.level_db.size
    return (
        int(np.argmax(below_high)) if below_high[-1] else end,
        int(np.argmax(below_low)) if below_low[-1] else end,
    )


def _result(numbers: NDArray[np.float64], mids: NDArray[np.float64], fraction: int) -> DecayResult:
    edt, t20, t30, correlation, range_db, first = np.moveaxis(numbers, -1, 0)
    curvature = 100.0 * (t30 / t20 - 1.0)
    limit = analysis_limit_s(mids, fraction)
    clear = range_db >= T20.needed_range_db
    too_short = clear & (np.where(np.isnan(t20), first, t20) < limit)
    doubts = (
        (~clear, "less than 35 dB above the noise"),
        (too_short, "shorter than the band can show"),
        (np.isnan(t20), "the noise hides the end of the decay"),
        (correlation < _LEAST_CORRELATION, "the decay is not straight"),
        (np.abs(curvature) > CURVATURE_LIMIT_PERCENT, "the decay is bent"),
    )
    reason = np.select([where for where, _ in doubts], [text for _, text in doubts], default="")
    return DecayResult(
        mid_hz=mids,
        fraction=fraction,
        edt_s=edt,
        t20_s=t20,
        t30_s=t30,
        curvature_percent=curvature,
        correlation=correlation,
        range_db=range_db,
        analysis_limit_s=limit,
        too_short=too_short,
        reliable=reason == "",
        reason=reason,
    )
