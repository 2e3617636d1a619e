"""What the subwoofers of an array can be asked for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

F = NDArray[np.float64]

#: Below its lower limit a closed box needs 12 dB an octave more excursion for the same level.
_EXCURSION_POWER = 2.0


@dataclass(frozen=True, slots=True)
class Drivers:
    """Of each of S subwoofers: the lower limit, and how much more it can give.

    `reserve_db` is re the greatest drive of the array of gains and delays at the same level;
    `low_hz` is where its output begins to fall.
    """

    reserve_db: F
    low_hz: F

    def limit(self, frequencies_hz: F) -> F:
        """Greatest drives (bins, S): the reserve, falling by 12 dB an octave below `low_hz`."""
        falling = np.minimum(1.0, frequencies_hz[:, None] / self.low_hz) ** _EXCURSION_POWER
        return np.asarray(10.0 ** (self.reserve_db / 20.0) * falling)
