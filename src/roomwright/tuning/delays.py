"""Delays to a common arrival at the main seat."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from roomwright.measurement import ResponseSet
from roomwright.model import CapabilitySheet, Finding, Job, OutputTuning
from roomwright.tuning.sources import Source, source_arrival_s

F = NDArray[np.float64]


def delays_to_latest(arrival_s: F, step_s: float) -> F:
    """Delay (N,) of each source so that all arrive with the latest, in whole steps.

    A source without a known arrival (NaN) is not delayed.
    """
    if np.isnan(arrival_s).all():
        return np.zeros(arrival_s.shape)
    return rounded_delays(np.nan_to_num(np.nanmax(arrival_s) - arrival_s, nan=0.0), step_s)


def rounded_delays(delay_s: F, step_s: float) -> F:
    """Delays in whole steps of the processor."""
    return np.asarray(np.round(np.round(delay_s / step_s) * step_s, 12) + 0.0)


def delayed_mains(
    job: Job,
    survey: ResponseSet,
    outputs: Mapping[str, OutputTuning],
    sources: Sequence[Source],
) -> tuple[dict[str, OutputTuning], tuple[Finding, ...]]:
    """Every main loudspeaker delayed to arrive with the latest of them at the main seat."""
    arrivals = np.array([source_arrival_s(job, survey, source) for source in sources])
    delays = delays_to_latest(arrivals, job.processor.delay_step_s)
    tuned = dict(outputs)
    for source, delay in zip(sources, delays, strict=True):
        tuned[source.id] = tuned[source.id].model_copy(update={"delay_s": float(delay)})
    return tuned, tuple(
        Finding(
            severity="doubt",
            where=source.id,
            text="does not stand clear of the noise at the main seat; its delay is not computed",
        )
        for source, arrival in zip(sources, arrivals, strict=True)
        if np.isnan(arrival)
    )


def shifted(
    outputs: Mapping[str, OutputTuning], names: Iterable[str], delay_s: float, step_s: float
) -> dict[str, OutputTuning]:
    """The outputs with some of them delayed by `delay_s` more, 0 or above, in whole steps."""
    more = float(rounded_delays(np.array(delay_s), step_s))
    return {
        **outputs,
        **{
            name: outputs[name].model_copy(
                update={"delay_s": round(outputs[name].delay_s + more, 12)}
            )
            for name in names
        },
    }


def delays_within(
    outputs: Mapping[str, OutputTuning], processor: CapabilitySheet
) -> tuple[dict[str, OutputTuning], tuple[Finding, ...]]:
    """The outputs with the delay all share taken away, none above what the processor can do."""
    shared = min((output.delay_s for output in outputs.values()), default=0.0)
    step = processor.delay_step_s
    longest = np.floor(processor.maximum_delay_s / step + 1e-9) * step
    tuned, findings = {}, []
    for name, output in outputs.items():
        delay = round(output.delay_s - shared, 12)
        if delay > longest + 1e-9:
            findings.append(
                Finding(
                    severity="doubt",
                    where=name,
                    text=f"would need a delay of {1e3 * delay:.1f} ms; the processor has "
                    f"{1e3 * processor.maximum_delay_s:g} ms",
                )
            )
        tuned[name] = output.model_copy(
            update={"delay_s": float(min(delay, round(longest, 12))) + 0.0}
        )
    return tuned, tuple(findings)
