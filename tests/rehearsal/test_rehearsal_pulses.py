"""Band-limited pulses and the weights that blend halves and octaves."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import fft

from roomwright.rehearsal.pulses import accumulate
from roomwright.rehearsal.weights import low_weight, octave_weights
from roomwright.signals import midbands


@pytest.mark.parametrize("delay", [100.0, 100.25, 100.5, 177.731])
def test_a_pulse_is_a_pure_delay(delay):
    """exp(-j omega tau) up to 0.9 of half the rate; the table rounds to 1/8192 sample at most."""
    pulse = accumulate(np.array([delay]), np.array([[1.0]]), 512)[0]
    omega = 2 * np.pi * fft.rfftfreq(512)
    kept = omega < 0.9 * np.pi
    error = fft.rfft(pulse.astype(float))[kept] - np.exp(-1j * omega[kept] * delay)
    # rounding: pi / 8192 = 4e-4; window: below 1e-3 in its pass band
    assert np.abs(error).max() < 2e-3


def test_pulses_add_up_in_each_band():
    delays, gains = np.array([60.3, 200.0, 60.3]), np.array([[1.0, 0.5], [0.2, -0.1], [2.0, 0.0]])
    together = accumulate(delays, gains, 300)
    alone = [
        sum(accumulate(delays[i : i + 1], gains[i : i + 1, b : b + 1], 300)[0] for i in range(3))
        for b in range(2)
    ]
    np.testing.assert_allclose(together, alone, atol=1e-6)


def test_octave_weights_add_up_to_one():
    frequency = np.concatenate([[0.0], np.geomspace(5, 24000, 500)])
    mids = midbands(1, 63, 16000)
    weights = octave_weights(frequency, mids)
    np.testing.assert_allclose(weights.sum(axis=0), 1.0, atol=1e-12)
    np.testing.assert_allclose(octave_weights(mids, mids), np.eye(mids.size), atol=1e-12)


def test_low_weight_covers_an_octave():
    centre = 150.0
    at = np.array([1.0, centre / np.sqrt(2), centre, centre * np.sqrt(2), 1000.0])
    np.testing.assert_allclose(low_weight(at, centre), [1, 1, 0.5, 0, 0], atol=1e-12)
