"""Microphone and noise."""

from __future__ import annotations

import numpy as np
import pytest
from rehearsal_cinema import box_room, make_job

from roomwright.rehearsal import RehearsalRoom, microphone_curve
from roomwright.signals import band_powers, frequencies_hz
from roomwright.standards import nc


def test_the_microphone_is_flat_within_a_decibel_and_rises_at_the_top():
    for seed in range(20):
        curve = microphone_curve(make_job(seed=seed))
        assert np.all(np.diff(curve.frequency_hz) > 0)
        inside = curve.frequency_hz <= 8000
        assert np.abs(curve.level_db[inside]).max() <= 1.0
        assert abs(np.interp(1000, curve.frequency_hz, curve.level_db)) < 0.02
        top = np.interp([8000, 20000], curve.frequency_hz, curve.level_db)
        assert np.diff(top)[0] > 0.3
    assert not np.array_equal(
        microphone_curve(make_job(seed=1)).level_db, microphone_curve(make_job(seed=2)).level_db
    )


def octave_levels_db(recording, job, low_hz, high_hz):
    """Octave levels in dB re 20 uPa of the microphone's samples, its response undone."""
    n = recording.microphone.size
    grid = frequencies_hz(n, recording.sampling_rate_hz)
    # 16 Hz stands 65 dB above 8 kHz: without a window it leaks up there
    window = np.hanning(n) * np.sqrt(8 / 3)
    spectrum = np.fft.rfft(recording.microphone * window) / n
    power = 2 * np.abs(spectrum) ** 2 * job.microphone.sensitivity_pa**2
    curve = microphone_curve(job)
    response_db = np.interp(grid, curve.frequency_hz, curve.level_db)
    mids, powers = band_powers(power / 10 ** (response_db / 10), grid, 1, low_hz, high_hz)
    return mids, 10 * np.log10(powers) + 94.0 - 0.0206  # 1 Pa is 93.979 dB


@pytest.mark.parametrize("rating", [15.0, 30.0])
def test_the_background_is_the_nc_curve(rating):
    """Octaves 63 Hz to 8 kHz of 10 s: standard error of a Gaussian level 4.3 / sqrt(B T) dB,
    0.2 dB at 63 Hz."""
    job = make_job(room=box_room(noise_criterion=rating), converter_noise_dbfs=-200.0)
    room = RehearsalRoom(job)
    room.place_microphone((2.6, 4.0, 1.2))
    mids, levels = octave_levels_db(room.record(10.0), job, 63, 8000)
    expected = nc.noise_criterion_levels_db(rating)[2:]
    assert mids.size == expected.size
    np.testing.assert_allclose(levels, expected, atol=0.8)


def test_the_converter_noise_is_white_and_as_loud_as_stated():
    job = make_job(converter_noise_dbfs=-60.0)
    room = RehearsalRoom(job)
    room.place_microphone((2.6, 4.0, 1.2))
    reference = room.record(2.0).reference.astype(float)
    assert 20 * np.log10(np.sqrt(np.mean(reference**2))) == pytest.approx(-60.0, abs=0.1)
    halves = np.abs(np.fft.rfft(reference)[1:-1].reshape(2, -1)) ** 2
    assert halves[0].sum() / halves[1].sum() == pytest.approx(1.0, abs=0.05)
