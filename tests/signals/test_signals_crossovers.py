"""Crossovers against standards.md 6.5 (Linkwitz 1976; Lipshitz & Vanderkooy).

The table is of analogue filters. At 48 kHz the bilinear transform shifts frequencies near 160 Hz
by (omega/fs)^2/12 = 4e-5, which moves a level by about 1e-3 dB and a phase by 0.01 degree.
"""

import numpy as np
import pytest
from scipy import signal

from roomwright import signals
from roomwright.model import Crossover

RATE = 48000
CORNER = 80.0
AT = np.array([40.0, 80.0, 160.0])


def pair(family, order, at):
    """Responses of the low-pass and the high-pass at CORNER."""
    low, high = (
        signals.response(
            signals.crossover_sos(
                Crossover(family=family, side=side, order=order, frequency_hz=CORNER), RATE
            ),
            at,
            RATE,
        )
        for side in ("low_pass", "high_pass")
    )
    return low, high


def test_lr4_levels_and_phases():
    low, high = pair("linkwitz_riley", 4, AT)
    assert signals.amplitude_db(low) == pytest.approx([-0.527, -6.021, -24.609], abs=2e-3)
    assert signals.amplitude_db(high) == pytest.approx([-24.609, -6.021, -0.527], abs=2e-3)
    # 6.5: at fc -180 and +180 (in phase), at fc/2 -86.63 (and the high-pass a full turn away).
    assert np.abs(np.degrees(np.angle(low[1]))) == pytest.approx(180, abs=1e-6)
    assert np.degrees(np.angle(low[0])) == pytest.approx(-86.63, abs=0.02)
    assert np.angle(low / high) == pytest.approx(np.zeros(3), abs=1e-9)


@pytest.mark.parametrize("order", [4, 8])
def test_linkwitz_riley_sum_is_an_all_pass(order):
    low, high = pair("linkwitz_riley", order, np.geomspace(10, 23000, 200))
    # Not closer than 1e-7 at 10 Hz, where the sections' sums cancel to some 1e-6.
    assert np.abs(low + high) == pytest.approx(np.ones(200), abs=1e-7)


def test_lr4_sum_group_delay():
    # standards.md 6.5, ms at 0, 20, 40, 80, 160 Hz; 0 Hz by its limit at 0.5 Hz.
    at = np.array([0.5, 20, 40, 80, 160])
    step = 0.01
    low, high = pair("linkwitz_riley", 4, np.concatenate((at - step, at + step)))
    before, after = np.split(low + high, 2)
    delay_ms = -1e3 * np.angle(after / before) / (2 * np.pi * 2 * step)
    assert delay_ms == pytest.approx([5.627, 5.955, 6.620, 5.627, 1.655], abs=1.5e-3)


def test_lr2_needs_inversion():
    low, high = pair("linkwitz_riley", 2, np.array([20.0, 80.0, 320.0]))
    assert np.abs(low - high) == pytest.approx(np.ones(3), abs=1e-9)
    assert np.abs((low + high)[1]) == pytest.approx(0, abs=1e-9)
    assert signals.amplitude_db([low[1], high[1]]) == pytest.approx([-6.021, -6.021], abs=1e-3)


def test_butterworth_2():
    low, high = pair("butterworth", 2, AT)
    assert signals.amplitude_db([low[1], high[1]]) == pytest.approx([-3.010, -3.010], abs=1e-3)
    assert np.abs(low + high)[1] == pytest.approx(0, abs=1e-9)
    assert signals.amplitude_db(low - high) == pytest.approx([1.675, 3.010, 1.675], abs=2e-3)


@pytest.mark.parametrize("order", [2, 4, 8])
@pytest.mark.parametrize("side", ["low_pass", "high_pass"])
def test_butterworth_agrees_with_scipy(order, side):
    crossover = Crossover(family="butterworth", side=side, order=order, frequency_hz=2500)
    at = np.geomspace(200, 20000, 60)
    reference = signal.butter(order, 2500, side.replace("_", ""), fs=RATE, output="sos")
    assert signals.response(signals.crossover_sos(crossover, RATE), at, RATE) == pytest.approx(
        signals.response(reference, at, RATE), rel=1e-6
    )


@pytest.mark.parametrize("order", [2, 4, 8])
@pytest.mark.parametrize("family", ["linkwitz_riley", "butterworth"])
def test_a_crossover_is_half_as_many_biquads_as_its_order(family, order):
    crossover = Crossover(family=family, side="low_pass", order=order, frequency_hz=80)
    assert len(signals.crossover_biquads(crossover)) == order // 2
