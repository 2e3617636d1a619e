"""The tuning while it is drawn: what one channel will do, fast enough to follow a drag.

A survey is prepared once. Below a kilohertz the spectra are kept bin by bin, so loudspeaker and
subwoofers add up in full; above, where a channel's loudspeakers play alone, only their powers are
kept, smoothed. Curves are smoothed as the solver sees them: over 1/12 octave below the transition,
widening to 1/3 octave an octave above it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.measurement import ResponseSet
from roomwright.model import Job, OutputTuning, Tuning
from roomwright.signals import amplitude_db, from_power_db, log_frequencies, power_db, target_db
from roomwright.tuning import (
    SUBWOOFERS,
    Prepared,
    aimed_db,
    average_power,
    bass_gain,
    output_response,
    prepared,
    refitted,
    station_weights,
)
from roomwright.tuning.bass_ways import BassPlan, planned_from

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: Spectra are kept in full up to the first; above the second is left out: windows reach up to it.
_SPLIT_HZ = 1000.0
_REACH_HZ = 1500.0

_POINTS_PER_OCTAVE = 24
_LOWEST_HZ = 15.0


@dataclass(frozen=True, slots=True, eq=False)
class Live:
    """A survey prepared for quick answers; S units, P stations, G points of the grid.

    `low` (S, P, B) are spectra at `low_hz` (B,), `high` (S, P, H) smoothed powers at the points of
    `grid_hz` (G,) above the split. `seats` names each seat's station by its column.
    """

    ready: Prepared
    grid_hz: F
    low_hz: F
    low: C
    high: F
    weights: F
    seats: dict[str, int]

    @property
    def smoothing(self) -> str:
        """How all curves are smoothed, in words."""
        return (
            f"smoothed over 1/12 octave below {self.ready.transition_hz:.0f} Hz, widening to "
            f"1/3 octave above {2 * self.ready.transition_hz:.0f} Hz"
        )


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """A channel before tuning, laid on its target: levels (G,) re the target at 1 kHz.

    `aimed_db` is the target, in followed ranges the response's own shape.
    """

    frequency_hz: F
    level_db: F
    aimed_db: F
    target_db: F
    corrected_hz: tuple[float, float]
    level_hz: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Predicted:
    """A channel through a tuning at every seat, levels (G,) in decibels.

    `seat_db` is the chosen seat (NaN where it was not measured), `mean_db` the power average over
    all stations as the solver weighs them, `low_db` and `high_db` the extremes over the seats.
    `spread_below_db` and `spread_above_db` are standard deviations over the seats, averaged over
    log frequency below and above the transition.
    """

    frequency_hz: F
    seat_db: F
    mean_db: F
    low_db: F
    high_db: F
    spread_below_db: float
    spread_above_db: float


def prepare(job: Job, survey: ResponseSet, plan: BassPlan | None = None) -> Live:
    """A survey prepared for `predict` and `refit`; takes a second at most, with a plan.

    `plan` is what `plan_of` gave for the job's subwoofers; computing it takes seconds more.

    Raises
    ------
    InputError
        If the survey does not fit the job.
    """
    ready = prepared(job, survey, plan)
    rate = survey.sampling_rate_hz
    grid = log_frequencies(_LOWEST_HZ, min(20000.0, 0.45 * rate), _POINTS_PER_OCTAVE)
    frequencies = survey.frequencies_hz()
    bins = int(np.searchsorted(frequencies, _REACH_HZ))
    above = grid[grid >= _SPLIT_HZ]
    low = np.empty((*survey.present.shape, bins), dtype=np.complex128)
    high = np.empty((*survey.present.shape, above.size))
    for row in range(len(survey.sources)):
        spectrum = np.fft.rfft(survey.samples[row])
        low[row] = spectrum[:, :bins]
        high[row] = average_power(np.abs(spectrum) ** 2, frequencies, ready.transition_hz, above)
    stations = {station.id: station for station in job.stations}
    seats = {
        stations[name].seat or "": column
        for column, name in enumerate(survey.stations)
        if name in stations and stations[name].seat is not None
    }
    weights = station_weights(job, survey.stations)
    return Live(ready, grid, frequencies[:bins], low, high, weights, seats)


def prepared_from(job: Job) -> tuple[object, ...]:
    """Everything of a job that `prepare` depends on beside the survey's responses."""
    return (
        tuple(take for take in job.takes if take.stage == "survey"),
        job.stations,
        job.seat(job.main_seat),
        job.room,
        job.loudspeaker_models,
        job.loudspeakers,
        job.subwoofers,
        job.channels,
        job.processor,
        job.limits.crossover_hz,
        tuple(job.crossover_of(channel.id) for channel in job.channels),
        job.microphone,
        planned_from(job),
    )


