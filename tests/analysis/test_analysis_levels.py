import numpy as np
import pytest

from roomwright.analysis import band_level_db, noise_band_levels_db, smoothed_level_db
from roomwright.signals import log_frequencies

RATE = 48000
AT = log_frequencies(30.0, 16000.0, 6)


def comb(amount, delay, n=48000):
    response = np.zeros(n)
    response[100] = 1.0
    response[100 + delay] += amount
    return response


@pytest.mark.parametrize("fraction", [1, 3, 12, 48])
def test_flat_stays_flat(fraction):
    response = 0.5 * comb(0.0, 1)
    level = 20 * np.log10(0.5)
    assert smoothed_level_db(response, RATE, AT, fraction) == pytest.approx(
        np.full(AT.size, level), abs=1e-9
    )
    assert noise_band_levels_db(response, RATE, 3, 31.5, 16000)[1] == pytest.approx(level)
    assert band_level_db(response, RATE, 500, 2000) == pytest.approx(level)


@pytest.mark.parametrize(
    ("reflection_db", "peak_db", "dip_db"), [(-10, 2.39, -3.30), (-20, 0.83, -0.92)]
)
def test_ripple_of_a_comb_filter(reflection_db, peak_db, dip_db):
    """Delay 1 ms: peaks at whole, dips at half kilohertz; +2.39/-3.30 dB at -10 dB."""
    response = comb(10 ** (reflection_db / 20), 48)
    narrow = 1000.0
    assert smoothed_level_db(response, RATE, [1000.0, 2000.0], narrow) == pytest.approx(
        [peak_db] * 2, abs=0.01
    )
    assert smoothed_level_db(response, RATE, [500.0, 1500.0], narrow) == pytest.approx(
        [dip_db] * 2, abs=0.01
    )


def test_smoothing_a_comb_leaves_the_sum_of_powers():
    """Over many periods the powers add: 10 lg(1 + a^2)."""
    level = smoothed_level_db(comb(0.5, 960), RATE, [8000.0], 1)
    assert level == pytest.approx([10 * np.log10(1.25)], abs=0.01)


def test_pink_noise_through_a_slope():
    """Through |H| ~ 1/f, pink noise of a band from f1 to f2 loses what the integral says."""
    n = 48000
    frequencies = np.fft.rfftfreq(n, 1 / RATE)
    response = np.fft.irfft(1000.0 / np.maximum(frequencies, 1.0), n)
    low, high = 500.0, 2000.0
    expected = 1e6 * (low**-2 - high**-2) / 2 / np.log(high / low)
    # The band's ends fall on bins, half of which count too much: 1 Hz in 500.
    assert band_level_db(response, RATE, low, high) == pytest.approx(
        10 * np.log10(expected), abs=0.02
    )


def test_bands_of_noise_follow_the_response():
    response = np.stack([comb(0.0, 1), 2.0 * comb(0.0, 1)])
    mid, levels = noise_band_levels_db(response, RATE, 1, 63, 8000)
    assert mid.size == 8
    assert levels[1] - levels[0] == pytest.approx(np.full(8, 20 * np.log10(2)))
