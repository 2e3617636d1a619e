"""A survey prepared once, so that one channel is quickly fitted to a changed target."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright.measurement import ResponseSet
from roomwright.model import Job, OutputTuning, Target, Tuning
from roomwright.signals import from_power_db, power_db, target_db
from roomwright.tuning.bass import (
    Group,
    equalised_group,
    group_average,
    group_bands,
    group_of,
    started_subwoofers,
)
from roomwright.tuning.bass_ways import BassPlan
from roomwright.tuning.chain import output_response
from roomwright.tuning.correction import Average, Bands
from roomwright.tuning.crossovers import Crossovers, bass_crossovers
from roomwright.tuning.design import main_channels
from roomwright.tuning.levels import LEVEL_BAND_HZ
from roomwright.tuning.mains import equalised_main, main_average, main_bands
from roomwright.tuning.meetings import sections_of
from roomwright.tuning.sources import Source, measured_sources, transition_hz
from roomwright.tuning.trims import with_more_trim

F = NDArray[np.float64]

#: What the subwoofers are called where they stand together.
SUBWOOFERS = "subwoofers"


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """The averages over the stations that filters are fitted to, read from a survey once.

    `averages` are by main loudspeaker; the subwoofers' as one, `group_average`, is of the group
    as the bass method starts it (`matched`), before common filters. It does not depend on targets,
    limits of the filters, or what is set by hand.
    """

    survey: ResponseSet
    sources: Mapping[str, Source]
    channel_of: Mapping[str, str]
    averages: Mapping[str, Average]
    group: Group | None
    matched: Mapping[str, OutputTuning]
    group_average: Average | None
    transition_hz: float

    def average_of(self, name: str) -> Average | None:
        """The average of a main loudspeaker, or of `SUBWOOFERS`; None if there is none."""
        return self.group_average if name == SUBWOOFERS else self.averages.get(name)

    def bands_of(self, job: Job, name: str, crossovers: Crossovers | None = None) -> Bands:
        """Where a main loudspeaker or the subwoofers are corrected and have their level read.

        `crossovers` are the job's, for whoever asks of many.
        """
        if name == SUBWOOFERS and self.group is not None:
            return group_bands(job, self.group)
        of_job = self.crossovers(job) if crossovers is None else crossovers
        return main_bands(job, self.sources[name], of_job.frequency_hz(self.channel_of[name]))

    def crossovers(self, job: Job) -> Crossovers:
        """The crossover of every main channel, as a job asks for them."""
        subwoofers = () if self.group is None else self.group.sources
        return bass_crossovers(job, main_channels(job, self.sources), subwoofers)[0]


def prepared(job: Job, survey: ResponseSet, plan: BassPlan | None = None) -> Prepared:
    """What refitting single channels needs of a survey.

    `plan` is what `plan_of` gave for the job's subwoofers; by default it is computed.

    Raises
    ------
    InputError
        If the survey does not fit the job, as `design` does.
    """
    sources, _ = measured_sources(job, survey)
    channels = main_channels(job, sources)
    mains = tuple(source for _, of_channel in channels for source in of_channel)
    subwoofers = tuple(sources[s.id] for s in job.subwoofers if s.id in sources)
    transition = transition_hz(job, survey, mains)
    group, average = None, None
    matched: dict[str, OutputTuning] = {}
    if subwoofers:
        group = group_of(job, survey, subwoofers)
        matched, _ = started_subwoofers(job, survey, group, plan)
        average = group_average(survey, group, matched, transition)
    return Prepared(
        survey=survey,
        sources=sources,
        channel_of={source.id: channel.id for channel, of in channels for source in of},
        averages={source.id: main_average(survey, source, transition) for source in mains},
        group=group,
        matched=matched,
        group_average=average,
        transition_hz=transition,
    )


def refitted(ready: Prepared, job: Job, tuning: Tuning, channel_id: str) -> Tuning:
    """A tuning with the filters of one channel fitted anew to the job's target and limits.

    The level of the channel where it is read stays as it is: the trims follow what the filters
    change. The other channels, delays and polarities stay; `design` sets the whole anew.

    Parameters
    ----------
    ready
        The prepared survey.
    job
        The job with the target, limits and settings by hand to follow.
    tuning
        The settings so far.
    channel_id
        A main channel, or the LFE for the subwoofers.
    """
    settings = {output.drives: output for output in tuning.outputs}
    role = next(channel.role for channel in job.channels if channel.id == channel_id)
    changed: dict[str, OutputTuning] = {}
    if role == "lfe":
        if ready.group is None or ready.group_average is None:
            return tuning
        start = {name: settings.get(name, output) for name, output in ready.matched.items()}
        changed, _, _ = equalised_group(
            job,
            ready.survey,
            ready.group,
            start,
            ready.transition_hz,
            ready.group_average,
            ready.matched,
        )
        average, target = ready.group_average, job.bass_target
        bands = {name: group_bands(job, ready.group).level_hz for name in changed}
        averages = dict.fromkeys(changed, average)
    else:
        target = job.target_of(channel_id)
        averages, bands = {}, {}
        for name in (n for n, channel in ready.channel_of.items() if channel == channel_id):
            averages[name], bands[name] = ready.averages[name], LEVEL_BAND_HZ
            changed[name], _, _ = equalised_main(
                job,
                ready.sources[name],
                ready.averages[name],
                settings.get(name, OutputTuning(drives=name)),
                target,
                ready.crossovers(job).frequency_hz(channel_id),
                ready.transition_hz,
                sections_of(job, settings[name]) if name in settings else (),
            )
    rate = job.sampling_rate_hz
    for name, output in changed.items():
        before = _filtered_db(averages[name], bands[name], settings.get(name), target, rate)
        after = _filtered_db(averages[name], bands[name], output, target, rate)
        steps = round((before - after) / job.processor.gain_step_db)
        changed[name] = with_more_trim(output, steps * job.processor.gain_step_db)
    kept = tuple(changed.get(output.drives, output) for output in tuning.outputs)
    return tuning.model_copy(update={"outputs": kept})


def _filtered_db(
    average: Average,
    band_hz: tuple[float, float],
    output: OutputTuning | None,
    target: Target,
    sampling_rate_hz: float,
) -> float:
    """Mean level of an average through an output's filters in a band, re the target."""
    f = average.frequency_hz
    within = (f >= band_hz[0]) & (f <= band_hz[1])
    level = (average.level_db - target_db(target, f))[within]
    if output is not None:
        filters = OutputTuning(drives=output.drives, biquads=output.biquads, fir=output.fir)
        level = level + power_db(np.abs(output_response(filters, f, sampling_rate_hz)) ** 2)[within]
    return float(power_db(from_power_db(level).mean()))
