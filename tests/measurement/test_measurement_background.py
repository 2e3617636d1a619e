"""Octave levels of noise whose levels are known."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import measurement
from roomwright._errors import InputError
from roomwright.signals import octave_shaped_noise_spectrum, shaped_noise

RATE = 48000
SENSITIVITY_PA = 20.0


def test_octaves_are_the_ten_of_the_noise_criterion_tables():
    """IEC 61260-1:2014: exact base-10 midbands."""
    nominal = [16, 31.5, 63, 125, 250, 500, 1000, 2000, 4000, 8000]
    np.testing.assert_allclose(measurement.OCTAVES_HZ, nominal, rtol=0.011)
    assert measurement.OCTAVES_HZ[6] == pytest.approx(1000.0)


@pytest.mark.parametrize("slope_db", [0.0, -5.0])
def test_levels_are_those_put_in(slope_db):
    """20 s give some 220 independent values in the octave of 16 Hz: 0.4 dB at one sigma."""
    levels_db = 50.0 + slope_db * np.arange(10)
    n = 20 * RATE
    spectrum = octave_shaped_noise_spectrum(levels_db, measurement.OCTAVES_HZ, n, RATE)
    pressure = 20e-6 * shaped_noise(spectrum, n, np.random.default_rng(1))
    read = measurement.background_levels(
        (pressure / SENSITIVITY_PA).astype(np.float32), RATE, SENSITIVITY_PA
    )
    np.testing.assert_allclose(read, levels_db, atol=1.0)


def test_the_microphone_is_undone():
    n = 4 * RATE
    rng = np.random.default_rng(2)
    noise = rng.standard_normal(n)
    curve = measurement.CalibrationCurve(np.array([10.0, 20000.0]), np.array([3.0, 3.0]))
    plain = measurement.background_levels(noise, RATE, SENSITIVITY_PA)
    corrected = measurement.background_levels(noise, RATE, SENSITIVITY_PA, curve)
    np.testing.assert_allclose(corrected, plain - 3.0, atol=1e-6)


def test_a_calibrator_tone_reads_94_db():
    """1 Pa rms: 93.98 dB in its octave; a Hann window leaks nothing to speak of beyond it."""
    tone = np.sqrt(2) / SENSITIVITY_PA * np.sin(2 * np.pi * 1000 * np.arange(4 * RATE) / RATE)
    read = measurement.background_levels(tone, RATE, SENSITIVITY_PA)
    assert read[6] == pytest.approx(93.979, abs=0.01)
    assert read[5] < 20.0


def test_bad_recordings():
    with pytest.raises(InputError, match=r"lasts 0\.50 s"):
        measurement.background_levels(np.ones(24000), RATE, SENSITIVITY_PA)
    with pytest.raises(InputError, match="not a number"):
        measurement.background_levels(np.full(RATE, np.nan), RATE, SENSITIVITY_PA)
    with pytest.raises(InputError, match="sensitivity"):
        measurement.background_levels(np.ones(RATE), RATE, 0.0)
