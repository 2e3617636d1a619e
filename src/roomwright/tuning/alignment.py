"""The subwoofers of a job aligned with its main channels."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from roomwright.measurement import ResponseSet
from roomwright.model import Channel, Crossover, Finding, Job, OutputTuning
from roomwright.signals import crossover_sos, response
from roomwright.tuning.bass import Group, group_response, low_bins_hz
from roomwright.tuning.chain import output_response
from roomwright.tuning.delays import shifted
from roomwright.tuning.sources import Source, spectra
from roomwright.tuning.summation import Alignment, align, later_s

C = NDArray[np.complex128]

#: Furthest the subwoofers are looked for from the main channels where no arrival can be read.
_LONGEST_SEARCH_S = 0.05


def aligned_bass(
    job: Job,
    survey: ResponseSet,
    outputs: Mapping[str, OutputTuning],
    channels: Sequence[tuple[Channel, tuple[Source, ...]]],
    group: Group,
    low_passes: Mapping[str, Crossover | None],
) -> tuple[dict[str, OutputTuning], tuple[Finding, ...]]:
    """The outputs with the subwoofers' delay and polarity set, or the main channels delayed.

    Parameters
    ----------
    job, survey
        The job and its timed survey.
    outputs
        Settings so far of every unit.
    channels
        The main channels with their measured loudspeakers.
    group
        The subwoofers.
    low_passes
        Of each channel's bass, None where it keeps it. Channels that keep it do not count, unless
        all do: the subwoofers are then aligned around the job's crossover, for the LFE.
    """
    rate, step = survey.sampling_rate_hz, job.processor.delay_step_s
    filters = [low_passes.get(channel.id) for channel, _ in channels]
    joined = [row for row, low in enumerate(filters) if low is not None] or [*range(len(channels))]
    mains = np.stack([_response(job, survey, outputs, channels[row][1]) for row in joined])
    bass = np.stack([_low_passed(group, filters[row], rate) for row in joined])
    bass = bass[:, None] * group_response(group, outputs, rate)
    crossover_hz = np.array([_frequency_hz(job, filters[row]) for row in joined])
    used = group.weights > 0
    arrival = later_s(mains[:, used], bass[:, used], group.frequencies_hz, crossover_hz)
    found = align(
        mains,
        bass,
        group.frequencies_hz,
        group.weights,
        crossover_hz,
        job.processor.maximum_delay_s if arrival is not None else _LONGEST_SEARCH_S,
        arrival,
    )
    names = tuple(source.id for _, of_channel in channels for source in of_channel)
    subwoofers = tuple(source.id for source in group.sources)
    late = found.delay_s < 0
    aligned = shifted(outputs, names if late else subwoofers, abs(found.delay_s), step)
    for name in subwoofers:
        inverted = outputs[name].inverted != found.inverted
        aligned[name] = aligned[name].model_copy(update={"inverted": inverted})
    return aligned, (_summary(found, survey.stations),)


def _response(
    job: Job,
    survey: ResponseSet,
    outputs: Mapping[str, OutputTuning],
    sources: Sequence[Source],
) -> C:
    """Low spectra (P, B) of a channel's loudspeakers together through their settings."""
    total = []
    for source in sources:
        frequencies, own = spectra(survey, source, low_bins_hz(job))
        total.append(
            output_response(outputs[source.id], frequencies, survey.sampling_rate_hz) * own
        )
    return np.asarray(np.sum(total, axis=0))


def _low_passed(group: Group, low_pass: Crossover | None, sampling_rate_hz: float) -> C:
    """Response (B,) of a low-pass; of a wire if there is none."""
    if low_pass is None:
        return np.ones(group.frequencies_hz.shape, dtype=np.complex128)
    sections = crossover_sos(low_pass, sampling_rate_hz)
    return response(sections, group.frequencies_hz, sampling_rate_hz)


def _frequency_hz(job: Job, low_pass: Crossover | None) -> float:
    return job.limits.crossover_hz if low_pass is None else low_pass.frequency_hz


def _summary(found: Alignment, stations: Sequence[str]) -> Finding:
    losses = found.loss_db.mean(axis=0)
    worst = int(np.argmin(losses))
    return Finding(
        severity="note",
        where="subwoofers",
        text=f"{'precede' if found.delay_s >= 0 else 'follow'} the main channels by "
        f"{1e3 * abs(found.delay_s):.2f} ms and play "
        f"{'with reversed' if found.inverted else 'in normal'} polarity; around the crossover "
        f"{-found.mean_loss_db:.1f} dB of the sum are lost on average, "
        f"{-losses[worst]:.1f} dB at {stations[worst]}{_ambiguity(found)}",
    )


def _ambiguity(found: Alignment) -> str:
    """The next best delay in words."""
    rival = found.rival
    if rival is None:
        return ""
    apart_s = rival.delay_s - found.delay_s
    return (
        f"; {1e3 * abs(apart_s):.1f} ms {'later' if apart_s >= 0 else 'earlier'} and "
        f"{'with' if rival.inverted == found.inverted else 'against'} that polarity it would be "
        f"{-rival.mean_loss_db:.1f} dB"
    )
