"""Resampling and fractional delay on signals whose answer is known."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from roomwright import signals
from roomwright._errors import InputError

RATE = 48000


def tone(frequency_hz, rate, n):
    return np.sin(2 * np.pi * frequency_hz * np.arange(n) / rate)


@pytest.mark.parametrize("ratio", [2.0, 0.5, 44100 / 48000, 1 + 18e-6, 1 - 250e-6])
def test_a_resampled_tone_is_the_tone_at_the_new_rate(ratio):
    n = 2 * RATE
    changed = signals.resample(tone(997, RATE, n), ratio)
    assert changed.size == pytest.approx(n * ratio, abs=1)
    # Away from the switched-on ends, whose band limit rings; -120 dB is far below any microphone.
    inner = slice(2000, changed.size - 2000)
    expected = tone(997, RATE * ratio, changed.size)
    np.testing.assert_allclose(changed[inner], expected[inner], atol=1e-6)


def test_resampling_there_and_back():
    rng = np.random.default_rng(1)
    noise = signals.pink_noise(RATE, RATE, rng, 50, 15000) * np.hanning(RATE)
    both = np.stack((noise, -2 * noise))
    again = signals.resample(signals.resample(both, 1 + 50e-6), 1 / (1 + 50e-6))
    shared = min(again.shape[-1], RATE)
    np.testing.assert_allclose(again[:, :shared], both[:, :shared], atol=1e-4)


@given(st.integers(-50, 50))
def test_whole_delays_shift_samples(delay):
    samples = np.random.default_rng(2).standard_normal(100)
    expected = np.zeros(100)
    if delay >= 0:
        expected[delay:] = samples[: 100 - delay]
    else:
        expected[:delay] = samples[-delay:]
    assert signals.fractional_delay(samples, delay) == pytest.approx(expected, abs=1e-12)


@given(st.floats(-40, 40))
def test_delays_turn_back(delay):
    # A pulse far from both ends, band-limited so that half the rate holds nothing to lose.
    time = np.arange(-256, 256)
    pulse = np.exp(-((time / 8.0) ** 2)) * np.cos(0.7 * time)
    there = signals.fractional_delay(pulse, delay)
    shifted = np.exp(-(((time - delay) / 8.0) ** 2)) * np.cos(0.7 * (time - delay))
    assert there == pytest.approx(shifted, abs=1e-10)
    assert signals.fractional_delay(there, -delay) == pytest.approx(pulse, abs=1e-10)


def test_each_row_can_have_its_own_delay():
    impulse = np.eye(1, 64, 10)[0]
    rows = signals.fractional_delay(impulse, [0, 1, 2.0])
    assert rows == pytest.approx(np.eye(64)[[10, 11, 12]], abs=1e-12)


def test_what_cannot_be_is_refused():
    with pytest.raises(InputError, match="above 0"):
        signals.resample(np.ones(10), 0)
    with pytest.raises(InputError, match="not a number"):
        signals.fractional_delay(np.ones(10), np.nan)
