"""The swept sine against the classical method, as ISO 18233:2006 asks (from memory).

Its claims: level and decay read from an impulse response are those of steady noise that is
switched on and off; twice the length of the sweep gains 3 dB over the noise; what a loudspeaker
adds by its harmonics is cut off before the response.
"""

from __future__ import annotations

import numpy as np
import pytest
import scipy.signal

from roomwright import measurement
from roomwright.model import Sweep
from roomwright.signals import sweep_samples

RATE = 48000
SWEEP = Sweep(duration_s=2.0, tail_s=1.0)
RESPONSE_S = 0.5


def room_like(seed):
    """Direct sound and a tail that dies away in 0.4 s."""
    time = np.arange(round(RESPONSE_S * RATE)) / RATE
    noise = np.random.default_rng(seed).standard_normal(time.size)
    response = 0.05 * noise * np.exp(-6.91 * time / 0.4)
    response[240] += 1.0
    return response


def recorded(path, sweep, noise=0.0, seed=0):
    """What a sweep through `path` (samples to samples) sounds like, with steady noise added."""
    samples = np.zeros(measurement.transform_length(sweep, RATE))
    played = sweep_samples(sweep, RATE)
    samples[: played.size] = played
    added = noise * np.random.default_rng(seed).standard_normal(samples.size)
    return path(samples)[: samples.size] + added


def measured(recording, sweep):
    inverse = measurement.inverse_spectrum(
        sweep, RATE, measurement.transform_length(sweep, RATE), np.complex128
    )
    return measurement.deconvolve(recording, inverse)


def octave(mid_hz):
    """Any filter serves: both methods go through the same one."""
    edges_hz = (mid_hz / np.sqrt(2.0), mid_hz * np.sqrt(2.0))
    return scipy.signal.butter(4, edges_hz, "band", fs=RATE, output="sos")


@pytest.mark.parametrize("mid_hz", [250.0, 1000.0, 8000.0])
def test_steady_noise_has_the_level_that_the_response_tells(mid_hz):
    response = room_like(1)
    swept = measured(recorded(lambda x: scipy.signal.fftconvolve(x, response), SWEEP), SWEEP)
    told = np.sum(scipy.signal.sosfilt(octave(mid_hz), swept) ** 2)
    seconds = 60
    noise = np.random.default_rng(2).standard_normal(seconds * RATE)
    heard = scipy.signal.sosfilt(octave(mid_hz), scipy.signal.fftconvolve(noise, response))
    steady = np.mean(heard[RATE : seconds * RATE] ** 2)
    # Noise of bandwidth B read for T seconds scatters by 4.34 / sqrt(B T) dB; the room's own ups
    # and downs leave less of the band, here not under a third. Four times that.
    scatter_db = 4.34 / np.sqrt(mid_hz / np.sqrt(2.0) / 3.0 * seconds)
    assert 10 * np.log10(steady / told) == pytest.approx(0.0, abs=4 * scatter_db)


def test_noise_that_is_switched_off_dies_away_as_the_response_tells():
    """Schroeder, J. Acoust. Soc. Am. 37, 1965: the mean of all such decays."""
    response, sos = room_like(3), octave(1000.0)
    swept = measured(recorded(lambda x: scipy.signal.fftconvolve(x, response), SWEEP), SWEEP)
    kept = scipy.signal.sosfilt(sos, swept[: response.size])
    told = np.cumsum((kept**2)[::-1])[::-1]
    # The noise before lasts longer than the response, so the room is full of it.
    decays, before = 300, response.size
    noise = np.random.default_rng(4).standard_normal((decays, before))
    heard = scipy.signal.fftconvolve(noise, response[None], axes=1)
    heard = scipy.signal.sosfilt(sos, np.pad(heard, ((0, 0), (0, 1))), axis=1)
    after = np.mean(heard[:, before:] ** 2, axis=0)
    at = np.round(np.arange(0.0, 0.25, 0.01) * RATE).astype(int)
    of_mean_db = 10 * np.log10(after[at] / told[at])
    # The mean of n squared Gaussian samples scatters by 4.34 sqrt(2 / n) dB; four times that.
    assert np.abs(of_mean_db).max() < 4 * 4.34 * np.sqrt(2.0 / decays)
    assert 10 * np.log10(told[at[-1]] / told[0]) < -30.0


def test_twice_the_length_gains_3_db_over_the_noise():
    floors_db = []
    for duration_s in (1.0, 2.0, 4.0, 8.0):
        sweep = Sweep(duration_s=duration_s, tail_s=1.0)
        swept = measured(recorded(lambda x: x, sweep, noise=0.01), sweep)
        # Nothing but noise is left after the response.
        quiet = scipy.signal.sosfilt(octave(1000.0), swept)[round(0.2 * RATE) : round(0.9 * RATE)]
        floors_db.append(10 * np.log10(np.mean(quiet**2)))
    # 700 independent powers or so in 0.7 s of an octave: 0.2 dB; four times that for a difference.
    np.testing.assert_allclose(np.diff(floors_db), -3.01, atol=0.9)
    assert floors_db[0] - floors_db[-1] == pytest.approx(9.03, abs=0.9)


def test_what_harmonics_add_comes_before_the_response():
    """A cubic transfer curve a x + b x^3 plays a sine of amplitude A by a + 3 b A^2 / 4."""
    response, cubic = room_like(5), 2.0
    amplitude = 10.0 ** (SWEEP.level_dbfs / 20.0)

    def path(samples):
        # What lies above half the rate must not fold back: four times the samples meanwhile.
        finer = scipy.signal.resample(samples, 4 * samples.size)
        bent = scipy.signal.resample(finer + cubic * finer**3, samples.size)
        return scipy.signal.fftconvolve(bent, response)

    swept = measured(recorded(path, SWEEP), SWEEP)
    # 50 ms before the direct sound: what the band's upper edge rings is part of the response.
    early = round(0.05 * RATE)
    kept = np.roll(swept, early)[: early + response.size]
    expected = np.zeros(kept.size)
    expected[early:] = (1.0 + 0.75 * cubic * amplitude**2) * response
    frequencies = np.fft.rfftfreq(kept.size, 1 / RATE)
    band = (frequencies > 50.0) & (frequencies < 16000.0)
    error, truth = (np.abs(np.fft.rfft(each)[band]) ** 2 for each in (kept - expected, expected))
    # The third harmonic stays by 20 lg(b A^2 / 4) below the response where it is not cut off.
    uncut_db = 20 * np.log10(cubic * amplitude**2 / 4.0)
    assert uncut_db > -50.0
    assert 10 * np.log10(error.sum() / truth.sum()) < uncut_db - 20.0
