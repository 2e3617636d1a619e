import numpy as np
import pytest

from roomwright.analysis import decay_range_db
from roomwright.signals import midbands

RATE = 48000


def test_the_range_is_peak_power_over_noise_power():
    """Exponential noise decay over stationary noise, both white: the same ratio in each band."""
    rng = np.random.default_rng(1)
    n = 96000
    decay = np.exp(-3 * np.log(10) * np.arange(n) / RATE / 0.5)
    response = decay * rng.standard_normal((30, n)) + 1e-3 * rng.standard_normal((30, n))
    found = decay_range_db(response, RATE, midbands(1, 250, 8000))
    assert found.shape == (30, 6)
    # The highest of some hundred fluctuating blocks lies above the mean at the start, the more
    # the narrower the band; the median of the noise's blocks a little below its mean.
    assert found.mean(axis=0) == pytest.approx(np.full(6, 60.0), abs=2.5)
    assert np.abs(np.diff(found.mean(axis=0))).max() < 2.5


def test_a_gain_changes_no_range():
    rng = np.random.default_rng(2)
    response = np.exp(-np.arange(48000) / 2000) * rng.standard_normal(48000)
    response += 1e-2 * rng.standard_normal(48000)
    mids = midbands(1, 125, 4000)
    assert decay_range_db(1e-3 * response, RATE, mids) == pytest.approx(
        decay_range_db(response, RATE, mids), abs=1e-6
    )


def test_silence_has_none():
    assert decay_range_db(np.zeros(4800), RATE, midbands(1, 500, 1000)) == pytest.approx([0.0, 0.0])
