"""FIR filters from curves."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import fft

from roomwright._errors import InputError
from roomwright.model import FirCurve
from roomwright.signals.fir import fir_taps


def test_the_curve_is_realised():
    """Within 0.1 dB where the taps resolve it: 2048 taps at 48 kHz are 43 ms."""
    curve = FirCurve(
        taps=2048, frequencies_hz=(200, 500, 1000, 3000, 10000), level_db=(0, 4, -3, -3, 1)
    )
    taps = fir_taps(curve, 48000)
    assert taps.shape == (2048,)
    frequency = fft.rfftfreq(1 << 16, 1 / 48000)
    level_db = 20 * np.log10(np.abs(fft.rfft(taps, 1 << 16)))
    wanted = np.interp(
        np.log(np.maximum(frequency, 1)), np.log(curve.frequencies_hz), curve.level_db
    )
    kept = frequency > 150
    assert np.abs(level_db - wanted)[kept].max() < 0.1


def test_a_constant_curve_is_a_gain():
    taps = fir_taps(FirCurve(taps=256, frequencies_hz=(1000,), level_db=(6.0,)), 48000)
    np.testing.assert_allclose(taps[0], 10 ** (6 / 20), rtol=1e-9)
    np.testing.assert_allclose(taps[1:], 0, atol=1e-9)


def test_the_filter_is_minimum_phase():
    """A minimum-phase filter has the most energy early among those of its magnitude: the
    energy of the first taps is not less than that of the reversed filter."""
    curve = FirCurve(taps=512, frequencies_hz=(100, 1000, 8000), level_db=(6, -6, 6))
    taps = fir_taps(curve, 48000)
    ahead, behind = np.cumsum(taps**2), np.cumsum(taps[::-1] ** 2)
    assert np.all(ahead >= behind - 1e-12)
    roots = np.roots(taps[:64])
    assert np.abs(roots).max() < 1.0 + 1e-6


@pytest.mark.parametrize(("frequencies", "levels"), [((), ()), ((500, 100), (0, 0))])
def test_curves_that_do_not_rise_are_refused(frequencies, levels):
    with pytest.raises(InputError, match="must rise"):
        fir_taps(FirCurve(taps=256, frequencies_hz=frequencies, level_db=levels), 48000)
