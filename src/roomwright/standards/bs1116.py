"""Listening conditions of ITU-R BS.1116.

Every number here is from memory: the Recommendation was not opened. Whoever cites a verdict by
them should check them against the current edition first.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright import _checks

#: The operational room response is judged against its own mean over this band, hertz.
MEAN_BAND_HZ = (250.0, 2000.0)

#: Two front loudspeakers match within this, dB, inside and outside `MEAN_BAND_HZ`.
CHANNEL_MATCH_DB = 1.0
CHANNEL_MATCH_OUTSIDE_DB = 1.5

#: Loudspeakers arrive together within this, seconds.
ARRIVAL_MATCH_S = 100e-6

#: Reflections in the first `EARLY_REFLECTION_S` seconds lie this far below the direct sound, dB,
#: within `EARLY_REFLECTION_BAND_HZ`.
EARLY_REFLECTION_DB = -10.0
EARLY_REFLECTION_S = 0.015
EARLY_REFLECTION_BAND_HZ = (1000.0, 8000.0)

#: Background noise: preferred and highest noise rating (NR).
PREFERRED_NR = 10.0
HIGHEST_NR = 15.0

#: Level alignment of each loudspeaker, dB either way.
LEVEL_MATCH_DB = 0.25


def response_tolerance_db(
    frequency_hz: ArrayLike,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lower and upper limit of the operational room response, dB re its mean; from memory.

    Third octaves at the listening place: 3 dB either way from 50 Hz to 2 kHz; above, the lower
    limit falls by 1.5 dB an octave, to -7.5 dB at 16 kHz. NaN outside 50 Hz to 16 kHz (nominal).

    Parameters
    ----------
    frequency_hz
        Frequencies, any shape.

    Returns
    -------
    lower, upper
        Limits in dB, shaped like `frequency_hz`.
    """
    frequency = np.asarray(frequency_hz, dtype=np.float64)
    inside = (frequency >= 49.0) & (frequency <= 16100.0)
    falling = -3.0 - 1.5 * np.log2(np.maximum(frequency, 2000.0) / 2000.0)
    return np.where(inside, falling, np.nan), np.where(inside, 3.0, np.nan)


def listening_level_dba(loudspeakers: int) -> float:
    """Listening level of one of n loudspeakers, 85 - 10 lg n dB(A), noise at -18 dBFS.

    From memory.

    Raises
    ------
    InputError
        If there is no loudspeaker.
    """
    return 85.0 - 10.0 * math.log10(_checks.positive(loudspeakers, "the number of loudspeakers"))
