"""The fades of every window here: raised cosines."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

F = NDArray[np.float64]


def fade_window(length: int, fade_in: int, fade_out: int) -> F:
    """A window of ones that rises over `fade_in` samples and falls over `fade_out`.

    Parameters
    ----------
    length
        Samples, at least the longer of the two fades.
    fade_in, fade_out
        Samples; 0 for an abrupt end.

    Returns
    -------
    Shape (length,).
    """
    window = np.ones(length)
    window[:fade_in] *= _rise(fade_in)
    window[length - fade_out :] *= _rise(fade_out)[::-1]
    return window


def _rise(length: int) -> F:
    rise: F = np.sin(np.pi / 2 * (np.arange(length) + 0.5) / max(length, 1)) ** 2
    return rise
