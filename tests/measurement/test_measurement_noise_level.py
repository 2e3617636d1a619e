"""The level of a short take of noise: closed forms, a sound level meter, and statistics."""

from __future__ import annotations

import math

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.measurement import CalibrationCurve
from roomwright.measurement.metering import (
    SoundLevelMeter,
    level_noise,
    noise_level,
    noise_loop,
    trim_for,
)
from roomwright.signals import pink_noise, weighting_db

RATE = 48000
MAINS = (500.0, 2000.0)
BASS = (30.0, 80.0)
SILENCE = np.zeros(RATE)


@pytest.fixture(scope="module")
def bass_loop():
    return noise_loop(*BASS, 4.0, RATE)


def test_without_a_sensitivity_it_is_the_level_played_with_its_weighting(bass_loop):
    """Pink lines, C-weighted: the mean of the weighting with weights 1 / f."""
    found = noise_level(bass_loop * 0.1, SILENCE, RATE, BASS)
    lines = np.arange(30.0, 80.01, 0.25)
    weights = 10 ** (weighting_db(lines, "C") / 10) / lines
    wanted = -20.0 + 10 * math.log10(weights.sum() / (1 / lines).sum())
    assert found.level_db == pytest.approx(wanted, abs=1e-9)
    assert found.uncertainty_db == pytest.approx(0.0, abs=1e-9)
    assert found.heard


@pytest.mark.parametrize("band", [MAINS, BASS])
def test_a_sound_level_meter_shows_the_same(band):
    loop = noise_loop(*band, 4.0, RATE)
    played = level_noise(loop, -30.0, 8.0, RATE, ramp_s=0.5, ceiling_dbfs=0.0)
    found = noise_level(played[RATE : RATE + loop.size], SILENCE, RATE, band, sensitivity_pa=20.0)
    meter = SoundLevelMeter(RATE, 20.0)
    meter.follow(played[:RATE])
    meter.restart()
    meter.follow(played[RATE : RATE + loop.size])
    # The meter's weighting is a filter, exact to some hundredths of a decibel at these frequencies.
    assert meter.show().equivalent_db == pytest.approx(found.level_db, abs=0.05)


def test_any_whole_period_gives_the_same_level(bass_loop):
    shifted = np.roll(bass_loop, 12345)
    one = noise_level(bass_loop, SILENCE, RATE, BASS)
    assert noise_level(shifted, SILENCE, RATE, BASS).level_db == pytest.approx(
        one.level_db, abs=1e-9
    )


def test_the_background_is_taken_off(bass_loop):
    """Noise of the same power in the band, exactly uncorrelated: 3 dB more, and back again."""
    other = noise_loop(*BASS, 4.0, RATE, seed=9)
    lines = np.fft.rfft(bass_loop)
    apart = np.fft.irfft(np.abs(lines) * np.exp(1j * (np.angle(lines) + np.pi / 2)), other.size)
    both = noise_level(bass_loop + apart, apart, RATE, BASS)
    alone = noise_level(bass_loop, SILENCE, RATE, BASS)
    assert both.level_db == pytest.approx(alone.level_db, abs=1e-6)
    assert both.background_db == pytest.approx(alone.level_db, abs=1e-6)
    assert not both.heard
    assert both.uncertainty_db > 1.0


@pytest.mark.parametrize("periodic", [True, False])
def test_the_uncertainty_is_the_scatter(periodic):
    """300 takes: two standard deviations of the levels found against what each take claims.

    The scatter of 300 values is itself known to 1 / sqrt(600), 4 %; the pink width of the formula
    leaves out the C weighting, which bends the spectrum by 2 dB: a tenth at most.
    """
    rng = np.random.default_rng(5)
    rate = 4000
    n = 2 * rate
    loop = noise_loop(*BASS, 2.0, rate)

    def ongoing():
        # Half of a longer period: no whole one.
        return pink_noise(2 * n, rate, rng, 10.0, 200.0)[:n]

    found = []
    for _ in range(300):
        signal = loop if periodic else ongoing()
        take = signal + 0.15 * ongoing()
        found.append(noise_level(take, 0.15 * ongoing(), rate, BASS, periodic=periodic))
    scatter = 2 * np.std([take.level_db for take in found])
    claimed = np.mean([take.uncertainty_db for take in found])
    assert claimed == pytest.approx(scatter, rel=0.2)


def test_a_take_of_random_noise_spreads_by_its_bandwidth_and_time():
    """4.34 dB / sqrt(BT), twice that for 95 %; B of pink noise from 30 to 80 Hz is 46 Hz."""
    take = pink_noise(4 * RATE, RATE, np.random.default_rng(1), *BASS)
    found = noise_level(take, SILENCE, RATE, BASS, periodic=False)
    width = math.log(80 / 30) ** 2 / (1 / 30 - 1 / 80)
    assert width == pytest.approx(46.2, abs=0.1)
    assert found.uncertainty_db == pytest.approx(2 * 4.343 / math.sqrt(width * 4), rel=1e-3)


def test_the_microphones_curve_is_undone(bass_loop):
    curve = CalibrationCurve(np.array([20.0, 1000.0]), np.array([-3.0, -3.0]))
    flat = noise_level(bass_loop, SILENCE, RATE, BASS)
    undone = noise_level(bass_loop, SILENCE, RATE, BASS, curve=curve)
    assert undone.level_db - flat.level_db == pytest.approx(3.0, abs=1e-9)


def test_nothing_above_the_background_is_not_heard():
    rng = np.random.default_rng(2)
    take, quiet = rng.standard_normal((2, RATE)) * 1e-4
    assert not noise_level(take, 2 * quiet, RATE, MAINS).heard
    assert not noise_level(SILENCE, SILENCE, RATE, MAINS).heard


def test_a_clipped_take_says_so(bass_loop):
    assert noise_level(np.clip(bass_loop, -1, 1), SILENCE, RATE, BASS).clipped
    assert not noise_level(0.3 * bass_loop, SILENCE, RATE, BASS).clipped


def test_too_short_a_take_is_refused():
    with pytest.raises(InputError, match="too short for 30 Hz"):
        noise_level(np.ones(100), SILENCE, RATE, BASS)


@pytest.mark.parametrize(
    ("level", "wanted", "played", "trim", "refused"),
    [
        (60.0, 75.0, -15.0, 0.0, ""),
        (78.26, 75.0, 0.0, -3.5, ""),
        (74.0, 75.0, 2.0, 3.0, ""),
        (75.2, 75.0, 1.0, 1.0, ""),
        (50.0, 75.0, 0.0, 0.0, "at the digital ceiling it reaches 62.0 dB"),
        (70.0, 95.0, 0.0, 0.0, "the ceiling is 90 dB SPL"),
    ],
)
def test_the_trim_in_steps_of_half_a_decibel(level, wanted, played, trim, refused):
    found = trim_for(level, wanted, played, step_db=0.5, highest_db=12.0, ceiling_db=90.0)
    assert found.trim_db == pytest.approx(trim)
    assert refused in found.refused
    assert bool(found.refused) == bool(refused)
