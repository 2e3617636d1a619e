"""The response that a data sheet promises, from its limits and slopes."""

from __future__ import annotations

from typing import Literal

import numpy as np
import scipy
from numpy.typing import NDArray

from roomwright.model import LoudspeakerModel


def sheet_response(
    model: LoudspeakerModel, frequency_hz: NDArray[np.float64] | NDArray[np.complex128]
) -> NDArray[np.complex128]:
    """Complex response (F,) of a unit by its data sheet, 1 within its band.

    Analogue Butterworth roll-offs through the -3 dB limits (common practice, no source). At
    complex frequencies f - j d / (2 pi) it is that of what was damped by exp(-d t).
    """
    low = butterworth("highpass", model.low_slope_db, frequency_hz / model.low_hz)
    high = butterworth("lowpass", model.high_slope_db, frequency_hz / model.high_hz)
    return np.asarray(low * high)


def butterworth(
    kind: Literal["highpass", "lowpass"],
    slope_db: int,
    over_limit: NDArray[np.float64] | NDArray[np.complex128],
) -> NDArray[np.complex128]:
    """Analogue Butterworth response at frequencies over its -3 dB limit, (F,)."""
    numerator, denominator = scipy.signal.butter(slope_db // 6, 1.0, kind, analog=True, output="ba")
    s = 1j * over_limit
    return np.asarray(np.polyval(numerator, s) / np.polyval(denominator, s))
