"""Harmonics of a take's sweep by their order: how strong, and whether a loudspeaker's."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from roomwright.model import Diagnosis
from roomwright.signals import power_db

F = NDArray[np.float64]

#: From the lowest to the highest order that is known harmonics fall by this, dB; a kink's by 12 a
#: doubling.
_FALLS_DB: Final = 6.0

#: Total harmonic distortion from which a loudspeaker is doubtful, dB: 3 %, EBU Tech 3276 for 40 to
#: 250 Hz.
DISTORTED_DB: Final = -30.0

#: Harmonics of high order do not stand over the noise where a loudspeaker is sound; with them, this
#: total is enough: 1 %, dB. Common practice, no source.
KINKED_DB: Final = -40.0


def total_distortion_db(distortion_db: F) -> float:
    """Sum of the harmonics that are known, dB; minus infinity if none is."""
    known = distortion_db[np.isfinite(distortion_db)]
    return float(power_db(np.sum(10.0 ** (known / 10.0)))) if known.size else float("-inf")


def falls_with_order(distortion_db: F) -> bool:
    """Whether harmonics get softer with their order, as those of a loudspeaker do.

    The noise of a loose part is as loud at one order as at the next. `distortion_db` (4,) is of
    orders 2 to 5; with one known, it is taken for a harmonic.
    """
    known = distortion_db[np.isfinite(distortion_db)]
    return known.size < 2 or bool(known[0] - known[-1] >= _FALLS_DB)


def distorted(total_db: float, *, high_orders: bool = False) -> Diagnosis:
    """Harmonic distortion of `total_db` re the fundamental, its high orders heard or not."""
    if high_orders:
        compared = "with harmonics of high order over the noise; a sound loudspeaker has none there"
    else:
        limit = 100.0 * 10.0 ** (DISTORTED_DB / 20.0)
        compared = f"a sound loudspeaker by less than {limit:.0f} %"
    return Diagnosis(
        kind="distortion",
        evidence=total_db,
        sentence=f"distorts by {100.0 * 10.0 ** (total_db / 20.0):.0f} % ({total_db:.0f} dB), "
        f"{compared}",
        remedy="play it softer; if it stays, look for a damaged unit or an amplifier that clips",
    )
