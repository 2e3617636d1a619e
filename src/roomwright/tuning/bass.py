"""The subwoofers as one group: matched among themselves, equalised together, set to the mains."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright._progress import Progress, silent
from roomwright.measurement import ResponseSet
from roomwright.model import ByHand, Finding, Job, OutputTuning
from roomwright.tuning.bass_ways import BassPlan, planned_subwoofers
from roomwright.tuning.chain import output_response
from roomwright.tuning.correction import (
    Average,
    Bands,
    Correction,
    average_response,
    beside_filters,
    correction_grid_hz,
    left_alone,
    wanted_correction,
)
from roomwright.tuning.crossovers import highest_crossover_hz
from roomwright.tuning.delays import delays_to_latest
from roomwright.tuning.equaliser import filters_for
from roomwright.tuning.levels import over_target_db, pink_level_db
from roomwright.tuning.sources import Source, source_arrival_s, spectra
from roomwright.tuning.target import aimed_db
from roomwright.tuning.trims import highest_gain_db, with_more_trim

F = NDArray[np.float64]
C = NDArray[np.complex128]
Outputs = dict[str, OutputTuning]
Findings = tuple[Finding, ...]

#: The group is equalised in this band, and up to the highest crossover if that is higher: above it
#: the main channels play nearly alone.
GROUP_BAND_HZ = (15.0, 150.0)

#: Subwoofers are brought to the middle level of them all by this much at most.
_LARGEST_MATCH_DB = 6.0

#: The main channels are lowered by this much at most for subwoofers that are too quiet.
_LARGEST_LOWERING_DB = 10.0


@dataclass(frozen=True, slots=True)
class Group:
    """S measured subwoofers and their low spectra (S, P, B) at `frequencies_hz` (B,)."""

    sources: tuple[Source, ...]
    frequencies_hz: F
    spectra: C

    @property
    def weights(self) -> F:
        """What each station counts, (P,): those count at which every subwoofer was measured."""
        each = np.stack([source.weights for source in self.sources])
        common: F = each.min(axis=0)
        return common if common.any() else each.max(axis=0)

    @property
    def driver_hz(self) -> tuple[float, float]:
        """The band all subwoofers reach: a boost asks the same of each."""
        return (
            max(source.driver_hz[0] for source in self.sources),
            min(source.driver_hz[1] for source in self.sources),
        )


def low_bins_hz(job: Job) -> tuple[float, float]:
    """The bins the bass is worked on: two octaves above band and crossovers, for the averages."""
    return (0.0, max(400.0, 4 * highest_crossover_hz(job), 4 * job.limits.crossover_hz))


def group_of(job: Job, survey: ResponseSet, sources: Sequence[Source]) -> Group:
    """The subwoofers of a survey as a group."""
    parts = [spectra(survey, source, low_bins_hz(job)) for source in sources]
    return Group(tuple(sources), parts[0][0], np.stack([part for _, part in parts]))


def level_band_hz(job: Job, group: Group) -> tuple[float, float]:
    """Where the subwoofers' level is read: -3 dB point (20 Hz at least) to the highest crossover.

    A roll-off of their target counts as a -3 dB point.
    """
    high = highest_crossover_hz(job)
    rolls = [r.frequency_hz for r in job.bass_target.roll_offs if r.side == "low"]
    return (min(max(20.0, group.driver_hz[0], *rolls), high / 2), high)


def plan_of(job: Job, survey: ResponseSet, progress: Progress = silent) -> BassPlan | None:
    """What the job's bass method feeds its subwoofers, some seconds' work; None if quickly told.

    So it is where they play alike, and where the survey holds none of them.

    Raises
    ------
    InputError
        If the method cannot be had with these responses, this array or this processor.
    """
    measured = any(subwoofer.id in survey.sources for subwoofer in job.subwoofers)
    if job.bass.method == "matched" or not measured:
        return None
    return planned_subwoofers(job, survey, progress)


def started_subwoofers(
    job: Job, survey: ResponseSet, group: Group, plan: BassPlan | None = None
) -> tuple[dict[str, OutputTuning], Findings]:
    """The subwoofers as the job's bass method feeds them, before their common correction.

    `plan` is what `plan_of` gave, if that was asked before.

    Raises
    ------
    InputError
        If the method cannot be had with these responses, this array or this processor.
    """
    if job.bass.method == "matched":
        return matched_subwoofers(job, survey, group)
    planned, findings = plan or planned_subwoofers(job, survey)
    missing = [source.id for source in group.sources if source.id not in planned]
    if missing:
        raise InputError(
            f"{', '.join(missing)} was not measured with the other subwoofers; measure all of them "
            "at the same stations, or let them play alike"
        )
    return planned, findings


def matched_subwoofers(job: Job, survey: ResponseSet, group: Group) -> tuple[Outputs, Findings]:
    """Subwoofers brought to one level of pink noise and one arrival at the main seat.

    Each is moved to the median level, by at most 6 dB. Without a common time zero none is delayed.
    """
    band = level_band_hz(job, group)
    step = job.processor.gain_step_db
    levels = np.array(
        [
            pink_level_db(source.reference @ np.abs(own) ** 2, group.frequencies_hz, band)
            for source, own in zip(group.sources, group.spectra, strict=True)
        ]
    )
    off = np.median(levels) - levels
    trims = np.round(np.clip(off, -_LARGEST_MATCH_DB, _LARGEST_MATCH_DB) / step) * step
    arrivals = np.zeros(len(levels))
    if survey.timed:
        arrivals = np.array([source_arrival_s(job, survey, source) for source in group.sources])
    delays = delays_to_latest(arrivals, job.processor.delay_step_s)
    outputs = {
        source.id: OutputTuning(
            drives=source.id, trim_db=round(float(trim), 6) + 0.0, delay_s=float(delay)
        )
        for source, trim, delay in zip(group.sources, trims, delays, strict=True)
    }
    findings = [
        Finding(
            severity="doubt",
            where=source.id,
            text=f"is {abs(by):.1f} dB {'quieter' if by > 0 else 'louder'} than the middle one of "
            f"the subwoofers; only {_LARGEST_MATCH_DB:g} dB of that are corrected",
        )
        for source, by in zip(group.sources, off, strict=True)
        if abs(by) > _LARGEST_MATCH_DB
    ] + [
        Finding(
            severity="doubt",
            where=source.id,
            text="does not stand clear of the noise at the main seat; its delay is not computed",
        )
        for source, arrival in zip(group.sources, arrivals, strict=True)
        if np.isnan(arrival)
    ]
    return outputs, tuple(findings)


def equalised_group(
    job: Job,
    survey: ResponseSet,
    group: Group,
    outputs: Outputs,
    transition_hz: float,
    average: Average,
    started: Mapping[str, OutputTuning],
) -> tuple[Outputs, Correction, Findings]:
    """The subwoofers with one and the same equalisation, that of their sum in the average.

    Always biquads where the processor has any: at 20 Hz a FIR would need a second of taps. Filters
    set by hand stand and come first, then those of `started`, what the bass method gave each
    subwoofer; `average` is that of the group as started, without filters by hand.
    """
    hands = {name: _standing(job.hand(name), started.get(name)) for name in outputs}
    most = max(hands.values(), key=lambda hand: (hand.no_more_biquads, len(hand.biquads)))
    correction = group_correction(job, group, average)
    rest = correction
    if any(job.hand(name).biquads for name in outputs):
        # The solver's filters stand on those by hand, whatever each subwoofer has of them.
        by_hand = {
            name: output.model_copy(update={"biquads": hands[name].biquads})
            for name, output in outputs.items()
        }
        with_hand = group_average(survey, group, by_hand, transition_hz)
        rest = beside_filters(correction, with_hand.level_db - average.level_db)
    filters, findings = filters_for(
        job,
        "subwoofers",
        rest,
        transition_hz,
        use_fir=job.processor.biquads_per_output == 0,
        hand=most,
    )
    of_group = OutputTuning(drives="subwoofers").model_copy(update=filters)
    solved = of_group.biquads[len(most.biquads) :]
    tuned = {}
    if of_group.fir is not None and any(one.fir is not None for one in started.values()):
        text = "the FIR of the bass method leaves none for the common correction; give the "
        text += "processor biquads, or choose means without FIR"
        findings += (Finding(severity="doubt", where="subwoofers", text=text),)
    for name, output in outputs.items():
        own = started[name].fir if name in started else None
        filters = {"biquads": (*hands[name].biquads, *solved), "fir": own or of_group.fir}
        tuned[name] = output.model_copy(update=filters)
    return tuned, correction, findings


def _standing(hand: ByHand, started: OutputTuning | None) -> ByHand:
    """What is set by hand of an output, with the filters that it was started with behind it."""
    own = () if started is None else started.biquads
    return hand.model_copy(update={"biquads": (*hand.biquads, *own)})


def levelled_group(
    job: Job,
    survey: ResponseSet,
    group: Group,
    outputs: Outputs,
    mains_over_target_db: float | None,
) -> tuple[Outputs, float, Findings]:
    """The subwoofers trimmed to lie as far above the target as the main channels do.

    Without main channels (None) the one with the highest gain is trimmed to 0 dB.

    Returns
    -------
    dict, float, tuple of Finding
        The outputs; by how many decibels the main channels must be lowered so that no subwoofer's
        gain exceeds 0 dB; what could not be reached.
    """
    band, step = level_band_hz(job, group), job.processor.gain_step_db
    power = _power(survey, group, outputs)
    over = over_target_db(power, group.frequencies_hz, group.weights, job.bass_target, band)
    highest = max(highest_gain_db(output, job) + output.trim_db for output in outputs.values())
    if mains_over_target_db is None:
        mains_over_target_db = over - highest - step
    change = round((mains_over_target_db - over) / step)
    excess = max(int(np.ceil((change * step + highest) / step - 1e-9)), 0)
    lowering = min(excess, round(_LARGEST_LOWERING_DB / step))
    findings: Findings = ()
    if excess > lowering:
        findings = (
            Finding(
                severity="doubt",
                where="subwoofers",
                text=f"stay {(excess - lowering) * step:.1f} dB under the level at which they "
                f"would continue the target, although the main channels were lowered by "
                f"{lowering * step:g} dB",
            ),
        )
    by = (change - excess) * step
    return (
        {name: with_more_trim(output, by) for name, output in outputs.items()},
        lowering * step,
        findings,
    )


def group_response(group: Group, outputs: Mapping[str, OutputTuning], sampling_rate_hz: float) -> C:
    """Complex sum (P, B) of the subwoofers at every station through their outputs' settings."""
    return np.asarray((_chains(group, outputs, sampling_rate_hz) * group.spectra).sum(axis=0))


