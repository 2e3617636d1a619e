"""Noise floors, signal-to-noise ratios and trusted bands of synthetic responses."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import measurement
from roomwright.measurement.deconvolution import shared_inverse
from roomwright.measurement.protection import protected_sweep
from roomwright.model import Sweep
from roomwright.signals import (
    band_powers,
    excitation,
    octave_shaped_noise_spectrum,
    shaped_noise,
    timeline,
)

RATE = 48000


def test_density_of_white_noise():
    """n samples of white noise of variance v have the expected squared magnitude n v."""
    noise = 0.3 * np.random.default_rng(1).standard_normal(100000)
    floor = measurement.noise_floor(noise, RATE)
    assert floor.rms == pytest.approx(0.3, rel=0.01)
    assert floor.density.mean() == pytest.approx(0.09, rel=0.02)
    assert floor.frequency_hz[-1] == RATE / 2


@pytest.mark.parametrize("wanted_db", [0.0, 10.0, 30.0])
def test_signal_to_noise_of_a_pulse_in_white_noise(wanted_db):
    """A unit pulse has squared magnitude 1 everywhere, n samples of noise n v."""
    n = RATE
    variance = 10 ** (-wanted_db / 10) / n
    rng = np.random.default_rng(2)
    floor = measurement.noise_floor(np.sqrt(variance) * rng.standard_normal(4 * n), RATE)
    read = []
    for _ in range(30):
        response = np.sqrt(variance) * rng.standard_normal(n)
        response[1000] += 1.0
        read.append(10 ** (measurement.signal_to_noise_db(response, floor, RATE) / 10))
    # The lowest octave holds 11 bins: 30 runs average its cross term to some 0.5 dB at 0 dB.
    np.testing.assert_allclose(10 * np.log10(np.mean(read, axis=0)), wanted_db, atol=1.0)


def test_nothing_but_noise_is_not_trusted():
    rng = np.random.default_rng(3)
    floor = measurement.noise_floor(rng.standard_normal(4 * RATE), RATE)
    for _ in range(20):
        response = rng.standard_normal(RATE)
        assert measurement.trusted_band(response, floor, RATE, (10, 22000)) == (0.0, 0.0)


def test_the_trusted_band_is_cut_to_the_excitation():
    pulse = np.zeros(RATE)
    pulse[10] = 1.0
    floor = measurement.noise_floor(1e-6 * np.random.default_rng(4).standard_normal(RATE), RATE)
    low, high = measurement.trusted_band(pulse, floor, RATE, (25.0, 17000.0))
    assert low == pytest.approx(25.0)
    assert high == pytest.approx(17000.0)


def test_the_noise_of_a_tail_and_the_fade():
    samples = np.concatenate((np.ones(900), np.full(100, 0.5)))
    assert measurement.noise_floor_rms(samples) == pytest.approx(0.5)
    faded = measurement.fade_tail(samples, 50)
    np.testing.assert_array_equal(faded[:950], samples[:950])
    assert (np.diff(faded[950:]) < 0).all()
    # Raised cosine: half-way down at the middle.
    assert faded[974:976].mean() == pytest.approx(0.25)


def test_noise_below_a_narrow_sweep_does_not_count_within_it():
    """A subwoofer's sweep of 1 s, in a room whose noise rises by 9 dB an octave downwards.

    Expected is the noise's density times the power of the inverse sweep. In a tenth of a second,
    all that its harmonics of high order leave, the octave of 31.5 Hz would hold 10 dB more.
    """
    survey = Sweep(duration_s=3.0, pilot_band_hz=(10.0, 21000.0))
    sweep = protected_sweep(survey, (20.0, 250.0), survey.level_dbfs)
    whole, places = excitation(sweep, RATE), timeline(sweep, RATE)
    alone = np.zeros(whole.size + 4000)
    alone[places.sweep_start : places.sweep_stop] = whole[places.sweep_start : places.sweep_stop]
    reference = np.concatenate((whole, np.zeros(4000, np.float32)))
    levels_db = -60.0 - 9.0 * np.arange(10)
    spectrum = octave_shaped_noise_spectrum(levels_db, measurement.OCTAVES_HZ, alone.size, RATE)
    inverse = shared_inverse(sweep, RATE, measurement.transform_length(sweep, RATE))
    circle = 2 * (inverse.size - 1)
    grid = np.fft.rfftfreq(circle, 1 / RATE)
    density = np.interp(grid, np.fft.rfftfreq(alone.size, 1 / RATE), spectrum**2) * alone.size
    _, noise = band_powers(density / circle * np.abs(inverse) ** 2, grid, 1, 16, 8000)
    response = np.zeros(RATE)
    read = []
    for seed in range(12):
        hiss = shaped_noise(spectrum, alone.size, np.random.default_rng(seed))
        heard = (0.2 * alone + hiss).astype(np.float32)
        measured = measurement.response_from_take(heard, reference, sweep, RATE)
        response += measured.response.samples / 12
        read.append(measured.signal_to_noise_db)
    energy = np.abs(np.fft.rfft(response)) ** 2 * 2 / response.size
    _, signal = band_powers(energy, np.fft.rfftfreq(response.size, 1 / RATE), 1, 16, 8000)
    within = slice(1, 3)
    expected_db = 10 * np.log10(signal[within] / (noise[within] * response.size))
    # Some ten independent values in the lowest octave, and what still leaks in from below: 3 dB. At
    # 125 Hz the step between the recording's end and its beginning counts as noise too.
    np.testing.assert_allclose(np.mean(read, axis=0)[within], expected_db, atol=3.0)
