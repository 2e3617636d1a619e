import numpy as np
import pytest
from scipy.signal import sosfilt

from roomwright.analysis import phase_parts
from roomwright.model import Biquad
from roomwright.signals import cascade_sos, response

RATE = 48000


def filtered(*biquads, delay=0, n=16384):
    unit = np.zeros(n)
    unit[delay] = 1.0
    return sosfilt(cascade_sos(biquads, RATE), unit) if biquads else unit


def test_maximum_phase_of_two_taps():
    """h = [0.5, 1] has the minimum-phase counterpart [1, 0.5]."""
    taps = np.zeros(64)
    taps[:2] = 0.5, 1.0
    parts = phase_parts(taps, RATE)
    minimum = np.angle(np.fft.rfft([1.0, 0.5], 2 * (parts.frequency_hz.size - 1)))
    assert parts.minimum_phase_rad == pytest.approx(minimum, abs=1e-6)


def test_a_minimum_phase_equaliser_has_no_excess():
    bells = (
        Biquad(kind="peaking", frequency_hz=80.0, gain_db=-9.0, q=4.0),
        Biquad(kind="high_shelf", frequency_hz=3000.0, gain_db=4.0, q=0.7),
    )
    parts = phase_parts(filtered(*bells), RATE)
    assert np.abs(parts.excess_phase_rad).max() < 1e-3
    assert np.abs(parts.excess_group_delay_s).max() < 1e-6


def test_a_pure_delay_is_all_excess():
    """Group delay and excess group delay of a pure delay D are both D."""
    parts = phase_parts(filtered(delay=480), RATE)
    assert parts.group_delay_s == pytest.approx(np.full(parts.frequency_hz.size, 0.01), abs=1e-9)
    assert parts.excess_group_delay_s == pytest.approx(parts.group_delay_s, abs=1e-9)


def test_a_known_all_pass_is_the_excess_of_a_product():
    """All-pass 60 Hz, Q 1: group delay 4 Q / omega_0 = 10.610 ms at 60 Hz, all of it excess."""
    bell = Biquad(kind="peaking", frequency_hz=100.0, gain_db=6.0, q=2.0)
    all_pass = Biquad(kind="all_pass", frequency_hz=60.0, q=1.0)
    parts = phase_parts(filtered(bell, all_pass, n=48000), RATE)
    at_60 = int(np.argmin(np.abs(parts.frequency_hz - 60.0)))
    assert 1e3 * parts.excess_group_delay_s[at_60] == pytest.approx(10.610, abs=0.02)
    known = np.unwrap(np.angle(response(cascade_sos((all_pass,), RATE), parts.frequency_hz, RATE)))
    assert parts.excess_phase_rad - parts.excess_phase_rad[0] == pytest.approx(
        known - known[0], abs=1e-3
    )
