"""Measured responses of a real room sent through a simulated take and read back."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
import scipy.signal
import soundfile

from roomwright import measurement
from roomwright.model import Sweep
from roomwright.signals import excitation, fractional_delay, resample, rms

FOLDER = Path(os.environ.get("ROOMWRIGHT_OPEN_DATA", Path(__file__).parents[3] / "shared" / "data"))
ROOM = FOLDER / "bs1116-room"
SWEEP = Sweep()


@pytest.mark.open_data
@pytest.mark.skipif(not ROOM.is_dir(), reason="the responses of the BS.1116 room are not here")
@pytest.mark.parametrize("with_reference", [True, False])
@pytest.mark.parametrize("name", ["M+030", "U-045"])
def test_a_real_response_survives_a_take(name, with_reference):
    """Noise 60 dB below the take, a clock error of 35 ppm: -50 dB from 50 Hz to 10 kHz."""
    true, rate = soundfile.read(next(ROOM.glob(f"{name}.*")), always_2d=True)
    left = true[:, 0] / np.abs(true).max() / 4
    rng = np.random.default_rng(1)
    played = np.concatenate((excitation(SWEEP, rate), np.zeros(6000)))
    heard = scipy.signal.fftconvolve(played, left)[: played.size]
    channels = resample(fractional_delay(np.stack((heard, 0.7 * played)), 1500.25), 1 + 35e-6)
    channels[0] += rms(channels[0]) * 1e-3 * rng.standard_normal(channels.shape[1])
    microphone, reference = channels.astype(np.float32)
    measured = measurement.response_from_take(
        microphone, reference if with_reference else None, SWEEP, rate
    )
    assert measured.clock_error_ppm == pytest.approx(35.0, abs=0.01)
    expected = np.concatenate((left, np.zeros(rate - left.size)))
    if not with_reference:
        expected = fractional_delay(expected, 1500.25)
    frequencies = np.fft.rfftfreq(rate, 1 / rate)
    band = (frequencies > 50) & (frequencies < 10000)
    error = np.abs(np.fft.rfft(measured.response.samples - expected)[band]) ** 2
    whole = np.abs(np.fft.rfft(expected)[band]) ** 2
    assert 10 * np.log10(error.sum() / whole.sum()) < -50.0


@pytest.mark.open_data
@pytest.mark.skipif(not ROOM.is_dir(), reason="the responses of the BS.1116 room are not here")
def test_a_real_response_is_read():
    samples, rate = soundfile.read(next(ROOM.glob("M+030.*")), always_2d=True)
    measured = measurement.response_from_impulse(samples[:, 0], rate)
    low, high = measured.response.trusted_hz
    assert low < 100
    assert high > 15000
    # 500 Hz to 2 kHz of a good recording.
    assert measured.signal_to_noise_db[5:8].min() > 30.0
