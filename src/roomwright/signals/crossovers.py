"""Crossover filters: Linkwitz-Riley and Butterworth.

Linkwitz, JAES 24(1), 1976; Lipshitz & Vanderkooy, JAES 31, 1983 (both from memory). A
Linkwitz-Riley filter of order 2m is a Butterworth of order m twice. Orders 4 and 8 sum to an
all-pass as they stand; at order 2 one side must be inverted, which is left to the caller.
"""

from __future__ import annotations

from math import pi, sin

import numpy as np
from numpy.typing import NDArray

from roomwright.model import Biquad, Crossover
from roomwright.signals.biquads import cascade_sos


def crossover_biquads(crossover: Crossover) -> tuple[Biquad, ...]:
    """The biquads a crossover filter consists of: half as many as its order."""
    return tuple(
        Biquad(kind=crossover.side, frequency_hz=crossover.frequency_hz, q=q)
        for q in _section_qs(crossover)
    )


def crossover_sos(crossover: Crossover, sampling_rate_hz: float) -> NDArray[np.float64]:
    """Second-order sections of a crossover filter, shape (order / 2, 6).

    Raises
    ------
    InputError
        If its frequency reaches half the sampling rate.
    """
    return cascade_sos(crossover_biquads(crossover), sampling_rate_hz)


def _section_qs(crossover: Crossover) -> tuple[float, ...]:
    if crossover.family == "butterworth":
        return _butterworth_qs(crossover.order)
    if crossover.order == 2:
        return (0.5,)  # two equal first-order sections are one second-order section
    return _butterworth_qs(crossover.order // 2) * 2


def _butterworth_qs(order: int) -> tuple[float, ...]:
    """Q of each pole pair of an even-order Butterworth filter, falling."""
    return tuple(1 / (2 * sin((2 * k + 1) * pi / (2 * order))) for k in range(order // 2))
