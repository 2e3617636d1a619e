"""FIR filters from the curves and coefficients that a tuning holds."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from roomwright._errors import InputError
from roomwright.model import FirCoefficients, FirCurve
from roomwright.signals.levels import from_amplitude_db
from roomwright.signals.spectra import frequencies_hz, minimum_phase_fir

#: The curve is read on a grid this many times finer than the taps resolve, so that the
#: cepstrum of a curve with steep parts does not fold back on itself.
_OVERSAMPLING = 8


def fir_taps(curve: FirCurve | FirCoefficients, sampling_rate_hz: float) -> NDArray[np.float64]:
    """The FIR that realises a curve with minimum phase, or the one that coefficients say.

    Parameters
    ----------
    curve
        Levels in dB, read along straight lines over log frequency, the ends held; or coefficients
        at a lower rate.
    sampling_rate_hz
        Sampling rate of the filter, hertz.

    Returns
    -------
    ndarray
        (curve.taps,).

    Raises
    ------
    InputError
        If the curve is empty or its frequencies do not rise, or the coefficients are for another
        sampling rate.
    """
    if isinstance(curve, FirCoefficients):
        own_hz = curve.sampling_rate_hz * curve.interpolation
        if abs(own_hz - sampling_rate_hz) > 1e-6 * sampling_rate_hz:
            raise InputError(
                f"an FIR filter is for {own_hz:g} Hz and the processor runs at "
                f"{sampling_rate_hz:g} Hz; tune again"
            )
        return interpolated(np.asarray(curve.coefficients), curve.interpolation)
    frequency = np.asarray(curve.frequencies_hz)
    if frequency.size == 0 or np.any(np.diff(frequency) <= 0):
        raise InputError("the frequencies of a FIR curve must rise, and there must be at least one")
    grid = frequencies_hz(_OVERSAMPLING * curve.taps, sampling_rate_hz)
    grid[0] = grid[1]
    level_db = np.interp(np.log(grid), np.log(frequency), curve.level_db)
    return minimum_phase_fir(from_amplitude_db(level_db), curve.taps)


def interpolated(taps: NDArray[np.float64], factor: int) -> NDArray[np.float64]:
    """Taps (..., T) interpolated to `factor` times their rate, (..., T x factor).

    Band-limited interpolation of the whole filter; its response below half its own rate stays. It
    should leave next to nothing near that, and fade in and out.
    """
    if factor == 1:
        return taps
    length = 2 * taps.shape[-1]
    spectrum = fft.rfft(taps, length)
    # Half the filter's own rate is one bin of its own and two of the longer signal.
    spectrum[..., -1] *= 0.5
    padded = np.zeros((*taps.shape[:-1], length * factor // 2 + 1), dtype=np.complex128)
    padded[..., : spectrum.shape[-1]] = spectrum
    whole: NDArray[np.float64] = fft.irfft(padded, length * factor)
    return whole[..., : taps.shape[-1] * factor]