def predict(
    live: Live, job: Job, tuning: Tuning, channel_id: str, seat_id: str, reference_db: float = 0.0
) -> Predicted | None:
    """What a channel will do at the seats with a tuning, re a level; None if not measured.

    Its loudspeakers and its redirected bass (or the LFE) add up as complex pressures up to 1 kHz.
    Above, the powers of its loudspeakers add up; the LFE is not shown there.

    Parameters
    ----------
    live
        The prepared survey.
    job
        Its channels and subwoofers.
    tuning
        The settings to predict for.
    channel_id, seat_id
        What is heard, and where.
    reference_db
        The level shown as 0 dB; `reference_db` gives one that suits the target.
    """
    channel = next(c for c in job.channels if c.id == channel_id)
    rows = {source: row for row, source in enumerate(live.ready.survey.sources)}
    settings = {output.drives: output for output in tuning.outputs}
    rate = live.ready.survey.sampling_rate_hz
    mains = [unit for unit in channel.loudspeakers if unit in rows]
    gain = bass_gain(channel, tuning, live.low_hz, rate)
    subwoofers = [s.id for s in job.subwoofers if s.id in rows] if gain is not None else []
    if not (mains or channel.role == "lfe") or not (mains or subwoofers):
        return None

    def chain(unit: str, at_hz: F) -> C:
        return output_response(settings.get(unit, OutputTuning(drives=unit)), at_hz, rate)

    total: C = np.zeros(live.low.shape[1:], dtype=np.complex128)
    for unit in mains:
        total += chain(unit, live.low_hz) * live.low[rows[unit]]
    if gain is not None:
        for unit in subwoofers:
            total += gain * chain(unit, live.low_hz) * live.low[rows[unit]]
    below = live.grid_hz < _SPLIT_HZ
    power = np.full((len(total), live.grid_hz.size), np.nan)
    power[:, below] = average_power(
        np.abs(total) ** 2, live.low_hz, live.ready.transition_hz, live.grid_hz[below]
    )
    if mains:
        above_hz = live.grid_hz[~below]
        parts = [np.abs(chain(unit, above_hz)) ** 2 * live.high[rows[unit]] for unit in mains]
        power[:, ~below] = np.sum(parts, axis=0)
    heard = [rows[unit] for unit in (*mains, *subwoofers)]
    present = np.asarray(live.ready.survey.present[heard].all(axis=0))
    offset = reference_db + (tuning.lfe_gain_db if channel.role == "lfe" else 0.0)
    return _over_seats(live, power, present, seat_id, offset)


def refit(live: Live, job: Job, tuning: Tuning, channel_id: str) -> Tuning:
    """The tuning with one channel's filters fitted anew to the job's target, limits and hand."""
    return refitted(live.ready, job, tuning, channel_id)


def retouched(live: Live, before: Job, after: Job, tuning: Tuning) -> Tuning:
    """A tuning computed for one job with what another sets otherwise, without solving anew.

    Changes of trims, delays, polarity and crossovers are taken over as they are; filters
    stay. It is what is heard while those are dragged.
    """
    lowest = min((o.delay_s + _later_s(before, after, o.drives) for o in tuning.outputs), default=0)
    crossovers = live.ready.crossovers(after)
    outputs = []
    for output in tuning.outputs:
        old, new = before.hand(output.drives), after.hand(output.drives)
        delay_s = output.delay_s + _later_s(before, after, output.drives) - min(lowest, 0.0)
        outputs.append(
            output.model_copy(
                update={
                    "trim_db": output.trim_db + new.trim_change_db - old.trim_change_db,
                    "delay_s": delay_s,
                    "inverted": output.inverted != (old.flipped != new.flipped),
                    "crossovers": crossovers.high_passes_of(after, output.drives),
                }
            )
        )
    return crossovers.loaded(tuning.model_copy(update={"outputs": tuple(outputs)}))


def _later_s(before: Job, after: Job, unit: str) -> float:
    return after.hand(unit).delay_change_s - before.hand(unit).delay_change_s


def measured(live: Live, job: Job, channel_id: str) -> Measured | None:
    """A channel's measured average with the target laid on it; None if it was not measured.

    The LFE stands for the subwoofers together. 0 dB is the target's level at 1 kHz; the response
    is laid on it where its level is read.
    """
    name = fitted_name(live, job, channel_id)
    average = None if name is None else live.ready.average_of(name)
    if name is None or average is None:
        return None
    f, bands = average.frequency_hz, live.ready.bands_of(job, name)
    target = job.target_of(channel_id)
    asked = target_db(target, f)
    within = (f >= bands.level_hz[0]) & (f <= bands.level_hz[1])
    own = average.level_db - float((average.level_db - asked)[within].mean())
    aimed = aimed_db(target, f, own, bands.corrected_hz, bands.level_hz)
    return Measured(f, own, aimed, asked, bands.corrected_hz, bands.level_hz)


