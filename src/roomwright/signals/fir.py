"""FIR filters from the curves a tuning holds."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from roomwright._errors import InputError
from roomwright.model import FirCurve
from roomwright.signals.levels import from_amplitude_db
from roomwright.signals.spectra import frequencies_hz, minimum_phase_fir

#: The curve is read on a grid this many times finer than the taps resolve, so that the
#: cepstrum of a curve with steep parts does not fold back on itself.
_OVERSAMPLING = 8


def fir_taps(curve: FirCurve, sampling_rate_hz: float) -> NDArray[np.float64]:
    """The minimum-phase FIR that realises a curve.

    Parameters
    ----------
    curve
        Levels in dB, read along straight lines over log frequency, the ends held.
    sampling_rate_hz
        Sampling rate of the filter, hertz.

    Returns
    -------
    ndarray
        (curve.taps,).

    Raises
    ------
    InputError
        If the curve is empty or its frequencies do not rise.
    """
    frequency = np.asarray(curve.frequencies_hz)
    if frequency.size == 0 or np.any(np.diff(frequency) <= 0):
        raise InputError("the frequencies of a FIR curve must rise, and there must be at least one")
    grid = frequencies_hz(_OVERSAMPLING * curve.taps, sampling_rate_hz)
    grid[0] = grid[1]
    level_db = np.interp(np.log(grid), np.log(frequency), curve.level_db)
    return minimum_phase_fir(from_amplitude_db(level_db), curve.taps)
