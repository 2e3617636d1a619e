"""The level curves that the report draws, read from sets of responses."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright.handover.content import Content
from roomwright.handover.wording import count
from roomwright.measurement import ResponseSet
from roomwright.model import Channel, Job, OutputTuning, Target, Tuning
from roomwright.signals import (
    REFERENCE_PRESSURE_PA,
    log_frequencies,
    power_db,
    smooth_power,
    target_db,
)
from roomwright.standards import labels
from roomwright.tuning import predict

F = NDArray[np.float64]

#: Every curve is smoothed over this part of an octave.
SMOOTHING = 12

#: Curves are compared by the mean of their levels in this band, hertz.
MEAN_BAND_HZ = (500.0, 2000.0)
LFE_MEAN_BAND_HZ = (40.0, 80.0)

#: The level at which a channel is said to play: a sine 20 dB below full scale.
PLAYED_DBFS = -20.0

#: Sound pressure level of that sine through a response of 1 pascal per full scale, dB.
SPL_OF_ONE_DB = 20.0 * math.log10(10.0 ** (PLAYED_DBFS / 20.0) / math.sqrt(2)) - 20.0 * math.log10(
    REFERENCE_PRESSURE_PA
)


@dataclass(frozen=True, slots=True)
class Levels:
    """Levels of every source at every station, dB, shape (S, P, F); NaN where not measured."""

    responses: ResponseSet
    frequency_hz: F
    level_db: F

    def row(self, source: str) -> int | None:
        """Row of a source that was measured somewhere; None if there is none."""
        if source not in self.responses.sources:
            return None
        row = self.responses.sources.index(source)
        return row if self.responses.present[row].any() else None

    def average_db(self, row: int, columns: tuple[int, ...] | None = None) -> F:
        """Power average of one source over its stations, or over those in `columns`, (F,)."""
        levels = self.level_db[row] if columns is None else self.level_db[row, list(columns)]
        known = levels[np.isfinite(levels).any(axis=-1)]
        if not known.size:
            return np.full(self.frequency_hz.shape, np.nan)
        mean: F = power_db(np.mean(10.0 ** (known / 10.0), axis=0))
        return mean

    def trusted_hz(self, row: int) -> tuple[float, float] | None:
        """Median over stations of the band in which one source is trusted; None if nowhere."""
        trusted = self.responses.trusted_hz[row][self.responses.present[row]]
        trusted = trusted[trusted[:, 1] > trusted[:, 0]]
        if not trusted.size:
            return None
        low, high = np.median(trusted, axis=0)
        return float(low), float(high)


@dataclass(frozen=True, slots=True)
class Material:
    """A handover's content with the curves of its response sets.

    `untuned` is the prediction of `reference` (the channel that stands for all where one must)
    with crossovers and trims only.
    """

    content: Content
    reference: str | None
    survey: Levels | None
    predicted: Levels | None
    measured: Levels | None
    untuned: Levels | None

    @property
    def job(self) -> Job:
        """The job."""
        return self.content.job

    @property
    def result(self) -> Levels | None:
        """What was reached: as measured, or else as predicted."""
        return self.predicted if self.measured is None else self.measured

    @property
    def result_word(self) -> str:
        """How `result` was come by."""
        return "predicted" if self.measured is None else "re-measured"

    def seats(self, responses: ResponseSet) -> tuple[int, ...]:
        """Columns of the stations that stand for a seat; all where none does."""
        return seat_columns(self.job, responses)

    def places(self, responses: ResponseSet) -> str:
        """What `seats` gives, in words: `8 seats`, or `2 stations` where none names a seat."""
        noun = "seat" if _named_seats(self.job, responses) else "station"
        return count(len(self.seats(responses)), noun)


def gather(content: Content) -> Material:
    """Compute every curve the report needs."""
    reference = _reference(content.job)
    return Material(
        content,
        reference.id if reference else None,
        *(
            None if responses is None else levels_of(responses)
            for responses in (
                content.survey,
                content.predicted,
                content.measured,
                _untuned(content, reference),
            )
        ),
    )


def levels_of(responses: ResponseSet) -> Levels:
    """Levels of a response set, power-averaged over 1/12 octave, 24 an octave from 15 Hz.

    dB re 1 of the responses' own unit.
    """
    rate = responses.sampling_rate_hz
    at_hz = log_frequencies(15.0, min(20500.0, 0.48 * rate), 2 * SMOOTHING)
    spectra = responses.spectra()
    power = spectra.real.astype(np.float64) ** 2 + spectra.imag.astype(np.float64) ** 2
    level = power_db(smooth_power(power, responses.frequencies_hz(), SMOOTHING, at_hz))
    level[~responses.present | ~np.isfinite(level).all(axis=-1)] = np.nan
    return Levels(responses, at_hz, level)


def mean_level_db(frequency_hz: F, level_db: ArrayLike, band_hz: tuple[float, float]) -> float:
    """Mean of a curve's levels in a band, every octave counting alike; NaN where unknown."""
    inside = (frequency_hz >= band_hz[0]) & (frequency_hz <= band_hz[1])
    return float(np.mean(np.asarray(level_db)[..., inside]))


