"""The recorder's clock from two pilots that went through the same room."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal

from roomwright import measurement
from roomwright.model import Sweep
from roomwright.signals import excitation, resample, rms, timeline

RATE = 48000
SWEEP = Sweep()


def through_a_room(rng, reverberation_s, low_hz=40.0, high_hz=20000.0):
    time = np.arange(RATE) / RATE
    room = 0.05 * rng.standard_normal(RATE) * np.exp(-6.91 * time / reverberation_s)
    room[:400] = 0.0
    room[400] += 1.0
    band = scipy.signal.butter(2, (low_hz, high_hz), "band", fs=RATE, output="sos")
    signal = np.concatenate((np.zeros(1137), excitation(SWEEP, RATE)))
    return scipy.signal.sosfilt(band, scipy.signal.fftconvolve(signal, room))


def recorded(signal, ppm, rng, signal_to_noise_db):
    """As a recorder hears it whose clock runs fast by `ppm`, in white noise."""
    stretched = resample(signal, 1 + ppm * 1e-6)
    noise = rms(stretched) * 10 ** (-signal_to_noise_db / 20)
    return stretched + noise * rng.standard_normal(stretched.size)


@pytest.mark.parametrize("ppm", [-200.0, -37.3, 0.0, 18.0, 200.0])
@pytest.mark.parametrize(
    ("reverberation_s", "signal_to_noise_db"), [(0.25, 60), (0.5, 40), (0.8, 30)]
)
def test_clock_error_is_found(ppm, reverberation_s, signal_to_noise_db):
    """Asked for are 0.3 ppm. By the bound of Cramer and Rao, a pilot of 0.1 s 30 dB above white
    noise gives its time to some 10 ns, 0.002 ppm of 6.4 s; four times that is allowed.
    """
    rng = np.random.default_rng(int(ppm + 300))
    signal = through_a_room(rng, reverberation_s)
    found = measurement.clock_error_ppm(recorded(signal, ppm, rng, signal_to_noise_db), SWEEP, RATE)
    assert found == pytest.approx(ppm, abs=0.01)


@pytest.mark.parametrize("ppm", [-200.0, 12.0])
def test_a_subwoofer_alone_tells_it_too(ppm):
    """25 to 150 Hz: a hundredth of the bandwidth costs two orders of magnitude."""
    rng = np.random.default_rng(5)
    signal = through_a_room(rng, 0.4, 25, 150)
    found = measurement.clock_error_ppm(recorded(signal, ppm, rng, 50), SWEEP, RATE)
    assert found == pytest.approx(ppm, abs=0.3)


def test_a_reversed_path_does_not_matter():
    rng = np.random.default_rng(6)
    signal = recorded(-through_a_room(rng, 0.3), 55.0, rng, 60)
    assert measurement.clock_error_ppm(signal, SWEEP, RATE) == pytest.approx(55.0, abs=0.01)


def test_noise_hum_and_a_lost_pilot_give_no_figure():
    rng = np.random.default_rng(7)
    length = timeline(SWEEP, RATE).total
    noise = rng.standard_normal(length)
    hum = np.sin(2 * np.pi * 50 * np.arange(length) / RATE)
    lost = excitation(SWEEP, RATE).astype(float)
    lost[timeline(SWEEP, RATE).pilot_2 - 100 :] = 0.0
    lost += 1e-4 * noise
    for recording in (noise, hum + 0.01 * noise, lost, lost[:-20000]):
        assert np.isnan(measurement.clock_error_ppm(recording, SWEEP, RATE))


def test_correction_undoes_the_error():
    rng = np.random.default_rng(8)
    signal = through_a_room(rng, 0.3)
    back = measurement.corrected(resample(signal, 1 + 150e-6), 150.0)
    n = min(back.size, signal.size)
    # -80 dB: the resampler lets go above 21.9 kHz, where a little of the sweep is.
    assert rms(back[:n] - signal[:n]) < 1e-4 * rms(signal)


@pytest.mark.parametrize("ppm", [0.0, 0.01, float("nan")])
def test_what_is_negligible_or_unknown_is_left(ppm):
    signal = np.arange(100.0)
    np.testing.assert_array_equal(measurement.corrected(signal, ppm), signal)
