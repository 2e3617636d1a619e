import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.analysis import distortion_db, total_distortion_db

RATE = 48000
AT = np.array([50.0, 100.0, 1000.0, 5000.0, 15000.0])


def unit(gain, delay=10, n=4800):
    response = np.zeros(n)
    response[delay] = gain
    return response


def test_flat_harmonics_have_their_own_level():
    """A cubic x + a x^2 + b x^3 driven by a unit sine has orders 2 and 3 of a/2 and b/4."""
    a, b = 0.1, 0.04
    fundamental = unit(1 + 3 * b / 4)
    levels = distortion_db(fundamental, {2: unit(a / 2), 3: unit(b / 4)}, RATE, AT)
    expected = 20 * np.log10(np.array([a / 2, b / 4]) / (1 + 3 * b / 4))
    assert levels[2][:4] == pytest.approx(np.full(4, expected[0]), abs=1e-6)
    assert levels[3][:4] == pytest.approx(np.full(4, expected[1]), abs=1e-6)


def test_a_harmonic_is_referred_to_its_fundamental():
    """Order 2 at 2 f: a harmonic response that falls as 1/f reads 6 dB less at f than at f / 2."""
    n = 4800
    frequencies = np.fft.rfftfreq(n, 1 / RATE)
    falling = np.fft.irfft(100.0 / np.maximum(frequencies, 10.0), n)
    levels = distortion_db(unit(1.0), {2: falling}, RATE, np.array([500.0, 1000.0]))
    assert levels[2] == pytest.approx([-20.0, -26.02], abs=0.05)


def test_a_harmonic_out_of_reach_is_unknown():
    levels = distortion_db(unit(1.0), {2: unit(0.1)}, RATE, AT)
    assert np.isnan(levels[2][-1])
    assert np.isfinite(levels[2][:-1]).all()


def test_the_total_is_the_power_sum():
    levels = distortion_db(unit(1.0), {2: unit(0.03), 3: unit(0.04)}, RATE, AT[:3])
    assert total_distortion_db(levels) == pytest.approx(np.full(3, 20 * np.log10(0.05)), abs=1e-6)


def test_the_fundamental_is_no_harmonic():
    with pytest.raises(InputError):
        distortion_db(unit(1.0), {1: unit(1.0)}, RATE, AT)
