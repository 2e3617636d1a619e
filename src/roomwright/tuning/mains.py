"""Main loudspeakers: the filters that bring them to the target."""

from __future__ import annotations

import numpy as np

from roomwright.measurement import ResponseSet
from roomwright.model import Biquad, Finding, Job, OutputTuning, Target
from roomwright.signals import amplitude_db, cascade_sos, response
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
from roomwright.tuning.equaliser import filters_for, fir_taps_allowed
from roomwright.tuning.levels import LEVEL_BAND_HZ
from roomwright.tuning.sources import Source, spectra
from roomwright.tuning.target import aimed_db


def main_average(survey: ResponseSet, source: Source, transition_hz: float) -> Average:
    """One main loudspeaker's response over the stations, on the grid of corrections."""
    frequencies, responses = spectra(survey, source)
    return average_response(
        np.abs(responses) ** 2,
        frequencies,
        source.weights,
        transition_hz,
        correction_grid_hz(survey.sampling_rate_hz),
    )


def equalised_main(
    job: Job,
    source: Source,
    average: Average,
    output: OutputTuning,
    target: Target,
    crossover_hz: float | None,
    transition_hz: float,
    sections: tuple[Biquad, ...] = (),
) -> tuple[OutputTuning, Correction, tuple[Finding, ...]]:
    """One main loudspeaker's output with filters that bring its average to a target.

    It is corrected within the band its channel plays of it: above the crossover, or above its
    -3 dB point where it keeps its bass. Filters set by hand stand and come first; all-pass
    `sections` that align it with the bass come last and take places from the others.
    """
    bands = main_bands(job, source, crossover_hz)
    f = average.frequency_hz
    aimed = aimed_db(target, f, average.level_db, bands.corrected_hz, bands.level_hz)
    wanted = wanted_correction(average, aimed, bands, job.limits)
    correction = left_alone(wanted, target.follows)
    hand = job.hand(source.id)
    rate = job.sampling_rate_hz
    set_db = amplitude_db(response(cascade_sos(hand.biquads, rate), f, rate))
    filters, findings = filters_for(
        job,
        source.id,
        beside_filters(correction, set_db) if hand.biquads else correction,
        transition_hz,
        use_fir=job.limits.method == "fir" and fir_taps_allowed(job) > 0,
        hand=hand,
        reserved=len(sections),
    )
    corrected = OutputTuning(drives=source.id).model_copy(update=filters)
    filters["biquads"] = (*corrected.biquads, *sections)
    return output.model_copy(update=filters), correction, findings


def main_bands(job: Job, source: Source, crossover_hz: float | None) -> Bands:
    """Where a main loudspeaker is corrected, can be boosted, and has its level read."""
    low = max(source.driver_hz[0] if crossover_hz is None else crossover_hz, source.trusted_hz[0])
    high = min(job.limits.highest_hz, source.trusted_hz[1], 0.45 * job.sampling_rate_hz)
    level = (max(LEVEL_BAND_HZ[0], low), min(LEVEL_BAND_HZ[1], high))
    return Bands((low, high), source.driver_hz, level if level[0] < level[1] else LEVEL_BAND_HZ)
