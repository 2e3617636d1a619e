"""Recordings that cannot be used are refused with one sentence each."""

from __future__ import annotations

import numpy as np
import pytest

from roomwright import measurement
from roomwright._errors import InputError
from roomwright.model import Sweep
from roomwright.signals import excitation

RATE = 48000


def tone(frequency_hz=1000.0, amplitude=0.5, n=48000):
    return (amplitude * np.sin(2 * np.pi * frequency_hz * np.arange(n) / RATE)).astype(np.float32)


def with_nan():
    samples = tone()
    samples[123] = np.nan
    return samples


def with_infinity():
    samples = tone()
    samples[7] = np.inf
    return samples


@pytest.mark.parametrize(
    ("samples", "sentence"),
    [
        (with_nan(), "not a number at sample 123"),
        (with_infinity(), "not a number at sample 7"),
        (np.zeros(48000, np.float32), "digital silence"),
        (tone(amplitude=2e-5), "its peak is -94 dBFS"),
        (np.zeros(0, np.float32), "cut short"),
        (tone(n=100), "cut short: it has 100 samples, at least 1000"),
        (np.zeros((2, 5000), np.float32), "one row of samples"),
        (np.clip(tone(amplitude=1.3), -1, 1), "clipped at sample"),
        (np.clip(tone(amplitude=0.8), -0.6, 0.6), "clipped at sample"),
        (np.clip(tone(20.0, 1.2), -0.8, 0.8), "clipped at sample"),
        (np.round(np.clip(tone(amplitude=1.3), -1, 32767 / 32768) * 32768) / 32768, "clipped"),
    ],
)
def test_unusable_recordings(samples, sentence):
    with pytest.raises(InputError, match=sentence) as caught:
        measurement.check_recording(samples, "takes/L.wav", minimum_samples=1000)
    assert str(caught.value).startswith("takes/L.wav ")
    (fault,) = measurement.recording_faults(samples, "takes/L.wav", minimum_samples=1000)
    assert fault.severity == "refusal"
    assert fault.where == "takes/L.wav"


@pytest.mark.parametrize("bits", [16, 24, 32])
@pytest.mark.parametrize("level_dbfs", [-30.0, -12.0, -0.5])
def test_the_crest_of_a_low_tone_is_not_clipping(bits, level_dbfs):
    """A sweep from 10 Hz stays on its crest for many samples when few bits record it."""
    played = excitation(Sweep(level_dbfs=level_dbfs), RATE).astype(np.float64)
    step = 2.0 ** (1 - bits)
    samples = (np.round(played / step) * step).astype(np.float32)
    assert measurement.check_recording(samples, "take") == ()


def test_one_full_scale_sample_is_not_clipping():
    samples = tone()
    samples[5000:5002] = 1.0
    assert measurement.check_recording(samples, "take") == ()


def test_scaled_data_may_touch_full_scale():
    samples = tone(20.0, 1.0)
    with pytest.raises(InputError, match="clipped"):
        measurement.check_recording(samples, "response")
    assert measurement.check_recording(samples, "response", full_scale=np.inf) == ()


def test_an_offset_is_noted():
    (note,) = measurement.check_recording(tone() + np.float32(0.02), "take")
    assert note.severity == "note"
    assert "offset of 0.02" in note.text
