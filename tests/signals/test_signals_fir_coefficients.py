"""FIR filters of the bass: few coefficients at a low rate, run at the processor's."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import firwin, freqz, resample_poly

from roomwright._errors import InputError
from roomwright.model import FirCoefficients, FirCurve, OutputTuning
from roomwright.signals import fir_taps, interpolated

LOW, FACTOR = 600.0, 80


def coefficients():
    """A low-pass at 90 Hz, all but silent above 200 Hz."""
    return firwin(61, 90.0, fs=LOW, window=("kaiser", 8.0))


def test_the_response_stays_below_half_the_low_rate():
    taps = interpolated(coefficients(), FACTOR)
    frequency = np.linspace(5.0, 150.0, 50)
    _, low = freqz(coefficients(), worN=frequency, fs=LOW)
    _, high = freqz(taps, worN=frequency, fs=LOW * FACTOR)
    # What is cut of the interpolated filter's end is some -80 dB of it.
    assert np.abs(high - low).max() < 1e-3
    _, above = freqz(taps, worN=np.linspace(300.0, 20000.0, 500), fs=LOW * FACTOR)
    assert np.abs(above).max() < 1e-3


def test_interpolation_agrees_with_polyphase_resampling():
    """An independent library's polyphase filter; away from the ends, to its own ripple."""
    taps = interpolated(coefficients(), FACTOR)
    other = resample_poly(coefficients(), FACTOR, 1, window=("kaiser", 12.0)) / FACTOR
    middle = slice(taps.size // 4, 3 * taps.size // 4)
    size = np.abs(other).max()
    assert np.abs(taps[middle] - other[middle]).max() < 0.01 * size


def test_a_filter_of_another_rate_is_refused():
    own = FirCoefficients(
        coefficients=tuple(coefficients()), sampling_rate_hz=LOW, interpolation=FACTOR
    )
    assert fir_taps(own, 48000).size == own.taps == 61 * FACTOR
    with pytest.raises(InputError, match="tune again"):
        fir_taps(own, 44100)


def test_a_document_tells_curve_and_coefficients_apart():
    curve = FirCurve(taps=512, frequencies_hz=(20.0, 200.0), level_db=(0.0, -3.0))
    own = FirCoefficients(coefficients=(1.0, 0.5), sampling_rate_hz=LOW, interpolation=FACTOR)
    for fir in (curve, own, None):
        output = OutputTuning(drives="SW1", fir=fir)
        assert OutputTuning.model_validate_json(output.model_dump_json()) == output
