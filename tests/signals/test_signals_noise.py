"""Noise: its spectrum, its levels, its seeds."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from roomwright import signals
from roomwright._errors import InputError

RATE = 48000

#: Octave levels that fall as a noise criterion curve does; of our own making.
MIDS = signals.midbands(1, 16, 8000)
LEVELS_DB = np.array([68.0, 60.0, 49.0, 39.0, 31.0, 25.0, 20.0, 17.0, 15.0, 14.0])


def octave_levels_db(spectrum, n):
    mids, powers = signals.band_powers(
        spectrum**2, signals.frequencies_hz(n, RATE), 1, MIDS[0], MIDS[-1]
    )
    assert mids == pytest.approx(MIDS)
    return signals.power_db(powers)


def test_pink_noise_has_equal_octaves_and_unit_rms():
    noise = signals.pink_noise(2**19, RATE, np.random.default_rng(1))
    assert signals.rms(noise) == pytest.approx(1.0, rel=1e-12)
    power = np.abs(np.fft.rfft(noise)) ** 2
    grid = signals.frequencies_hz(noise.size, RATE)
    _, powers = signals.band_powers(power, grid, 1, 63, 8000)
    # The 63 Hz octave has 486 bins: a standard deviation of 0.2 dB, so four of them.
    assert np.ptp(signals.power_db(powers)) < 0.8
    assert power[(grid < 20) | (grid > 20000)].max() < 1e-20 * power.max()


def test_pink_noise_repeats_with_its_seed():
    first, again, other = (
        signals.pink_noise(1000, RATE, np.random.default_rng(seed)) for seed in (3, 3, 4)
    )
    assert np.array_equal(first, again)
    assert not np.array_equal(first, other)


def test_shaped_spectrum_holds_each_octave_level():
    n = 2**18
    spectrum = signals.octave_shaped_noise_spectrum(LEVELS_DB, MIDS, n, RATE)
    # The 16 Hz octave has 61 bins over a fall of 8 dB: summing them errs by 0.01 dB.
    assert octave_levels_db(spectrum, n) == pytest.approx(LEVELS_DB, abs=0.02)
    assert spectrum[0] == 0.0


@given(st.lists(st.floats(-6, 6), min_size=9, max_size=9))
def test_any_moderate_shape_is_reached(steps_db):
    levels_db = np.cumsum([40.0, *steps_db])
    spectrum = signals.octave_shaped_noise_spectrum(levels_db, MIDS, 2**16, RATE)
    # 15 bins in the 16 Hz octave: 0.1 dB.
    assert octave_levels_db(spectrum, 2**16) == pytest.approx(levels_db, abs=0.1)


def test_end_slopes_go_on_but_not_below_10_hz():
    # White noise of 1 per hertz: octave levels are those of their widths, every density is 1.
    low, high = signals.band_edges(MIDS, 1)
    n = 2**16
    white = signals.octave_shaped_noise_spectrum(signals.power_db(high - low), MIDS, n, RATE)
    # 64 steps an octave: summed at their middles they err by (ln 2/64)^2/24 = 5e-6.
    np.testing.assert_allclose(white[1:] ** 2, RATE / n, rtol=6e-6)
    # Pink noise: density 1/f to the upper end, and that of 10 Hz below 10 Hz.
    pink = signals.octave_shaped_noise_spectrum(np.zeros(10), MIDS, n, RATE) ** 2
    grid = signals.frequencies_hz(n, RATE)
    per_octave = pink[1:] * np.maximum(grid[1:], 10.0)
    np.testing.assert_allclose(per_octave, per_octave[-1], rtol=1e-6)


@pytest.mark.parametrize("n", [2**16, 2**16 - 1])
def test_shaped_noise_has_the_power_of_its_spectrum(n):
    spectrum = signals.octave_shaped_noise_spectrum(np.zeros(10), MIDS, n, RATE)
    noise = signals.shaped_noise(np.tile(spectrum, (40, 1)), n, np.random.default_rng(5))
    assert noise.shape == (40, n)
    # 40 x 45 bins below 31 Hz rule the spread of the mean power: some 1 %.
    mean_power = np.mean(signals.rms(noise) ** 2)
    assert mean_power == pytest.approx(np.sum(spectrum**2), rel=0.03)


@pytest.mark.parametrize("n", [64, 63])
def test_every_bin_has_its_power(n):
    spectrum = np.linspace(1, 2, n // 2 + 1)
    noise = signals.shaped_noise(np.tile(spectrum, (20000, 1)), n, np.random.default_rng(6))
    one_sided = 2 * np.mean(np.abs(np.fft.rfft(noise)) ** 2, axis=0) / n**2
    one_sided[0] /= 2
    if n % 2 == 0:
        one_sided[-1] /= 2
    # 20 000 draws: a standard deviation of at most 1 %, so five of them.
    assert one_sided == pytest.approx(spectrum**2, rel=0.05)


def test_what_cannot_be_made_is_refused():
    rng = np.random.default_rng(0)
    with pytest.raises(InputError, match="more samples"):
        signals.pink_noise(100, RATE, rng, 1, 2)
    with pytest.raises(InputError, match="one level for each"):
        signals.octave_shaped_noise_spectrum([1, 2, 3], [63, 125], 64, RATE)
    with pytest.raises(InputError, match="needs 33"):
        signals.shaped_noise(np.ones(30), 64, rng)
