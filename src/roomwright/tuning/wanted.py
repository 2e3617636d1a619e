"""What a correction should be, and what the filters that make it may be."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError

F = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class FitLimits:
    """What each peaking filter may be; frequencies in hertz, gains in decibels.

    Up to `transition_hz` the Q may reach `maximum_q`, above it `maximum_q_above`; a boost's Q
    never exceeds `maximum_boost_q`, because a narrow boost rings and is heard as a tone.
    """

    lowest_hz: float
    highest_hz: float
    maximum_boost_db: float
    maximum_cut_db: float
    maximum_q: float
    maximum_q_above: float
    transition_hz: float
    maximum_boost_q: float = 3.0
    minimum_q: float = 0.5

    def __post_init__(self) -> None:
        """Check that a filter within the limits exists."""
        if not 0 < self.lowest_hz < self.highest_hz:
            raise InputError(
                f"filters are allowed from {self.lowest_hz:g} to {self.highest_hz:g} Hz; "
                "the first must be above 0 and below the second"
            )

    def highest_q(self, frequency_hz: F, *, boost: bool) -> F:
        """The highest Q allowed at each frequency, for boosts or for cuts."""
        q = np.where(frequency_hz <= self.transition_hz, self.maximum_q, self.maximum_q_above)
        if boost:
            q = np.minimum(q, self.maximum_boost_q)
        return np.maximum(q, self.minimum_q)


@dataclass(frozen=True, slots=True)
class Wanted:
    """The correction wanted on a frequency grid, all arrays (F,).

    `weight` counts each point in the squared misfit; `ceiling_db` and `floor_db` bound the sum of
    all filters.
    """

    frequency_hz: F
    level_db: F
    weight: F
    ceiling_db: F
    floor_db: F
