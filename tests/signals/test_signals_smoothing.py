"""Fractional-octave smoothing (standards.md 6.9) and its grid."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from roomwright import signals
from roomwright._errors import InputError

GRID = signals.frequencies_hz(16384, 48000)
STEP = GRID[1]
FRACTIONS = st.sampled_from([1, 2, 3, 6, 12, 24, 48])


@given(FRACTIONS, st.floats(1e-12, 1e12))
def test_flat_stays_flat(fraction, power):
    # 6.9. At every bin, from 0 Hz to half the rate.
    smooth = signals.smooth_power(np.full(GRID.size, power), GRID, fraction, GRID)
    np.testing.assert_allclose(smooth, power, rtol=1e-8)


@pytest.mark.parametrize("fraction", [1, 3, 6])
def test_a_tone_keeps_its_power(fraction):
    # 6.9: a tone of one bin, averaged over a window of so many bins, integrates to its power.
    power = np.zeros(GRID.size)
    power[1000] = 7.0
    tone_hz = GRID[1000]
    bins = tone_hz * (2 ** (0.5 / fraction) - 2 ** (-0.5 / fraction)) / STEP
    smooth = signals.smooth_power(power, GRID, fraction, [tone_hz])
    assert smooth * bins == pytest.approx([7.0], rel=1e-9)


@given(st.integers(0, 2**32 - 1), FRACTIONS)
def test_against_integrals_taken_directly(seed, fraction):
    """The window mean of straight lines, summed piece by piece without differences of sums."""
    power = np.random.default_rng(seed).exponential(size=257)
    grid = np.arange(257) * 10.0
    at = np.array([0.0, 15.0, 20.0, 123.4, 1000.0, 2560.0])
    smooth = signals.smooth_power(power, grid, fraction, at)
    for frequency, value in zip(at[1:], smooth[1:], strict=True):
        ends = np.clip(frequency * 2.0 ** (np.array([-0.5, 0.5]) / fraction), 0, 2560)
        points = np.concatenate(([ends[0]], grid[(grid > ends[0]) & (grid < ends[1])], [ends[1]]))
        direct = np.trapezoid(np.interp(points, grid, power), points) / np.ptp(ends)
        assert value == pytest.approx(direct, rel=1e-9)
    # At 0 Hz a window of a millionth of a bin stands for none.
    assert smooth[0] == pytest.approx(power[0], abs=1e-5)


def test_windows_narrower_than_a_bin_interpolate():
    power = np.random.default_rng(2).exponential(size=GRID.size)
    at = np.array([3.3, 10.25]) * STEP
    smooth = signals.smooth_power(power, GRID, 1000, at)
    # The window is a hundredth of a bin, within one straight line: exact but for rounding.
    assert smooth == pytest.approx(np.interp(at, GRID, power), rel=1e-3)


def test_a_deep_stop_band_is_not_lost_in_the_sum():
    # 100 dB below a pass band of 3000 bins, within 0.1 dB.
    power = np.where(GRID < 9000, 1.0, 1e-10)
    smooth_db = signals.power_db(signals.smooth_power(power, GRID, 12, [12000.0, 20000.0]))
    assert smooth_db == pytest.approx([-100.0, -100.0], abs=0.1)


def test_smoothing_takes_many_at_once():
    power = np.random.default_rng(3).exponential(size=(2, 3, GRID.size))
    at = signals.log_frequencies(20, 20000, 12)
    together = signals.smooth_power(power, GRID, 3, at)
    assert together.shape == (2, 3, at.size)
    assert together[1, 2] == pytest.approx(signals.smooth_power(power[1, 2], GRID, 3, at))


def test_complex_smoothing_of_a_delay():
    # The mean of exp(-j omega tau) over a window of width w is a sinc of w tau at its middle.
    tau, fraction, at = 0.01, 3, np.array([50.0, 200.0, 1000.0])
    smooth = signals.smooth_complex(np.exp(-2j * np.pi * GRID * tau), GRID, fraction, at)
    low, high = at * 2 ** (-0.5 / fraction), at * 2 ** (0.5 / fraction)
    expected = np.sinc((high - low) * tau) * np.exp(-1j * np.pi * (low + high) * tau)
    # Straight lines for an arc of 2 pi STEP tau = 0.18: its square over 8 is 0.4 %.
    assert smooth == pytest.approx(expected, abs=5e-3)


def test_complex_smoothing_of_what_is_real_is_power_smoothing():
    power = np.random.default_rng(4).exponential(size=GRID.size)
    at = signals.log_frequencies(20, 20000, 6)
    assert signals.smooth_complex(power, GRID, 6, at) == pytest.approx(
        signals.smooth_power(power, GRID, 6, at), rel=1e-9
    )


@given(st.floats(1, 1000), st.integers(1, 10), st.integers(1, 48))
def test_log_frequencies_step_evenly_and_reach_the_end(low_hz, octaves, per_octave):
    frequencies = signals.log_frequencies(low_hz, low_hz * 2**octaves, per_octave)
    assert frequencies.size == octaves * per_octave + 1
    assert frequencies[[0, -1]] == pytest.approx([low_hz, low_hz * 2**octaves], rel=1e-12)
    assert np.diff(np.log2(frequencies)) == pytest.approx(
        np.full(frequencies.size - 1, 1 / per_octave), rel=1e-9
    )


def test_what_cannot_be_smoothed_is_refused():
    with pytest.raises(InputError, match="reaches from 0 to 24000"):
        signals.smooth_power(np.ones(GRID.size), GRID, 3, [25000])
    with pytest.raises(InputError, match="equal steps"):
        signals.smooth_power(np.ones(3), [1, 2, 4], 3, [2])
    with pytest.raises(InputError, match="last axis"):
        signals.smooth_complex(np.ones(3), [1, 2], 3, [2])
    with pytest.raises(InputError, match="above 0"):
        signals.smooth_power(np.ones(3), [1, 2, 3], 0, [2])
    with pytest.raises(InputError, match="1 or more"):
        signals.log_frequencies(20, 10, 3)