def target_curve_db(target: Target, frequency_hz: F, band_hz: tuple[float, float]) -> F:
    """A target re its own mean over a band, dB."""
    level = target_db(target, frequency_hz)
    return level - mean_level_db(frequency_hz, level, band_hz)


def is_lfe(job: Job, channel_id: str) -> bool:
    """Whether a channel is reproduced by the subwoofers alone."""
    return any(channel.id == channel_id and channel.role == "lfe" for channel in job.channels)


def main_column(job: Job, responses: ResponseSet) -> int | None:
    """Column of the station that stands for the main seat; None if there is none."""
    seats = {station.id: station.seat for station in job.stations}
    return next(
        (c for c, s in enumerate(responses.stations) if seats.get(s) == job.main_seat), None
    )


def ordered_channels(job: Job) -> tuple[str, ...]:
    """The job's channels in the customary order."""
    return labels.label_order(channel.id for channel in job.channels)


def seat_columns(job: Job, responses: ResponseSet) -> tuple[int, ...]:
    """Columns of the stations that stand for a seat; all where none does."""
    return _named_seats(job, responses) or tuple(range(len(responses.stations)))


def _named_seats(job: Job, responses: ResponseSet) -> tuple[int, ...]:
    seat_of = {station.id: station.seat for station in job.stations}
    return tuple(c for c, s in enumerate(responses.stations) if seat_of.get(s) is not None)


def _reference(job: Job) -> Channel | None:
    """The centre, or else the first main channel in the customary order."""
    by_id = {channel.id: channel for channel in job.channels if channel.role != "lfe"}
    order = [name for name in ordered_channels(job) if name in by_id]
    if not order:
        return None
    return by_id["M+000" if "M+000" in by_id else order[0]]


def _untuned(content: Content, reference: Channel | None) -> ResponseSet | None:
    """Prediction of the reference channel with no delay, polarity change, equaliser or FIR."""
    job, survey = content.job, content.survey
    if survey is None or reference is None or job.tuning is None:
        return None
    outputs = tuple(
        OutputTuning(drives=o.drives, trim_db=o.trim_db, crossovers=o.crossovers)
        for o in job.tuning.outputs
    )
    tuning: Tuning = job.tuning.model_copy(update={"outputs": outputs})
    heard = {*reference.loudspeakers, *(subwoofer.id for subwoofer in job.subwoofers)}
    rows = [row for row, source in enumerate(survey.sources) if source in heard]
    if not rows:
        return None
    part = dataclasses.replace(
        survey,
        sources=tuple(survey.sources[row] for row in rows),
        **{
            name: getattr(survey, name)[rows]
            for name in (
                "samples",
                "present",
                "trusted_hz",
                "noise_rms",
                "signal_to_noise_db",
                "distortion_db",
                "clock_error_ppm",
            )
        },
    )
    return predict(job.model_copy(update={"channels": (reference,)}), tuning, part)