def _chains(group: Group, outputs: Mapping[str, OutputTuning], sampling_rate_hz: float) -> C:
    return np.stack(
        [
            output_response(outputs[source.id], group.frequencies_hz, sampling_rate_hz)
            for source in group.sources
        ]
    )[:, None, :]


def _power(survey: ResponseSet, group: Group, outputs: Mapping[str, OutputTuning]) -> F:
    """Power (P, B) of the group: of the complex sum, or without a time zero the sum of powers."""
    rate = survey.sampling_rate_hz
    if survey.timed:
        return np.asarray(np.abs(group_response(group, outputs, rate)) ** 2)
    return np.asarray((np.abs(_chains(group, outputs, rate) * group.spectra) ** 2).sum(axis=0))


def group_average(
    survey: ResponseSet,
    group: Group,
    outputs: Mapping[str, OutputTuning],
    transition_hz: float,
) -> Average:
    """The subwoofers' sum over the stations, as far up as their bins reach."""
    grid = correction_grid_hz(survey.sampling_rate_hz)
    return average_response(
        _power(survey, group, outputs),
        group.frequencies_hz,
        group.weights,
        transition_hz,
        grid[grid <= group.frequencies_hz[-1] / 1.5],
    )


def group_bands(job: Job, group: Group) -> Bands:
    """Where the subwoofers are corrected, can be boosted, and have their level read."""
    low = max(GROUP_BAND_HZ[0], *(source.trusted_hz[0] for source in group.sources))
    high = min(
        max(GROUP_BAND_HZ[1], highest_crossover_hz(job)),
        job.limits.highest_hz,
        *(source.trusted_hz[1] for source in group.sources),
    )
    return Bands((low, high), group.driver_hz, level_band_hz(job, group))


def group_correction(job: Job, group: Group, average: Average) -> Correction:
    """What is wanted of the subwoofers' common filters."""
    bands = group_bands(job, group)
    aimed = aimed_db(
        job.bass_target, average.frequency_hz, average.level_db, bands.corrected_hz, bands.level_hz
    )
    wanted = wanted_correction(average, aimed, bands, job.limits)
    return left_alone(wanted, job.bass_target.follows)
