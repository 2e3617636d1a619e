"""Listening-room criteria of EBU Tech 3276 (second edition, May 1998).

Every number here is from memory: the document's body was not opened.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from roomwright import _checks

#: The nominal mean reverberation time should lie within these limits, seconds.
SHORTEST_MEAN_S = 0.2
LONGEST_MEAN_S = 0.4

#: The mean reverberation time is taken over these frequencies, hertz.
MEAN_RANGE_HZ = (200.0, 4000.0)

_UPPER = ((63.0, 200.0, 8000.0), (0.30, 0.05, 0.05))
_LOWER = ((63.0, 4000.0, 8000.0), (-0.05, -0.05, -0.10))


def mean_reverberation_s(volume_m3: float) -> float:
    """Nominal mean reverberation time, 0.25 (V / 100 m3)^(1/3) seconds; from memory.

    Rooms whose result lies outside `SHORTEST_MEAN_S` to `LONGEST_MEAN_S` are not foreseen.

    Raises
    ------
    InputError
        If the volume is not above 0.
    """
    return float(0.25 * (_checks.positive(volume_m3, "the room's volume in m3") / 100.0) ** (1 / 3))


def tolerance_s(frequency_hz: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Lower and upper limit of reverberation time minus its mean, seconds; from memory.

    0.05 s either way from 200 Hz to 4 kHz; the upper limit rises to +0.3 s at 63 Hz, the lower
    falls to -0.1 s at 8 kHz, straight over log frequency. NaN outside 63 Hz to 8 kHz (nominal),
    where there is no limit.

    Parameters
    ----------
    frequency_hz
        Frequencies, any shape.

    Returns
    -------
    lower, upper
        Offsets in seconds, shaped like `frequency_hz`.
    """
    frequency = np.asarray(frequency_hz, dtype=np.float64)
    inside = (frequency > 62.0) & (frequency < 8100.0)
    log_frequency = np.log(np.where(inside, frequency, 1000.0))
    lower, upper = (
        np.where(inside, np.interp(log_frequency, np.log(corners), offsets), np.nan)
        for corners, offsets in (_LOWER, _UPPER)
    )
    return lower, upper


def proportion_faults(length_m: float, width_m: float, height_m: float) -> tuple[str, ...]:
    """Rules on proportions that a box room breaks, one sentence each; empty if it keeps them all.

    1.1 w/h <= l/h <= 4.5 w/h - 4; l < 3 h; w < 3 h; no two sides in a whole-number ratio within
    5 %. From memory; the inequality is that of Walker, 1996.

    Raises
    ------
    InputError
        If a side is not above 0.
    """
    length, width, height = (
        _checks.positive(side, f"the room's {name} in m")
        for side, name in ((length_m, "length"), (width_m, "width"), (height_m, "height"))
    )
    l_h, w_h = length / height, width / height
    faults = []
    if not 1.1 * w_h <= l_h <= 4.5 * w_h - 4:
        faults.append(
            f"length to height is {l_h:.2f}; for this width it should be "
            f"{1.1 * w_h:.2f} to {4.5 * w_h - 4:.2f}"
        )
    faults += [
        f"the {name} is {ratio:.2f} times the height; it should be below 3"
        for name, ratio in (("length", l_h), ("width", w_h))
        if ratio >= 3
    ]
    for names, ratio in (
        ("length to height", l_h),
        ("width to height", w_h),
        ("length to width", length / width),
    ):
        whole = max(round(ratio), 1)
        if abs(ratio / whole - 1) <= 0.05:
            faults.append(f"{names} is {ratio:.2f}, within 5 % of the whole number {whole}")
    return tuple(faults)
