"""Modes found by fitting, against modes that were put in."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright._errors import InputError
from roomwright.acoustics import box_modes, green_uniform
from roomwright.analysis.modal_fit import fit_modes

RATE = 4000
SIXTY_DB = 3 * np.log(10)


def ringing(modes, amplitudes, noise=0.0, length_s=1.2, start_s=0.02):
    """Seats (P,) with decaying tones (frequency, decay time) of amplitudes (P, m)."""
    time = np.arange(int(length_s * RATE)) / RATE - start_s
    tones = np.array(
        [np.sin(2 * np.pi * f * time + 1) * np.exp(-SIXTY_DB * time / t) for f, t in modes]
    )
    samples = np.where(time >= 0, np.asarray(amplitudes) @ tones, 0.0)
    return samples + noise * np.random.default_rng(0).normal(size=samples.shape)


def test_a_single_mode_is_read():
    """T60 of 0.3 s at 40 Hz, near the limit of a third-octave filter (0.21 s); noise -60 dB."""
    found = fit_modes(ringing([(40.0, 0.3)], [[1.0]], noise=1e-3)[0], RATE, noise=0.01)
    assert found.frequency_hz == pytest.approx([40.0], abs=0.02)
    assert found.decay_time_s == pytest.approx([0.3], rel=0.02)
    assert found.misfit_db < -40.0


def test_modes_two_hertz_apart_are_told_apart_and_levels_are_those_of_the_response():
    """Level at the mode: amplitude / (2 delta) as a continuous Fourier integral, so x rate."""
    modes = [(28.6, 1.2), (38.1, 0.8), (40.2, 0.3), (63.5, 0.5), (80.0, 0.25)]
    amplitudes = np.random.default_rng(1).normal(size=(4, 5))
    found = fit_modes(ringing(modes, amplitudes, noise=1e-5), RATE, 120.0)
    frequency, decay = np.array(modes).T
    assert found.frequency_hz == pytest.approx(frequency, abs=0.05)
    assert found.decay_time_s == pytest.approx(decay, rel=0.01)
    level = 20 * np.log10(np.abs(amplitudes) * RATE * decay / (2 * SIXTY_DB))
    assert found.level_db == pytest.approx(level, abs=0.2)


def test_modes_of_a_box_from_its_exact_field():
    """Frequencies of the axial and tangential modes, and the one decay time all have.

    With uniform damping mode n rings at its rigid frequency and decays by 60 dB in T.
    """
    size, decay_s = (4.5, 6.0, 2.7), 0.8
    frequency = np.arange(1.0, 161.0)
    points = [(1.1, 2.1, 1.2), (2.9, 3.7, 1.1), (3.6, 5.2, 0.9), (0.7, 4.4, 1.6)]
    field = green_uniform(size, [(0.3, 0.3, 0.3)], points, frequency, decay_s)[0]
    # Falls off towards 160 Hz, well above the modes looked at.
    weight = np.cos(0.5 * np.pi * np.clip((frequency - 100) / 60, 0, 1)) ** 2
    spectrum = np.zeros((4, 2001), complex)
    spectrum[:, 1:161] = field * weight * (1j * frequency)
    samples = np.fft.irfft(spectrum)
    found = fit_modes(np.roll(samples, 80, axis=1), RATE, 90.0, skip_s=0.03, noise=1e-4)
    expected = box_modes(size, 75.0, 343.0)
    assert expected.frequency_hz.size == 8
    for mode in expected.frequency_hz:
        nearest = np.argmin(np.abs(found.frequency_hz - mode))
        assert found.frequency_hz[nearest] == pytest.approx(mode, abs=0.3)
        assert found.decay_time_s[nearest] == pytest.approx(decay_s, rel=0.1)


def test_noise_alone_explains_itself_badly():
    noise = np.random.default_rng(3).normal(size=(2, RATE))
    assert fit_modes(noise, RATE, 100.0, most=5).misfit_db > -10.0


@pytest.mark.parametrize(
    ("samples", "highest_hz", "message"),
    [
        (np.ones(RATE), 3000.0, "need a sampling rate"),
        (ringing([(40.0, 0.3)], [[1.0]], length_s=0.08)[0], 120.0, "of decay are left"),
        (np.full(RATE, np.nan), 120.0, "not a number"),
    ],
)
def test_responses_without_modes_to_find(samples, highest_hz, message):
    with pytest.raises(InputError, match=message):
        fit_modes(samples, RATE, highest_hz)