def crossover_hz(live: Live, job: Job, channel_id: str) -> float | None:
    """Where a channel hands its bass to the subwoofers; None if it keeps it, or is the LFE."""
    return live.ready.crossovers(job).frequency_hz(channel_id)


def reference_db(live: Live, job: Job, tuning: Tuning) -> float:
    """The level of the main channels re their targets with a tuning: where 0 dB is drawn.

    The middle one of the channels, in the band in which their levels are aligned.
    """
    settings = {output.drives: output for output in tuning.outputs}
    rate = live.ready.survey.sampling_rate_hz
    crossovers = live.ready.crossovers(job)
    over = []
    for name, average in live.ready.averages.items():
        f, (low, high) = average.frequency_hz, live.ready.bands_of(job, name, crossovers).level_hz
        within = (f >= low) & (f <= high)
        output = settings.get(name, OutputTuning(drives=name))
        through = amplitude_db(output_response(output, f[within], rate))
        target = target_db(job.target_of(live.ready.channel_of[name]), f[within])
        over.append(_mean_level_db(average.level_db[within] + through - target))
    return float(np.median(over)) if over else 0.0


def channel_filters_db(live: Live, job: Job, tuning: Tuning, channel_id: str) -> F | None:
    """Level (G,) of the equalising filters of a channel's first output, without trim and crossover.

    Of the LFE, those of the first subwoofer; None if the tuning has no such output.
    """
    unit = _first_unit(job, channel_id)
    output = next((o for o in tuning.outputs if o.drives == unit), None)
    if output is None:
        return None
    filters = OutputTuning(drives=output.drives, biquads=output.biquads, fir=output.fir)
    level = amplitude_db(output_response(filters, live.grid_hz, job.sampling_rate_hz))
    return np.asarray(level)


def limits_band(live: Live, job: Job, channel_id: str) -> tuple[F, F, F] | None:
    """Where the solver's filters may lie together: frequencies, lowest and highest level.

    Over the band in which the channel is corrected; boosts only where the driver plays. None if
    the channel was not measured.
    """
    name = fitted_name(live, job, channel_id)
    if name is None:
        return None
    bands = live.ready.bands_of(job, name)
    f = live.grid_hz[
        (live.grid_hz >= bands.corrected_hz[0]) & (live.grid_hz <= bands.corrected_hz[1])
    ]
    plays = (f >= bands.driver_hz[0]) & (f <= bands.driver_hz[1])
    highest = np.where(plays, job.limits.maximum_boost_db, 0.0)
    return f, np.full(f.shape, -job.limits.maximum_cut_db), highest


def _first_unit(job: Job, channel_id: str) -> str | None:
    channel = next(c for c in job.channels if c.id == channel_id)
    if channel.role == "lfe":
        return next((subwoofer.id for subwoofer in job.subwoofers), None)
    return next(iter(channel.loudspeakers), None)


def fitted_name(live: Live, job: Job, channel_id: str) -> str | None:
    """Whose average a channel's filters are fitted to: a loudspeaker's or the subwoofers'."""
    channel = next(c for c in job.channels if c.id == channel_id)
    if channel.role == "lfe":
        return SUBWOOFERS if live.ready.group is not None else None
    return next((unit for unit in channel.loudspeakers if unit in live.ready.averages), None)


def _over_seats(
    live: Live, power: F, present: NDArray[np.bool_], seat_id: str, offset_db: float
) -> Predicted:
    f = live.grid_hz
    levels = np.where(present[:, None], power_db(power), np.nan) - offset_db
    weights = np.where(present, live.weights, 0.0)
    total = max(float(weights.sum()), 1e-12)
    mean = power_db(weights @ np.where(present[:, None], power, 0.0) / total) - offset_db
    columns = [c for c in live.seats.values() if present[c]] or list(np.flatnonzero(present))
    seats = levels[columns]
    at = live.seats.get(seat_id)
    seat = levels[at] if at is not None else np.full(f.shape, np.nan)
    if not columns:
        empty = np.full(f.shape, np.nan)
        return Predicted(f, seat, empty, empty, empty, np.nan, np.nan)
    spread = seats.std(axis=0)
    below = (f >= 20) & (f < live.ready.transition_hz)
    above = (f >= live.ready.transition_hz) & (f <= 12000) & np.isfinite(spread)
    return Predicted(
        f,
        seat,
        mean,
        seats.min(axis=0),
        seats.max(axis=0),
        float(spread[below].mean()),
        float(spread[above].mean()) if above.any() else np.nan,
    )


def _mean_level_db(level_db: F) -> float:
    return float(power_db(from_power_db(level_db).mean()))
