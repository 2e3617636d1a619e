"""Trims that bring the main channels to a common level at the main seat."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from roomwright.measurement import ResponseSet
from roomwright.model import Channel, Finding, Job, OutputTuning
from roomwright.signals import amplitude_db, from_power_db, target_db
from roomwright.tuning.chain import output_response
from roomwright.tuning.correction import correction_grid_hz
from roomwright.tuning.levels import LEVEL_BAND_HZ, over_target_db, pink_level_db
from roomwright.tuning.sources import Source, spectra

F = NDArray[np.float64]
C = NDArray[np.complex128]

#: A channel this far below the median is taken to be faulty and does not hold the others down.
FAULTY_DB = 10.0


def common_level_db(level_db: F, boost_db: F, gain_step_db: float) -> float:
    """The highest level all channels can be trimmed to with no gain above 0 dB at any frequency.

    Channels more than `FAULTY_DB` below the median are not waited for. Half a gain step is kept
    back, so that rounded trims stay within the limit.

    Parameters
    ----------
    level_db
        Level of each channel untrimmed, shape (N,).
    boost_db
        The highest gain of each channel's filters, shape (N,).
    gain_step_db
        Step of the processor's trims, in decibels.
    """
    reach = level_db - boost_db
    sound = reach >= np.median(reach) - FAULTY_DB
    return float(reach[sound].min()) - gain_step_db / 2


def trims_db(level_db: F, boost_db: F, common_db: float, gain_step_db: float) -> F:
    """Trim (N,) of each channel to the common level, in whole steps and with no gain above 0 dB."""
    wanted = np.round((common_db - level_db) / gain_step_db)
    highest = np.floor(-boost_db / gain_step_db + 1e-9)
    return np.asarray(np.round(np.minimum(wanted, highest) * gain_step_db, 6) + 0.0)


def trimmed_mains(
    job: Job,
    survey: ResponseSet,
    outputs: Mapping[str, OutputTuning],
    channels: Sequence[tuple[Channel, tuple[Source, ...]]],
) -> tuple[dict[str, OutputTuning], float, tuple[Finding, ...]]:
    """Main channels at one level of 500-2000 Hz pink noise at the main seat, re their targets.

    The loudspeakers of one channel are first brought to the quietest of them. The common level is
    the highest at which no output has a gain above 0 dB.

    Parameters
    ----------
    job, survey
        The job and its survey.
    outputs
        Settings so far of every unit: filters and delays.
    channels
        The N main channels with their measured loudspeakers, no loudspeaker twice.

    Returns
    -------
    dict, float, tuple of Finding
        The outputs with trims; how far the channels then lie above the target in the average over
        the stations, in decibels; what could not be reached.
    """
    step = job.processor.gain_step_db
    tuned = _matched_within_channels(survey, outputs, [sources for _, sources in channels], step)
    boosts = np.array(
        [
            max(highest_gain_db(tuned[source.id], job) + tuned[source.id].trim_db for source in of)
            for _, of in channels
        ]
    )
    levels, over = np.empty(len(channels)), np.empty(len(channels))
    for row, (channel, sources) in enumerate(channels):
        frequencies, power = _power(survey, tuned, sources)
        first = sources[0]
        target = job.target_of(channel.id)
        asked = from_power_db(target_db(target, frequencies))
        levels[row] = pink_level_db(
            first.reference @ power, frequencies, LEVEL_BAND_HZ
        ) - pink_level_db(asked, frequencies, LEVEL_BAND_HZ)
        over[row] = over_target_db(power, frequencies, first.weights, target, LEVEL_BAND_HZ)
    common = common_level_db(levels, boosts, step)
    trims = trims_db(levels, boosts, common, step)
    for (_, sources), trim in zip(channels, trims, strict=True):
        for source in sources:
            tuned[source.id] = with_more_trim(tuned[source.id], trim)
    findings = tuple(_too_quiet(channels, common - levels - trims, step))
    return tuned, float(np.median(over + trims)), findings


def with_more_trim(output: OutputTuning, trim_db: float) -> OutputTuning:
    """The output with its trim changed by `trim_db`."""
    return output.model_copy(update={"trim_db": round(output.trim_db + float(trim_db), 6) + 0.0})


def highest_gain_db(output: OutputTuning, job: Job) -> float:
    """The highest gain of an output's filters, 0 or above: what they cost in headroom."""
    grid = correction_grid_hz(job.sampling_rate_hz)
    filters = OutputTuning(drives=output.drives, biquads=output.biquads, fir=output.fir)
    return max(float(amplitude_db(output_response(filters, grid, job.sampling_rate_hz)).max()), 0.0)


def within_full_scale(outputs: Mapping[str, OutputTuning], job: Job) -> dict[str, OutputTuning]:
    """The outputs, all lowered by what the highest gain of any of them lies above 0 dB."""
    step = job.processor.gain_step_db
    highest = max(highest_gain_db(output, job) + output.trim_db for output in outputs.values())
    excess = max(int(np.ceil(highest / step - 1e-9)), 0) * step
    return {name: with_more_trim(output, -excess) for name, output in outputs.items()}


def _matched_within_channels(
    survey: ResponseSet,
    outputs: Mapping[str, OutputTuning],
    channels: Sequence[tuple[Source, ...]],
    step_db: float,
) -> dict[str, OutputTuning]:
    """The loudspeakers of each channel lowered to the quietest of them at the main seat."""
    tuned = dict(outputs)
    for sources in channels:
        if len(sources) < 2:
            continue
        levels = []
        for source in sources:
            frequencies, power = _power(survey, tuned, (source,))
            levels.append(pink_level_db(source.reference @ power, frequencies, LEVEL_BAND_HZ))
        trims = trims_db(np.array(levels), np.zeros(len(levels)), min(levels), step_db)
        for source, trim in zip(sources, trims, strict=True):
            tuned[source.id] = with_more_trim(tuned[source.id], trim)
    return tuned


def _power(
    survey: ResponseSet, outputs: Mapping[str, OutputTuning], sources: Sequence[Source]
) -> tuple[F, F]:
    """Frequencies and power (P, bins) of a channel's loudspeakers together.

    Of the complex sum if the survey is timed, else the sum of the powers.
    """
    fields = []
    for source in sources:
        frequencies, responses = spectra(survey, source, LEVEL_BAND_HZ)
        chain = output_response(outputs[source.id], frequencies, survey.sampling_rate_hz)
        fields.append(chain * responses)
    if survey.timed:
        return frequencies, np.abs(np.sum(fields, axis=0)) ** 2
    return frequencies, np.sum(np.abs(fields) ** 2, axis=0)


def _too_quiet(
    channels: Sequence[tuple[Channel, tuple[Source, ...]]], short_db: F, step_db: float
) -> Iterable[Finding]:
    for (channel, _), short in zip(channels, short_db, strict=True):
        if short > step_db:
            yield Finding(
                severity="doubt",
                where=channel.id,
                text=f"stays {short:.1f} dB under the common level of the channels; "
                "its loudspeaker or wiring is to be checked",
            )
