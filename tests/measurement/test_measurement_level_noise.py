"""Noise to set levels with: pink line by line, without a seam, from silence, under its ceiling."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.measurement.metering import crest_db, level_noise, noise_loop

RATE = 48000


@pytest.fixture(scope="module", params=[(500.0, 2000.0, 2.0), (30.0, 80.0, 4.0)])
def loop(request):
    low, high, seconds = request.param
    return noise_loop(low, high, seconds, RATE), low, high


def test_every_line_is_exactly_pink_and_nothing_is_outside_the_band(loop):
    samples, low, high = loop
    power = np.abs(np.fft.rfft(samples)) ** 2
    grid = np.fft.rfftfreq(samples.size, 1 / RATE)
    inside = (grid >= low) & (grid <= high)
    times_frequency = power[inside] * grid[inside]
    assert times_frequency == pytest.approx(times_frequency[0], rel=1e-9)
    assert power[~inside].max() < 1e-20 * power.max()


def test_its_rms_is_that_of_a_full_scale_sine_and_its_crest_is_low(loop):
    samples, _, _ = loop
    assert np.mean(samples**2) == pytest.approx(0.5, rel=1e-12)
    # Peak over the rms of a full-scale sine's peak: 3 dB less than over the rms.
    peak_over_rms_db = 20 * np.log10(np.abs(samples).max() / np.sqrt(0.5))
    assert peak_over_rms_db == pytest.approx(crest_db(samples) + 3.01, abs=0.001)
    assert 8.0 < peak_over_rms_db < 10.5


def test_the_loop_has_no_seam(loop):
    samples, _, _ = loop
    # A band-limited signal bends no more at the seam than elsewhere.
    twice = np.concatenate((samples, samples))
    bends = np.abs(np.diff(twice, 2))
    seam = bends[samples.size - 3 : samples.size + 3].max()
    assert seam <= bends[: samples.size - 3].max()


def test_the_same_seed_gives_the_same_noise_and_another_does_not():
    first = noise_loop(500, 2000, 0.5, RATE, seed=3)
    assert np.array_equal(first, noise_loop(500, 2000, 0.5, RATE, seed=3))
    assert not np.allclose(first, noise_loop(500, 2000, 0.5, RATE, seed=4))


def test_it_rises_from_silence_as_a_raised_cosine_and_then_stays(loop):
    samples, _, _ = loop
    played = level_noise(samples, -30.0, 4.0, RATE, ramp_s=1.0, ceiling_dbfs=-6.0)
    assert played.dtype == np.float32
    assert np.abs(played[:50]).max() < 1e-6
    gain = np.sin(np.pi / 2 * (np.arange(RATE) + 0.5) / RATE) ** 2
    wanted = np.resize(samples, RATE) * gain * 10 ** (-30 / 20)
    assert played[:RATE] == pytest.approx(wanted, abs=1e-7)
    held = played[RATE : 5 * RATE].astype(float)
    level = 10 * np.log10(2 * np.mean(held[: samples.size] ** 2))
    assert level == pytest.approx(-30.0, abs=1e-4)
    assert abs(played[-1]) < 1e-6


def test_no_sample_passes_the_ceiling_and_what_would_is_refused(loop):
    samples, _, _ = loop
    highest = -6.0 - crest_db(samples)
    played = level_noise(samples, highest, 4.0, RATE, ramp_s=0.0, ceiling_dbfs=-6.0)
    peak = float(np.abs(played).max())
    assert peak <= np.float32(10 ** (-6 / 20))
    assert peak == pytest.approx(10 ** (-6 / 20), rel=1e-6)
    with pytest.raises(InputError, match="the ceiling is -6 dBFS"):
        level_noise(samples, highest + 0.1, 4.0, RATE, ramp_s=0.0, ceiling_dbfs=-6.0)


def test_a_band_without_a_line_is_refused():
    with pytest.raises(InputError, match="hold no frequency"):
        noise_loop(31.0, 39.0, 0.1, RATE)
