"""A mixture by frequency: an array in the deep bass, even seats above it."""

from __future__ import annotations

import numpy as np

from roomwright._errors import InputError
from roomwright._progress import Progress, silent
from roomwright.model import OutputTuning
from roomwright.tuning.bass_ways.array import array_ways, wave_drive
from roomwright.tuning.bass_ways.case import LowCase
from roomwright.tuning.bass_ways.joined import joined
from roomwright.tuning.bass_ways.way import Way, coefficients_of, way_of


def mixture_way(case: LowCase, even: Way, progress: Progress = silent) -> Way:
    """The marked array up to the job's frequency, fading over an octave into a way of even seats.

    Parameters
    ----------
    case
        The subwoofers at the stations.
    even
        What is used above.
    progress
        Told how far the work is; may raise to stop it.

    Raises
    ------
    InputError
        If the marks make no array or the processor has no filters to mix with.
    """
    up_to = case.job.bass.array_up_to_hz
    ways = array_ways(case, progress, up_to)
    if ways.design is None:
        raise InputError(
            f"a mixture needs FIR filters; {'; '.join(one.text for one in ways.findings)}"
        )
    order = [case.names.index(name) for name in ways.emitters.names]
    below = wave_drive(case, ways.design)[np.argsort(order)]
    drive = joined(case, below, ways.design.band, even.drive, ways.design.latency_s)
    outputs = tuple(
        OutputTuning(drives=name, fir=fir)
        for name, fir in zip(case.names, coefficients_of(drive, case.grid), strict=True)
    )
    return way_of(
        "mixture",
        outputs,
        case.grid,
        case.job.sampling_rate_hz,
        ways.design.latency_s,
        # The last says whether filters or gains and delays are used; a mixture has filters.
        ways.design.findings[:-1],
    )
