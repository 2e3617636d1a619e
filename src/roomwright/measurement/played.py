"""What is played on which output for one take: the sweep, and the chirps around it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roomwright.measurement.device import LOOP_BACK
from roomwright.model import Sweep
from roomwright.signals import excitation, timeline


def take_signals(
    sweep: Sweep, sampling_rate_hz: int, output: int, *, chirps_on: int | None = None
) -> dict[int, NDArray[np.float32]]:
    """The signals of one take, by output; a device that has a loop-back feeds it with the whole.

    Parameters
    ----------
    sweep
        The sweep with its two pilots.
    sampling_rate_hz
        Hertz.
    output
        The output that is measured.
    chirps_on
        The output that plays the pilots as the acoustic reference; None for `output` itself.

    Returns
    -------
    Output to samples, (timeline.total,) each; under `LOOP_BACK` the whole signal.

    Raises
    ------
    InputError
        If the sweep or its pilots reach half the sampling rate.
    """
    whole = excitation(sweep, sampling_rate_hz)
    if chirps_on in (None, output):
        return {LOOP_BACK: whole, output: whole}
    places = timeline(sweep, sampling_rate_hz)
    alone = np.zeros_like(whole)
    alone[places.sweep_start : places.sweep_stop] = whole[places.sweep_start : places.sweep_stop]
    return {LOOP_BACK: whole, output: alone, chirps_on: whole - alone}
