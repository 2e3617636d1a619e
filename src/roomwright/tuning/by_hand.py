"""What the engineer changes by hand of computed trims, delays and polarities."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from roomwright.model import Job, OutputTuning
from roomwright.tuning.delays import rounded_delays
from roomwright.tuning.trims import with_more_trim, within_full_scale


def without_changes(job: Job) -> Job:
    """The job with filters by hand only: no trim, delay or polarity is changed by hand."""
    kept = tuple(
        hand.model_copy(update={"trim_change_db": 0.0, "delay_change_s": 0.0, "flipped": False})
        for hand in job.by_hand
    )
    return job if kept == job.by_hand else job.model_copy(update={"by_hand": kept})


def changed_by_hand(job: Job, outputs: Mapping[str, OutputTuning]) -> dict[str, OutputTuning]:
    """The outputs with the job's changes by hand, in whole steps of the processor.

    Where a change would lift an output's gain above 0 dB, all outputs are lowered by what is too
    much, so that the difference between them is the one asked for. A delay may become negative;
    `delays_within` then delays all the others.
    """
    step = job.processor.gain_step_db
    changed = dict(outputs)
    for hand in job.by_hand:
        if hand.drives not in changed:
            continue
        output = with_more_trim(changed[hand.drives], round(hand.trim_change_db / step) * step)
        later = float(rounded_delays(np.array(hand.delay_change_s), job.processor.delay_step_s))
        changed[hand.drives] = output.model_copy(
            update={
                "delay_s": round(output.delay_s + later, 12),
                "inverted": output.inverted != hand.flipped,
            }
        )
    if not any(hand.trim_change_db > 0 for hand in job.by_hand):
        return changed
    return within_full_scale(changed, job)
