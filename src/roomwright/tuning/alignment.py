"""The subwoofers of a job aligned with its main channels."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright.analysis import arrival_s
from roomwright.measurement import ResponseSet
from roomwright.model import Channel, Finding, Job, OutputTuning
from roomwright.signals import crossover_sos, response
from roomwright.tuning.bass import Group, group_response, low_bins_hz
from roomwright.tuning.chain import output_response
from roomwright.tuning.delays import shifted
from roomwright.tuning.mains import crossover_of
from roomwright.tuning.sources import Source, spectra
from roomwright.tuning.summation import Alignment, align

C = NDArray[np.complex128]

#: Furthest the subwoofers are looked for before or after the main channels.
_LONGEST_SEARCH_S = 0.05


def aligned_bass(
    job: Job,
    survey: ResponseSet,
    outputs: Mapping[str, OutputTuning],
    channels: Sequence[tuple[Channel, tuple[Source, ...]]],
    group: Group,
    crossover_hz: float | None,
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
    crossover_hz
        The crossover, or None where the main channels keep their bass: the subwoofers are then
        aligned around the frequency of the job's limits, for the LFE.
    """
    rate, step = survey.sampling_rate_hz, job.processor.delay_step_s
    bass = group_response(group, outputs, rate)
    if crossover_hz is not None:
        low_pass = crossover_sos(crossover_of(job, crossover_hz, "low_pass"), rate)
        bass = bass * response(low_pass, group.frequencies_hz, rate)
    mains = np.stack([_response(job, survey, outputs, of_channel) for _, of_channel in channels])
    found = align(
        mains,
        bass,
        group.frequencies_hz,
        group.weights,
        job.limits.crossover_hz,
        min(_LONGEST_SEARCH_S, job.processor.maximum_delay_s),
        _arrival_s(job, group, mains, bass),
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


def _arrival_s(job: Job, group: Group, mains: C, bass: C) -> float | None:
    """The delay that lets the subwoofers arrive with the mains around the crossover.

    The middle one of all channels and stations; None where no arrival can be read.
    """
    band = (job.limits.crossover_hz / 2, job.limits.crossover_hz * 2)
    length = 2 * (group.frequencies_hz.size - 1)
    rate = length * float(group.frequencies_hz[1])
    used = group.weights > 0
    first = arrival_s(fft.irfft(mains[:, used], length), rate, band)
    second = arrival_s(fft.irfft(bass[used], length), rate, band)
    differences = (first - second).ravel()
    known = differences[np.isfinite(differences)]
    return float(np.median(known)) if known.size else None


def _summary(found: Alignment, stations: Sequence[str]) -> Finding:
    worst = int(np.argmin(found.loss_db))
    return Finding(
        severity="note",
        where="subwoofers",
        text=f"{'precede' if found.delay_s >= 0 else 'follow'} the main channels by "
        f"{1e3 * abs(found.delay_s):.2f} ms and play "
        f"{'with reversed' if found.inverted else 'in normal'} polarity; around the crossover "
        f"{-found.loss_db.mean():.1f} dB of the sum are lost on average, "
        f"{-found.loss_db[worst]:.1f} dB at {stations[worst]}",
    )
