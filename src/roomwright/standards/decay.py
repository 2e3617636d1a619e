"""How long a room mode may ring before it is heard, 32 to 250 Hz.

Values attributed to Fazenda, Stephenson and Goldberg, JASA 137(3), 2015, read in a secondary
summary, not in the paper: check them there before they are cited as a requirement.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: Threshold of audible modal decay (T60, seconds) by frequency (hertz), artificial stimuli.
ARTIFICIAL_STIMULI_S = {
    32.0: 0.90,
    63.0: 0.30,
    100.0: 0.27,
    150.0: 0.18,
    200.0: 0.17,
    250.0: 0.12,
}

#: The same, music.
MUSIC_S = {63.0: 0.51, 125.0: 0.30, 250.0: 0.12}

#: The test line holds within these frequencies, hertz.
TEST_LINE_HZ = (32.0, 250.0)


def decay_limit_s(frequency_hz: ArrayLike) -> NDArray[np.float64]:
    """Practical test line for T60, 0.9 (32 Hz / f) seconds, at most 0.9; NaN outside its range.

    A line drawn through the published thresholds; the line itself is common practice, no source.
    Third-octave midbands count by their nominal frequency (31.6 as 31.5, 251 as 250).

    Parameters
    ----------
    frequency_hz
        Frequencies, any shape.
    """
    frequency = np.asarray(frequency_hz, dtype=np.float64)
    inside = (frequency >= 31.0) & (frequency <= 252.0)
    limit = 0.9 * np.minimum(1.0, 32.0 / np.where(inside, frequency, 32.0))
    return np.where(inside, limit, np.nan)
