"""Levels: definitions and round trips."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from roomwright import signals

LEVELS = st.floats(-300, 300)


@given(LEVELS)
def test_power_round_trip(level_db):
    assert signals.power_db(signals.from_power_db(level_db)) == pytest.approx(level_db, abs=1e-10)


@given(LEVELS)
def test_amplitude_round_trip(level_db):
    there_and_back = signals.amplitude_db(signals.from_amplitude_db(level_db))
    assert there_and_back == pytest.approx(level_db, abs=1e-10)


def test_zero_is_minus_infinity_without_a_warning():
    assert signals.power_db(0.0) == -np.inf
    assert np.array_equal(signals.amplitude_db([0.0, -1.0, 1j]), [-np.inf, 0.0, 0.0])


def test_one_pascal_and_calibrator_pressures():
    # standards.md 8: 94 dB is 1.0024 Pa, 114 dB 10.024 Pa, and 1 Pa is 93.979 dB.
    assert signals.pressure_level_db([1.0, 1.0024, 10.024]) == pytest.approx(
        [93.979, 94.0, 114.0], abs=5e-4
    )


def test_rms_of_a_sine_sums_float32_in_float64():
    # float32 sums of 480 000 squares would be off by far more than this.
    time = np.arange(480_000) / 48_000
    sines = np.sin(2 * np.pi * 1000 * time, dtype=np.float32) * np.array([[1.0], [0.5]], np.float32)
    assert signals.rms(sines) == pytest.approx(np.array([1.0, 0.5]) / np.sqrt(2), rel=1e-7)
    assert signals.rms(sines.T, axis=0).shape == (2,)
